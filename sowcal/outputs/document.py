"""An answer told once: sections, sentences, lists, tables and figures, set for a screen or as HTML for the page.

What an answer says is put together once, as parts; `screen_text` sets them within the columns of a screen and
`page_parts` as elements of the page. Units are written in plain letters (degC, m2) and set as °C and m² on the page.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from sowcal.languages import counted, phrase, say, spoken
from sowcal.outputs.page_svg import Html, join, tag
from sowcal.outputs.terminal import pad, plain, screen_width, table, wrap
from sowcal.units import measured

__all__ = [
    "Beside",
    "Caution",
    "Cell",
    "Column",
    "Document",
    "Facts",
    "Fold",
    "Html",
    "Items",
    "Names",
    "Paragraph",
    "Part",
    "Picture",
    "Section",
    "Table",
    "controls",
    "join",
    "page_cell",
    "page_parts",
    "page_section",
    "screen_text",
    "scroll_table",
    "tag",
    "typeset",
]

_UNITS = {"degC": "°C", "degF": "°F", "m2": "m²", "ft2": "ft²", "pé2": "pé²", "pie2": "pie²"}
_LETTERS = {mark: letters for letters, mark in _UNITS.items()}
_SET = re.compile("|".join(_LETTERS))
_UNIT = re.compile(r"(?<![A-Za-z0-9])(degC|degF|m2|ft2|pé2|pie2)(?![A-Za-z0-9])")


def scroll_table(made: Html, label: str, *, hint: bool = True) -> Html:
    """A table that moves sideways by itself where the screen is narrow, by keyboard too."""
    said = tag("p", "The table goes on to the right.", class_="hint") if hint else None
    return join(said, tag("div", made, class_="wide", tabindex="0", role="region", aria_label=label))


def typeset(text: str) -> str:
    """A text with its units as they are printed: °C, m²; degF of a quoted source stays where SI is told."""
    stays = "degF" if measured() == "si" else ""
    return _UNIT.sub(lambda found: found[1] if found[1] == stays else _UNITS[found[1]], say(text))


@dataclass(frozen=True, slots=True)
class Paragraph:
    """Sentences; `name` leads them in ('Gravity: it works'), `look` is their class on the page."""

    text: str
    name: str = ""
    look: str | None = None
    on_screen: bool = True
    on_page: bool = True


@dataclass(frozen=True, slots=True)
class Caution:
    """What a reader must be told, after the word that says so."""

    text: str
    word: str = phrase("Caution")
    on_screen: bool = True


@dataclass(frozen=True, slots=True)
class Items:
    """A list; an item is a sentence or a (name, sentence).

    `bullets` are drawn on a screen too, where the list stands among paragraphs; else its items stand in a little.
    """

    items: tuple[str | tuple[str, str], ...]
    look: str | None = None
    bullets: bool = True
    on_page: bool = True


@dataclass(frozen=True, slots=True)
class Names:
    """Lists of names, each with what they have in common; a screen names as many as a line or two hold and counts the
    rest."""

    rows: tuple[tuple[str, tuple[str, ...]], ...]


@dataclass(frozen=True, slots=True)
class Facts:
    """Figures, each a (name, value, what it counts and how it spreads); on a screen a line each, on the page a card."""

    facts: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a table: its title, whether figures stand to the right, and how wide a screen must be to have it.

    A screen heads it with the `short` title where there is one. Of a table with a key, the page can `sort` its rows by
    the column's "words" or "numbers", and show only those with a word that the reader may `choose`.
    """

    title: str
    right: bool = False
    least_screen: int = 0
    short: str = ""
    sort: str = ""
    choose: bool = False


@dataclass(frozen=True, slots=True)
class Cell:
    """A cell with a look of its own on the page, such as a verdict's word, with a shorter text for a screen, or with
    a number to be sorted by."""

    text: str
    look: str = ""
    short: str = ""
    sort: float | None = None


@dataclass(frozen=True, slots=True)
class Table:
    """Rows under columns; the first cell names its row. `label` names the table to those who do not see it.

    A screen that is too narrow shows a table that may be `divided` in two, the row's names before both; of more rows
    than `most` it shows the first and counts the rest. With a `key`, its id, the page can search and sort it.
    """

    columns: tuple[Column, ...]
    rows: tuple[tuple[str | Cell, ...], ...]
    label: str
    look: str = "numbers"
    hint: bool = True
    divided: bool = False
    most: int | None = None
    key: str = ""


