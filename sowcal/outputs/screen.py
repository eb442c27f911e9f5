"""Text for a screen of so many columns: harmless, measured, cut, padded and wrapped.

Names come from files of others. A control character in them could move the cursor or recolour the
screen, so each is shown as a visible escape and never sent.
"""

from __future__ import annotations

import unicodedata

__all__ = ["cut", "pad", "plain", "screen_width", "table", "wrap"]

_UNSAFE = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}
_ASCII = str.maketrans({"–": "-", "—": "-", "−": "-", "’": "'", "‘": "'", "“": '"', "”": '"', "°": " deg ", "×": "x"})


def plain(text: object, *, unicode: bool = True) -> str:
    """Text safe to print: controls as escapes such as \\x1b; in ASCII, accents dropped and the rest '?'."""
    out = []
    for c in str(text):
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


def _columns(c: str) -> int:
    if unicodedata.combining(c):
        return 0
    return 2 if unicodedata.east_asian_width(c) in "WF" else 1


def screen_width(text: str) -> int:
    """Columns that a text takes."""
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


def wrap(text: str, width: int, *, first: str = "", later: str = "") -> list[str]:
    """Lines of at most so many columns, begun with `first` and then `later`."""
    lines, line, lead = [], "", first
    for word in text.split():
        for piece in _pieces(word, max(width - screen_width(later), 8)):
            longer = f"{line} {piece}" if line else piece
            if line and screen_width(lead + longer) > width:
                lines.append(lead + line)
                lead, line = later, piece
            else:
                line = longer
    return [*lines, lead + line] if line or not lines else lines


def table(rows: list[list[str]], width: int, *, right: tuple[int, ...] = (), gap: int = 2) -> list[str]:
    """Rows as aligned columns within the width; the widest columns of words give way first."""
    wide = [max(screen_width(row[k]) for row in rows) for k in range(len(rows[0]))]
    while sum(wide) + gap * (len(wide) - 1) > width and max(wide) > 6:
        wide[wide.index(max(wide))] -= 1
    space = " " * gap
    return [
        space.join(pad(cell, wide[k], right=k in right) for k, cell in enumerate(row)).rstrip()[:width] for row in rows
    ]
