"""What is told in other languages: no English among it, the same numbers, and the same answers for programs."""

import datetime as dt
import json
import re
import unicodedata
from importlib.resources import files

import pytest
from matplotlib.text import Text

import sowcal
from sowcal import languages
from sowcal.__main__ import main
from sowcal.crops.handbook import handbook
from sowcal.errors import InputError, near_words
from sowcal.languages import figure, phrase, say, say_crop, speaking
from sowcal.outputs.figure_chart import chart_figures
from sowcal.outputs.figure_climate import beside_figures
from sowcal.outputs.harvest_words import recent_words
from sowcal.outputs.json_form import chart_json, rate_json, week_json
from sowcal.outputs.terminal import plain as plain_text
from sowcal.outputs.wording import PLAIN_NAMES
from sowcal.saved_settings import recall
from sowcal.suitability.compare import CropRecent, RecentYears

OTHERS = ("pt", "es")
DAY = dt.date(2026, 3, 1)
WORD = re.compile(r"[^\W\d_]+")
# Names, signs and units, which are the same in every language.
NAMES = "sallowdene wrackhythe invented sowcal degc hargreaves samani fao eq usda utah all rate chart mine here weather"
SCREENS = (
    "chart sallowdene",
    "chart wrackhythe leek fig",
    "chart sallowdene --all --width 78",
    "rate sallowdene fig",
    "rate wrackhythe leek --rain-fed",
    "week sallowdene --date 2026-09-07 --all --ahead 2",
    "week sallowdene --date 2026-04-20",
    "compare",
    "compare sallowdene --with mulch broad bean radish",
    "climate sallowdene",
)


def plain(text):
    """Small letters without accents."""
    return "".join(c for c in unicodedata.normalize("NFKD", text.lower()) if not unicodedata.combining(c))


def words(text):
    return {w for w in WORD.findall(plain(text)) if len(w) > 1}


def vocabulary(language):
    """Every word of a catalogue; read from the file that is edited, not by the code that tells."""
    text = (files("sowcal") / "languages" / language / "sowcal.po").read_text(encoding="utf-8")
    said, here = [], False
    for line in text.split("\n"):
        here = line.startswith("msgstr") or (here and line.startswith('"'))
        if here:
            said.append(" " * line.startswith("msgstr") + line[line.index('"') + 1 : -1])
    bare = re.sub(r"\{[^}]*\}", " ", "".join(said).replace("\\n", " "))
    return words(bare) | words(NAMES) | {plain(family) for family in PLAIN_NAMES}


VOCABULARY = {language: vocabulary(language) for language in OTHERS}


def screen(capsys, call, language="en"):
    assert main([*call.split(), "--language", language]) == 0
    return capsys.readouterr().out


def without_citations(text):
    """A screen without the sources that it quotes, which are told as they are printed."""
    flat = " ".join(text.split())
    for source in handbook().sources.values():
        flat = flat.replace(plain_letters(source.citation), " ")
    return flat


def plain_letters(text):
    """As a screen of plain letters has it, in one line."""
    return " ".join(plain_text(text, unicode=False).split())


def numbers(text):
    """All figures of a screen, marks of decimals and thousands left out."""
    return sorted(re.findall(r"\d+", re.sub(r"(?<=\d)[.,](?=\d)", "", text)))


@pytest.mark.parametrize("call", SCREENS)
def test_a_screen_has_no_word_that_is_in_no_catalogue_and_every_figure_of_the_english_one(capsys, monkeypatch, call):
    monkeypatch.setenv("COLUMNS", "100")  # on fewer a wider table is parted, and its names stand twice
    english = screen(capsys, call)
    for language in OTHERS:
        told = screen(capsys, call, language)
        left = {w for w in words(without_citations(told)) - VOCABULARY[language] if not re.fullmatch("[0-9a-f]+", w)}
        if "--width" in call:  # names are cut there
            left = {w for w in left if not any(known.startswith(w) for known in VOCABULARY[language])}
        assert left == set()
        if "--ahead" not in call:  # of the names in a line of it as many are told as fit, and the rest counted
            assert numbers(told) == numbers(english)
        assert told != english


