"""Place by crop: verdict and limiting factor (`python tests/validation/perennials.py`, needs SOWCAL_REFERENCE)."""

from __future__ import annotations

from pathlib import Path

import guides

from sowcal.answers import rate_crops
from sowcal.suitability.results import CropVerdict

STATIONS = (
    "dublin_airport",
    "de_bilt",
    "hobart",
    "a_coruna",
    "irkutsk",
    "fort_collins_co",
    "madrid",
    "five_points_ca",
    "nuriootpa_sa",
    "perth",
    "palma",
    "valencia",
    "seville",
    "cordoba_es",
    "athens_hellinikon",
    "algiers",
    "san_diego_ca",
    "alice_springs",
)
CROPS = (
    "rhubarb",
    "strawberry (short-day)",
    "globe artichoke (offset)",
    "asparagus",
    "raspberry (summer)",
    "apple (low-chill)",
    "apple (high-chill)",
    "cherry (high-chill)",
    "apricot",
    "peach (low-chill)",
    "almond",
    "vine",
    "fig",
    "olive",
    "lemon",
    "avocado",
)


def verdicts(folder: Path, station: str, crops: tuple[str, ...] = CROPS) -> dict[str, CropVerdict]:
    """Verdict of each crop at one station."""
    dataset = guides.station_record(folder, station)
    return {v.crop: v for v in rate_crops(dataset, crops, most_remedies=0)[1]}


def main() -> None:
    """Print the table."""
    folder = guides.reference()
    for station in STATIONS:
        print(f"\n{station}")
        for crop, v in verdicts(folder, station).items():
            share = "" if v.reliability is None else f"{v.reliability:.2f}"
            print(f"  {crop:26}{v.word:26}{share:6}{v.limiting_factor or ''}")


if __name__ == "__main__":
    main()
