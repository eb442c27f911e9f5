"""A place and a list of crops said once: commands fall back on them, say so, and harm no settings file."""

from __future__ import annotations

import io
import json
import os
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import platformdirs
import pytest
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

import sowcal
from sowcal import saved_settings as remembered
from sowcal.__main__ import main
from sowcal.commands.parser import parse
from sowcal.crops.handbook import find_crops, handbook
from sowcal.saved_settings import FILE, USUAL_CROPS, recall, settings_folder, with_value

ROOT = Path(__file__).parents[2]
# an invented place of six generated years
SITE = """\
name = "Ålder Höhe (invented)"
latitude = 38.0
longitude = -15.0
elevation = 120
[weather]
source = "normals"
years = 6
tasmin = [3, 3, 5, 7, 10, 14, 17, 17, 14, 10, 6, 3]
tasmax = [13, 14, 17, 19, 24, 29, 33, 33, 29, 23, 17, 13]
pr = [70, 60, 50, 40, 30, 10, 2, 4, 25, 60, 75, 75]
wet_days = [9, 8, 8, 7, 5, 2, 0.5, 0.7, 3, 7, 9, 10]
"""
GARDEN = """\
name = "Two beds (invented)"
site = "plöt of mine.toml"
crops = ["leek", "courgette"]
[[beds]]
name = "a"
length = 5
width = 1.2
[[beds]]
name = "b"
length = 5
width = 1.2
"""


@pytest.fixture
def home(tmp_path, monkeypatch):
    """An empty settings folder, not yet made, and a working folder with a site file and a garden file."""
    monkeypatch.setenv("SOWCAL_HOME", str(tmp_path / "my settings"))
    work = tmp_path / "wörk folder"
    work.mkdir()
    (work / "plöt of mine.toml").write_text(SITE, encoding="utf-8")
    (work / "my.garden.toml").write_text(GARDEN, encoding="utf-8")
    monkeypatch.chdir(work)
    return tmp_path / "my settings"


def settings(home: Path, text: str) -> Path:
    """A settings file that somebody wrote."""
    home.mkdir(exist_ok=True)
    (home / FILE).write_text(text, encoding="utf-8")
    return home / FILE


def said(capsys, *words: str) -> str:
    """Standard output of a call that answers."""
    assert main([str(w) for w in words]) == 0
    return capsys.readouterr().out


def refused(capsys, *words: str) -> str:
    """The one sentence of a call that is refused."""
    assert main([str(w) for w in words]) == 2
    both = capsys.readouterr()
    assert both.out == ""
    assert both.err.count("\n") == 1
    assert "Traceback" not in both.err
    return both.err


def test_a_place_is_kept_by_its_whole_path(home, capsys, monkeypatch, tmp_path):
    """A relative name, with spaces and other letters, holds from any folder; words need no quotes."""
    assert "No place is remembered" in said(capsys, "here")
    assert "Ålder Höhe" in said(capsys, "here", "plöt", "of", "mine.toml")
    whole = str(Path("plöt of mine.toml").absolute())
    assert tomllib.loads((home / FILE).read_text(encoding="utf-8")) == {"version": 1, "here": whole}
    monkeypatch.chdir(tmp_path)
    assert whole in said(capsys, "here")
    assert json.loads(said(capsys, "climate", "--json"))["site"] == "Ålder Höhe (invented)"
    assert "No place is remembered" in said(capsys, "here", "--forget")
    assert recall().here == ""


