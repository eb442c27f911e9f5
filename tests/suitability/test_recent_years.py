"""What the last fifteen years of a record move: as the chart of those years tells, and no more than is known."""

import numpy as np
import pandas as pd
import pytest

import sowcal
from sowcal.beside import recent_years
from sowcal.outputs.document import Document
from sowcal.outputs.harvest_words import recent_words, with_recent
from sowcal.suitability.compare import CropRecent, RecentYears

CROPS = ["carrot", "tomato (large)", "rhubarb"]


def record(years, warming=0.0):
    """Invented days: a course of the year with noise, warmer by so many degC a year."""
    days = np.arange("1990-01-01", f"{1990 + years}-01-01", dtype="datetime64[D]")
    rng = np.random.default_rng(3)
    turn = np.cos(2 * np.pi * (np.arange(days.size) - 25) / 365.25)
    low = 8 - 6 * turn + rng.normal(0, 2.0, days.size) + warming * np.arange(days.size) / 365.25
    return sowcal.Site.from_pandas(
        pd.DataFrame({"tmin": low, "tmax": low + 10.0}, index=days.astype("datetime64[ns]")),
        latitude=40.0,
        temperature_unit="degC",
    )


def told(site):
    weather = site._source
    chart = sowcal.sowing_chart(weather, CROPS)
    return chart, recent_years(weather, chart)


def days(line):
    out = set()
    for way in line.starts:
        for w in way.windows:
            out |= {(w.start + k) % 365 for k in range((w.end - w.start) % 365 + 1)}
    return len(out)


def test_it_is_the_chart_of_the_last_years():
    site = record(24, warming=0.08)
    chart, found = told(site)
    recent = sowcal.sowing_chart(site._source, CROPS, years="15")
    lines = {line.crop: line for line in recent.crops}
    assert (found.years, found.of, found.why_not) == (15, 24.0, "")
    assert {m.crop for m in found.crops} >= {"carrot", "tomato (large)"}
    assert "rhubarb" not in {m.crop for m in found.crops}  # its planting is custom and moves with no weather
    for line in (c for c in chart.crops if c.crop != "rhubarb"):
        moved = next((m for m in found.crops if m.crop == line.crop), None)
        assert (0 if moved is None else moved.days) == days(lines[line.crop]) - days(line)
    carrot = next(m for m in found.crops if m.crop == "carrot")
    (way,), (later,) = (next(c.starts for c in x if c.crop == "carrot") for x in (chart.crops, recent.crops))
    best = max(way.windows, key=lambda w: w.reliability)
    assert carrot.odds == pytest.approx(later.reliability[best.best] - best.reliability, abs=1e-9)


def test_a_short_record_and_a_generated_one_say_so():
    chart, found = told(record(17))
    assert (found.why_not, found.crops) == ("short", ())
    assert "too short" in recent_words(found)
    chart = sowcal.sowing_chart("sallowdene", "carrot")
    assert recent_years("sallowdene", chart).why_not == "generated"


def test_the_sentence_tells_middle_most_and_chance():
    found = RecentYears(15, 38.1, (CropRecent("a", 12, 0.02), CropRecent("b", -30, -0.04), CropRecent("c", 4, None)))
    assert recent_words(found) == (
        "Last 15 of 38 years: days to start in +4 in the middle crop (b -30, a +12), odds -1 in 100; fewer years move "
        "by chance too (--years 15)."
    )
    assert "as many in the middle crop" in recent_words(RecentYears(15, 30.0))
    document = Document("x", ())
    assert with_recent(document, None) is document
    assert len(with_recent(document, found).parts) == 1


def test_it_stands_on_chart_and_rate_unless_years_or_water_are_asked_for(capsys):
    from sowcal.__main__ import main

    for words, there in (([], True), (["--years", "12"], False), (["--most-water", "200"], False)):
        for command in ("chart", "rate"):
            assert main([command, "sallowdene", "carrot", *words]) == 0
            assert ("last 15 years" in capsys.readouterr().out) == there
