"""Subjects whose slips are drawn, what was found of them, and the table of it."""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

HERE = Path(__file__).parent
KEPT, EQUAL = HERE / "slips_kept.csv", HERE / "slips_equal.csv"
_SEASONS = ["tests/seasons"]
_GARDEN = ["tests/garden"]
SUBJECTS: dict[str, tuple[list[str], list[str]]] = {  # modules, and the tests that answer for them
    "season walk": (
        ["seasons.walk", "seasons.vegetative", "seasons.establishing", "seasons.flowering", "seasons.season"],
        _SEASONS,
    ),
    "sums": (["seasons.sums"], _SEASONS),
    "site days": (["seasons.site_days"], [*_SEASONS, "tests/suitability/test_chart_properties.py"]),
    "windows": (
        ["suitability.windows", "suitability.annuals", "suitability.advice"],
        ["tests/suitability", "tests/hard/test_kernels.py"],
    ),
    "perennials": (["suitability.perennials"], ["tests/suitability", "tests/seasons/test_perennial_hazards.py"]),
    "perennial years": (["seasons.perennial_years"], ["tests/seasons", "tests/suitability/test_perennial_runs.py"]),
    "verdicts": (["suitability.verdicts"], ["tests/suitability"]),
    "compare": (["suitability.compare"], ["tests/suitability"]),
    "week": (["suitability.week"], ["tests/suitability/test_week.py", "tests/suitability/test_advice.py"]),
    "season in progress": (
        ["season_progress", "seasons.outlook", "climate.so_far"],
        [
            "tests/suitability/test_season_by_hand.py",
            "tests/seasons/test_outlook_by_hand.py",
            "tests/climate/test_so_far.py",
            "tests/suitability/test_season_in_progress.py",
            "tests/commands/test_season_command.py",
        ],
    ),
    "what-ifs": (
        ["microclimate"],
        [
            "tests/suitability/test_what_ifs_by_hand.py",
            "tests/suitability/test_plot_changes.py",
            "tests/commands/test_changes_together.py",
        ],
    ),
    "water need": (["garden.water_need"], _GARDEN),
    "soil water": (["garden.soil_water"], _GARDEN),
    "store": (["garden.store"], _GARDEN),
    "beds": (["garden.beds", "garden.bed_ground"], _GARDEN),
    "gravity": (["garden.gravity_feed"], _GARDEN),
    "plants": (["garden.plants", "garden.quantities", "garden.harvest"], _GARDEN),
    "standing crops": (["garden.perennials"], [*_GARDEN, "tests/suitability/test_perennial_runs.py"]),
    "rain-fed": (["garden.rain_fed"], _GARDEN),
    "diary": (["garden.diary", "garden.schedule"], _GARDEN),
    "watering sheet": (["garden.watering"], _GARDEN),
    "offset": (["weather.offset"], ["tests/weather/test_offset.py", "tests/commands/test_own_thermometer.py"]),
    "filling": (
        ["weather.filling"],
        [f"tests/weather/test_{name}.py" for name in ("filling", "dataset", "export", "record", "open_site")],
    ),
    "generator": (["weather.generator"], ["tests/weather/test_generator.py"]),
    "quality checks": (
        ["weather.quality", "weather.quality_checks"],
        ["tests/weather/test_quality_checks.py", "tests/weather/test_quality.py", "tests/weather/test_findings.py"],
    ),
}
FLOOR = 0.85  # share of a subject's slips that its tests should notice


def equals() -> dict[tuple[str, ...], str]:
    """Slips that change nothing, each with its reason."""
    with EQUAL.open(encoding="utf-8", newline="") as file:
        return {
            (row["module"], row["function"], row["was"], row["now"], row["nth"]): row["why"]
            for row in csv.DictReader(file)
        }


def kept() -> list[dict[str, str]]:
    with KEPT.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def keep(rows: list[dict[str, str]]) -> None:
    """Put the rows of some subjects in the place of theirs."""
    new = {row["subject"] for row in rows}
    old = [row for row in (kept() if KEPT.exists() else []) if row["subject"] not in new]
    every = sorted(old + rows, key=lambda row: list(SUBJECTS).index(row["subject"]))
    with KEPT.open("w", encoding="utf-8", newline="") as file:
        table = csv.DictWriter(
            file,
            ["subject", "of", "module", "function", "was", "now", "nth", "first", "word", "by"],
            lineterminator="\n",
        )
        table.writeheader()
        table.writerows(every)


def table(rows: list[dict[str, str]]) -> Iterator[str]:
    """Lines for the table of DEVELOPERS.md."""
    same = equals()
    yield "| subject | modules | slips | tried | change nothing | killed as first drawn | killed now | survive |"
    yield "| --- | --- | ---: | ---: | ---: | ---: | ---: | ---: |"
    for subject, (modules, _) in SUBJECTS.items():
        own = [row for row in rows if row["subject"] == subject]
        if not own:
            continue
        count = Counter("equal" if row["word"] == "survived" and name_of(row) in same else row["word"] for row in own)
        changing = max(len(own) - count["equal"], 1)
        first = sum(row["first"] == "killed" for row in own)
        shares = " | ".join(  # of what is there now: code that lived on unseen was taken out of some
            f"{number} ({100 * number / max(of, 1):.0f} per cent)"
            for number, of in ((first, changing), (count["killed"], changing - count["gone"]))
        )
        yield (
            f"| {subject} | {', '.join(modules)} | {own[0]['of']} | {len(own)} | {count['equal']} | {shares}"
            f" | {count['survived']} |"
        )


def living(rows: list[dict[str, str]]) -> Iterator[str]:
    """Lines that name what survives in the subjects below the floor."""
    same = equals()
    for subject in SUBJECTS:
        own = [row for row in rows if row["subject"] == subject]
        lives = [row for row in own if row["word"] == "survived" and name_of(row) not in same]
        killed = sum(row["word"] == "killed" for row in own)
        if lives and killed < FLOOR * (killed + len(lives)):
            told = "; ".join(f"{r['function'] or r['module']} `{r['was']}` becomes `{r['now']}`" for r in lives)
            yield f"- *{subject}*: {told}"


def name_of(row: dict[str, str]) -> tuple[str, ...]:
    return row["module"], row["function"], row["was"], row["now"], row["nth"]