@pytest.mark.parametrize("place", ["sallowdene", "-31.9,115.9", "SALLOWDENE"])
def test_a_bundled_plot_or_a_pair_of_degrees_is_a_place_too(home, capsys, place):
    said(capsys, "here", place)
    assert recall().here == place.lower()


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["here", "none.toml"], "there is no file 'none.toml'"),
        (["here", "tomato"], "'tomato' is no site"),
        (["here", "95,400"], "latitude 95"),
        (["here", "broken.toml"], "latitude is missing"),
        (["here", "lost.toml"], "there is no file"),
        (["here", "sallowdene", "--forget"], "--forget takes no place"),
        (["mine", "add", "tomatto"], "nearest: tomato"),
        (["mine", "add"], "sowcal mine add tomato leek"),
        (["mine", "tomato"], "sowcal mine add tomato"),
        (["mine", "remove", "kale"], "'kale' is not in your list"),
        (["mine", "from", "none.toml"], "there is no garden file"),
        (["mine", "from", "suggested.toml"], "names no crops"),
        (["mine", "from", "odd.toml"], "there is no crop 'moonflower'"),
        (["mine", "--forget", "leek"], "sowcal mine remove leek"),
        (["chart", "leek", "--all"], "--all is for every crop"),
        (["start", "plöt of mine.toml"], "there is a file of this name"),
        (["start", "plot.csv"], "end the name in .toml"),
    ],
)
def test_what_cannot_be_remembered_changes_nothing(home, capsys, words, says):
    Path("broken.toml").write_text('name = "b"\n[weather]\nsource = "station"\n')
    Path("lost.toml").write_text(
        'name = "l"\nlatitude = 3\n[weather]\nsource = "file"\nfile = "lost.csv"\ntemperature_unit = "degC"\n'
    )
    Path("suggested.toml").write_text(GARDEN.replace('["leek", "courgette"]', '"suggest"'), encoding="utf-8")
    Path("odd.toml").write_text(GARDEN.replace("courgette", "moonflower"), encoding="utf-8")
    file = settings(home, 'here = "sallowdene"\nmine = ["leek"]\n')
    before = file.read_bytes(), sorted(os.listdir())
    assert says in refused(capsys, *words)
    assert (file.read_bytes(), sorted(os.listdir())) == before


def test_names_are_kept_as_the_handbook_has_them(home, capsys):
    said(capsys, "mine", "add", "zucchini", "broad", "bean")
    assert recall().mine == ("courgette", "broad bean")
    assert "In it already: courgette" in said(capsys, "mine", "add", "courgettes", "tomato")
    types = [crop.name for crop in find_crops(handbook(), "tomato")]
    assert recall().mine == ("courgette", "broad bean", *types)
    assert len(types) > 1
    said(capsys, "mine", "remove", "tomato", "Broad Bean")
    assert recall().mine == ("courgette",)
    answer = json.loads(said(capsys, "mine", "--json"))
    assert answer["crops"] == ["courgette"]
    assert list(Draft202012Validator(sowcal.schema("mine")).iter_errors(answer)) == []
    assert "No crops are remembered" in said(capsys, "mine", "remove", "courgette")
    said(capsys, "here", "sallowdene")
    answer = json.loads(said(capsys, "here", "--json"))
    assert (answer["here"], answer["site"]) == ("sallowdene", "Sallowdene (invented)")
    assert list(Draft202012Validator(sowcal.schema("here")).iter_errors(answer)) == []


def test_the_list_of_a_garden_takes_the_place_of_the_list_and_tells_what_left(home, capsys):
    said(capsys, "mine", "add", "kale", "leek")
    assert "Not in it any more: kale." in said(capsys, "mine", "from", "my.garden.toml")
    assert recall().mine == ("leek", "courgette")


DAY = ["--date", "2026-03-16"]


@pytest.mark.parametrize(
    "words", [["chart"], ["rate"], ["week", *DAY], ["compare", "sallowdene"]], ids=lambda words: words[0]
)
def test_what_is_left_out_is_the_growers_own_and_the_first_line_says_so(home, capsys, words):
    said(capsys, "here", "plöt of mine.toml")
    said(capsys, "mine", "add", "leek", "courgette")
    place = str(Path("plöt of mine.toml").absolute())
    named = [words[0], place, *words[1:], "leek", "courgette"]
    own = said(capsys, *words)
    both = said(capsys, *named)
    first = f"Your place {place} (sowcal here); your 2 crops (sowcal mine; --all for every crop)."
    assert " ".join(own.split()).startswith(first)
    if words == ["chart"]:  # a list has a line a crop, crops that are named their full picture
        assert "THE YEAR" in own
        assert "SOWING CHART" in both
    else:
        assert " ".join(own.removesuffix(both).split()) == first
        assert own.endswith(both)
    assert said(capsys, *words, "--json") == said(capsys, *named, "--json")


