"""Catalogues of the languages: what the source says is gathered, and .po and .mo files are written anew.

`python tests/languages/catalogues.py --write` after a text was added, changed or translated; the tests beside it fail
until that is done. What a catalogue has and the source no longer says is dropped.
"""

import ast
import datetime as dt
import io
import sys
from pathlib import Path

from babel.messages import Catalog
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po

import sowcal
from sowcal.crops.handbook import handbook
from sowcal.crops.tables import table_descriptions
from sowcal.units import UNITS

ROOT = Path(sowcal.__file__).parent
LANGUAGES = ("pt", "es")
_HEAD = """\
# Texts of sowcal in {language}.
# Made by a language model and read a second time by the same; no person has read them.
"""

# Arguments of these calls are texts: which of them, by place or name.
CALLS = {
    "say": (0,),
    "phrase": (0,),
    "Column": (0, "title", "short"),
    "Section": (0,),
    "Paragraph": (0, "text", "name"),
    "Caution": (0, "word"),
    "Fold": (0,),
    "Table": (2, "label"),
    "tag": (1, 2, 3, "aria_label"),
    "_later": (0,),
    "_group": (0,),
}
# What is told: outputs but for those of gardens, seasons, maps and the page in use, which are in English only, and what
# lies below them.
ENGLISH = {
    "garden_document", "garden_pictures", "garden_board", "figure_garden", "season_document", "figure_season",
    "shed_sheets", "page_bench", "figure_map", "map_file",
}  # fmt: skip
TOLD = (
    *(p for p in sorted((ROOT / "outputs").glob("*.py")) if p.stem not in ENGLISH),
    *sorted((ROOT / "suitability").glob("*.py")),
    *sorted((ROOT / "climate").glob("*.py")),
    ROOT / "weather" / "findings.py",
    ROOT / "weather" / "generator.py",
    ROOT / "weather" / "years.py",
    *(ROOT / "commands" / f"{name}.py" for name in ("common", "page", "questions", "season")),
    *(ROOT / f"{name}.py" for name in ("answers", "microclimate", "provenance", "site_weather", "units", "year")),
)
NOUNS = ("cold season", "crop", "hour", "portion", "summer", "unit", "winter")  # counted where no literal stands


