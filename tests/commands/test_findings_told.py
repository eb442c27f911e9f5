"""What the quality check finds every answer tells, in words and in JSON; the wrong hemisphere is refused."""

from __future__ import annotations

import datetime as dt
import json
import re
import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest

import sowcal
from sowcal.__main__ import main
from sowcal.errors import InputError
from sowcal.weather.open_site import open_weather
from sowcal.weather.quality import KINDS

ISSUED = "2018-06-01"
CROPS = ["radish"]
HEAD = 'name = "Ness"\nlatitude = %s\n[weather]\nsource = "file"\nfile = "%s"\ntemperature_unit = "degC"\n'
GARDEN = """\
name = "kitchen garden"
site = "%s"
crops = ["radish"]
[household]
people = 1
[[beds]]
name = "one"
length = 4
width = 1.2
"""
# what is planted, day or days, and how it is told; gaps and rounding are no doubts
TOLD = {
    "repeat": "the record has 31 days with the readings of other days of the record (2006-03-01 to 2006-03-31)",
    "out of range": "the record has 3 days with values that cannot be, or not here (2007-07-10 to 2007-12-11), "
    "1 of them with a zero that seems to stand for missing",
    "stuck": "the record has 12 days with the same value day after day (2008-10-04 to 2008-10-15)",
    "spike": "the record has 1 day with a value far from both neighbouring days (2009-05-20)",
    "shift": r"the record has 1 step in its mean, the first of \+2\.\d degC on 201[12]-",
    "unit": "a unit of the record is in doubt: 31 days from 2010-01-01 fit only if they are degF",
    "swapped": "the record has 28 days with columns that look swapped (2011-02-01 to 2011-02-28)",
    "future": "the record has 213 days after the day of issue, 2018-06-01 (2018-06-02 to 2018-12-31)",
    "set to missing": "2 values of the record could not be used (2013-01-10 to 2014-07-04)",
}


def sound_days(first="2003-01-01", last="2019-01-01", latitude=38.0, seed=5):
    """Dates, minima and maxima of an invented place without a fault."""
    days = np.arange(first, last, dtype="datetime64[D]")
    rng = np.random.default_rng(seed)
    wave = np.cos(2 * np.pi * (np.arange(days.size) - 25) / 365.25) * np.sign(latitude)
    low = 9 - 6 * wave + rng.normal(0, 1.4, days.size)
    return days, low.round(1), (low + 9 + rng.normal(0, 0.8, days.size).clip(-4, 4)).round(1)


def written(folder, name, days, low, high, latitude=38.0):
    rows = [f"{d},{a:.1f},{b:.1f}" for d, a, b in zip(days, low, high, strict=True)]
    (folder / f"{name}.csv").write_text("\n".join(["date,tmin,tmax", *rows]) + "\n")
    (folder / f"{name}.toml").write_text(HEAD % (latitude, f"{name}.csv"))
    (folder / f"{name}.garden.toml").write_text(GARDEN % f"{name}.toml")


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    """Records that are sound, with every kind of fault, with one value lost, and of the other hemisphere."""
    folder = tmp_path_factory.mktemp("ness")
    days, low, high = sound_days()

    def at(day):
        return int((np.datetime64(day) - days[0]).astype(int))

    written(folder, "sound", days, low, high)
    written(folder, "wrong", days, low, high, -38.0)
    one = high.copy()
    one[at("2013-01-10")] = 88.0
    written(folder, "one", days, low, one)
    low[at("2012-01-01") :] += 2.5
    a, b = at("2004-03-01"), at("2006-03-01")
    low[b : b + 31], high[b : b + 31] = low[a : a + 31], high[a : a + 31]
    low[at("2007-07-10")] = 0.0
    high[at("2007-12-10")] = high[at("2007-12-11")] = 39.0  # no spike: two days
    k = at("2008-10-04")
    high[k : k + 12] = 20.0
    high[at("2009-05-20")] += 25.0
    k, m = at("2010-01-01"), at("2010-02-01")
    low[k:m], high[k:m] = low[k:m] * 1.8 + 32, np.minimum(high[k:m] * 1.8 + 32, 59.9)
    k, m = at("2011-02-01"), at("2011-03-01")
    low[k:m], high[k:m] = high[k:m].copy(), low[k:m].copy()
    high[at("2013-01-10")] = 88.0
    low[at("2014-07-04")] = high[at("2014-07-04")] + 1.0
    written(folder, "faults", days, low, high)
    return folder


