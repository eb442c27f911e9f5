"""What the commands share at the edge: words of the call, the screen, and where text goes."""

from __future__ import annotations

import argparse
import contextlib
import datetime as dt
import io
import json
import os
import re
import shutil
import sys
import textwrap
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sowcal.errors import InputError, near_words
from sowcal.languages import SPOKEN, counted, say, say_count
from sowcal.outputs.terminal import plain
from sowcal.settings import Settings
from sowcal.year import clock_day

if TYPE_CHECKING:
    from sowcal.outputs.document import Document
    from sowcal.saved_settings import Remembered

__all__ = [
    "asked_of",
    "columns",
    "crops_or_own",
    "date_of",
    "issued",
    "language_of",
    "own_garden",
    "own_names",
    "own_place",
    "print_json",
    "said",
    "say_used",
    "settings_of",
    "show",
    "show_document",
    "site_and_crops",
    "sites_and_crops",
    "tell",
    "tell_warnings",
    "unicode_screen",
    "units_of",
    "unsaid_place",
    "write_out",
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
    if len(sites) < most and words:
        _offer_plots(words[0])
    return sites, words


def _offer_plots(word: str) -> None:
    """Refuse a word that is no plot, and one or two slips away from the name of one."""
    from sowcal.weather.site_file import bundled_names

    if near := near_words(word.lower(), bundled_names()):
        others = f"; the others are {', '.join(n for n in bundled_names() if n not in near)}"
        raise InputError(f"there is no plot {word!r}; did you mean {' or '.join(near)}?{others}")


def language_of(options: argparse.Namespace) -> str:
    """The language that a call is answered in: as asked for, else as remembered, else English; programs get English.

    Settings that are damaged are no matter here: who falls back on them is told.
    """
    if not hasattr(options, "language"):
        return "en"
    if options.language is None:
        options.language = _chosen("language")
    out = getattr(options, "out", None)
    if getattr(options, "json", False) or (out is not None and out.suffix.lower() == ".json"):
        return "en"
    return options.language if options.language in SPOKEN else "en"


def _chosen(key: str) -> str | None:
    """How answers are told, as it is remembered."""
    from sowcal.saved_settings import recall

    with contextlib.suppress(InputError):
        return getattr(recall(), key) or None
    return None


_DATA = {".json", ".csv", ".xlsx", ".nc", ".zarr"}  # files of figures for programs: SI


def units_of(options: argparse.Namespace) -> str:
    """The units in which a call is answered: as asked for, else as remembered, else SI; programs and data files get SI.

    What an option takes stays SI, and is told to be.
    """
    if not hasattr(options, "units"):
        return "si"
    out = getattr(options, "out", None)
    if getattr(options, "json", False) or (out is not None and out.suffix.lower() in _DATA):
        return "si"
    if (options.units or _chosen("units")) != "us":
        return "si"
    if any(getattr(options, name, None) for name in ("most_water", "what_ifs", "tries", "amount")):
        tell(
            say("Amounts that options take stay in degC, metres, kilograms and litres per m2; answers are in US units.")
        )
    return "us"


def site_and_crops(options: argparse.Namespace) -> tuple[str, list[str]]:
    """The site and the crops of a call; what is left out is the grower's own, and `say_used` tells that."""
    sites, crops = sites_and_crops(options.words, 1)
    site = sites[0] if sites else own_place(options) or unsaid_place(options)
    return site, crops_or_own(options, crops)


def _recalled(options: argparse.Namespace) -> Remembered:
    """What is remembered, read once a call and only where a call falls back on it."""
    if "recalled" not in options:
        from sowcal.saved_settings import recall

        options.recalled = recall()
        for note in options.recalled.notes:
            tell(note)
    return options.recalled


def own_place(options: argparse.Namespace) -> str:
    """The remembered place as a word for `open_weather`; empty where none is remembered.

    Raises
    ------
    InputError
        Where it is not there any more.
    """
    kept = _recalled(options)
    if not kept.here:
        return ""
    from sowcal.weather.open_site import looks_like_site
    from sowcal.weather.site_file import bundled_names

    options.used_place = kept.here
    if kept.here.lower() in bundled_names():
        return kept.here
    file = os.path.join(kept.path.parent, os.path.expanduser(kept.here))
    if looks_like_site(file):
        return file
    if looks_like_site(kept.here) and not os.path.lexists(kept.here):  # a pair of degrees
        return kept.here
    raise InputError(
        f"your place {file} is not there any more; say where it is now (`sowcal here FILE`), or name a place in the "
        "call",
        where=str(kept.path),
        line=kept.line_of(kept.here),
    )


_HELD = "\0"  # stands for a space at which no line may end: that of a path


def _held(path: str) -> str:
    return path.replace(" ", _HELD)


def own_garden(options: argparse.Namespace) -> str | None:
    """The garden file that the remembered place names; None for the bundled garden."""
    place = own_place(options)
    if not place:
        return None
    if Path(place).suffix.lower() != ".toml":
        options.used_garden = "The bundled garden; for your own name its file: sowcal garden my.garden.toml"
        return None
    from sowcal.weather.site_file import read_site_file

    site = read_site_file(place)
    if not site.garden:
        options.used_garden = (
            f"The bundled garden, for your place {_held(place)} (sowcal here) names none; a line in it does, above "
            'its tables: garden = "my.garden.toml"'
        )
        return None
    file = os.path.join(os.path.dirname(place), site.garden)
    options.used_garden = f"Your garden {_held(file)}, which your place {_held(place)} names (sowcal here)."
    return file


def unsaid_place(options: argparse.Namespace) -> str:
    """The place that stands in where none is named and none is remembered."""
    from sowcal import saved_settings as remembered

    options.stands_in = remembered.UNSAID_PLACE
    return remembered.UNSAID_PLACE


def crops_or_own(options: argparse.Namespace, crops: list[str]) -> list[str]:
    """The crops named; else, where the command takes crops, those remembered or the usual ones; none for the whole
    handbook.

    Raises
    ------
    InputError
        For a remembered name that the handbook does not have, with its line; for crops beside `--all`.
    """
    options.crops_named = bool(crops)
    if not hasattr(options, "all"):
        return crops
    if options.all and crops:
        raise InputError(f"--all is for every crop, and {crops[0]!r} names one; leave one of them away")
    if crops and getattr(options, "language", None) not in (None, "en"):
        return _in_language(crops, options)
    if options.all or crops:
        return crops
    from sowcal import saved_settings as remembered

    kept = _recalled(options)
    own = tuple(crop for name in kept.mine for crop in own_names(kept, name, options.crop_files))
    options.used_crops, options.stand_in_crops = own, () if own else remembered.UNSAID_CROPS
    return list(dict.fromkeys(own or options.stand_in_crops))


def _in_language(crops: list[str], options: argparse.Namespace) -> list[str]:
    """Crops by the names that the handbook has, from those of the language of the call."""
    from sowcal.answers import open_handbook
    from sowcal.crops.handbook import named_crops

    return [crop.name for crop in named_crops(open_handbook(options.crop_files), crops, options.language)]


def own_names(kept: Remembered, name: str, crop_files: list[str]) -> list[str]:
    """The crops that a remembered name means today; InputError with its line for one that means none."""
    from sowcal.answers import open_handbook
    from sowcal.crops.handbook import find_crops

    book = open_handbook(crop_files)
    if name in book:
        return [name]
    try:
        return [crop.name for crop in find_crops(book, name)]
    except InputError as problem:
        raise InputError(
            f"in your list {problem.message}; mend the line, or say `sowcal mine remove {name}`",
            where=str(kept.path),
            line=kept.line_of(name),
        ) from None


def _used(options: argparse.Namespace) -> str:
    """The sentence about what was remembered and used; empty where nothing was."""
    place, crops = getattr(options, "used_place", ""), getattr(options, "used_crops", None)
    usual = getattr(options, "stand_in_crops", ())
    if not place and not crops and not usual:
        return ""
    said = []
    if place:
        said.append(say("Your place {place} (sowcal here)", place=_held(place)))
    elif "stands_in" in options:
        said.append(say("Bundled plot {place} (else sowcal here)", place=options.stands_in))
    else:
        said.append(say("Place as named"))
    if crops:
        count = len(set(crops))
        said.append(
            say_count(
                count,
                "your {count} crop (sowcal mine; --all for every crop)",
                "your {count} crops (sowcal mine; --all for every crop)",
            )
        )
    elif usual:
        said.append(say("{crops} (else sowcal mine)", crops=counted(len(usual), "usual crop")))
    elif getattr(options, "all", False):
        said.append(say("every crop"))
    return f"{'; '.join(said)}."


def say_used(options: argparse.Namespace) -> None:
    """Tell what was remembered and used: first on the screen, beside a file that is written; JSON has its `site`."""
    line = getattr(options, "used_garden", "") or _used(options)
    if not line or getattr(options, "json", False):
        return
    if options.out:
        tell(line.replace(_HELD, " "))
    else:
        held = _HELD.join(plain(part, unicode=unicode_screen(options)) for part in line.split(_HELD))
        # a path longer than the screen is not broken, so that it can be copied as it stands
        lines = textwrap.wrap(held, columns(options), break_long_words=False, break_on_hyphens=False)
        show("\n".join(lines).replace(_HELD, " "))


def settings_of(options: argparse.Namespace) -> Settings:
    """Reliability, yield and time as asked for."""
    return Settings(
        reliability=options.reliability,
        least_yield=options.least_yield,
        near_best=options.near_best,
        bed_day=options.bed_day,
        longest=options.longest,
        every=getattr(options, "every", 1),
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


def write_out(options: argparse.Namespace, **forms: Any) -> None:
    """Write the file that `--out` names, in the form of its ending (`write_output`), and tell each that was written."""
    from sowcal.outputs.files import write_output

    for path in write_output(options.out, **forms):
        tell(say("wrote {path}", path=path))


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
    return date_of(options.issued, "--issued") or clock_day()


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


def year_of(text: str) -> int:
    """The year that an option gives."""
    if not re.fullmatch("[0-9]{4}", text.strip()) or not 1900 <= int(text) <= 9000:
        raise argparse.ArgumentTypeError(f"{text!r} is not a year from 1900 to 9000")
    return int(text)


def tell(message: object) -> None:
    """A remark beside the answer, on standard error; where that is closed or full, nobody hears it."""
    if sys.stderr is not None:
        with contextlib.suppress(OSError):
            print(f"sowcal: {said(message)}", file=sys.stderr)


def tell_warnings(warnings: Iterable[str], options: argparse.Namespace) -> None:
    """Warnings beside an answer; what generated weather is worth stands, shorter, at the end of a screen."""
    from sowcal.weather.generator import FALLS_SHORT

    on_screen = not (options.out or options.json)
    for warning in warnings:
        if not (on_screen and warning.endswith(FALLS_SHORT)):
            tell(warning)


def said(message: object) -> str:
    """A sentence for the screen, line by line, without the control characters of what it quotes."""
    text = say(message) if isinstance(message, str) else str(message)
    return "\n".join(plain(line) for line in text.split("\n"))
