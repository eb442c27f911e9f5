"""Some years of a record: the same answers as from a file that holds those years only."""

from __future__ import annotations

import argparse
import json
import re

import numpy as np
import pytest
from scipy.stats import theilslopes

from sowcal import compare_sites, rate_crops, site_climate, sowing_chart
from sowcal.__main__ import main
from sowcal.commands.parser import parse
from sowcal.errors import InputError
from sowcal.outputs.chart_document import chart_document
from sowcal.outputs.climate_document import climate_document
from sowcal.outputs.document import screen_text
from sowcal.outputs.json_form import chart_json
from sowcal.weather.open_site import open_weather
from sowcal.weather.site_file import parse_site
from sowcal.weather.years import chosen_years, years_words

DAYS = np.arange("1997-01-01", "2019-01-01", dtype="datetime64[D]")
HEAD = 'name = "Ness"\nlatitude = 38.0\n[weather]\nsource = "file"\nfile = "%s"\ntemperature_unit = "degC"\n'
CROPS = ["potato (early)", "french bean (bush)"]


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    """Twenty-two years that warm by 1 degC in ten, and the last ten of them in a file of their own."""
    folder = tmp_path_factory.mktemp("ness")
    rng = np.random.default_rng(9)
    wave = np.cos(2 * np.pi * (np.arange(DAYS.size) - 25) / 365.25)
    low = 8 - 6 * wave + rng.normal(0, 2.5, DAYS.size) + np.arange(DAYS.size) / 3652.5
    high = low + 10 - 1.5 * wave + rng.normal(0, 1, DAYS.size)
    rows = [f"{d},{a:.1f},{b:.1f}" for d, a, b in zip(DAYS, low, high, strict=True)]
    (folder / "all.csv").write_text("\n".join(["date,tmin,tmax", *rows]) + "\n")
    late = [r for r in rows if r >= "2009"]
    (folder / "late.csv").write_text("\n".join(["date,tmin,tmax", *late]) + "\n")
    for name in ("all", "late"):
        (folder / f"{name}.toml").write_text(HEAD % f"{name}.csv")
    (folder / "set.toml").write_text(HEAD % "all.csv" + 'years = "2009:"\n')
    (folder / "ten.toml").write_text(HEAD % "all.csv" + "years = 10\n")
    return folder


@pytest.mark.parametrize("years", ["10", "2009:", "2009:2018"])
def test_the_chart_is_that_of_those_years(place, years):
    got = chart_json(sowing_chart(str(place / "all.toml"), CROPS, years=years))
    alone = chart_json(sowing_chart(str(place / "late.toml"), CROPS))
    assert got["crops"] == alone["crops"]
    assert got["record"] == alone["record"]
    assert "against_whole_record" not in alone


@pytest.mark.parametrize("name", ["set", "ten"])
def test_a_site_file_may_choose_the_years(place, name):
    one, two = (chart_json(sowing_chart(str(place / f"{n}.toml"), CROPS)) for n in (name, "late"))
    assert one["crops"] == two["crops"]


def test_windows_against_the_whole_record(place):
    """Pairs of dates as two charts, asked apart, have them."""
    chart = sowing_chart(str(place / "all.toml"), CROPS, years="10")
    answer = chart_json(chart)["against_whole_record"]
    assert answer["record"] == {"first": "1997-01-01", "last": "2018-12-31", "years": 22.0, "findings": []}
    apart = [chart_json(sowing_chart(str(place / f"{n}.toml"), CROPS)) for n in ("all", "late")]
    assert answer["moved"]
    for entry in answer["moved"]:
        for k in (0, 1):
            line = next(c for c in apart[k]["crops"] if c["crop"] == entry["crop"])
            windows = next(s["windows"] for s in line["starts"] if s["way"] == entry["way"])
            assert (entry["from"][k], entry["to"][k]) in {(w["from"], w["to"]) for w in windows}
    said = screen_text(chart_document(chart), width=100)
    assert "AGAINST THE WHOLE RECORD: + LATER, - EARLIER\nThe whole record: 22 years, 1997 to 2018\n" in said
    assert "move by chance too" in said
    warm = [e for e in answer["moved"] if e["crop"] == "french bean (bush)"]
    assert min(e["opens_later_days"] for e in warm) < 0  # it has warmed: the spring opens earlier


