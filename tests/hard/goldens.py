"""A small set of answers kept as they are, so that no change of code or tables moves them unseen.

    python tests/hard/goldens.py            print what differs from the kept answers
    python tests/hard/goldens.py --write    keep the answers as they are now

They are no truth: the tests against published values are. A person reads the difference and gives the reason in the
commit that renews them.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

KEPT = Path(__file__).with_name("goldens.json")
PLOTS = ("wrackhythe", "sallowdene")
CROPS = (
    "broad bean", "carrot", "courgette", "french bean (bush)", "garlic (hardneck)", "leek", "lettuce (head)", "melon",
    "onion (short-day)", "pea (shelling)", "potato (maincrop)", "spinach", "sweet corn", "sweet pepper (blocky)",
    "tomato (large)",
)  # fmt: skip
PERENNIALS = ("asparagus", "blackcurrant", "fig", "rhubarb", "cherry (high-chill)")
WEEK = 68  # day of the year with which the week begins: 10 March
FIGURES = (
    "growing_degree_days", "chill_portions", "chill_hours", "chill_units", "frost_days", "last_spring_frost",
    "first_autumn_frost", "pr", "reference_evapotranspiration", "hardiness_zone", "opening_rains",
)  # fmt: skip


def _windows(start: dict[str, Any], key: str) -> list[str]:
    """Each window in a line: dates, best day, years that succeed, yield and first picking of the middle year."""
    lines = []
    for w in start[key]:
        picked = w["first_picking"]["p50"] if w["first_picking"] else "-"
        odds = f"{w['reliability']:.2f} of {w['years_decided']}"
        lines.append(f"{w['from']} to {w['to']}, best {w['best']}, {odds}, yield {w['yield_fraction']:.2f}, {picked}")
    return lines


def _starts(line: dict[str, Any]) -> dict[str, list[str]]:
    return {f"{s['way']}, {key}": _windows(s, key) for s in line["starts"] for key in ("windows", "possible")}


def _plot(name: str) -> dict[str, Any]:
    from sowcal.answers import open_record, rate_crops, site_climate
    from sowcal.outputs.json_form import chart_json, week_json
    from sowcal.suitability.week import week_of

    _, record = open_record(name)
    chart, verdicts = rate_crops(record, (*CROPS, *PERENNIALS), most_remedies=0)
    answer = chart_json(chart)
    climate = site_climate(record).to_json()
    week = week_json(week_of(chart, WEEK, 1))
    return {
        "windows": {line["crop"]: _starts(line) for line in answer["crops"] if line["crop"] in CROPS},
        "verdicts": {
            v.crop: f"{v.word}, limit {v.limiting_factor}" + ("" if v.reliability is None else f", {v.reliability:.2f}")
            for v in sorted(verdicts, key=lambda v: v.crop)
        },
        "climate": {figure: climate[figure] for figure in FIGURES},
        "week": [f"{j['job']} {j['crop']}: {j['chance']}, {j['from']} to {j['to']}" for j in week["jobs"]],
    }


def _garden() -> dict[str, Any]:
    from sowcal.answers import open_record
    from sowcal.garden.garden_file import bundled_garden
    from sowcal.garden.plan import plan_garden

    garden = bundled_garden()
    name, record = open_record(str(garden.site))
    plan = plan_garden(garden, name, record).to_json()
    return {
        "plants": {p["crop"]: p["count"] for p in plan["plants"]},
        "litres in four weeks": [round(sum(plan["water"]["weekly_litres"][k : k + 4])) for k in range(0, 52, 4)],
        "chance dry": plan["store"]["chance_dry"],
        "size for 9 in 10": plan["store"]["size_for_9_in_10"],
        "pressure, kPa": plan["gravity"]["pressure_kpa"],
    }


def answers() -> dict[str, Any]:
    """The answers as they are now; numbers rounded so far that no rounding of a machine shows."""
    return {**{name: _rounded(_plot(name)) for name in PLOTS}, "garden": _rounded(_garden())}


def _rounded(value: Any) -> Any:
    if isinstance(value, dict):
        return {k: _rounded(v) for k, v in value.items()}
    if isinstance(value, list):
        return [_rounded(v) for v in value]
    return float(f"{value:.4g}") if isinstance(value, float) else value


def differences(kept: Any, now: Any, path: str = "") -> Iterator[str]:
    """Each place where two answers differ, a line or two each."""
    if isinstance(kept, dict) and isinstance(now, dict):
        for key in dict.fromkeys([*kept, *now]):
            yield from differences(kept.get(key), now.get(key), f"{path} / {key}" if path else str(key))
    elif kept != now:
        yield f"{path}\n  was {json.dumps(kept, ensure_ascii=False)}\n  is  {json.dumps(now, ensure_ascii=False)}"


def main(words: list[str]) -> int:
    """Print the differences; keep the answers with --write."""
    if words not in ([], ["--write"]):
        print(__doc__)
        return 2
    kept = json.loads(KEPT.read_text(encoding="utf-8")) if KEPT.is_file() else {}
    now = answers()
    found = list(differences(kept, now))
    print("\n".join(found) if found else "nothing differs from the kept answers")
    if words and found:
        KEPT.write_text(json.dumps(now, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
        print(f"{len(found)} places differ; {KEPT} is renewed: give the reason in the commit")
        return 0
    return int(bool(found))


if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[2]))
    sys.exit(main(sys.argv[1:]))