def test_a_leaflet_is_told_but_for_its_own_names(capsys, tmp_path):
    leaflet = tmp_path / "leaflet.csv"
    leaflet.write_text("crop,way,months\nleek,set out,May-Jul\ncarrot,,2-9\nfig,sown outdoors,3\n", encoding="utf-8")
    asked = ["compare", "sallowdene", "--leaflet", str(leaflet), "--all", "--language"]
    assert main([*asked, "en"]) == 0
    english = capsys.readouterr().out
    for language in OTHERS:
        assert main([*asked, language]) == 0
        told = capsys.readouterr().out
        left = words(without_citations(told)) - VOCABULARY[language]
        assert {w for w in left if not re.fullmatch("[0-9a-f]+", w)} == set()
        assert numbers(told) == numbers(english)


@pytest.mark.parametrize(
    "found",
    [
        RecentYears(15, 32.4, why_not="generated"),
        RecentYears(15, 12.0, why_not="short"),
        RecentYears(15, 32.4, (CropRecent("leek", -6, None), CropRecent("fig", 4, None))),
        RecentYears(15, 32.4, (CropRecent("leek", 3, 0.0),)),
        RecentYears(15, 32.4, (CropRecent("leek", 0, -0.04),)),
    ],
)
def test_what_the_last_years_move_is_told_too(found):
    english = recent_words(found)
    for language in OTHERS:
        with speaking(language):
            told = recent_words(found)
        assert words(told) <= VOCABULARY[language]
        assert re.findall(r"[+-]?\d+", told) == re.findall(r"[+-]?\d+", english)


def test_english_words_would_be_seen():
    """The test above can fail: words of the English screens are in no other catalogue."""
    for language in OTHERS:
        assert len(words("best fortnight, advised, picked, sown under cover") - VOCABULARY[language]) >= 6


def test_answers_for_programs_are_the_same_in_every_language():
    made = {}
    for language in ("en", "pt"):
        with speaking(language):
            again = sowcal.rate_crops("sallowdene", ["leek", "fig"], issued=DAY)
            made[language] = json.dumps(
                [
                    chart_json(again[0]),
                    rate_json(again[0].site, again[0].record, again[1], again[0].made_by),
                    week_json(sowcal.sowing_week(again[0], DAY)),
                    sowcal.site_climate("sallowdene", issued=DAY).to_json(),
                ]
            )
    assert made["pt"] == made["en"]


def test_the_command_gives_programs_english_whatever_is_remembered(capsys, tmp_path, monkeypatch):
    monkeypatch.setenv("SOWCAL_HOME", str(tmp_path))
    assert main(["rate", "sallowdene", "leek", "--json"]) == 0
    before = capsys.readouterr().out
    assert main(["here", "--language", "pt"]) == 0
    assert recall().language == "pt"
    capsys.readouterr()
    assert main(["rate", "sallowdene", "leek", "--json"]) == 0
    assert capsys.readouterr().out == before
    assert main(["rate", "sallowdene", "alho-francês"]) == 0
    assert "alho-francês em Sallowdene" in capsys.readouterr().out
    assert main(["rate", "sallowdene", "leek", "--language", "en"]) == 0
    assert "leek at Sallowdene" in capsys.readouterr().out
    (tmp_path / "settings.toml").write_text('language = "xx"\n')
    assert main(["chart"]) == 2
    assert "language is 'xx'" in capsys.readouterr().err


def test_english_reads_no_catalogue(capsys, monkeypatch):
    monkeypatch.setattr(languages, "_read", {})
    screen(capsys, "chart sallowdene leek")
    assert languages._read == {}


def test_a_name_of_two_crops_is_settled_by_the_language(capsys):
    assert main(["chart", "sallowdene", "batata"]) == 2
    asked = capsys.readouterr().err
    assert asked.count("\n") == 1
    assert "sweet potato" in asked
    assert "--language" in asked
    for language, crop in (("pt", "potato"), ("es", "sweet potato"), ("it", "sweet potato")):
        assert main(["rate", "sallowdene", "batata", "--language", language, "--json"]) == 0
        found = [v["crop"] for v in json.loads(capsys.readouterr().out)["crops"]]
        assert {name.partition(" (")[0] for name in found} == {crop}


def test_a_mistyped_plot_offers_plots_and_a_far_word_offers_nothing(capsys):
    assert main(["chart", "salowdene", "leek"]) == 2
    assert "did you mean sallowdene" in capsys.readouterr().err
    assert main(["rate", "zzzzqqq"]) == 2
    assert "nearest" not in capsys.readouterr().err