@pytest.mark.parametrize("words", [["climate"], ["weather", "check"], ["weather", "trend"]], ids=" ".join)
def test_commands_without_crops_take_the_place(home, capsys, words):
    said(capsys, "here", "plöt of mine.toml")
    said(capsys, "mine", "add", "leek")
    place = str(Path("plöt of mine.toml").absolute())
    own, named = said(capsys, *words), said(capsys, *words, place)
    assert own.endswith(named)
    assert " ".join(own.removesuffix(named).split()) == f"Your place {place} (sowcal here)."


@pytest.mark.usefixtures("answers_kept_between_tests")
def test_a_place_named_goes_with_the_list_and_crops_named_go_without(home, capsys):
    said(capsys, "mine", "add", "leek")
    assert said(capsys, "rate", "sallowdene").splitlines()[0] == (
        "Place as named; your 1 crop (sowcal mine; --all for every crop)."
    )
    line = said(capsys, "rate").split("\n")
    assert line[0].startswith("Bundled plot sallowdene (else sowcal here); your 1 crop")
    assert said(capsys, "rate", "sallowdene", "kale").startswith("kale at Sallowdene")
    every = json.loads(said(capsys, "rate", "sallowdene", "--all", "--json"))["crops"]
    assert {c["crop"] for c in every} == set(handbook())
    said(capsys, "here", "sallowdene")
    said(capsys, "mine", "--forget")
    usual = f"{len(USUAL_CROPS)} usual crops (else sowcal mine)"
    assert usual in " ".join(said(capsys, "rate").split("\n")[:2])


def test_files_hold_the_growers_own_and_the_line_stands_beside(home, capsys):
    said(capsys, "here", "plöt of mine.toml")
    said(capsys, "mine", "add", "leek")
    assert main(["page", "--out", "own.html", "--issued", "2026-01-15"]) == 0
    assert "Your place" in capsys.readouterr().err.splitlines()[0]
    assert main(["page", "plöt of mine.toml", "--out", "named.html", "--issued", "2026-01-15"]) == 0
    assert "Your place" not in capsys.readouterr().err
    assert Path("own.html").read_bytes() == Path("named.html").read_bytes()
    assert main(["page", "plöt of mine.toml", "leek", "--out", "leek.html", "--issued", "2026-01-15"]) == 0
    shown = {
        name: set(re.findall(r'data-name="([^"]+)"', Path(name).read_text(encoding="utf-8")))
        for name in ("own.html", "leek.html")
    }
    assert shown["leek.html"] == {"leek"} < shown["own.html"] == set(handbook())
    (given,) = re.findall(
        r'<script type="application/json" id="data">(.*?)</script>', Path("own.html").read_text(encoding="utf-8")
    )
    assert json.loads(given)["mine"] == ["leek"]  # kept crops are starred among all, not all there is


def test_plain_letters_and_few_columns_hold_for_the_first_line_too(home, capsys):
    said(capsys, "here", "plöt of mine.toml")
    text = said(capsys, "climate", "--ascii", "--width", "60")
    assert text.isascii()
    long = [line for line in text.splitlines() if len(line) > 60]
    assert all(line.endswith("plot of mine.toml") for line in long)  # a path alone may be longer: it is never broken


def test_compare_asks_for_the_other_place(home, capsys):
    said(capsys, "here", "sallowdene")
    said(capsys, "mine", "add", "leek")
    assert "name the place to set beside yours (sallowdene)" in refused(capsys, "compare")
    result = json.loads(said(capsys, "compare", "wrackhythe", "--json"))
    assert [name.split()[0] for name in result["sites"]] == ["Sallowdene", "Wrackhythe"]
    itself = json.loads(said(capsys, "compare", "--with", "warmer=2", "--json"))
    assert itself["sites"][0].split()[0] == itself["sites"][1].split()[0] == "Sallowdene"
    assert "name the place to set beside yours" in refused(capsys, "compare", "SALLOWDENE", "kale")
    said(capsys, "here", "plöt of mine.toml")
    assert "name the place to set beside yours" in refused(capsys, "compare", "plöt of mine.toml")