@dataclass(frozen=True, slots=True)
class Picture:
    """What the page draws, only when the page is made, and bare where it has no caption.

    On a screen it is lines of its own, for so many columns and with letters beyond ASCII or not; or nothing.
    """

    draw: Callable[[], Html | None]
    caption: Html | str = ""
    screen: Callable[[int, bool], list[str]] | None = None


@dataclass(frozen=True, slots=True)
class Fold:
    """Parts that the page folds away behind a title; a screen has them under no title unless it is `titled`, or not
    at all."""

    title: str
    parts: tuple[Part, ...]
    on_screen: bool = True
    titled: bool = False


@dataclass(frozen=True, slots=True)
class Beside:
    """Parts that the page sets beside one another, a screen one after the other."""

    parts: tuple[Part, ...]
    look: str = "pictures"


@dataclass(frozen=True, slots=True)
class Section:
    """Parts under a heading of a `level`; with nothing in it there is no heading. `key` ends its id on the page."""

    title: str
    parts: tuple[Part, ...]
    key: str = ""
    level: int = 3


Part = Paragraph | Caution | Items | Names | Facts | Table | Picture | Fold | Beside | Section


@dataclass(frozen=True, slots=True)
class Document:
    """One answer.

    Attributes
    ----------
    title : str
    parts : tuple of Part
    foot : tuple of str
        Ends the answer where it stands alone; on the page, which has one foot for all, left out.
    spaced : bool
        Whether a screen leaves a line free under headings.
    """

    title: str
    parts: tuple[Part, ...]
    foot: tuple[str, ...] = ()
    spaced: bool = True


def _as_many(names: Sequence[str], room: int) -> str:
    """As many names as fit, and how many more there are."""
    for count in range(len(names), 0, -1):
        more = say(" and {count} more", count=len(names) - count) if count < len(names) else ""
        text = ", ".join(names[:count]) + more
        if screen_width(text) <= room:
            return text
    return counted(len(names), "crop")


