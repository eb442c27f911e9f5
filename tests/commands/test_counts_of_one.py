"""One of a thing is told as one: '1 day', never '1 days', on any screen, page, refusal or site's name."""

from __future__ import annotations

import re

import numpy as np
import pandas as pd
import pytest

from sowcal.__main__ import main
from sowcal.languages import counted
from sowcal.outputs.wording import odds_of_few, odds_text, record_text, years_in_ten
from sowcal.suitability.results import Record

NOUNS = (
    "days? dates? years? nights? values? crops? cells? weeks? months? seasons? hours? minutes? plants? beds? litres? "
    "starts? readings? rows? columns? files? times? degrees? portions? units? metres? jobs? problems?"
).replace("?", "")
WRONG = re.compile(rf"(?<![\d.,:-])1 (?:[a-z]+ )?(?:{'|'.join(NOUNS.split())})\b(?! in 10)|(?<![\d.,:-])1 years in 10")
CROPS = ("radish", "tomato (cherry)", "lemon")


def written(folder, days, **changed):
    """A site of so many days; `changed` holds cells by column and row."""
    day = days.day_of_year.to_numpy()
    season = np.cos(2 * np.pi * (day - 200) / 365.25)
    columns = {
        "date": days.strftime("%Y-%m-%d").tolist(),
        "tmin": np.round(10 + 8 * season + 2 * np.sin(day), 1).tolist(),
        "tmax": np.round(21 + 10 * season + 2 * np.sin(day), 1).tolist(),
        "rain": np.where(day % 9 == 0, 30.0, 0.0).tolist(),
    }
    for column, cells in changed.items():
        for row, value in cells.items():
            columns[column][row] = value
    rows = [",".join(map(str, row)) for row in zip(*columns.values(), strict=True)]
    (folder / "days.csv").write_text("\n".join([",".join(columns), *rows]) + "\n")
    site = folder / "small.toml"
    site.write_text(
        'name = "Small"\nlatitude = 38.0\nlongitude = -6.0\nelevation = 50\n[weather]\nsource = "file"\n'
        'file = "days.csv"\ntemperature_unit = "degC"\n'
    )
    return site


@pytest.fixture
def one_year(tmp_path):
    """A year of days of which one was missing and is filled."""
    return written(tmp_path, pd.date_range("2001-01-01", "2001-12-31"), tmin={100: ""}, tmax={100: ""})


@pytest.fixture
def four_years(tmp_path):
    """Four years with one night of frost, one day above 30 and one above 35 degC, one gap at the end."""
    days = pd.date_range("2001-01-01", "2004-12-31")
    return written(tmp_path, days, tmin={9: -1.0, 1460: ""}, tmax={200: 36.0, 1460: ""}, rain={1459: ""})


def said(capsys, *words):
    code = main([str(w) for w in words])
    heard = capsys.readouterr()
    return code, f"{heard.out}\n{heard.err}"


@pytest.mark.parametrize(
    "words",
    [
        ("climate",),
        ("rate", *CROPS),
        ("chart", *CROPS),
        ("chart", "radish", "--reliability", "0.1"),
        ("week",),
        ("compare",),
        ("weather", "check"),
        ("weather", "trend"),
        ("page",),
    ],
    ids=" ".join,
)
def test_a_year_with_one_filled_day(one_year, tmp_path, capsys, words):
    first, *rest = words
    place = [one_year, one_year] if first == "compare" else [one_year]
    asked = [first, rest.pop(0), *place] if first == "weather" else [first, *place]
    beside = ["--out", tmp_path / "p.html"] if first == "page" else []
    code, text = said(capsys, *asked, *rest, *beside)
    if first == "page" and code == 0:
        text += re.sub(r"<[^>]+>", " ", (tmp_path / "p.html").read_text(encoding="utf-8"))
    assert not WRONG.findall(text), [m.group() for m in WRONG.finditer(text)]
    if first in ("climate", "chart") and code == 0:
        assert "1 year, 2001 to 2001, 1 day (" in text


@pytest.mark.parametrize(
    "words",
    [
        ("climate", "--years", "1"),
        ("weather", "check"),
        ("weather", "trend"),
        ("compare", *CROPS, "--years", "2"),
        ("compare", *CROPS, "--years", "1"),
        ("chart", *CROPS, "--years", "1"),
        ("rate", *CROPS),
        ("chart", "radish", "--reliability", "0.1"),
    ],
    ids=" ".join,
)
def test_four_years_with_counts_of_one(four_years, capsys, words):
    first, *rest = words
    asked = [first, rest.pop(0), four_years] if first == "weather" else [first, four_years]
    text = said(capsys, *asked, *rest)[1]
    # what an opened record tells of its days is tried with the findings themselves
    text = re.sub(r"1 (days are missing|values of the record could not be used)", "", text)
    assert not WRONG.findall(text), [m.group() for m in WRONG.finditer(text)]


def test_refusals_of_a_single_day(tmp_path, capsys):
    site = written(tmp_path, pd.date_range("2001-01-01", "2001-01-01"))
    garden = tmp_path / "one.garden.toml"
    garden.write_text(
        'name = "one"\nsite = "small.toml"\ncrops = ["radish"]\n[household]\npeople = 1\n'
        '[[beds]]\nname = "one"\nlength = 4\nwidth = 1.2\n'
    )
    for words in (("garden", garden), ("chart", site, "radish"), ("climate", site), ("weather", "check", site)):
        text = said(capsys, *words)[1]
        assert not WRONG.findall(text), text


def test_the_words_themselves():
    record = Record("2001-01-01", "2001-12-31", 1.0, "observed", filled_days=1, missing_days=1)
    assert record_text(record).startswith("1 year, 2001 to 2001, 1 day (0.3 per cent) filled, 1 day missing")
    assert (odds_text(0.1), odds_text(0.8), years_in_ten(0.1)) == ("1 year in 10", "8 years in 10", "1 year in 10")
    assert odds_of_few(1.0, (0.2, 1.0), 1) == "10 years in 10 (from 1 year only: 20% to 100%)"
    assert counted(np.int64(1), "day") == "1 day"
    assert [counted(n, "cold season") for n in (0, 1, 1.0, 1.5, 1234567)] == [
        "0 cold seasons",
        "1 cold season",
        "1 cold season",
        "1.5 cold seasons",
        "1234567 cold seasons",
    ]
