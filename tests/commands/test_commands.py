"""Every command as a user calls it: answers, JSON keys, files, and refusals in one sentence."""

import json
import re
import subprocess
import sys

import pytest

from sowcal.__main__ import main
from sowcal.answers import open_handbook
from sowcal.commands.parser import parse
from sowcal.errors import InputError
from sowcal.saved_settings import USUAL_CROPS

WINDOW = {
    "from",
    "to",
    "best",
    "reliability",
    "interval",
    "years_decided",
    "yield_fraction",
    "raise_under_cover",
    "first_picking",
}


def answer(capsys, *words):
    assert main(list(words)) == 0
    return json.loads(capsys.readouterr().out)


def test_chart_json_has_the_stable_keys(capsys):
    chart = answer(capsys, "chart", "sallowdene", "courgette", "broad bean", "--json")
    assert set(chart) >= {"site", "record", "reliability_asked", "not_judged", "crops"}
    assert set(chart["record"]) >= {"first", "last", "years"}
    assert [c["crop"] for c in chart["crops"]] == ["courgette", "broad bean"]
    for crop in chart["crops"]:
        assert set(crop) >= {"crop", "starts", "cautions"}
        for start in crop["starts"]:
            assert set(start) >= {"way", "windows", "possible", "outside", "daily"}
            assert len(start["daily"]) == 365
            for window in start["windows"] + start["possible"]:
                assert set(window) >= WINDOW
                assert window["interval"][0] <= window["reliability"] <= window["interval"][1]
            for outside in start["outside"]:
                assert set(outside) >= {"from", "to", "hazard", "share_of_years"}


@pytest.mark.usefixtures("answers_kept_between_tests")
def test_while_nothing_is_said_the_usual_crops_of_the_valley_plot_stand_and_every_crop_when_asked(capsys):
    chart = answer(capsys, "chart", "--json")
    assert [c["crop"] for c in chart["crops"]] == list(USUAL_CROPS)
    assert chart["site"].startswith("Sallowdene")
    assert len(answer(capsys, "chart", "--all", "--json")["crops"]) > 90


def test_rate_json_has_the_stable_keys(capsys):
    rate = answer(capsys, "rate", "sallowdene", "tomato", "--json")
    assert set(rate) >= {"site", "record", "crops"}
    for crop in rate["crops"]:
        assert set(crop) >= {
            "crop",
            "class",
            "word",
            "reliability",
            "limiting_factor",
            "evidence",
            "what_would_change_it",
            "cautions",
        }
        assert crop["class"] in ("S1", "S2", "S3", "N", None)


@pytest.mark.usefixtures("answers_kept_between_tests")
def test_compare_tells_which_plot_and_why(capsys):
    result = answer(capsys, "compare", "wrackhythe", "sallowdene", "--all", "--json")
    assert "potato (maincrop)" in result["lost"] or "celery" in result["lost"]
    assert main(["compare", "wrackhythe", "sallowdene"]) == 0
    text = capsys.readouterr().out
    said = text.index("better plot")
    assert said < text.index("it hangs on") < text.index("frost days a year")  # the verdict first


def test_crops_list_sheet_and_basis(capsys):
    found = answer(capsys, "crops", "eggplant", "--json")["crops"]
    assert [c["crop"] for c in found] == ["aubergine"]
    assert set(found[0]) >= {"crop", "botanical_name", "family", "synonyms"}
    assert main(["crops", "zucchini"]) == 0
    sheet = capsys.readouterr().out
    assert "courgette" in sheet
    assert "degC" in sheet
    assert "SOURCES" in sheet
    assert main(["crops", "--basis"]) == 0
    assert "published" in capsys.readouterr().out