def _text(node):
    """Texts that an expression may stand for: a literal, or one of two."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return [node.value]
    if isinstance(node, ast.IfExp):
        return [*_text(node.body), *_text(node.orelse)]
    return []


def texts_of(tree):
    """Every text of a module, with its plural or None."""
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        name = node.func.id if isinstance(node.func, ast.Name) else getattr(node.func, "attr", "")
        if name in ("counted", "counted_phrase") and len(node.args) == 2:
            for noun in _text(node.args[1]):
                yield f"{{count}} {noun}", f"{{count}} {noun}s"
        elif name in ("say_count", "phrase_count") and _text(node.args[1]):
            yield _text(node.args[1])[0], _text(node.args[2])[0]
        elif name == "map" and node.args and getattr(node.args[0], "id", "") == "Column":
            for inner in ast.walk(node.args[1]):
                for text in _text(inner):
                    yield text, None
        for place in CALLS.get(name, ()) if "_count" not in name else ():
            if isinstance(place, int):
                found = node.args[place : place + 1]
            else:
                found = [k.value for k in node.keywords if k.arg == place]
            for text in (t for node_ in found for t in _text(node_)):
                yield text, None


def words_of_the_engine():
    """Words that the engine decides by and outputs show: each is a text as it stands."""
    from sowcal.climate.place_figures import definitions, plain_name
    from sowcal.outputs.wording import THREE_WORDS
    from sowcal.suitability.annuals import GRADES, NOT_JUDGED, NOT_JUDGED_RAIN_FED, NOT_JUDGED_STORED, TOO_FEW_DAYS
    from sowcal.suitability.perennials import worded_share
    from sowcal.suitability.week import JOBS
    from sowcal.weather.offset import SEASONS

    yield from GRADES
    yield from (*NOT_JUDGED, *NOT_JUDGED_RAIN_FED, *NOT_JUDGED_STORED, TOO_FEW_DAYS)
    yield from JOBS
    yield from sorted({word for unit in UNITS.values() for word in (unit.si, unit.us)})
    yield from (worded_share(share) for share in (0.95, 0.8, 0.5, 0.2, 0.0))
    yield "a record of at least 3 whole years"
    yield from THREE_WORDS
    yield from ("winter", "spring", "summer", "autumn", "all year", "outdoors")
    yield from SEASONS
    yield from ("hours below 7.2", "hours 0 to 7.2", "Utah units", "portions")
    yield from sorted({need.model for crop in handbook().values() for need in crop.chill})
    yield from (plain_name(key) for key in definitions() if plain_name(key) == key.replace("_", " "))
    tables = table_descriptions()
    yield from (c.description for t in ("perennials", "chill") for c in tables[t].columns.values() if c.number)
    yield tables["blossom"].columns["kill_10_bloom"].description
    book = handbook()
    yield from sorted({caution for crop in book.values() for caution in crop.cautions})
    yield from sorted({crop.note for crop in book.values() if crop.note})
    yield from sorted({need.why for crop in book.values() for need in crop.chill if need.why})


def gathered():
    """A catalogue of all that can be said, without translations."""
    out = Catalog(project="sowcal", charset="utf-8")
    texts = {}
    for path in TOLD:
        for one, many in texts_of(ast.parse(path.read_text(encoding="utf-8"))):
            texts[one] = many or texts.get(one)
    for noun in NOUNS:
        texts[f"{{count}} {noun}"] = f"{{count}} {noun}s"
    for word in words_of_the_engine():
        texts.setdefault(word, None)
    for one, many in sorted(texts.items()):
        if any(c.isalpha() for c in one):
            out.add((one, many) if many else one)
    for name in handbook():
        out.add(name, context="crop")
    return out


def empty(language):
    """A catalogue without texts; it tells one and more apart, and not millions, as CLDR does."""
    out = Catalog(locale=language, project="sowcal", charset="utf-8", header_comment=_HEAD.format(language=language))
    out.mime_headers = [("Plural-Forms", "nplurals=2; plural=(n != 1);")]
    return out


def po_path(language):
    return ROOT / "languages" / language / "sowcal.po"


def mo_path(language):
    return po_path(language).with_suffix(".mo")


def catalogue(language):
    """The catalogue of a language as it is committed."""
    with po_path(language).open("rb") as file:
        return read_po(file, locale=language)


def compiled(language):
    """Bytes of the compiled catalogue."""
    made, found = io.BytesIO(), catalogue(language)
    found.creation_date = found.revision_date = dt.datetime(2000, 1, 1, tzinfo=dt.UTC)  # the same bytes every day
    write_mo(made, found)
    return made.getvalue()


def keys(found):
    return {(m.context, m.id) for m in found if m.id}


def write():
    """Bring every catalogue to what the source says now; tells how many texts wait for a translation."""
    for language in LANGUAGES:
        had = catalogue(language) if po_path(language).exists() else empty(language)
        made = empty(language)
        for message in gathered():
            if message.id:
                one = message.id[0] if isinstance(message.id, tuple) else message.id
                known = had.get(one, message.context)
                same = known is not None and isinstance(known.string, tuple) == isinstance(message.id, tuple)
                made.add(message.id, known.string if same else "", context=message.context)
        made.fuzzy = False
        with po_path(language).open("wb") as file:
            write_po(file, made, width=110)
        text = po_path(language).read_text(encoding="utf-8").split("\n")
        dated = ("POT-Creation-Date", "PO-Revision-Date", "Generated-By", "Last-Translator", "Report-Msgid")
        kept = [line for line in text if not any(line.startswith(f'"{word}') for word in dated)]
        po_path(language).write_text("\n".join(kept), encoding="utf-8")
        mo_path(language).write_bytes(compiled(language))
        lacks = sum(not (all(m.string) if isinstance(m.string, tuple) else m.string) for m in made if m.id)
        print(f"{language}: {len(made)} texts, {lacks} without a translation")


if __name__ == "__main__" and sys.argv[1:] == ["--write"]:
    write()