def test_the_garden_is_that_of_the_place(home, capsys):
    said(capsys, "here", "plöt of mine.toml")
    place = str(Path("plöt of mine.toml").absolute())
    assert said(capsys, "garden", "--width", "200").startswith(f"The bundled garden, for your place {place} ")
    Path("plöt of mine.toml").write_text('garden = "my.garden.toml"\n' + SITE, encoding="utf-8")
    own = said(capsys, "garden")
    assert own.startswith("Your garden")
    assert own.endswith(said(capsys, "garden", "my.garden.toml"))
    Path("plöt of mine.toml").write_text("garden = 3\n" + SITE, encoding="utf-8")
    assert "garden is 3" in refused(capsys, "garden")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('version = 1\n\nhere = "sallow\n', ", line 3: not a TOML file"),
        ("# a note\nhere = 7\n", ", line 2: here is 7; it must be a text"),
        ('here = " "\n', ", line 1: here is ' '; it must be a text"),
        ('\nmine = "leek"\n', ", line 2: mine must be a list of names"),
        ("mine = [3]\n", ", line 1: mine must be a list of names"),
        ("version = 2\n", ", line 1: these settings are of a newer sowcal (version 2, and this one reads 1)"),
        ('version = "one"\n', ", line 1: version is 'one'"),
        ('mine = [\n  "leek",\n  "tomatto",\n]\n', ", line 3: in your list there is no crop 'tomatto'"),
        ('version = 1\nhere = "/no/such/plöt.toml"\n', ", line 2: your place /no/such/plöt.toml is not there any more"),
        ('here = "gone.toml"\n', "gone.toml is not there any more"),
        (b"here = '\xff'\n", "is not UTF-8"),
    ],
)
def test_settings_that_cannot_be_used_are_told_in_a_sentence_and_left_alone(home, capsys, text, says):
    file = settings(home, "")
    file.write_bytes(text if isinstance(text, bytes) else text.encode())
    before = file.read_bytes()
    sentence = refused(capsys, "chart")
    assert says in sentence
    assert str(file) in sentence
    assert file.read_bytes() == before
    assert main(["rate", "sallowdene", "leek", "--json"]) == 0  # whoever says all needs no settings
    assert main(["crops", "leek"]) == 0


def test_a_name_that_the_handbook_has_no_more_can_be_taken_out(home, capsys):
    settings(home, 'mine = ["leek", "Old Name", "tomatto"]\n')
    assert main(["mine", "remove", "tomatto"]) == 2  # the other one is told next
    assert "there is no crop 'Old Name'" in capsys.readouterr().err
    assert "Removed: Old Name." in said(capsys, "mine", "remove", "old", "name")
    assert recall().mine == ("leek",)


def test_a_name_of_an_earlier_handbook_is_looked_up_again(home, capsys):
    """A synonym that stands in the file means its crop today."""
    settings(home, 'here = "sallowdene"\nmine = ["zucchini"]\n')
    assert [c["crop"] for c in json.loads(said(capsys, "rate", "--json"))["crops"]] == ["courgette"]