def test_a_place_beside_its_own_recent_years(place):
    result = compare_sites(str(place / "all.toml"), str(place / "all.toml"), CROPS, years=("", "10"))
    alone = site_climate(str(place / "late.toml")).to_json()
    assert result.sites == ("Ness", "Ness, the last 10 years")
    assert result.climates[1]["growing_degree_days"] == alone["growing_degree_days"]
    assert result.climates[0]["growing_degree_days"] < alone["growing_degree_days"]


def test_verdicts_follow(place):
    one = rate_crops(str(place / "all.toml"), CROPS, years="2009:2018", most_remedies=0)[1]
    two = rate_crops(str(place / "late.toml"), CROPS, most_remedies=0)[1]
    assert [(v.crop, v.word, v.reliability) for v in one] == [(v.crop, v.word, v.reliability) for v in two]


def test_the_climate_prints_the_trend(place):
    """Theil-Sen over yearly means worked out here with scipy (Sen 1968), of winters begun in December."""
    summary = site_climate(str(place / "all.toml"))
    low = open_weather(place / "all.toml")[1]["tasmin"]
    months = DAYS.astype("datetime64[M]").astype(int) + 1
    year, season = 1970 + months // 12, months % 12 // 3
    summer = [low[(season == 2) & (year == y)].mean() for y in range(1997, 2019)]
    slope, _, least, most = theilslopes(summer, np.arange(1997, 2019), alpha=0.95)
    found = next(t for t in summary.trends if (t.variable, t.season) == ("tasmin", "June to August"))
    assert (found.per_decade, found.low, found.high) == pytest.approx((10 * slope, 10 * least, 10 * most))
    said = " ".join(screen_text(climate_document(summary), width=100).split())
    assert "Trend, degC in 10 years (95 per cent interval; seasons only where clear of zero)" in said
    assert f"June to August {10 * slope:+.2f} ({10 * least:+.2f} to {10 * most:+.2f})" in said
    assert next(t for t in summary.to_json()["trends"] if t["season"] == "all year")["interval"][0] > 0
    assert site_climate("sallowdene").trends == ()  # a generator's years have no trend
    assert site_climate(str(place / "all.toml"), years="2012:").trends == ()  # seven years carry none


def test_every_command_takes_years():
    for command in ("climate", "rate", "chart", "compare", "garden", "week", "page"):
        assert parse([command, "--years", "2006:"]).years == "2006:"
        assert parse([command]).years == ""


@pytest.mark.parametrize(
    ("asked", "message"),
    [
        ("recent", "names no years"),
        (":", "names no years"),
        ("2010:2001", "ends before it begins"),
        ("0", "at least one year"),
        ("40", "22.0 years; 40 cannot be taken"),
        ("1990:2001", "runs from 1997 to 2018; 1990 to 2001 cannot"),
        ("2012:2025", "cannot be taken"),
    ],
)
def test_years_that_are_not_there(place, asked, message):
    with pytest.raises(InputError, match=message):
        sowing_chart(str(place / "all.toml"), CROPS, years=asked)
    if "names" in message or "ends" in message:
        with pytest.raises(InputError, match=message):
            parse_site(HEAD % "all.csv" + f'years = "{asked}"\n', where="x.toml")


def test_words_and_history(place):
    assert [years_words(y) for y in ("15", "1991:2010", "2006:", ":2000")] == [
        "the last 15 years",
        "1991 to 2010",
        "from 2006 on",
        "up to 2000",
    ]
    found = chosen_years(open_weather(place / "all.toml")[1], "2001:2003")
    assert [str(found.time[k])[:10] for k in (0, -1)] == ["2001-01-01", "2003-12-31"]
    assert found.history.endswith("2001 to 2003 only")


def test_the_garden_counts_those_years_only(capsys):
    from sowcal.commands.questions import garden_command as run

    options = parse(["garden", "--years", "2016:", "--json"])
    assert isinstance(options, argparse.Namespace)
    run(options)
    found = json.loads(capsys.readouterr().out)
    assert [y["year"] for y in found["store"]["years"]] == [2016, 2017, 2018, 2019, 2020]


