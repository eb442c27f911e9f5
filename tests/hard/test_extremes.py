"""Climates at the end of the world and records that hardly are any: every crop, every command, warnings as errors.

The climates are invented. What is held against them is common knowledge and logic: nothing grows where it never thaws,
no winter chill is had where there is no winter, a missing record carries no answer.
"""

from __future__ import annotations

import json

import numpy as np
import pytest

from sowcal.__main__ import main
from sowcal.answers import rate_crops, site_climate
from sowcal.errors import NotJudgedError
from sowcal.garden.garden_file import bundled_garden
from sowcal.garden.plan import plan_garden
from sowcal.outputs.json_form import chart_json, json_text, rate_json
from sowcal.weather.record import daily_record

pytestmark = pytest.mark.filterwarnings("error")
CLASSES = {"S1", "S2", "S3", "N", None}


def days(first, past):
    return np.arange(first, past, dtype="datetime64[D]")


YEARS = days("2001-01-01", "2008-01-01")


def weather(dates, mean, swing, half_range=6.0, seed=1):
    """An invented climate: mean of the year, swing of the months about it, half the daily range, degC; some rain."""
    rng = np.random.default_rng(seed)
    of_year = (dates - dates.astype("datetime64[Y]").astype("datetime64[D]")).astype(int)
    middle = mean - swing * np.cos(2 * np.pi * (of_year - 15) / 365.25) + 2 * rng.standard_normal(dates.size)
    rain = np.where(rng.random(dates.size) < 0.3, rng.gamma(1, 6, dates.size), 0.0)
    return {"tasmin": middle - half_range, "tasmax": middle + half_range, "pr": rain}


def flat(low, high, rain=0.0, dates=YEARS):
    return {name: np.full(dates.size, float(v)) for name, v in (("tasmin", low), ("tasmax", high), ("pr", rain))}


def without(values, where, names=("tasmin", "tasmax", "pr")):
    return {k: np.where(where, np.nan, v) if k in names else v for k, v in values.items()}


SPOT = YEARS[500] == YEARS
SECOND_HALF = YEARS.astype("datetime64[M]").astype(int) % 12 >= 6
# name: dates, values, latitude, longitude
CASES = {
    "north pole": (YEARS, weather(YEARS, -18, 14), 90.0, 0.0),
    "south pole": (YEARS, weather(YEARS, -50, -16), -90.0, 0.0),
    "arctic circle": (YEARS, weather(YEARS, 2, 14), 66.56, 180.0),
    "equator": (YEARS, weather(YEARS, 27, 1), 0.0, -180.0),
    "same every day": (YEARS, flat(20, 30), 0.0, 180.0),
    "no daily range": (YEARS, flat(15, 15, 1.0), -45.0, 0.0),
    "all zero": (YEARS, flat(0, 0), 0.0, 0.0),
    "furnace": (YEARS, weather(YEARS, 45, 8), 25.0, 360.0),
    "deep freeze": (YEARS, weather(YEARS, -60, 10), 70.0, 0.0),
    "flood": (YEARS, {**weather(YEARS, 15, 8), "pr": np.full(YEARS.size, 400.0)}, 38.0, 0.0),
    "one year": (d := days("2001-01-01", "2002-01-01"), weather(d, 15, 8), 38.0, 0.0),
    "two years": (d := days("2001-01-01", "2003-01-01"), weather(d, 15, 8), 38.0, 0.0),
    "from 29 February": (d := days("2004-02-29", "2012-03-01"), weather(d, 15, 8), 38.0, 0.0),
    "half of each year": (YEARS, without(weather(YEARS, 15, 8), SECOND_HALF, ("tasmin",)), 38.0, 0.0),
    "no rain gauge": (YEARS, {k: v for k, v in weather(YEARS, 15, 8).items() if k != "pr"}, 38.0, 0.0),
}
EMPTY = {
    "leap day only": (np.array(["2004-02-29"], "M8[D]"), {"tasmin": [5.0], "tasmax": [12.0]}),
    "all missing": (YEARS, flat(np.nan, np.nan, np.nan)),
    "no minimum": (YEARS, without(weather(YEARS, 15, 8), True, ("tasmin",))),
    "no maximum": (YEARS, without(weather(YEARS, 15, 8), True, ("tasmax",))),
}


def made(name):
    dates, values, latitude, longitude = CASES[name]
    return daily_record(dates, values, latitude=latitude, longitude=longitude, elevation=10.0, title=name)