def test_what_others_wrote_in_the_file_stays(home, capsys):
    """Keys of another version, tables, notes beside crops; they are told, and no reason to stop."""
    text = (
        "# my own words\n"
        'tongue = "pt"\n'
        'hear = "sallowdene"\n'
        'mine = [ # these\n    # early ones\n    "leek",  # blue\n# hardy\n    "kale",\n'
        '    "pea (snow)", # last\n] # all\n'
        "version = 1 # of it\n"
        "\n"
        '[later]\nhere = ["not", "ours"]\n'
    )
    file = settings(home, text)
    assert main(["mine", "remove", "kale"]) == 0
    told = capsys.readouterr().err
    assert ", line 2: this sowcal does not know 'tongue'" in told
    assert "'hear' (did you mean 'here'?)" in told
    assert main(["rate", "sallowdene", "--json"]) == 0  # told by any command that falls back on the file, once
    assert capsys.readouterr().err.count("does not know 'tongue'") == 1
    assert main(["here", "sallowdene"]) == 0
    assert main(["mine", "add", "radish"]) == 0
    now = file.read_text(encoding="utf-8")
    assert tomllib.loads(now) == {
        "tongue": "pt",
        "hear": "sallowdene",
        "mine": ["leek", "pea (snow)", *(c.name for c in find_crops(handbook(), "radish"))],
        "version": 1,
        "here": "sallowdene",
        "later": {"here": ["not", "ours"]},
    }
    for kept in (
        "# my own words",
        "mine = [  # these\n",
        "# early ones\n",
        '"leek",  # blue',
        "# hardy\n",
        "# last",
        "]  # all\n",
    ):
        assert kept in now
    for kept in ("version = 1 # of it", "[later]"):
        assert kept in now
    assert main(["mine", "--forget"]) == 0
    assert main(["here", "--forget"]) == 0
    now = tomllib.loads(file.read_text(encoding="utf-8"))
    assert set(now) == {"tongue", "hear", "version", "later"}


def test_notes_on_one_line_stay_too(home, capsys):
    file = settings(home, 'here = "wrackhythe" # the coast\nmine = ["leek", "kale"] # winter\n')  # two lines
    said(capsys, "here", "sallowdene")
    said(capsys, "mine", "add", "carrot")
    text = file.read_text(encoding="utf-8")
    assert 'here = "sallowdene"  # the coast\n' in text
    assert "]  # winter\n" in text
    assert recall().mine == ("leek", "kale", "carrot")


def test_a_file_that_cannot_be_changed_line_by_line_is_refused(home, capsys):
    text = '"here" = "sallowdene"\n"mine" = ["leek"]\n[x]\na = 1\n'
    file = settings(home, text)
    said(capsys, "here", "wrackhythe")  # a key in quotation marks is the same key
    assert recall().here == "wrackhythe"
    file.write_text("mine.x = 1\n", encoding="utf-8")
    assert "mine must be a list" in refused(capsys, "mine", "add", "leek")
    assert file.read_text(encoding="utf-8") == "mine.x = 1\n"


NAMES = st.lists(
    st.text(st.characters(exclude_categories=("Cs",)), min_size=1, max_size=8).filter(str.strip),
    unique=True,
    max_size=5,
)


@given(first=NAMES, then=NAMES, here=st.text(st.characters(exclude_categories=("Cs",)), min_size=1))
def test_any_names_come_back_as_they_were_given(first, then, here):
    text = with_value('x = 1\n\n[t]\ny = """\nmine = []\n"""\n', "mine", tuple(first), "f")
    text = with_value(text, "here", here, "f")
    text = with_value(text, "mine", tuple(then), "f")
    assert tomllib.loads(text) == {"x": 1, "mine": then, "here": here, "t": {"y": "mine = []\n"}}
    assert tomllib.loads(with_value(text, "mine", None, "f")) == {"x": 1, "here": here, "t": {"y": "mine = []\n"}}


def test_a_folder_that_cannot_be_written_is_told(home, capsys, tmp_path, monkeypatch):
    (tmp_path / "a file").write_text("")
    monkeypatch.setenv("SOWCAL_HOME", str(tmp_path / "a file" / "below"))
    sentence = refused(capsys, "mine", "add", "leek")
    assert "the settings cannot be written" in sentence
    assert "SOWCAL_HOME" in sentence
    assert main(["rate", "sallowdene", "leek"]) == 0


def test_a_disk_without_room_leaves_the_file_as_it_was(home, capsys, monkeypatch):
    file = settings(home, 'mine = ["leek"]\n')
    before = file.read_bytes()

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(remembered, "write_whole", full)
    assert "No space left on device" in refused(capsys, "mine", "add", "kale")
    assert file.read_bytes() == before


