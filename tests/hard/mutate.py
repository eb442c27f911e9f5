"""Damage to files, chosen step by step by whatever makes the choices: hypothesis, chance, or a fuzzer that learns.

`pick(n)` gives a number from 0 to n - 1; the same choices make the same damage.
"""

from __future__ import annotations

import codecs
from collections.abc import Callable

__all__ = ["VALUES", "damaged", "odd_text"]

Pick = Callable[[int], int]

CELLS = (
    b"", b" ", b"0", b"-0", b"-9999", b"9999", b"99999999999999999999", b"9" * 400, b"9" * 5000, b"1e308", b"-1e999",
    b"nan", b"NaN", b"inf", b"-inf", b"1_0", b"1,5", b"1.2.3", b"--3", b"+", b"0x1F", b"T", b"true", b"null", b"[]",
    b"{}", b'"', b"''", b'""', b"2001-02-30", b"0000-00-00", b"9999-12-31", b"1677-01-01", b"2262-12-31", b"-1-1-1",
    b"00/00/0000", b"\x1b[31m", b"\x00", b"\xff", b"\xc3\x28", b"\xef\xbb\xbf", "١٢".encode(), "\u202e".encode(),
    b"=1+1", b"@a", b"<b>", b"%s", b"%Y", b"{0}", b"../../x", b"a" * 300, b"\t", b"\r", b"\x0b", b"\x85", b"#",
    b"\xe2\x80\xa8", b"\xed\xa0\x80",
)  # fmt: skip
VALUES = (
    "0", "1", "-1", "80", "0.8", "101", "1e9", "-1e999", "nan", "inf", "1_0", "2021-04-01", "2021-02-30",
    "name", "family", "mulch", "shade-cloth=40", "shade-cloth=nan", "warmer=1e9", "warmer=2", "higher=-1e9",
    "fleece=", "=", "12", "13", "none.csv", ".", "/", "/dev/null", "tasmin=x", "99999999999999999999",
    "irrigation", "tunnel", "--", "%",
)  # fmt: skip
SEPARATORS = (b",", b";", b"\t", b" ", b"=", b"|", b'"', b"\n")
ENCODINGS = ("utf-16", "utf-16-be", "utf-32", "cp1252", "utf-7", "cp037")


def _flip(raw: bytearray, pick: Pick) -> None:
    for _ in range(1 + pick(4)):
        raw[pick(len(raw))] ^= 1 << pick(8)


def _byte(raw: bytearray, pick: Pick) -> None:
    raw[pick(len(raw))] = (0, 255, 128, 10, 34, 127, pick(256))[pick(7)]


def _word(raw: bytearray, pick: Pick) -> None:
    """Four bytes of an extreme number, as headers of binary files hold."""
    at = pick(len(raw))
    at -= at % 4
    raw[at : at + 4] = (b"\xff\xff\xff\xff", b"\x7f\xff\xff\xff", b"\x80\0\0\0", b"\0\0\0\0", b"\0\1\0\0")[pick(5)]


def _cut(raw: bytearray, pick: Pick) -> None:
    del raw[pick(len(raw)) :]


def _without(raw: bytearray, pick: Pick) -> None:
    at = pick(len(raw))
    del raw[at : at + 1 + pick(200)]


def _insert(raw: bytearray, pick: Pick) -> None:
    at = pick(len(raw) + 1)
    raw[at:at] = CELLS[pick(len(CELLS))]


def _again(raw: bytearray, pick: Pick) -> None:
    """A stretch repeated, once or many times."""
    at = pick(len(raw))
    raw[at:at] = raw[at : at + 1 + pick(60)] * (1, 2, 100)[pick(3)]


def _lines(raw: bytearray, pick: Pick) -> None:
    lines = bytes(raw).split(b"\n")
    at, to = pick(len(lines)), pick(len(lines))
    what = pick(5)
    if what == 0:
        lines.insert(at, lines[to])
    elif what == 1:
        lines[at], lines[to] = lines[to], lines[at]
    elif what == 2:
        del lines[at]
    elif what == 3:
        lines = lines[:at] + lines[to:]
    else:
        lines[at] = lines[at][: pick(len(lines[at]) + 1)]
    raw[:] = b"\n".join(lines)


def _cell(raw: bytearray, pick: Pick) -> None:
    """A cell of a line replaced by another value, of this line or in every line."""
    separator = SEPARATORS[pick(len(SEPARATORS))]
    lines = bytes(raw).split(b"\n")
    at = pick(len(lines))
    cells = lines[at].split(separator)
    column = pick(len(cells))
    value = CELLS[pick(len(CELLS))]
    for row in range(len(lines)) if pick(4) == 0 else [at]:
        cells = lines[row].split(separator)
        if column < len(cells):
            cells[column] = value
            lines[row] = separator.join(cells)
    raw[:] = b"\n".join(lines)


def _columns(raw: bytearray, pick: Pick) -> None:
    """Two columns exchanged in every line, or from a line on."""
    separator = SEPARATORS[pick(4)]
    lines = bytes(raw).split(b"\n")
    first, one, other = pick(len(lines)), pick(6), pick(6)
    for row in range(first, len(lines)):
        cells = lines[row].split(separator)
        if max(one, other) < len(cells):
            cells[one], cells[other] = cells[other], cells[one]
            lines[row] = separator.join(cells)
    raw[:] = b"\n".join(lines)


def _encoded(raw: bytearray, pick: Pick) -> None:
    text = bytes(raw).decode("utf-8", errors="replace")
    if pick(3) == 0:
        raw[:] = codecs.BOM_UTF8 * (1 + pick(2)) + bytes(raw)
    else:
        raw[:] = text.encode(ENCODINGS[pick(len(ENCODINGS))], errors="replace")


def _ends(raw: bytearray, pick: Pick) -> None:
    raw[:] = bytes(raw).replace(b"\n", (b"\r\n", b"\r", b"\n\n", b"\x0b", b"", b"\0")[pick(6)])


def _swapped_separator(raw: bytearray, pick: Pick) -> None:
    raw[:] = bytes(raw).replace(SEPARATORS[pick(8)], SEPARATORS[pick(8)])


WAYS = (
    _flip, _byte, _word, _cut, _without, _insert, _again, _lines, _cell, _cell, _columns, _encoded, _ends,
    _swapped_separator,
)  # fmt: skip


def damaged(raw: bytes, pick: Pick) -> bytes:
    """A file with one to four kinds of damage."""
    out = bytearray(raw)
    for _ in range(1 + pick(4)):
        if not out:
            break
        WAYS[pick(len(WAYS))](out, pick)
        del out[2 * len(raw) + 100_000 :]
    return bytes(out)


def odd_text(pick: Pick) -> str:
    """A word as nobody should type it."""
    return CELLS[pick(len(CELLS))].decode("utf-8", errors="surrogateescape")