class _Screen:
    """Lines of a screen as they are written."""

    def __init__(self, width: int, unicode: bool, spaced: bool):
        self.width, self.unicode, self.spaced = width, unicode, spaced

    def clean(self, text: str) -> str:
        return plain(_SET.sub(lambda found: _LETTERS[found[0]], say(text)), unicode=self.unicode)

    def say(self, text: str, first: str = "", later: str = "") -> list[str]:
        return wrap(self.clean(text), self.width, first=first, later=later)

    def paragraph(self, part: Paragraph) -> list[str]:
        if not part.on_screen:
            return []
        name = say(part.name)
        return self.say(f"{name}: {say(part.text)}" if name else part.text, later="  " if name else "")

    def items(self, part: Items) -> list[str]:
        first, later = ("- ", "  ") if part.bullets else ("  ", "    ")
        said = (item if isinstance(item, str) else ": ".join(map(say, item)) for item in part.items)
        return [line for text in said for line in self.say(text, first, later)]

    def names(self, part: Names) -> list[str]:
        rows = [(self.clean(label), [self.clean(n) for n in names]) for label, names in part.rows if names]
        lead = max((screen_width(label) for label, _ in rows), default=0) + 2
        beside = self.width - lead - 2
        # a narrow screen has two lines, less what wrapping wastes
        room = beside if self.width >= 80 else 2 * beside - 22
        said = [(f"  {pad(label, lead)}", _as_many(names, room)) for label, names in rows]
        return [line for label, text in said for line in wrap(text, self.width, first=label, later=" " * (lead + 2))]

    def facts(self, part: Facts) -> list[str]:
        lead = max((screen_width(self.clean(name)) for name, _, _ in part.facts), default=0)
        lead = min(lead + 2, 2 * self.width // 5)
        said = [
            (pad(f"{self.clean(name)} ", lead), f"{say(value)} {say(more)}".strip()) for name, value, more in part.facts
        ]
        return [line for name, text in said for line in self.say(text, name, " " * lead)]

    def table(self, part: Table) -> list[str]:
        shown = [k for k, c in enumerate(part.columns) if self.width >= c.least_screen]
        if not part.divided or self._natural(part, shown, 1) <= self.width:
            return self.columns(part, shown)
        half = (len(shown) + 1) // 2
        return [*self.columns(part, shown[:half]), "", *self.columns(part, [shown[0], *shown[half:]])]

    def _natural(self, part: Table, shown: list[int], gap: int) -> int:
        """Columns that a table takes where nothing in it is broken."""
        wide = (
            max(screen_width(self.clean(cell)) for cell in column) for column in zip(*self.cells(part), strict=True)
        )
        return sum(w for k, w in enumerate(wide) if k in shown) + gap * (len(shown) - 1)

    def cells(self, part: Table) -> list[list[str]]:
        rows = part.rows[: part.most]
        heads = [c.short or c.title for c in part.columns]
        return [heads, *([c if isinstance(c, str) else c.short or c.text for c in row] for row in rows)]

    def columns(self, part: Table, shown: list[int]) -> list[str]:
        cells = [[self.clean(row[k]) for k in shown] for row in self.cells(part)]
        right = tuple(place for place, k in enumerate(shown) if part.columns[k].right)
        gap = 2 if self._natural(part, shown, 2) <= self.width else 1  # closer, rather than broken over lines
        out = table(cells, self.width, right=right, gap=gap)
        more = 0 if part.most is None else len(part.rows) - part.most
        return [*out, say("and {count} more", count=more)] if more > 0 else out

    def picture(self, part: Picture) -> list[str]:
        return part.screen(self.width, self.unicode) if part.screen else []

    def section(self, part: Section) -> list[str]:
        inner = self.parts(part.parts)
        return ["", *self.say(say(part.title).upper()), *([""] if self.spaced else []), *inner] if inner else []

    def fold(self, part: Fold) -> list[str]:
        inner = self.parts(part.parts) if part.on_screen else []
        return [*self.say(part.title), *inner] if inner and part.titled else inner

    def caution(self, part: Caution) -> list[str]:
        return self.say(f"{say(part.word).upper()}: {say(part.text)}", later="  ") if part.on_screen else []

    def part(self, part: Part) -> list[str]:
        sets: dict[type, Callable[[Any], list[str]]] = {
            Paragraph: self.paragraph,
            Caution: self.caution,
            Items: self.items,
            Names: self.names,
            Facts: self.facts,
            Table: self.table,
            Picture: self.picture,
            Fold: self.fold,
            Beside: lambda beside: self.parts(beside.parts),
            Section: self.section,
        }
        return sets[type(part)](part)

    def parts(self, parts: Sequence[Part]) -> list[str]:
        """All of them, a line free before and after what stands in columns."""
        out: list[str] = []
        parted = False
        for part in parts:
            lines = self.part(part)
            if not lines:
                continue
            apart = isinstance(part, (Table, Facts, Picture, Fold))
            if out and (apart or parted) and lines[0]:
                out.append("")
            out += lines
            parted = apart
        return out


def screen_text(document: Document, *, width: int = 100, unicode: bool = True) -> str:
    """A document as lines of text, none wider than the screen.

    Parameters
    ----------
    document : Document
    width : int
        Columns of the screen, 60 or more (fewer are taken as 60).
    unicode : bool
        Whether letters beyond ASCII may be sent.
    """
    screen = _Screen(max(width, 60), unicode, document.spaced)
    out = screen.parts([Paragraph(document.title), *document.parts])
    if document.foot:
        out += ["", *(line for text in document.foot for line in screen.say(text))]
    return "\n".join(line.rstrip() for line in out)


def _head(column: Column, key: str) -> Html:
    if not column.title:
        return tag("td")
    title = typeset(column.title)
    if not (key and column.sort):
        return tag("th", title, scope="col")
    button = tag("button", title, type="button", data_do="sort", data_numbers=column.sort == "numbers")
    return tag("th", button, scope="col", data_words=title)


def _row(row: tuple[str | Cell, ...], names: dict[str, str]) -> Html:
    cells = [tag("td", page_cell(c), data_sort=c.sort if isinstance(c, Cell) else None) for c in row[1:]]
    return tag("tr", tag("th", page_cell(row[0]), scope="row"), *cells, **names)


def _words(cell: str | Cell) -> str:
    return cell if isinstance(cell, str) else cell.text


def controls(key: str, what: str, choices: Iterable[tuple[str, str, Iterable[tuple[str, str]]]], *more: Html) -> Html:
    """What narrows the rows under an id of the page: letters of `what`, and choices, each a (name of what the script
    does, label, (value, words) of each)."""
    found = [
        tag(
            "label",
            say("Find a {what}", what=say(what)),
            tag("input", type="search", data_do="text", autocomplete="off"),
        )
    ]
    for does, label, options in choices:
        listed = [tag("option", words, value=value) for value, words in options]
        found.append(tag("label", label, tag("select", *listed, data_do=does)))
    count = tag("output", class_="count", aria_live="polite")
    return tag("div", *found, *more, count, class_="controls", hidden=True, data_for=key)


def _table_controls(part: Table, chosen: int | None) -> Html:
    """Letters of the first column, and a word of the one that may be chosen."""
    choices = []
    if chosen is not None:
        words = dict.fromkeys(_words(row[chosen]) for row in part.rows)
        choices.append(("word", say(part.columns[chosen].title).capitalize(), [("", "all"), *((w, w) for w in words)]))
    return controls(part.key, part.columns[0].title, choices)


def _page_table(part: Table) -> Html:
    chosen = next((k for k, c in enumerate(part.columns) if c.choose), None)
    names: list[dict[str, str]] = [{} for _ in part.rows]
    if part.key:
        for row, found in zip(part.rows, names, strict=True):
            found["data_name"] = _words(row[0])
            if spoken() != "en":
                found["data_said"] = _words(row[0])
            if chosen is not None:
                found["data_word"] = _words(row[chosen])
    head = tag("tr", *[_head(c, part.key) for c in part.columns])
    rows = [_row(row, found) for row, found in zip(part.rows, names, strict=True)]
    made = tag("table", tag("thead", head), tag("tbody", *rows), id=part.key or None, class_=part.look)
    return join(_table_controls(part, chosen) if part.key else None, scroll_table(made, part.label, hint=part.hint))


def page_cell(cell: str | Cell) -> Html | str:
    """A cell's text; in its look where it has one."""
    if isinstance(cell, str):
        return typeset(cell)
    return tag("span", cell.text, class_=cell.look) if cell.look else cell.text


def _page_facts(part: Facts) -> Html:
    cards = [
        tag(
            "div",
            tag("dt", f"{typeset(name)[:1].upper()}{typeset(name)[1:]}"),
            tag("dd", tag("b", typeset(value)), tag("span", typeset(more)) if more else None),
        )
        for name, value, more in part.facts
    ]
    return tag("dl", *cards, class_="figures")


def _page_items(part: Items) -> Html:
    return tag(
        "ul",
        *[
            tag("li", typeset(item))
            if isinstance(item, str)
            else tag("li", tag("b", f"{typeset(item[0])}: "), typeset(item[1]))
            for item in part.items
        ],
        class_=part.look,
    )


def _page_part(part: Part, key: str) -> Html | None:
    """One part; None where there is nothing in it."""
    if isinstance(part, Paragraph):
        name = tag("b", f"{typeset(part.name)}: ") if part.name else None
        return tag("p", name, typeset(part.text), class_=part.look) if part.on_page else None
    if isinstance(part, Caution):
        return tag("p", tag("b", f"{say(part.word)}: "), typeset(part.text), class_=part.word.lower())
    if isinstance(part, Items):
        return _page_items(part) if part.items and part.on_page else None
    if isinstance(part, Names):
        return _page_items(Items(tuple((label, ", ".join(names)) for label, names in part.rows if names)))
    if isinstance(part, Facts):
        return _page_facts(part)
    if isinstance(part, Table):
        return _page_table(part)
    if isinstance(part, Picture):
        picture = part.draw()
        return tag("figure", tag("figcaption", part.caption), picture) if picture and part.caption else picture
    if not (inner := page_parts(part.parts, key)):
        return None
    if isinstance(part, Fold):
        return tag("details", tag("summary", typeset(part.title)), inner, class_="fold")
    if isinstance(part, Section):
        return join(tag(f"h{part.level}", part.title, id=f"{key}-{part.key}" if part.key else None), inner)
    inside = [tag("div", p) if isinstance(q, Section) else p for q in part.parts if (p := _page_part(q, key))]
    return tag("div", *inside, class_=part.look)


def page_parts(parts: Sequence[Part], key: str = "") -> Html:
    """Parts as elements of the page, ids of sections begun with a key."""
    return join(*[_page_part(part, key) for part in parts])


def page_section(document: Document, key: str) -> Html:
    """A document as a section of the page, under an id."""
    return tag("section", tag("h2", document.title), page_parts(document.parts, key), id=key, aria_label=document.title)