COMMANDS = {
    "climate": ("climate", "{site}"),
    "chart": ("chart", "{site}", *CROPS),
    "rate": ("rate", "{site}"),
    "rate one": ("rate", "{site}", *CROPS),
    "week": ("week", "{site}", *CROPS, "--date", "2018-03-01"),
    "compare": ("compare", "{site}", "{sound}", *CROPS),
    "garden": ("garden", "{garden}"),
    "page": ("page", "{site}", *CROPS, "--garden", "{garden}", "--out", "{out}"),
}
SAID = {**COMMANDS, "picture": ("climate", "{site}", "--out", "{out}.svg")}


def filled(words, place, name, tmp_path):
    names = {
        "site": place / f"{name}.toml",
        "sound": place / "sound.toml",
        "garden": place / f"{name}.garden.toml",
        "out": tmp_path / "page.html",
    }
    return [w.format(**names) for w in words]


def ask(capsys, *words, issued=ISSUED):
    code = main([*words, "--issued", issued])
    told = capsys.readouterr()
    return code, told.out, told.err


def squeezed(text):
    return " ".join(text.split())


def matches(wanted, text):
    return re.search(wanted if "\\" in wanted else re.escape(wanted), text, re.IGNORECASE) is not None


def records_of(answer):
    if "record_findings" in answer:
        return [answer["record_findings"]]
    return [r["findings"] for r in (answer.get("records") or [answer["record"]])]


def test_the_check_finds_what_is_planted(place, capsys):
    """Each kind of slip that the check knows stands in the record; a minimum above its maximum is set to missing."""
    code, out, _ = ask(capsys, "weather", "check", str(place / "faults.toml"), "--json")
    assert code == 0
    found = {p["kind"] for p in json.loads(out)["problems"]}
    assert found - {"gap", "rounding"} == set(KINDS) - {"gap", "rounding"}
    assert set(TOLD) == (set(KINDS) - {"gap", "rounding", "crossed"}) | {"set to missing"}


@pytest.mark.parametrize("command", SAID)
def test_every_answer_tells_each_kind_in_one_line(place, capsys, tmp_path, command):
    code, out, err = ask(capsys, *filled(SAID[command], place, "faults", tmp_path))
    assert code == 0
    said = squeezed(out + err)
    for kind, words in TOLD.items():
        assert matches(words, said), kind
        assert said.count(words) <= 1 or command == "page"  # the page's garden rests on the same record
    assert said.count("`sowcal weather check` lists them") == len(TOLD)  # both records of a comparison bear one name
    if command == "page":
        page = squeezed((tmp_path / "page.html").read_text(encoding="utf-8").replace("°C", "degC"))
        for kind, words in TOLD.items():
            assert matches(words, page), kind


@pytest.mark.parametrize("command", [c for c in COMMANDS if c != "page"])
def test_every_json_carries_each_kind(place, capsys, tmp_path, command):
    code, out, _ = ask(capsys, *filled(COMMANDS[command], place, "faults", tmp_path), "--json")
    assert code == 0
    findings, *others = records_of(json.loads(out))
    assert {f["kind"] for o in others for f in o} <= {"future"}  # the sound record of a comparison
    assert {f["kind"] for f in findings} == set(TOLD)
    for finding in findings:
        assert list(finding) == ["kind", "days", "text", "mend"]
        assert finding["days"] >= 1
        assert finding["mend"]
        assert matches(TOLD[finding["kind"]], finding["text"])


@pytest.mark.parametrize("command", SAID)
def test_a_sound_record_is_not_talked_about(place, capsys, tmp_path, command):
    """Asked on a day after its last: nothing is told that is not so."""
    code, out, err = ask(capsys, *filled(SAID[command], place, "sound", tmp_path), issued="2019-01-01")
    assert code == 0
    assert "weather check" not in out + err