@pytest.mark.parametrize(
    ("word", "others", "near"),
    [
        ("carrott", ["carrot", "parrot"], ["carrot", "parrot"]),  # one and two slips
        ("crarot", ["carrot"], ["carrot"]),  # exchanged, and one left out
        ("leke", ["leek"], ["leek"]),
        ("lkee", ["leek"], []),  # two slips in four letters
        ("beetroot", ["potato"], []),
        ("", ["leek"], []),
    ],
)
def test_near_is_two_slips_at_most(word, others, near):
    assert near_words(word, others) == near


def test_phrases_keep_their_english_and_are_told_whole():
    told = phrase("{count} of {what}", count=2.5, what=phrase("want of water"))
    assert told == "2.5 of want of water"
    assert json.dumps(told) == '"2.5 of want of water"'
    with speaking("pt"):
        assert say(phrase("with {words}", words=phrase("want of water"))) == "com falta de água"
        assert figure(1234.5, ",.1f") == "1.234,5"
    assert say(told) == told
    with pytest.raises(InputError, match="choose en, pt, es"), speaking("fr"):
        pass
    assert languages.spoken() == "en"


@pytest.mark.parametrize("language", OTHERS)
def test_longer_words_stay_on_the_page_of_a_picture(language):
    chart = sowcal.sowing_chart("sallowdene", ["leek", "garlic", "radish"], issued=DAY)
    both = sowcal.compare_sites("sallowdene", "wrackhythe", ["leek"], issued=DAY)
    with speaking(language):
        figures = [*chart_figures(chart, issued=DAY), *beside_figures(both, issued=DAY)]
    for drawn in figures:
        drawn.canvas.draw()
        for text in drawn.findobj(Text):
            if text.get_visible() and text.get_text().strip():
                box = text.get_window_extent(drawn.canvas.get_renderer())
                assert box.x0 >= -1, text.get_text()
                assert box.x1 <= drawn.bbox.width + 1, text.get_text()


def test_a_garden_which_is_told_in_english_stands_on_no_other_page(capsys, tmp_path):
    page = ["page", "sallowdene", "leek", "--garden", "sallowdene", "--out", str(tmp_path / "page.html")]
    assert main([*page, "--language", "pt"]) == 2
    assert "in English only" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_a_crop_of_one_s_own_keeps_its_name():
    with speaking("pt"):
        assert say_crop("my own bean") == "my own bean"
        assert all(say_crop(crop) for crop in handbook())


@pytest.mark.parametrize("language", OTHERS[1:])
def test_page_and_calendar_are_told_too(capsys, tmp_path, language):
    page, calendar = tmp_path / "page.html", tmp_path / "year.ics"
    asked = ["sallowdene", "leek", "broad bean", "--issued", "2026-03-01", "--language", language]
    assert main(["page", *asked, "--try", "mulch", "--out", str(page)]) == 0
    assert main(["chart", *asked, "--out", str(calendar)]) == 0
    text = page.read_text(encoding="utf-8")
    assert f'<html lang="{"pt-PT" if language == "pt" else "es"}"' in text
    script = text[text.index('"use strict"') :]
    for said in ("`${shown} of", '"all year"', "no crop fits", "`advised:", '"Jan"'):
        assert said not in script
    body = re.sub(r"<(style|script|ol)\b.*?</\1>", " ", text, flags=re.S)
    named = " ".join(re.findall(r'(?:aria-label|aria-valuetext|data-words)="([^"]*)"', body))
    seen = words(re.sub(r"<[^>]*>", "  ", body) + named)
    assert {w for w in seen - VOCABULARY[language] if not re.fullmatch("[0-9a-f]+", w) and len(w) > 2} <= PUBLISHED
    unfolded = calendar.read_text(encoding="utf-8").replace("\r\n ", "").replace("\n ", "")
    told = " ".join(re.findall(r"(?m)^(?:SUMMARY|DESCRIPTION):(.*)$", unfolded)).replace("\\,", ",").replace("\\n", " ")
    assert {w for w in words(told) - VOCABULARY[language] if len(w) > 2} == set()


PUBLISHED = words(
    "Hargreaves Samani Linvill Fishman Erez Couvillon Richardson Seeley Walker Baskerville Emin Sen AHS USDA amp quot"
)