@pytest.mark.parametrize("command", ["climate", "chart", "rate", "week"])
def test_each_answer_says_which_years(place, capsys, command):
    words = ["french bean (bush)"] if command != "climate" else []
    assert main([command, str(place / "all.toml"), *words, "--years", "2009:2018"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "Ness, 2009 to 2018" in said
    assert "10 years, 2009 to 2018" in said


def test_the_page_is_of_those_years(place, tmp_path):
    out = tmp_path / "p.html"
    assert main(["page", str(place / "all.toml"), "pea (shelling)", "--years", "2012:2017", "--out", str(out)]) == 0
    text = out.read_text(encoding="utf-8")
    assert "6 years, 2012 to 2017" in text
    assert "the record is short" in text
    (cell,) = re.findall(r'<td data-sort="([0-9.]+)">\d+ in 10 \((\d+)%-(\d+)%\)</td>', text)
    share, low, high = map(float, cell)
    # Wilson's interval (1927) of a share of six years, not of the thirty of the whole record
    middle, spread = share + 1.96**2 / 12, 1.96 * np.sqrt(share * (1 - share) / 6 + 1.96**2 / 144)
    ends = [100 * (middle + side * spread) / (1 + 1.96**2 / 6) for side in (-1, 1)]
    assert [low, high] == pytest.approx(ends, abs=0.6)  # the page rounds to whole per cent


# other years that cannot be: with every option of each command in test_options_together.py
@pytest.mark.parametrize("asked", ["2090:", ":1850", "1996:", "400"])
def test_every_command_refuses_years_outside_the_record(place, tmp_path, capsys, asked):
    """The years of one end alone were held against that end alone: 2090: is not before the record, and was taken."""
    site, out = str(place / "all.toml"), tmp_path / "out"
    garden = tmp_path / "ness.garden.toml"
    garden.write_text(f'name = "Ness"\nsite = "{site}"\ncrops = ["radish"]\n[[beds]]\nlength = 4\nwidth = 1\n')
    calls = [
        ["climate", site],
        *([word, site, "radish"] for word in ("rate", "chart", "week")),
        ["page", site, "radish", "--out", f"{out}.html"],
        ["compare", site, site, "radish"],
        ["garden", str(garden)],
        *(["weather", what, site] for what in ("check", "trend")),
        ["weather", "export", site, "--out", f"{out}.csv"],
    ]
    for call in calls:
        assert main([*call, "--years", asked]) == 2, call
        shown, said = capsys.readouterr()
        assert shown == ""
        assert "cannot be taken from it" in said or "at least one year must be kept" in said
        assert said.startswith("sowcal: --years: ")
        assert said.count("\n") == 1
    assert list(tmp_path.iterdir()) == [garden]
    kept = HEAD % (place / "all.csv") + f'years = "{asked}"\n'
    (tmp_path / "edge.toml").write_text(kept)
    assert main(["climate", str(tmp_path / "edge.toml")]) == 2
    assert capsys.readouterr().err.startswith(f"sowcal: {tmp_path / 'edge.toml'}: ")


def test_of_two_places_the_one_that_lacks_the_years_is_named(place, tmp_path, capsys):
    (tmp_path / "early.csv").write_text(
        "\n".join(row for row in (place / "all.csv").read_text().splitlines() if row < "2011" or row[0] == "d") + "\n"
    )
    (tmp_path / "early.toml").write_text((HEAD % "early.csv").replace("Ness", "Foreland"))
    for sites in (("early", "all"), ("all", "early")):
        places = [str((tmp_path if name == "early" else place) / f"{name}.toml") for name in sites]
        assert main(["compare", *places, "radish", "--years", "2011:"]) == 2
        said = capsys.readouterr().err
        assert said == (
            "sowcal: --years: the record of Foreland runs from 1997 to 2010; from 2011 on cannot be taken from it\n"
        )


def test_what_is_said_of_a_short_record_is_what_is_done_with_it(place, capsys):
    """365 days are judged, with a warning; 364 are not."""
    for last, code in (("2009-12-31", 0), ("2009-12-30", 4)):
        rows = [r for r in (place / "late.csv").read_text().splitlines() if r[:10] <= last or r[0] == "d"]
        (place / "short.csv").write_text("\n".join(rows) + "\n")
        (place / "short.toml").write_text(HEAD % "short.csv")
        assert main(["rate", str(place / "short.toml"), "radish"]) == code
        said = capsys.readouterr().err
        assert ("364 days of record cannot be judged; at least 365 are needed" in said) == bool(code)
        assert ("too short for odds" in said) != bool(code)


@pytest.mark.parametrize("words", [["fetch", "90001"], ["chill", "wrackhythe"]])
def test_years_to_fetch_are_a_number(words, capsys):
    assert main(["weather", *words, "--years", "2006:"]) == 2
    assert "'2006:' is no number of years to fetch" in capsys.readouterr().err
