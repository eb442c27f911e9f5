"""The picture of a growing year so far: its lines are the plain sums of a loop, and its words lie free on the page."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest

import sowcal
from sowcal.__main__ import main
from sowcal.climate.so_far import so_far_of
from sowcal.outputs.figure_season import season_figures
from sowcal.season_log import SeasonLog
from sowcal.suitability.results import SeasonNow, record_of
from sowcal.weather.open_site import open_weather

ONE = dt.timedelta(days=1)


def season(record, day, site="Ness (invented)"):
    return SeasonNow(day, SeasonLog("none.csv"), (), so_far=so_far_of(record, day), site=site)


def southern(record):
    """The same days half a year on, south of the equator."""
    return replace(record, time=record.time + np.timedelta64(181, "D"), latitude=-record.latitude)


@pytest.fixture(scope="module")
def valley():
    return open_weather("sallowdene")[1]


def looped(record, first, last):
    """Warmth, frosts and rain from one day to another by plain arithmetic on the days."""
    sums, day = [0.0, 0, 0.0], first
    at = {d: k for k, d in enumerate(record.time.astype(object))}
    while day <= last:
        low, high = (float(record[name][at[day]]) for name in ("tasmin", "tasmax"))
        hours = (np.arange(2000) + 0.5) / 2000 * 2 * np.pi  # a sine through the day's two readings
        curve = np.clip((low + high) / 2 + (high - low) / 2 * np.sin(hours), 10.0, 30.0)
        sums[0] += float(np.mean(curve - 10.0))
        sums[1] += low < 0.0
        sums[2] += float(record["pr"][at[day]])
        day += ONE
    return sums


@pytest.mark.parametrize(("day", "south"), [(dt.date(2015, 5, 20), False), (dt.date(2012, 3, 1), True)])
def test_sums_and_quantiles_are_those_of_a_loop(valley, day, south):
    record = southern(valley) if south else valley
    found = so_far_of(record, day)
    begins = dt.date(day.year - 1, 7, 1) if south else dt.date(day.year, 1, 1)
    assert (found.first, found.last) == (begins, day)
    earlier = [
        looped(record, begins.replace(year=y), day.replace(year=y + day.year - begins.year))
        for y in range(1991, begins.year)
    ]
    own = looped(record, begins, day)
    for k, one in enumerate(found.sums):
        assert one.own[one.day] == pytest.approx(own[k], abs=0.2)
        ordered = sorted(row[k] for row in earlier)
        place = 0.1 * (len(ordered) + 1) - 1
        low = ordered[int(place)] + (place % 1) * (ordered[int(place) + 1] - ordered[int(place)])
        assert one.at_day[1] == pytest.approx(low, abs=0.3)
        assert len(one.years) == len(ordered)


def test_a_warmer_year_is_ahead_and_what_comes_after_the_day_is_not_seen(valley):
    day = dt.date(2015, 5, 20)
    now = valley.time >= np.datetime64("2015-01-01")
    ahead = []
    for more in (-2.0, 0.0, 2.0):
        values = {k: v + more * now if k in ("tasmin", "tasmax") else v for k, v in valley.values.items()}
        ahead.append(so_far_of(valley.with_values(values), day).days_ahead)
    assert ahead[0] < ahead[1] < ahead[2]
    cut = so_far_of(valley.span(None, day.isoformat()), day)
    assert [s.at_day for s in cut.sums] == [s.at_day for s in so_far_of(valley, day).sums]


def test_missing_days_take_the_mean_of_the_other_years_and_are_counted(valley):
    day = dt.date(2015, 5, 20)
    gone = (valley.time >= np.datetime64("2015-02-01")) & (valley.time <= np.datetime64("2015-02-10"))
    gappy = so_far_of(valley.with_values({k: np.where(gone, np.nan, v) for k, v in valley.values.items()}), day)
    assert [s.filled for s in gappy.sums] == [10, 10, 10]
    whole = so_far_of(valley, day).sums[0]
    mean = np.diff(whole.years, axis=1)[:, 30:40].sum(axis=1).mean()
    lost = whole.own[40] - whole.own[30]
    assert gappy.sums[0].own[whole.day] == pytest.approx(whole.own[whole.day] - lost + mean)
    assert so_far_of(valley.span("2012-01-01", None), day) is None  # three earlier years


def words(figure):
    figure.canvas.draw()
    texts = [*figure.texts, *(t for a in figure.axes for t in (*a.texts, *a.get_xticklabels(), a.title, a._left_title))]
    return [(t, t.get_window_extent()) for t in texts if t.get_text() and t.get_visible()]


DAYS = [("2015-01-03", 0.0), ("2015-05-20", 0.0), ("2015-12-20", 0.0), ("2015-03-20", 15.0), ("2015-09-30", -4.0)]


@pytest.mark.parametrize(("day", "warmer"), DAYS)
def test_no_words_meet_or_run_off_the_page_and_all_can_be_read(valley, day, warmer):
    """6.5 points, about the least of printed seed packets: common practice, no source."""
    values = {k: v + warmer if k in ("tasmin", "tasmax") else v for k, v in valley.values.items()}
    gone = valley.time.astype(str) == "2015-01-02"  # its foot has all its lines
    record = valley.with_values({k: np.where(gone, np.nan, v) for k, v in values.items()})
    now = season(record, dt.date.fromisoformat(day), site="A long name of an invented place " * 4)
    now = replace(now, record=record_of(record))
    (figure,) = season_figures(now, issued=dt.date(2016, 1, 1))
    found = words(figure)
    assert len(figure.axes) == 3
    page = figure.bbox
    for text, box in found:
        assert page.x0 + 20 <= box.x0, text
        assert box.x1 <= page.x1 - 20, text
        assert page.y0 <= box.y0, text
        assert box.y1 <= page.y1, text
        assert text.get_fontsize() >= 6.5
    for (one, a), (other, b) in combinations(found, 2):
        assert not a.overlaps(b), (one.get_text(), other.get_text())


def test_lines_differ_without_their_colours(valley):
    (figure,) = season_figures(season(valley, dt.date(2015, 5, 20)))
    for axes in figure.axes:
        makes = {(line.get_linestyle(), line.get_linewidth(), line.get_marker()) for line in axes.lines}
        assert len(makes) >= 4  # edges, middle, this year, its dot
        assert any(c.get_hatch() for c in axes.collections)
        named = {t.get_text() for t in axes.texts}
        assert {"this year", "middle year", "1 year in 10 is less", "1 year in 10 is more"} <= named


def test_of_few_years_the_least_and_the_most_are_named(valley):
    (figure,) = season_figures(season(valley.span("2010-01-01", None), dt.date(2015, 5, 20)))
    named = {t.get_text() for t in figure.axes[0].texts}
    assert {"least of 5 years", "most of 5 years"} <= named
    assert not any("1 year in 10" in name for name in named)


def test_a_record_without_rain_says_so(valley):
    bare = replace(
        valley, **{k: {n: a for n, a in getattr(valley, k).items() if n != "pr"} for k in ("values", "origin")}
    )
    now = season(bare, dt.date(2015, 5, 20))
    assert [s.name for s in now.so_far.sums] == ["warmth", "frost"]
    (figure,) = season_figures(now)
    assert len(figure.axes) == 2
    assert any("no rain" in t.get_text() for t in figure.texts)


def test_the_command_draws_it_and_says_the_same_in_json(tmp_path, capsys, monkeypatch):
    monkeypatch.setenv("SOWCAL_HOME", str(tmp_path))
    asked = ["season", "sallowdene", "--date", "2015-05-20"]
    for suffix, begins in ((".png", b"\x89PNG"), (".pdf", b"%PDF"), (".svg", b"<?xml")):
        assert main([*asked, "--out", str(tmp_path / f"s{suffix}")]) == 0
        assert (tmp_path / f"s{suffix}").read_bytes().startswith(begins)
    capsys.readouterr()
    assert main([*asked, "--json"]) == 0
    told = json.loads(capsys.readouterr().out)["so_far"]
    assert (told["from"], told["to"]) == ("2015-01-01", "2015-05-20")
    found = so_far_of(open_weather("sallowdene")[1], dt.date(2015, 5, 20))
    assert told["warmth"]["sum"] == round(found.sums[0].at_day[0], 1)
    assert told["days_ahead"] == found.days_ahead
    assert main(["season", "sallowdene", "--date", "2026-05-20", "--out", str(tmp_path / "s.png")]) == 2
    assert "no picture" in capsys.readouterr().err
    svg = (tmp_path / "s.svg").read_bytes()
    place = sowcal.Site.open("sallowdene", issued="2015-05-20")
    place.season(SeasonLog(tmp_path / "none.csv"), date="2015-05-20").save(tmp_path / "t.svg")
    assert b"<svg" in svg