@pytest.fixture(scope="module", params=CASES)
def case(request, answers_of_this_run):
    """Name, dataset, chart and verdicts of every crop under one climate."""
    dataset = made(request.param)
    with answers_of_this_run():
        chart, verdicts = rate_crops(dataset)
    return request.param, dataset, chart, verdicts


def test_every_crop_gets_a_sane_answer(case):
    name, _, chart, verdicts = case
    json_text([chart_json(chart), rate_json(chart.site, chart.record, verdicts)])  # raises at NaN and infinity
    for line in chart.crops:
        for start in line.starts:
            if start.reliability is not None:
                known = start.reliability[np.isfinite(start.reliability)]
                assert ((known >= 0) & (known <= 1)).all()
            for w in (*start.windows, *start.possible):
                assert 0 <= w.interval[0] <= w.reliability <= w.interval[1] <= 1
                assert 0 <= w.yield_fraction <= 1
                assert {w.start, w.end, w.best} <= set(range(365))
                assert (w.best - w.start) % 365 <= (w.end - w.start) % 365
                assert w.years_decided >= 3
    for v in verdicts:
        assert v.suitability in CLASSES
        assert v.reliability is None or 0 <= v.reliability <= 1
        assert v.suitability is None or v.word != "cannot say"
        assert v.suitability != "N" or v.limiting_factor, (name, v.crop)


EXPECTED = {  # classes that may occur at all
    "north pole": {"N"},
    "south pole": {"N"},
    "deep freeze": {"N"},
    "furnace": {"N"},
    "all zero": {"N"},
    "one year": {None},
    "two years": {None},
}


def test_what_must_be_is(case):
    name, _, _, verdicts = case
    found = {v.suitability for v in verdicts}
    if name in EXPECTED:
        assert found == EXPECTED[name], [
            (v.crop, v.suitability) for v in verdicts if v.suitability not in EXPECTED[name]
        ]
    by_crop = {v.crop: v for v in verdicts}
    if name in ("equator", "same every day"):
        assert by_crop["okra"].suitability == "S1"
        assert by_crop["blackcurrant"].suitability == "N"
        assert by_crop["spinach"].suitability == "N"
    if name == "half of each year":  # what stands through the missing months cannot be judged
        assert by_crop["blackcurrant"].suitability is None


def test_the_climate_and_the_garden(case):
    name, dataset, _, _ = case
    summary = site_climate(dataset).to_json()
    json_text(summary)
    if name.endswith("pole"):
        assert (summary["shortest_day"], summary["longest_day"]) == (0.0, 24.0)
    if name == "same every day":
        assert 12.0 <= summary["shortest_day"] <= summary["longest_day"] <= 12.2
        assert summary["chill_portions"] == summary["frost_days"] == 0.0
        assert summary["growing_degree_days"] == pytest.approx(15.0 * 365.25, rel=2e-3)  # mean 25 above 10 degC
    if dataset.size < 3 * 365:
        with pytest.raises(NotJudgedError, match="three whole years"):
            plan_garden(bundled_garden(), name, dataset)
        return
    plan = plan_garden(bundled_garden(), name, dataset).to_json()
    json_text(plan)
    if name in ("north pole", "south pole", "deep freeze"):
        assert plan["plants"] == []
        assert sum(plan["water"]["weekly_litres"]) == 0
    if name == "flood":
        assert plan["store"]["chance_dry"] in (0.0, None)


@pytest.mark.parametrize("name", EMPTY)
def test_an_empty_record_is_refused_with_a_reason(name):
    dates, values = EMPTY[name]
    dataset = daily_record(dates, values, latitude=38.0, title=name)
    for ask in (
        lambda: rate_crops(dataset),
        lambda: plan_garden(bundled_garden(), name, dataset),
    ):
        with pytest.raises(NotJudgedError, match=r"three whole years|no day with both"):
            ask()
    summary = site_climate(dataset).to_json()
    assert summary["growing_degree_days"] is summary["chill_portions"] is None
    assert summary["frost_days"] is None or name == "no maximum"  # frost is read from the minimum alone


def test_one_day_among_empty_ones_is_a_record_of_one_day():
    values = without(without(weather(YEARS, 15, 8), ~SPOT), ~SPOT, ("pr",))
    with pytest.raises(NotJudgedError, match="1 day of record cannot be judged"):
        rate_crops(daily_record(YEARS, values, latitude=38.0, title="one day known"))