def test_climate_of_both_plots(capsys):
    coast = answer(capsys, "climate", "wrackhythe", "--json")
    valley = answer(capsys, "climate", "--json")
    assert coast["frost_days"] < 1 < 20 < valley["frost_days"]
    assert valley["chill_portions"] > coast["chill_portions"]


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["rate", "tomatto"], "nearest: tomato"),
        (["chart", "nowhere.csv"], "there is no file 'nowhere.csv'"),
        (["climate", "tomato"], "is no site"),
        (["compare", "wrackhythe", "atlantis"], "compare needs two sites"),
        (["chart", "--out", "chart.docx"], "docx"),
        (["crops", "qqqq"], "there is no crop 'qqqq'"),
    ],
)
def test_a_refusal_is_one_sentence_and_a_code(capsys, words, says, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert main(words) != 0
    said = capsys.readouterr()
    assert says in said.err
    assert "Traceback" not in said.err
    assert said.out == ""
    assert list(tmp_path.iterdir()) == []


def test_a_southern_or_western_place_is_not_taken_for_an_option():
    options = parse(["chart", "-31.9,115.9", "courgette"])
    assert [w.strip() for w in options.words] == ["-31.9,115.9", "courgette"]
    assert parse(["chart", "-31.9, -115.9"]).words[0].strip() == "-31.9, -115.9"


def test_names_stand_where_they_like():
    assert parse(["chart", "wrackhythe", "--reliability", "0.7", "carrot", "--json", "leek"]).words == [
        "wrackhythe",
        "carrot",
        "leek",
    ]
    assert parse(["weather", "fetch", "--years", "5", "here.toml"]).words == ["here.toml"]
    with pytest.raises(InputError, match=r"^unrecognized arguments: --no-such-option; 'sowcal --help'"):
        parse(["chart", "carrot", "--no-such-option", "leek"])


def test_names_of_several_words_need_no_quotes(capsys):
    rate = answer(capsys, "rate", "sweet", "corn", "broad", "bean", "--json")
    assert {c["crop"] for c in rate["crops"]} == {"sweet corn", "broad bean"}


@pytest.mark.parametrize("suffix", [".png", ".svg", ".pdf"])
def test_pictures_are_the_same_twice(tmp_path, suffix, capsys):
    first, second = tmp_path / f"a{suffix}", tmp_path / f"b{suffix}"
    for path in (first, second):
        assert main(["chart", "courgette", "leek", "--out", str(path)]) == 0
    assert first.read_bytes() == second.read_bytes()
    assert first.stat().st_size > 5000


def test_plain_letters_when_asked(capsys):
    assert main(["chart", "leek", "--ascii", "--width", "80"]) == 0
    text = capsys.readouterr().out
    assert text.isascii()
    assert max(map(len, text.splitlines())) <= 80


@pytest.mark.parametrize("call", ["import sowcal", "from sowcal.commands.parser import parse; parse(['crops'])"])
def test_light_calls_load_nothing_heavy(call):
    """Whoever only wants the help or a list of crops does not wait for numpy."""
    heavy = "('matplotlib', 'meteostat', 'xarray', 'pandas', 'scipy', 'numpy')"
    code = f"{call}\nimport sys\nprint([m for m in {heavy} if m in sys.modules])"
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert out.stdout.strip() == "[]"


def test_the_week_and_the_calendar_file(capsys, tmp_path):
    assert main(["week", "sallowdene", "tomato", "broad bean", "--date", "2026-03-10"]) == 0
    assert "THE WEEK of 10 Mar" in capsys.readouterr().out
    path = tmp_path / "year.ics"
    assert main(["chart", "sallowdene", "tomato", "--year", "2027", "--out", str(path)]) == 0
    assert path.read_bytes().startswith(b"BEGIN:VCALENDAR\r\n")
    assert main(["week", "--date", "March"]) == 2
    assert "write it as YYYY-MM-DD" in capsys.readouterr().err


def test_the_page_is_one_file_without_a_request(tmp_path, capsys):
    path = tmp_path / "plot.html"
    assert main(["page", "sallowdene", "tomato", "rhubarb", "--out", str(path)]) == 0
    text = path.read_text(encoding="utf-8")
    assert "<html" in text
    assert 'src="http' not in text
    assert "<link" not in text
    assert path.stat().st_size < 2_000_000


@pytest.mark.parametrize(
    ("words", "forms"),
    [
        (["chart", "carrot"], ".png, .svg, .pdf, .ics, .json, .csv or .xlsx"),
        (["climate"], ".png, .svg, .pdf, .json, .csv or .xlsx"),
        (["rate", "olive"], ".json, .csv, .xlsx, .png, .svg or .pdf"),
        (["compare"], ".png, .svg, .pdf, .json, .csv or .xlsx"),
        (["week"], ".ics, .json, .csv or .xlsx"),
        (["crops"], ".csv, .xlsx or .json"),
        (["page"], ".html"),
        (["garden"], ".png, .svg, .pdf, .csv, .xlsx, .ics or .json"),
        (["map", "grid.nc", "carrot"], ".png, .svg, .pdf, .nc or .zarr"),
        (["weather", "export"], ".png, .svg, .pdf, .json, .nc or .csv"),
    ],
)
@pytest.mark.parametrize("name", ["x.docx", "x"])
def test_an_unknown_ending_is_refused_before_any_work(tmp_path, capsys, words, forms, name):
    assert main([*words, "--out", str(tmp_path / name)]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.count("\n") == 1
    assert said.err.endswith(f"end {'it' if name == 'x' else 'the name'} in {forms}\n")
    assert not list(tmp_path.iterdir())


def test_a_week_s_calendar_file_holds_the_crops_asked_for_and_no_others(tmp_path):
    out = tmp_path / "w.ics"
    call = ["week", "sallowdene", "carrot", "radish", "--date", "2026-03-16", "--out", str(out)]
    assert main(call) == 0
    titles = [line for line in out.read_text(encoding="utf-8").splitlines() if line.startswith("SUMMARY:")]
    assert titles
    assert {t.rpartition(": ")[2] for t in titles} <= {"carrot", "radish"}


SCREENS = {
    "chart": ["chart"],
    "chart, another day": ["chart", "--issued", "2026-07-20"],
    "week": ["week", "--date", "2026-03-16"],
    "week, another day": ["week", "--date", "2026-08-24"],
    "rate": ["rate"],
    "climate": ["climate"],
}


@pytest.mark.usefixtures("answers_kept_between_tests")
@pytest.mark.parametrize("width", ["80", "100"])
@pytest.mark.parametrize("place", ["sallowdene", "wrackhythe"])
@pytest.mark.parametrize("name", SCREENS)
def test_a_screen_of_the_usual_crops_is_forty_lines_at_the_most(name, place, width, capsys):
    command, *more = SCREENS[name]
    assert main([command, place, *more, "--width", width]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert 10 < len(lines) <= 40
    assert max(map(len, lines)) <= int(width)
    text = "\n".join(lines)
    assert not re.search(r"\b(S1|S2|S3|heat zone)\b", text)
    assert text.count("generated from monthly normals") == 1  # once, short, and at the end
    assert lines.index(next(x for x in lines if "generated from monthly" in x)) >= len(lines) - 4


@pytest.mark.usefixtures("answers_kept_between_tests")
@pytest.mark.parametrize("width", ["80", "100"])
@pytest.mark.parametrize("places", [[], ["wrackhythe", "sallowdene"]])
def test_which_plot_is_told_in_forty_lines_with_the_verdict_first(places, width, capsys):
    assert main(["compare", *places, "--width", width]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) <= 40
    first, second = places or ["sallowdene", "wrackhythe"]
    assert f"WHICH PLOT: {first.capitalize()} (invented) or {second.capitalize()} (invented)" in lines
    at = next(k for k, text in enumerate(lines) if "is the better plot" in text or "Neither" in text)
    assert at <= 3
    for word in ("only at", "longer to start", "more years work", "it hangs on", "days above 35 degC", "frost days"):
        assert any(text.startswith(word) for text in lines[at:]), word


def test_named_crops_have_the_full_picture_and_the_list_has_a_line_each(capsys):
    assert main(["chart", "sallowdene", "--issued", "2026-03-16"]) == 0
    year = capsys.readouterr().out.splitlines()
    for crop in USUAL_CROPS:
        assert sum(text.startswith(f"{crop} ") for text in year) <= 1
        assert any(crop in text for text in year)
    assert main(["chart", "sallowdene", "carrot", "--issued", "2026-03-16"]) == 0
    full = capsys.readouterr().out
    assert "Best fortnight in" in full
    assert "sown outdoors" in full
    assert main(["chart", "sallowdene", "--all", "--issued", "2026-03-16"]) == 0
    every = capsys.readouterr().out.splitlines()
    assert len(every) < len(open_handbook()) + 40  # a line a crop, and those without dates by the reason


def test_a_week_for_programs_holds_a_dozen_jobs_unless_all_are_asked_for(capsys):
    short = answer(capsys, "week", "sallowdene", "--date", "2026-03-16", "--json")
    every = answer(capsys, "week", "sallowdene", "--all", "--date", "2026-03-16", "--json")
    assert len(short["jobs"]) <= 12 < len(every["jobs"])
    assert every["left_out"] == 0 < short["left_out"]
    assert not [j for j in short["jobs"] if j["chance"] == "open" and j["job"] != "pick"]
    assert {j["closes"] for j in short["jobs"]} <= {j["to"] for j in short["jobs"]} | {None}
