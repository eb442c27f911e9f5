"""What the commands share at the edge: words of the call, the screen, and where text goes."""

from __future__ import annotations

import argparse
import contextlib
import datetime as dt
import io
import json
import os
import shutil
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sowcal.errors import InputError
from sowcal.outputs.screen import plain
from sowcal.settings import Settings

if TYPE_CHECKING:
    from sowcal.outputs.document import Document

__all__ = [
    "asked_of",
    "columns",
    "date_of",
    "issued",
    "print_json",
    "said",
    "settings_of",
    "show",
    "show_document",
    "site_and_crops",
    "sites_and_crops",
    "tell",
    "unicode_screen",
]

_RECORDS = {".toml", ".csv", ".nc", ".epw", ".dly", ".zarr", ".gz", ".tnx", ".cli"}  # endings of files that hold a site


def sites_and_crops(words: list[str], most: int) -> tuple[list[str], list[str]]:
    """The sites that a call begins with, `most` at the most, and the words after them."""
    from sowcal.weather.open_site import looks_like_site

    words = [w.strip() for w in words]
    sites: list[str] = []
    while words and len(sites) < most and looks_like_site(words[0]):
        sites.append(words.pop(0))
    if len(sites) < most and words and Path(words[0]).suffix.lower() in _RECORDS:
        raise InputError(f"there is no file {words[0]!r}; check the name and the folder")
    return sites, words


def site_and_crops(words: list[str]) -> tuple[str, list[str]]:
    """The site and the crops of a call; the site left out is the first bundled plot."""
    from sowcal.weather.site_file import bundled_names

    sites, crops = sites_and_crops(words, 1)
    return (sites or bundled_names())[0], crops


def settings_of(options: argparse.Namespace) -> Settings:
    """Reliability, yield and time as asked for."""
    return Settings(
        reliability=options.reliability,
        least_yield=options.least_yield,
        near_best=options.near_best,
        longest=options.longest,
    )


def asked_of(options: argparse.Namespace, day: dt.date) -> dict[str, Any]:
    """What a chart or verdicts, issued on a day, are asked under, as `sowing_chart` and `rate_crops` take it."""
    return {
        "settings": settings_of(options),
        "what_ifs": options.what_ifs,
        "crop_files": options.crop_files,
        "years": options.years,
        "most_water": options.most_water,
        "rain_fed": options.rain_fed,
        "issued": day,
    }


def columns(options: argparse.Namespace) -> int:
    """Width of the screen, or as asked for, from 60 to 200."""
    asked = options.width or shutil.get_terminal_size((100, 24)).columns
    return min(max(asked, 60), 200)


def unicode_screen(options: argparse.Namespace) -> bool:
    """Whether the screen shows more than plain letters."""
    if options.ascii or os.environ.get("TERM") == "dumb":
        return False
    return "utf" in (getattr(sys.stdout, "encoding", "") or "").lower().replace("-", "")


def print_json(answer: Any) -> None:
    """One JSON document on standard output: the same bytes in every locale, UTF-8 (RFC 8259, section 8.1)."""
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(encoding="utf-8", errors="backslashreplace")
    show(json.dumps(answer, indent=1, ensure_ascii=False, allow_nan=False))


def show(text: str) -> None:
    """A text on standard output, written through, so that what does not arrive is told.

    Raises
    ------
    InputError
        Where standard output is closed or full.
    BrokenPipeError
        Where nobody reads on; that is no error.
    """
    if sys.stdout is None:
        raise InputError("it is closed; give a terminal, a file or a pipe, or leave >&- away", where="standard output")
    try:
        print(text, flush=True)
    except BrokenPipeError:
        raise
    except OSError as problem:
        with contextlib.suppress(OSError):  # else Python would try again at its end, and tell it in its own way
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        raise InputError(
            f"the answer could not be written ({problem.strerror}); make room, or send it elsewhere",
            where="standard output",
        ) from None


def show_document(document: Document, options: argparse.Namespace) -> None:
    """An answer on standard output, in the columns and letters of the screen."""
    from sowcal.outputs.document import screen_text

    show(screen_text(document, width=columns(options), unicode=unicode_screen(options)))


def issued(options: argparse.Namespace) -> dt.date:
    """Date of issue of what is written: as asked for, today where it is not."""
    return date_of(options.issued, "--issued") or dt.date.today()


def date_of(text: str | None, option: str) -> dt.date | None:
    """The date that an option gives; None where it is left out."""
    if text is None:
        return None
    try:
        date = dt.datetime.strptime(text.strip(), "%Y-%m-%d").date()
    except ValueError:
        raise InputError(f"{option} {text!r} is no date; write it as YYYY-MM-DD, for example 2026-03-15") from None
    if not 1900 <= date.year <= 9000:
        raise InputError(f"{option} {text!r} lies outside the years 1900 to 9000")
    return date


def tell(message: object) -> None:
    """A remark beside the answer, on standard error; where that is closed or full, nobody hears it."""
    if sys.stderr is not None:
        with contextlib.suppress(OSError):
            print(f"sowcal: {said(message)}", file=sys.stderr)


def said(message: object) -> str:
    """A sentence for the screen, line by line, without the control characters of what it quotes."""
    return "\n".join(plain(line) for line in str(message).split("\n"))