def test_a_file_that_may_only_be_read_is_not_replaced(home, capsys, monkeypatch):
    """A rename could do it where the folder may be written to. The system's answer is made up, for root may write."""
    settings(home, 'mine = ["leek"]\n').chmod(0o400)
    monkeypatch.setattr(remembered.os, "access", lambda path, mode: Path(path).name != FILE)
    assert "cannot be written (it may not be written to)" in refused(capsys, "mine", "add", "kale")
    assert recall().mine == ("leek",)


@pytest.mark.skipif(not hasattr(os, "symlink"), reason="no links here")
def test_a_link_to_settings_kept_elsewhere_stays_one(home, capsys, tmp_path):
    elsewhere = tmp_path / "elsewhere.toml"
    elsewhere.write_text('mine = ["leek"]\n', encoding="utf-8")
    home.mkdir()
    (home / FILE).symlink_to(elsewhere)
    said(capsys, "mine", "add", "kale")
    assert (home / FILE).is_symlink()
    assert tomllib.loads(elsewhere.read_text(encoding="utf-8"))["mine"] == ["leek", "kale"]


WRITER = """
import sys
from sowcal.saved_settings import remember
for k in range(30):
    remember(lambda kept: {"mine": (*kept.mine, f"{sys.argv[1]} {k}")})
"""


def test_two_programs_that_write_at_once_lose_nothing(home):
    """Each adds thirty names of its own; without the lock one would write over what the other has just added."""
    settings(home, 'mine = []\nother = "kept"\n')
    both = [subprocess.Popen([sys.executable, "-c", WRITER, name], cwd=ROOT) for name in ("first", "second")]
    assert [one.wait() for one in both] == [0, 0]
    kept = recall()
    assert set(kept.mine) == {f"{name} {k}" for name in ("first", "second") for k in range(30)}
    assert [name for name in kept.mine if name.startswith("first")] == [f"first {k}" for k in range(30)]
    assert [p.name for p in home.iterdir() if "part" in p.name] == []


ANSWERS = {
    "name": "Üpper terrace",
    "where": "38.4, -8.1",
    "height": "85",
    "source": "2",
    "low": "2 2 4 6 10 14 17 17 14 10 5 2",
    "high": "13 15 18 20 25 31 35 35 30 23 17 13",
    "rain": "72 62 54 44 30 10 2 4 26 62 78 76",
    "wet": "9 8 8 7 5 2 0.5 0.7 3 7 9 10",
    "crops": "zucchini, broad bean",
}


def lines_of(**other: str) -> str:
    """Answers as they are typed, some of them others."""
    return "".join(f"{line}\n" for line in {**ANSWERS, **other}.values())


def started(monkeypatch, typed: str, *words: str) -> int:
    monkeypatch.setattr(sys, "stdin", io.StringIO(typed))
    return main(["start", *words])


def test_a_start_from_answers_on_standard_input(home, tmp_path):
    """As a new user's script would: another process, bytes in, and the next command answers for the new place."""
    (tmp_path / "new folder").mkdir()
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONIOENCODING": "utf-8"}
    call = [sys.executable, "-m", "sowcal"]
    done = subprocess.run(
        [*call, "start", str(tmp_path / "new folder" / "plot ü.toml")],
        input=lines_of().encode(),
        capture_output=True,
        env=environment,
    )
    assert (done.returncode, done.stderr) == (0, b"")
    assert done.stdout.decode().splitlines()[-1].endswith("Next: sowcal chart")
    text = (tmp_path / "new folder" / "plot ü.toml").read_text(encoding="utf-8")
    site = tomllib.loads(text)
    assert (site["name"], site["latitude"], site["longitude"], site["elevation"]) == ("Üpper terrace", 38.4, -8.1, 85)
    assert site["weather"]["wet_days"][6] == 0.5
    assert text.count("#") >= 5
    assert recall().mine == ("courgette", "broad bean")
    chart = subprocess.run([*call, "chart", "--json"], capture_output=True, env=environment, cwd=tmp_path)
    answer = json.loads(chart.stdout)
    assert answer["site"] == "Üpper terrace"
    assert [c["crop"] for c in answer["crops"]] == ["courgette", "broad bean"]