def test_only_what_lies_in_the_years_asked_for_is_told(place, capsys):
    code, out, err = ask(capsys, "chart", str(place / "faults.toml"), *CROPS, "--years", "2006:2009", "--json")
    assert code == 0
    kinds = {f["kind"] for f in json.loads(out)["record"]["findings"]}
    assert kinds == {"repeat", "out of range", "stuck", "spike"}
    assert "fit only if" not in err
    assert {f["kind"] for f in json.loads(out)["against_whole_record"]["record"]["findings"]} == set(TOLD)


def test_the_day_of_issue_decides_what_the_future_is(place, capsys):
    """The clock is asked only where no day is given, so that the same question has the same answer to the byte."""
    site = str(place / "sound.toml")
    same = [ask(capsys, "chart", site, *CROPS, "--json")[1:] for _ in (0, 1)]
    assert same[0] == same[1]
    assert "213 days after the day of issue, 2018-06-01" in same[0][1]
    code = main(["chart", site, *CROPS, "--issued", "2018-12-30"])
    assert code == 0
    assert "1 day after the day of issue, 2018-12-30 (2018-12-31)" in capsys.readouterr().err
    later = dt.date(2018, 12, 30)
    chart = sowcal.sowing_chart(site, CROPS, issued=later)
    assert [f.kind for f in chart.record.findings] == ["future"]
    assert sowcal.sowing_chart(site, CROPS, issued=dt.date(2019, 1, 1)).record.findings == ()


def test_days_in_the_future_by_the_clock(tmp_path, capsys):
    """A century slipped: told, by the check and by answers, without a day of issue."""
    days, low, high = sound_days("2098-01-01", "2104-01-01")
    written(tmp_path, "later", days, low, high)
    site = str(tmp_path / "later.toml")
    for words in (("chart", site, *CROPS), ("weather", "check", site)):
        assert main(list(words)) == 0
        told = capsys.readouterr()
        assert "after the day of issue" in squeezed(told.out + told.err)


def test_one_value_is_one_value(place, capsys):
    for words in (("chart", *CROPS), ("climate",)):
        code, out, err = ask(capsys, words[0], str(place / "one.toml"), *words[1:])
        assert code == 0
        said = squeezed(out + err)
        assert "1 value of the record could not be used (2013-01-10); `sowcal weather check` lists them" in said
        assert "1 day is missing; seasons that touch it are left undecided" in said or "1 day (under" in said
        assert not re.search(r"\b1 (values|days|years)\b", said)


def test_a_unit_taken_for_granted_is_no_value_lost(tmp_path, capsys):
    """Rain without a unit beside degF is read as mm: in doubt, but none of it is lost."""
    days, low, high = sound_days()
    rows = [f"{d},{a * 1.8 + 32:.1f},{b * 1.8 + 32:.1f},0.0" for d, a, b in zip(days, low, high, strict=True)]
    (tmp_path / "f.csv").write_text("\n".join(["# latitude: 38", "date,tmin_degF,tmax_degF,precip", *rows]) + "\n")
    code, out, err = ask(capsys, "chart", str(tmp_path / "f.csv"), *CROPS, "--json")
    assert code == 0
    assert "could not be used" not in err
    assert "a unit of the record is in doubt: precip: no unit is stated beside temperatures in degF: read as mm" in err
    assert "unit" in [f["kind"] for f in json.loads(out)["record"]["findings"]]


@pytest.mark.parametrize("command", SAID)
def test_the_other_hemisphere_is_refused_by_every_command(place, capsys, tmp_path, command):
    code, out, err = ask(capsys, *filled(SAID[command], place, "wrong", tmp_path))
    assert code == 2
    assert out == ""
    assert "wrong.toml: the seasons are those of the other hemisphere" in err
    assert re.search(r"June to August are 1\d\.\d degC warmer than December to February \(more than 4 degC", err)
    assert "latitude -38 lies south of the equator; write latitude = 38 if the place lies in the north" in err
    assert "Traceback" not in err
    assert not (tmp_path / "page.html").exists()


