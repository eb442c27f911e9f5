"""Text for a screen of so many columns: harmless, measured, cut, padded and wrapped.

Names come from files of others. A control character in them could move the cursor or recolour the
screen, so each is shown as a visible escape and never sent.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Sequence
from functools import cache

__all__ = [
    "bars",
    "cut",
    "pad",
    "plain",
    "screen_width",
    "table",
    "words_of",
    "wrap",
]


_UNSAFE = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}
_ASCII = str.maketrans(
    {"–": "-", "—": "-", "−": "-", "’": "'", "‘": "'", "“": '"', "”": '"', "°": " deg ", "×": "x", "■": "#", "□": "."}
)


def plain(text: object, *, unicode: bool = True) -> str:
    """Text safe to print: controls as escapes such as \\x1b; in ASCII, accents dropped and the rest '?'."""
    given = str(text)
    if given.isascii() and given.isprintable():
        return given
    out = []
    for c in given:
        if unicodedata.category(c) in _UNSAFE:
            out.append(c.encode("ascii", "backslashreplace").decode("ascii") if ord(c) > 127 else _escape(c))
        elif unicodedata.category(c) == "Zs":
            out.append(" ")
        else:
            out.append(c)
    shown = "".join(out)
    if unicode:
        return shown
    bare = "".join(c for c in unicodedata.normalize("NFKD", shown.translate(_ASCII)) if not unicodedata.combining(c))
    return bare.encode("ascii", "replace").decode("ascii")


def _escape(c: str) -> str:
    return {"\n": " ", "\t": " ", "\r": " "}.get(c, f"\\x{ord(c):02x}")


@cache
def _columns(c: str) -> int:
    if unicodedata.combining(c):
        return 0
    return 2 if unicodedata.east_asian_width(c) in "WF" else 1


def screen_width(text: str) -> int:
    """Columns that a text takes."""
    if text.isascii():
        return len(text)
    return sum(map(_columns, text))


def cut(text: str, width: int) -> str:
    """The text, or its beginning and '~' where it is too wide."""
    if screen_width(text) <= width:
        return text
    out, used = "", 0
    for c in text:
        if used + _columns(c) > width - 1:
            break
        out, used = out + c, used + _columns(c)
    return out.rstrip() + "~" if width > 0 else ""


def pad(text: str, width: int, *, right: bool = False) -> str:
    """The text cut or filled to exactly so many columns; `right` sets it to the right-hand side."""
    text = cut(text, width)
    space = " " * (width - screen_width(text))
    return space + text if right else text + space


def _pieces(word: str, width: int) -> list[str]:
    """A word in pieces that each fit."""
    out, piece = [], ""
    for c in word:
        if screen_width(piece + c) > width:
            out.append(piece)
            piece = ""
        piece += c
    return [*out, piece]


def words_of(text: str) -> list[str]:
    """Words between which a line may be broken: a sign of per cent, set apart in Spanish, stays with its number.

    Examples
    --------
    >>> words_of("en el 40 % de los")
    ['en', 'el', '40 %', 'de', 'los']
    """
    return re.findall(r"\S+(?:\s%\S*)*", text)


def wrap(text: str, width: int, *, first: str = "", later: str = "") -> list[str]:
    """Lines of at most so many columns, begun with `first` and then `later`."""
    lines, line, lead = [], "", first
    for word in words_of(text):
        for piece in _pieces(word, max(width - screen_width(later), 3)):
            longer = f"{line} {piece}" if line else piece
            if line and screen_width(lead + longer) > width:
                lines.append(lead + line)
                lead, line = later, piece
            else:
                line = longer
    return [*lines, lead + line] if line or not lines else lines


def _least(rows: list[list[str]], k: int, whole: bool) -> int:
    """Columns that one column needs: words whole; with `whole`, cells that begin with a figure on one line too."""
    least = 1
    for number, row in enumerate(rows):
        kept = whole and number > 0 and row[k].lstrip("+-")[:1].isdigit()
        least = max(least, *(screen_width(w) for w in ([row[k]] if kept else words_of(row[k]) or [""])))
    return least


def _widths(rows: list[list[str]], width: int, gap: int) -> tuple[list[int], int]:
    """Widths of the columns and the gap: the widest give way, headings and words before figures, then the gap."""
    columns = range(len(rows[0]))
    wide = [max(screen_width(row[k]) for row in rows) for k in columns]
    figures, words = ([_least(rows, k, whole) for k in columns] for whole in (True, False))
    for least, between in ((figures, gap), (figures, 1), (words, 1), ([3 for _ in columns], 1)):
        room = width - between * (len(wide) - 1)
        while sum(wide) > room and any(w > m for w, m in zip(wide, least, strict=True)):
            wide[max((k for k in columns if wide[k] > least[k]), key=lambda k: wide[k])] -= 1
        if sum(wide) <= room:
            break
    return wide, between


def table(rows: list[list[str]], width: int, *, right: tuple[int, ...] = (), gap: int = 2) -> list[str]:
    """Rows as aligned columns within the width; where they do not fit, cells run on below, and nothing is cut.

    Parameters
    ----------
    rows : list of list of str
        Headings first.
    width : int
        Columns of the screen.
    right : tuple of int
        Columns set to the right.
    gap : int
        Blanks between columns.
    """
    wide, gap = _widths(rows, width, gap)
    space = " " * gap
    lines = []
    for row in rows:
        cells = [
            [cell] if screen_width(cell) <= wide[k] else _run_on(cell, wide[k], indent=k == 0 and row is not rows[0])
            for k, cell in enumerate(row)
        ]
        for n in range(max(map(len, cells))):
            pieces = (cell[n] if n < len(cell) else "" for cell in cells)
            lines.append(space.join(pad(piece, wide[k], right=k in right) for k, piece in enumerate(pieces)).rstrip())
    return lines


def _run_on(cell: str, width: int, *, indent: bool) -> list[str]:
    """A cell over several lines; those after the first of a row's name stand in a little, to show whose they are."""
    room = all(screen_width(w) <= width - 2 for w in words_of(cell)[1:])
    return wrap(cell, width, later="  " if indent and room and width > 8 else "")


def bars(
    names: Sequence[str],
    titles: tuple[str, str],
    key: tuple[str, str],
    values: Sequence[tuple[float, float]],
    shown: Sequence[tuple[str, str]],
) -> Callable[[int, bool], list[str]]:
    """A bar a row for a screen: a first figure filled, and how far the second goes beyond it.

    `titles` stand over the columns of the two figures, `key` says what the bar shows of each, `shown` has the figures
    in words.
    """

    def lines(width: int, unicode: bool) -> list[str]:
        top = max(1e-9, *(max(pair) for pair in values))
        lead = max(map(screen_width, names)) + 3
        room = max(width - lead - 28, 10)
        full, more = ("█", "░") if unicode else ("#", "-")
        out = [f"{'':{lead}}{titles[0]:>8}{titles[1]:>10}   {full} {key[0]}  {more} {key[1]}"]
        for name, pair, said in zip(names, values, shown, strict=True):
            a, b = (round(v / top * room) for v in pair)
            out.append(f"{pad(name, lead)}{said[0]:>8}{said[1]:>10}   {full * a}{more * max(b - a, 0)}")
        return out

    return lines