@pytest.mark.parametrize("given_lines", range(len(ANSWERS)))
def test_answers_that_end_too_soon_write_nothing(home, capsys, monkeypatch, given_lines):
    typed = "".join(lines_of().splitlines(keepends=True)[:given_lines])
    assert started(monkeypatch, typed) == 2
    error = capsys.readouterr().err
    assert error.count("\n") == 1
    assert "the answers ended before this one" in error
    assert not Path("my-plot.toml").exists()
    assert not home.exists()


@pytest.mark.parametrize(
    ("name", "wrong", "reason"),
    [
        ("name", "", "give a name"),
        ("where", "95, 8", "latitude is 95; it must lie between -90 and 90"),
        ("where", "38,4 -8,1", "is not a pair"),
        ("where", "here", "is not a pair"),
        ("height", "high", "is no number"),
        ("height", "nan", "is no number"),
        ("source", "4", "answer 1, 2 or 3"),
        ("low", "1 2 3", "twelve are needed"),
        ("high", "13 15 18 20 5 31 35 35 30 23 17 13", "the maximum of month 5 is not above its minimum, 10"),
        ("rain", "72 62 54 44 30 10 2 4 26 62 78 -1", "rain is -1"),
        ("wet", "9 8 8 7 5 2 0.5 0.7 3 7 9 32", "a number of days is 32"),
        ("crops", "leek, tomatto", "there is no crop 'tomatto'"),
    ],
)
def test_a_question_is_put_again_with_the_reason(home, capsys, monkeypatch, name, wrong, reason):
    assert started(monkeypatch, lines_of(**{name: f"{wrong}\n{ANSWERS[name]}"})) == 0
    both = capsys.readouterr()
    assert reason in both.err
    assert both.err.count("\n") == 1
    assert both.out.count("(for example: ") == len(ANSWERS) + 1
    assert started(monkeypatch, lines_of(**{name: "\n".join([wrong] * 9)}), "again.toml") == 2
    assert "would do for" in capsys.readouterr().err
    assert not Path("again.toml").exists()


def test_a_start_from_a_file_of_days(home, capsys, monkeypatch):
    days = [f"{y}-{m:02d}-{d:02d}" for y in range(2001, 2005) for m in range(1, 13) for d in range(1, 29)]
    cold = {1: 3, 2: 3, 3: 5, 4: 7, 5: 10, 6: 14, 7: 17, 8: 17, 9: 14, 10: 10, 11: 6, 12: 3}
    rows = [f"{day},{cold[int(day[5:7])]},{cold[int(day[5:7])] + 11}" for day in days]
    Path("days.csv").write_text("\n".join(["date,tmin,tmax", *rows]) + "\n", encoding="utf-8")
    Path("text.csv").write_text("no record\n", encoding="utf-8")
    first = [ANSWERS[key] for key in ("name", "where", "height")]
    wrong = ["none.csv", "text.csv", "degC"]
    typed = "\n".join([*first, "1", *wrong, "days.csv", "kelvins", "degC", "usual", ""])
    assert started(monkeypatch, typed, "own.toml") == 0
    told = capsys.readouterr().err
    assert "there is no file 'none.csv'" in told
    assert "text.csv" in told
    assert "is no unit of temperature" in told
    weather = tomllib.loads(Path("own.toml").read_text(encoding="utf-8"))["weather"]
    assert weather == {"source": "file", "file": "days.csv", "temperature_unit": "degC"}
    assert recall().mine == USUAL_CROPS
    assert recall().here == str(Path("own.toml").absolute())


def test_a_file_that_is_there_is_written_over_only_when_told(home, capsys, monkeypatch):
    assert started(monkeypatch, lines_of(crops=""), "plöt of mine.toml", "--over") == 0
    assert "Üpper terrace" in Path("plöt of mine.toml").read_text(encoding="utf-8")
    assert "Next: sowcal mine add" in capsys.readouterr().out
    assert recall().mine == ()


