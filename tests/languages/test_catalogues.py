"""Catalogues: nothing is missing in them, fields agree, and they are as they were compiled.

Abbreviated months are held against those of the Unicode Common Locale Data Repository, as babel carries them.
"""

import re
import string
import sys
from gettext import GNUTranslations
from pathlib import Path

import pytest

pytest.importorskip("babel")
sys.path.insert(0, str(Path(__file__).parent))

import catalogues
from babel.dates import get_month_names

from sowcal.crops.handbook import LANGUAGES, find_crops, handbook
from sowcal.languages import NAMED, say, say_crop, speaking
from sowcal.outputs.page_script import _OF_SCRIPT, asset
from sowcal.year import MONTHS, long_day_text

EACH = pytest.mark.parametrize("language", catalogues.LANGUAGES)


@pytest.fixture(scope="module")
def told():
    return {language: catalogues.catalogue(language) for language in catalogues.LANGUAGES}


def fields(text):
    """Fields of a template with how they are shown."""
    return sorted((name, spec) for _, name, spec, _ in string.Formatter().parse(text) if name is not None)


def strings(message):
    return message.string if isinstance(message.string, tuple) else (message.string,)


@EACH
def test_every_text_of_the_source_has_a_translation_and_no_other_is_kept(told, language):
    wanted, kept = catalogues.keys(catalogues.gathered()), catalogues.keys(told[language])
    assert kept - wanted == set(), "run tests/languages/catalogues.py --write"
    assert wanted - kept == set(), "run tests/languages/catalogues.py --write, and translate what is empty"
    assert [m.id for m in told[language] if m.id and not all(strings(m))] == []


@EACH
def test_fields_edges_and_signs_of_a_text_are_those_of_its_translation(told, language):
    for message in told[language]:
        if not message.id or message.context:
            continue
        ids = message.id if isinstance(message.id, tuple) else (message.id, message.id)
        for one, text in zip(ids, strings(message), strict=False):
            if isinstance(message.id, tuple):  # 'the last year' tells no count where there is one
                assert set(fields(text)) <= set(fields(ids[1])), message.id
            else:
                assert fields(text) == fields(one), one
            assert (text[:1] == " ", text[-1:] == " ") == (one[:1] == " ", one[-1:] == " "), one
            assert one.strip()[-1] not in ".:;" or text.strip()[-1] == one.strip()[-1], one


@EACH
def test_numbers_of_a_text_stand_in_its_translation(told, language):
    for message in told[language]:
        if message.id and not message.context:
            one = message.id[1] if isinstance(message.id, tuple) else message.id
            bare = (re.sub(r"\{[^}]*\}", "", text).replace(",", ".") for text in (one, strings(message)[-1]))
            wanted, found = (sorted(re.findall(r"\d+(?:\.\d+)?", text)) for text in bare)
            assert found == wanted, one


@EACH
def test_the_compiled_catalogue_is_fresh(language):
    with catalogues.mo_path(language).open("rb") as file:
        compiled = GNUTranslations(file)
    for message in catalogues.catalogue(language):
        if message.context:
            assert compiled.pgettext(message.context, message.id) == message.string
        elif isinstance(message.id, tuple):
            assert tuple(compiled.ngettext(*message.id, n) for n in (1, 2)) == message.string
        elif message.id:
            assert compiled.gettext(message.id) == message.string


@EACH
def test_months_begin_as_cldr_abbreviates_them(language):
    locale = {"pt": "pt_PT", "es": "es_ES"}[language]
    short, long = (get_month_names(width, "format", locale) for width in ("abbreviated", "wide"))
    with speaking(language):
        for k, month in enumerate(MONTHS, 1):
            assert short[k].startswith(say(month)), month
            assert len(say(month)) == 3
            assert long_day_text(31 * k - 16).endswith(long[k])


@EACH
def test_each_crop_has_a_name_of_its_own_and_is_found_by_it(language):
    book = handbook()
    with speaking(language):
        names = {crop: say_crop(crop) for crop in book}
    assert len(set(names.values())) == len(names)
    for crop, name in names.items():
        assert [c.name for c in find_crops(book, name, language)] == [crop]


@EACH
def test_a_crop_is_called_as_the_table_of_names_calls_it(language):
    """The table was made for looking crops up, apart from the catalogues: where it has a name, they agree."""
    book = handbook()
    table = {}
    for row in book.rows("names"):
        if row["language"] == language:
            table.setdefault(row["crop"], set()).add(row["name"])
    apart = []
    with speaking(language):
        for crop in book.values():
            known = table.get(crop.name) or table.get(crop.kind) or set()
            own = say_crop(crop.name)
            if known and not any(own.startswith(name) for name in known):
                apart.append((crop.name, own, known))
    assert len(apart) <= 12, apart  # such as 'lombarda' for a red cabbage, 'rábano' for a winter radish


def test_languages_in_which_crops_are_named_are_those_of_the_table():
    assert set(NAMED) == set(LANGUAGES)


def test_every_text_of_the_page_s_script_that_is_told_stands_in_it():
    script = asset("page.js")
    for source, _, _ in _OF_SCRIPT:
        assert source in script, source