@pytest.mark.parametrize("action", ["trend", "export", "check"])
def test_the_check_reports_the_other_hemisphere(place, capsys, tmp_path, action):
    out = ("--out", str(tmp_path / "x.csv")) if action == "export" else ()
    code, said, err = ask(capsys, "weather", action, str(place / "wrong.toml"), *out)
    if action == "check":
        assert code == 0
        assert "seasons are those of the other hemisphere" in squeezed(said)
    else:
        assert code == 2
        assert "other hemisphere" in err
        assert not (tmp_path / "x.csv").exists()


def test_the_other_hemisphere_is_refused_from_python(place):
    wrong = open_weather(place / "wrong.toml")[1]
    site = str(place / "wrong.toml")
    calls = [
        lambda s: sowcal.sowing_chart(s, CROPS),
        lambda s: sowcal.rate_crops(s, CROPS),
        lambda s: sowcal.site_climate(s),
        lambda s: sowcal.compare_sites("sallowdene", s, CROPS),
        lambda s: sowcal.perennial_record(s, "fig"),
    ]
    for call in calls:
        for given in (site, wrong):
            with pytest.raises(InputError, match="write latitude = 38 if"):
                call(given)
    with pytest.raises(InputError, match="write latitude = 38 if"):
        sowcal.garden_plan(str(place / "wrong.garden.toml"))
    with pytest.raises(InputError, match="write latitude = 38 if"):
        sowcal.plan_garden(sowcal.read_garden_file(place / "wrong.garden.toml"), "wrong", wrong)


def test_normals_of_the_other_hemisphere_are_refused(tmp_path, capsys):
    months = {
        "tasmin": [1, 2, 4, 6, 10, 14, 17, 17, 14, 10, 5, 2],
        "tasmax": [9, 11, 15, 18, 23, 28, 32, 32, 27, 20, 14, 10],
        "pr": [60] * 12,
        "wet_days": [8] * 12,
    }
    said = "\n".join(f"{k} = {v}" for k, v in months.items())
    path = tmp_path / "n.toml"
    path.write_text(f'name = "n"\nlatitude = -40.0\n[weather]\nsource = "normals"\n{said}\n')
    code, _, err = ask(capsys, "chart", str(path), *CROPS)
    assert code == 2
    assert "latitude -40 lies south of the equator; write latitude = 40" in err


def test_a_dataset_is_checked_at_the_door_even_if_it_was_sound(place):
    """Findings that came with a dataset do not outlive a change of its values."""
    today = dt.date(2020, 1, 1)
    from sowcal.site_weather import open_record
    from sowcal.weather.cf_dataset import dataset_of

    _, record = open_record(str(place / "sound.toml"), issued=today)
    dataset = dataset_of(record)
    assert dataset.attrs["findings"]
    assert sowcal.sowing_chart(dataset, CROPS, issued=today).record.findings == ()
    k = int((np.datetime64("2009-05-20") - record.time[0]).astype(int))
    low, high = dataset["tasmin"].values, dataset["tasmax"].values
    high[k] += 25.0
    middle = (low[k + 100] + high[k + 100]) / 2
    low[k + 100], high[k + 100] = middle + 0.2, middle - 0.2
    chart = sowcal.sowing_chart(dataset, CROPS, issued=today)
    # the door sets the crossed day to missing, as it does in a file, and tells it
    assert [(f.kind, f.days) for f in chart.record.findings] == [("set to missing", 1), ("spike", 1)]
    assert "2009-08-28" in chart.warnings[0]
    plan = sowcal.plan_garden(sowcal.read_garden_file(place / "sound.garden.toml"), "sound", dataset)
    assert plan.record.findings == chart.record.findings
    # a record is what it is: one that was made out of such days and never looked at is looked at, and not changed
    unseen = replace(record.with_values({"tasmin": low, "tasmax": high}), findings=None)
    plan = sowcal.plan_garden(sowcal.read_garden_file(place / "sound.garden.toml"), "sound", unseen)
    assert [f.kind for f in plan.record.findings] == ["crossed", "spike"]


def test_a_chart_of_a_bundled_plot_checks_nothing_and_loads_no_xarray():
    """A generated record is sound by its making; the import of xarray would take as long as the chart."""
    code = (
        "import sys; from sowcal.__main__ import main; main(['chart', 'sallowdene', 'radish']); "
        "print([m for m in ('xarray', 'pandas', 'sowcal.weather.quality') if m in sys.modules])"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip().endswith("[]")