def test_damaged_settings_are_told_before_the_questions(home, capsys, monkeypatch):
    file = settings(home, "here = \n")
    assert started(monkeypatch, lines_of()) == 2
    both = capsys.readouterr()
    assert (both.out, both.err.count("\n")) == ("", 1)
    assert file.read_text(encoding="utf-8") == "here = \n"
    assert not Path("my-plot.toml").exists()


def test_python_stays_as_it_is_asked(home, capsys):
    """What is remembered is for the command line: calls from Python take what they are given."""
    said(capsys, "here", "plöt of mine.toml")
    said(capsys, "mine", "add", "leek")
    assert sowcal.recall().mine == ("leek",)
    assert len(sowcal.Site.open("sallowdene").chart().result.crops) == len(handbook())
    assert sowcal.Garden.open().result.site == "sallowdene"
    with pytest.raises(TypeError):
        sowcal.Site.open()


def test_while_nothing_is_said_one_place_decides_what_stands_in(home, capsys, monkeypatch):
    assert set(USUAL_CROPS) <= set(handbook())
    assert 20 <= len(set(USUAL_CROPS)) == len(USUAL_CROPS) <= 25
    answer = json.loads(said(capsys, "rate", "--json"))
    assert answer["site"].startswith("Sallowdene")
    assert {c["crop"] for c in answer["crops"]} == set(USUAL_CROPS)
    monkeypatch.setattr(remembered, "UNSAID_PLACE", "wrackhythe")
    monkeypatch.setattr(remembered, "UNSAID_CROPS", ("leek",))
    answer = json.loads(said(capsys, "rate", "--json"))
    assert answer["site"].startswith("Wrackhythe")
    assert [c["crop"] for c in answer["crops"]] == ["leek"]


def test_help_names_the_commands_and_loads_nothing_heavy(capsys):
    with pytest.raises(SystemExit):
        parse(["--help"])
    listed = capsys.readouterr().out
    assert all(f"\n    {name} " in listed for name in ("here", "mine", "start"))
    heavy = "('matplotlib', 'meteostat', 'xarray', 'pandas', 'scipy', 'numpy', 'filelock')"
    code = (
        "from sowcal.commands.parser import parse; parse(['mine', 'add', 'leek'])\nimport sowcal.saved_settings, sys\n"
    )
    code += f"sowcal.saved_settings.recall()\nprint([m for m in {heavy} if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_the_tests_never_meet_the_settings_of_who_runs_them(tmp_path):
    """Neither here, nor in a program started from here, nor where the tester names a folder of settings themselves."""
    own = Path(platformdirs.user_config_dir("sowcal", appauthor=False))
    here = settings_folder()
    assert here != own
    assert own not in here.parents
    code = "from sowcal.saved_settings import settings_folder; print(settings_folder())"
    child = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    assert Path(child.stdout.strip()) == here
    # the suite is run as a tester would, whose settings nobody could use, in both places where they may stand
    damaged = {}
    for folder in (tmp_path / "named", tmp_path / "config" / "sowcal"):
        folder.mkdir(parents=True)
        damaged[folder / FILE] = (folder / FILE).write_text("here = \n")
    environment = {**os.environ, "SOWCAL_HOME": str(tmp_path / "named"), "XDG_CONFIG_HOME": str(tmp_path / "config")}
    chosen = "test_commands.py::test_climate_of_both_plots"
    call = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", str(ROOT / "tests" / "commands" / chosen)]
    done = subprocess.run(call, env=environment, cwd=ROOT, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout
    assert {p.read_text() for p in damaged} == {"here = \n"}
    assert sorted(p for p in tmp_path.rglob("*") if p.is_file()) == sorted(damaged)


def test_what_could_not_be_read_again_is_not_written(tmp_path):
    (tmp_path / FILE).write_text('here = "sallowdene"\n')
    with pytest.raises(sowcal.InputError, match="here is ' '"):
        remembered.remember(lambda _: {"here": " "}, tmp_path)
    assert (tmp_path / FILE).read_text() == 'here = "sallowdene"\n'