@pytest.mark.filterwarnings("default")
def test_150_years(tmp_path):
    """Every crop over 150 years; the share of years that succeed rests on all of them."""
    dates = days("1871-01-01", "2021-01-01")
    dataset = daily_record(dates, weather(dates, 15, 8), latitude=38.0, title="long")
    chart, _ = rate_crops(dataset, ["broad bean", "courgette", "leek", "rhubarb"], most_remedies=0)
    most = max(w.years_decided for line in chart.crops for s in line.starts for w in s.windows)
    assert 148 <= most <= 150


def record(path, latitude, longitude=0.0, first="2004-02-29", rows=None):
    """A CSV record of four invented years."""
    dates = days(first, "2008-03-01")
    values = weather(dates, 15, 8 if latitude >= 0 else -8)
    lines = rows or [f"{d},{a:.1f},{b:.1f}" for d, a, b in zip(dates, values["tasmin"], values["tasmax"], strict=True)]
    head = f"# latitude: {latitude}\n# longitude: {longitude}\ndate,tmin_degC,tmax_degC\n"
    path.write_text(head + "\n".join(lines) + "\n", encoding="utf-8")
    return str(path)


COMMANDS = [
    ["chart", "{}", "leek", "courgette"],
    ["rate", "{}", "leek", "rhubarb"],
    ["climate", "{}"],
    ["compare", "{}", "wrackhythe", "leek"],
    ["week", "{}", "leek", "--date", "2028-02-29"],
    ["weather", "check", "{}"],
    ["weather", "trend", "{}"],
]


@pytest.mark.parametrize(("latitude", "longitude"), [(90, 180), (-90, -180), (0, 0), (0, 360), (66.56, 179.99)])
def test_every_command_at_the_ends_of_the_globe(latitude, longitude, tmp_path, capsys):
    path = record(tmp_path / "days.csv", latitude, longitude)
    for words in COMMANDS:
        assert main([w.format(path) for w in words]) == 0
        told = capsys.readouterr()
        assert len(told.out) > 50
        assert "nan" not in told.out.lower().split()
        assert "Traceback" not in told.err


@pytest.mark.parametrize(
    ("latitude", "longitude", "says"), [(90.1, 0, "-90 to 90"), (-91, 0, "-90 to 90"), (0, 361, "-180 to 360")]
)
def test_places_off_the_globe_are_refused(latitude, longitude, says, tmp_path, capsys):
    path = record(tmp_path / "days.csv", latitude, longitude)
    assert main(["climate", path]) == 2
    assert says in capsys.readouterr().err


def test_a_day_that_comes_twice_is_not_passed_over(tmp_path, capsys):
    dates = [str(d) for d in days("2004-01-01", "2008-01-01")]
    rows = [f"{d},8.{k % 10},19.{k % 7}" for k, d in enumerate(dates)]
    path = record(tmp_path / "days.csv", 38.0, rows=[*rows[:100], "2004-04-09,1.0,33.0", *rows[100:]])
    code = main(["chart", path, "leek", "--json"])
    told = capsys.readouterr()
    if code == 0:  # read, but not without a word
        assert "2004-04-09" in told.err or "could not be used" in told.err
        assert json.loads(told.out)["record"]["first"] == "2004-01-01"
    else:
        assert "2004-04-09" in told.err
        assert told.out == ""


@pytest.mark.parametrize("name", ["north pole", "no daily range", "half of each year", "two years"])
def test_pictures_and_the_page_are_drawn(name, tmp_path):
    """Every picture of a degenerate climate comes out, or the refusal is a reason."""
    import datetime as dt

    from sowcal.outputs.calendar_file import chart_calendar
    from sowcal.outputs.figure_chart import chart_figures
    from sowcal.outputs.figure_climate import climate_figures, quality_figures
    from sowcal.outputs.page import Place, page_text
    from sowcal.weather.quality import quality_report

    dataset = made(name)
    chart, verdicts = rate_crops(dataset, ["leek", "courgette", "rhubarb", "apple (low-chill)"], most_remedies=0)
    summary = site_climate(dataset)
    for pages in (chart_figures(chart), climate_figures(summary), quality_figures(quality_report(dataset))):
        for page in pages:
            page.canvas.draw()
    text = page_text([Place(chart, tuple(verdicts), summary)], issued=dt.date(2026, 1, 15))
    assert ">nan<" not in text
    assert name in text
    assert chart_calendar(chart, 2026, dt.date(2026, 1, 15)).startswith("BEGIN:VCALENDAR")
