"""Perennials held against practice: `python tests/validation/perennials.py [--held-out] [--all]`; SOWCAL_REFERENCE.

`tests/data/perennials_in_practice.csv` says of places and crops what growers there know: *grown* (a class of S1 or S2
is right), *marginal* (S2 or S3), *poor* (kept now and then, hardly worth it: S3 or N), *not* (N); and where that is
known from. Half of it is held out (`held_out`): limits are set on the other half only. Without a word the open half is
printed, case by case where it differs; with `--held-out` both halves in counts; `--all` prints every verdict instead.
"""

from __future__ import annotations

import csv
import sys
from collections import Counter
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

import guides

from sowcal.answers import rate_crops
from sowcal.suitability.results import CropVerdict

TABLE = Path(__file__).parents[1] / "data" / "perennials_in_practice.csv"
ACCEPTED = {"grown": ("S1", "S2"), "marginal": ("S2", "S3"), "poor": ("S3", "N"), "not": ("N",)}
_RANK = {"S1": 0, "S2": 1, "S3": 2, "N": 3}


@dataclass(frozen=True)
class Known:
    """What practice says of one crop at one place."""

    place: str
    crop: str
    practice: str
    known_from: str

    @property
    def held_out(self) -> bool:
        """Half of the entries, by a rule that no one can lean on: the first byte of SHA-256 of 'place,crop' is odd."""
        return sha256(f"{self.place},{self.crop}".encode()).digest()[0] % 2 == 1

    def off(self, suitability: str | None) -> int | None:
        """Classes between the verdict and the nearest that is right; None where nothing is said."""
        if suitability is None:
            return None
        return min(abs(_RANK[suitability] - _RANK[right]) for right in ACCEPTED[self.practice])


def practice() -> list[Known]:
    """Every entry of the table."""
    with open(TABLE, newline="", encoding="utf-8") as file:
        return [Known(**row) for row in csv.DictReader(file)]


def verdicts(folder: Path, station: str, crops: tuple[str, ...] = ()) -> dict[str, CropVerdict]:
    """Verdict of each crop at one station; without crops of all that the table names."""
    asked = crops or tuple(dict.fromkeys(k.crop for k in practice()))
    dataset = guides.station_record(folder, station)
    return {v.crop: v for v in rate_crops(dataset, asked, most_remedies=0)[1]}


def told(folder: Path) -> dict[tuple[str, str], CropVerdict]:
    """Verdict of every place and crop of the table."""
    places = dict.fromkeys(k.place for k in practice())
    return {(place, crop): v for place in places for crop, v in verdicts(folder, place).items()}


def counts(known: list[Known], found: dict[tuple[str, str], CropVerdict]) -> Counter[str]:
    """How many entries are right, one class off, two or more off, and not said."""
    names = {None: "cannot say", 0: "right", 1: "one off"}
    return Counter(names.get(k.off(found[k.place, k.crop].suitability), "two off") for k in known)


def share_of_s3(known: list[Known]) -> float:
    """Share of S3 among all classes that the entries accept."""
    accepted = [c for k in known for c in ACCEPTED[k.practice]]
    return accepted.count("S3") / len(accepted)


def summary(name: str, known: list[Known], found: dict[tuple[str, str], CropVerdict]) -> str:
    """One line on one half."""
    n = counts(known, found)
    said = ", ".join(f"{n[word]} {word}" for word in ("one off", "two off", "cannot say"))
    return f"{name}: {n['right']} of {len(known)} right ({n['right'] / len(known):.1%}), {said}"


def main(words: list[str]) -> None:
    """Print the agreement."""
    known, found = practice(), told(guides.reference())
    mine = [k for k in known if not k.held_out]
    if "--all" in words:
        for k in mine:
            v = found[k.place, k.crop]
            print(f"{k.place:18}{k.crop:28}{k.practice:10}{v.suitability or '-':3}{v.word:26}{v.limiting_factor or ''}")
        return
    for k in [] if "--held-out" in words else sorted(mine, key=lambda k: k.crop):
        v = found[k.place, k.crop]
        if (off := k.off(v.suitability)) != 0:
            share = "" if v.reliability is None else f"{v.reliability:.2f}"
            sign = "?" if off is None else "*" * off
            print(f"{sign:3}{k.crop:28}{k.place:18}{k.practice:10}{v.word:26}{share:6}{v.limiting_factor or ''}")
    print(f"S3 is {share_of_s3(known):.0%} of what is accepted")
    print(summary("open half", mine, found))
    if "--held-out" in words:
        print(summary("held out", [k for k in known if k.held_out], found))


if __name__ == "__main__":
    main(sys.argv[1:])
