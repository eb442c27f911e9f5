"""Words of the command line."""

from __future__ import annotations

import argparse
import re
from collections.abc import Callable, Sequence
from importlib import import_module
from pathlib import Path
from typing import Any, NoReturn

import sowcal
from sowcal.commands.common import date_of, show, year_of
from sowcal.errors import InputError
from sowcal.languages import NAMED, SPOKEN
from sowcal.outputs.files import need_form, need_place
from sowcal.outputs.tables import GARDEN_TABLES
from sowcal.outputs.terminal import plain
from sowcal.saved_settings import UNSAID_PLACE
from sowcal.settings import MOST_EVERY, Settings
from sowcal.units import MEASURES

__all__ = ["build", "parse"]

_PAIR = re.compile(r"-\d[\d.]*,\s*-?\d")
_FRESH = "reckon anew; nothing kept is read, nothing is kept"


def _share(text: str) -> float:
    """A share as such or as a percentage: 0.8 or 80."""
    try:
        value = float(text.rstrip("%"))
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is not a number; give a share as 0.8 or 80") from None
    value = value / 100.0 if value > 1.0 else value
    if not 0.0 < value <= 1.0:
        raise argparse.ArgumentTypeError(f"{text} is not between 0 and 1 (or 0 and 100)")
    return value


def _at_least(least: float, what: str) -> Callable[[str], float]:
    """A number that may not be smaller; `what` says in errors of what it is one."""

    def number(text: str) -> float:
        try:
            value = float(text)
        except ValueError:
            value = float("nan")
        if not value >= least or "_" in text:  # float() reads 1_0 as ten
            raise argparse.ArgumentTypeError(f"{text!r} is not a number of {what}, {least:g} or more")
        return value

    return number


def module_of(name: str) -> str:
    """The module of a command: those that only ask a question of a place share one."""
    if name in ("here", "mine", "next", "start"):
        return "mine"
    if name in ("log", "season", "week"):
        return "season"
    return name if name in ("completion", "open", "page", "map", "weather") else "questions"


def _later(name: str):
    """Run a command's module only when it is called for."""

    def run(options: argparse.Namespace) -> int:
        command = getattr(import_module(f"sowcal.commands.{module_of(name)}"), f"{name}_command")
        if not hasattr(options, "fresh"):
            return command(options)
        with import_module("sowcal.kept_files").keeping(not options.fresh):
            return command(options)

    return run


class _Renamed(argparse.Action):
    """An option of an older version, refused with the word that it has now."""

    def __call__(self, parser: argparse.ArgumentParser, *_: object) -> NoReturn:  # type: ignore[override]
        parser.error("--sort is --order now (a sort is what a crop is bred as); write --order family, for example")


def _common(parser: argparse.ArgumentParser, out: str = "") -> None:
    parser.add_argument("--json", action="store_true", help="answer for programs")
    if out:
        _out(parser, out)


def _out(parser: argparse.ArgumentParser, forms: str) -> None:
    parser.add_argument("--out", type=Path, metavar="FILE", help=f"write a file instead: {forms}")
    parser.add_argument("--issued", metavar="YYYY-MM-DD", help="date of issue of what is written (default: today)")
    parser.set_defaults(out_forms=re.findall(r"\.[a-z]+", forms))


def _units(parser: argparse.ArgumentParser) -> None:
    words = "of the answer: si, or us (degF, inches, feet, gallons, pounds); data files and options stay SI"
    parser.add_argument("--units", choices=tuple(MEASURES), metavar="UNITS", help=words)


def _asked(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--fresh", action="store_true", help=_FRESH)
    usual = Settings()
    crops, times = _at_least(0.0, "crops a day"), _at_least(1.0, "times")
    for option, kind, unit, words in (
        ("--reliability", _share, "SHARE", "share of years that succeed"),
        ("--least-yield", _share, "SHARE", "share of a full crop that counts as success"),
        (
            "--near-best",
            _share,
            "SHARE",
            "least worth of an advised start, its yield less its days in the bed, against the best of its season",
        ),
        ("--bed-day", crops, "SHARE", "price of a day in the bed, as a share of a full crop"),
        ("--longest", times, "TIMES", "longest wait for the first picking, in shortest waits of its season"),
    ):
        value = getattr(usual, option[2:].replace("-", "_"))
        parser.add_argument(option, type=kind, default=value, metavar=unit, help=f"{words} (default {value:g})")


def _every(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--every", type=int, choices=range(1, MOST_EVERY + 1), default=1, metavar="DAYS",
        help="walk a start every so many days: quicker; edges of windows may lie a day or two off (default 1)",
    )  # fmt: skip


def _changes(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--with", dest="what_ifs", action="append", default=[], metavar="CHANGE",
        help="what if: shade-cloth=40, mulch, fleece, tunnel, warmer=2, higher=100 ... (may be given again)",
    )  # fmt: skip


def _years(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--years", default="", metavar="YEARS",
        help="years of the record that count: 15 for the last fifteen, 1991:2010 or 2006: for those (default: all)",
    )  # fmt: skip


def _own_crops(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--crops", dest="crop_files", action="append", default=[], metavar="FILE",
        help="your own crops and values, columns as in the handbook (may be given again)",
    )  # fmt: skip


def _all(parser: argparse.ArgumentParser) -> None:
    """Of answers on the grower's crops: all crops instead, and the language in which they are named."""
    parser.add_argument("--all", action="store_true", help="every crop of the handbook, and nothing left out")
    _language(parser)


def _water(parser: argparse.ArgumentParser) -> None:
    words = "most stored water an advised start may draw in a dry year, litres per m2"
    parser.add_argument("--most-water", type=_at_least(0.0, "litres"), metavar="LITRES", help=words)
    parser.add_argument("--rain-fed", action="store_true", help="annuals on rain alone")


def _language(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--language",
        choices=list(dict.fromkeys((*SPOKEN, *NAMED))),
        metavar="LANGUAGE",
        help="of the answer: en, pt or es; these and fr, it, ca, de, el, ar, tr settle what the name of a crop means",
    )


def _screen(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--ascii", action="store_true", help="plain letters only, no Unicode")
    parser.add_argument("--width", type=int, metavar="COLUMNS", help="columns of the screen")
    _units(parser)


class _Parser(argparse.ArgumentParser):
    """A parser that complains as the rest of the program does, in one sentence, and shows help as it does answers."""

    def error(self, message: str) -> NoReturn:
        raise InputError(f"{plain(message)}; '{self.prog} --help' tells what there is")

    def _print_message(self, message: str, file: object = None) -> None:
        show(message.rstrip("\n"))


def _add_climate(commands: Any) -> None:
    p = commands.add_parser("climate", help="what a place is like: frost, heat, chill, rain, water need")
    p.add_argument("words", nargs="*", metavar="SITE")
    _common(p, ".png .svg .pdf .json .csv .xlsx")
    _screen(p)
    _language(p)
    _years(p)
    p.set_defaults(run=_later("climate"))


def _add_rate(commands: Any) -> None:
    p = commands.add_parser("rate", help="what suits a place, or whether one crop does, and why")
    p.add_argument("words", nargs="*", metavar="[SITE] CROP")
    _common(p, ".json .csv .xlsx; for one perennial .png .svg .pdf too")
    _asked(p)
    _water(p)
    _changes(p)
    _own_crops(p)
    _all(p)
    _screen(p)
    _years(p)
    p.set_defaults(run=_later("rate"))


def _add_chart(commands: Any) -> None:
    p = commands.add_parser("chart", help="month-by-month sowing chart")
    p.add_argument("words", nargs="*", metavar="[SITE] CROP")
    _common(p, ".png .svg .pdf .ics .json .csv .xlsx")
    _asked(p)
    _every(p)
    _changes(p)
    _own_crops(p)
    _all(p)
    _screen(p)
    p.add_argument("--full", action="store_true", help="pictures: every crop in full, not a line a crop on one sheet")
    p.add_argument("--landscape", action="store_true", help="lay pictures across the page")
    p.add_argument(
        "--order", choices=["first job", "family", "name"], default="first job", help="order of the crops in pictures"
    )
    p.add_argument("--sort", action=_Renamed, help=argparse.SUPPRESS)
    words = "month the year begins with"
    p.add_argument("--first-month", type=int, choices=range(1, 13), default=1, metavar="MONTH", help=words)
    _water(p)
    words = "year of a calendar file (default: this year)"
    p.add_argument("--year", type=year_of, metavar="YEAR", help=words)
    p.add_argument("--today", action="store_true", help="mark today in pictures")
    p.add_argument("--possible", action="store_true", help="draw crops that are chancy too")
    _years(p)
    p.set_defaults(run=_later("chart"))


def _add_compare(commands: Any) -> None:
    p = commands.add_parser("compare", help="two places side by side, or one beside a printed leaflet")
    p.add_argument("words", nargs="*", metavar="SITE")
    p.add_argument("--leaflet", type=Path, metavar="FILE", help="a printed month table instead (crop,way,months)")
    _common(p, ".png .svg .pdf .json .csv .xlsx")
    _asked(p)
    _changes(p)
    _own_crops(p)
    _all(p)
    _screen(p)
    _years(p)
    p.set_defaults(run=_later("compare"))


def _add_garden(commands: Any) -> None:
    p = commands.add_parser("garden", help="how many plants, how much bed and water, and how long the store lasts")
    p.add_argument("words", nargs="*", metavar="GARDEN")
    _common(p, ".png .svg .pdf .csv .xlsx .ics .json")
    p.add_argument("--fresh", action="store_true", help=_FRESH)
    p.add_argument("--all", action="store_true", help="every table, the diary and all cautions")
    words = "one table, on the screen or as --out FILE.csv (default there: diary)"
    p.add_argument("--table", choices=tuple(GARDEN_TABLES), help=words)
    _screen(p)
    _years(p)
    p.set_defaults(run=_later("garden"))


def _add_week(commands: Any) -> None:
    p = commands.add_parser("week", help="what is sown, set out, planted and picked this week")
    p.add_argument("words", nargs="*", metavar="[SITE] CROP")
    _common(p, ".ics .json .csv .xlsx")
    p.add_argument("--date", metavar="YYYY-MM-DD", help="a day of the week (default: today)")
    p.add_argument("--ahead", type=int, default=0, metavar="WEEKS", help="weeks after it to look at too (default 0)")
    _water(p)
    _asked(p)
    _changes(p)
    _own_crops(p)
    _all(p)
    _screen(p)
    _years(p)
    p.set_defaults(run=_later("week"))


def _add_log(commands: Any) -> None:
    p = commands.add_parser("log", help="write down what was sown, seen and picked; nothing: show the log")
    p.add_argument(
        "words",
        nargs="*",
        metavar="EVENT [CROP] [AMOUNT]",
        help="sown under cover, came up, set out, sown outdoors, planted, first picked, picked, watered, tank, "
        "cleared, lost; an amount is kilograms picked, litres given or in the tank",
    )
    _common(p)
    p.add_argument("--date", metavar="DAY", help="2026-03-20, 20 Mar, yesterday, 3 days ago (default: today)")
    p.add_argument("--bed", metavar="BED", help="its bed")
    p.add_argument("--plants", metavar="N", help="how many plants")
    p.add_argument("--sort", metavar="NAME", help="what the crop is bred as, as on the packet")
    p.add_argument("--amount", metavar="N", help="kilograms picked; litres given, or in the tank")
    p.add_argument("--note", metavar="TEXT", help="anything else")
    p.add_argument("--site", metavar="SITE", help="whose log it is (default: your own place)")
    p.add_argument("--undo", action="store_true", help="take the last line away")
    p.add_argument("--add", metavar="FILE", help="add the lines of another log that this one lacks")
    p.set_defaults(run=_later("log"))


def _add_season(commands: Any) -> None:
    p = commands.add_parser("season", help="how what you have sown stands, when it is ready, what is due")
    p.add_argument("words", nargs="*", metavar="SITE")
    _common(p, ".png .svg .pdf .csv .xlsx .ics .json")
    p.add_argument("--date", metavar="YYYY-MM-DD", help="the day for which it is told (default: today)")
    p.add_argument("--year", type=year_of, metavar="YEAR", help="a growing year afterwards, crop by crop")
    p.add_argument("--garden", metavar="GARDEN", help="garden file of the beds (default: the one the place names)")
    p.add_argument("--recent", metavar="FILE", help="days measured on the plot after the record's last")
    p.add_argument("--forecast", metavar="FILE", help="days to come, from elsewhere")
    _asked(p)
    _changes(p)
    _own_crops(p)
    _screen(p)
    _years(p)
    p.set_defaults(run=_later("season"))


def _add_page(commands: Any) -> None:
    p = commands.add_parser("page", help="all of it on one page that works offline and on a phone")
    p.add_argument("words", nargs="*", metavar="[SITE [SITE]] CROP")
    _out(p, ".html")
    _units(p)
    _asked(p)
    _water(p)
    _changes(p)
    _own_crops(p)
    _all(p)
    p.add_argument(
        "--first-month", type=int, choices=range(1, 13), default=1, metavar="MONTH", help="month the year begins with"
    )
    p.add_argument(
        "--try", dest="tries", action="append", default=[], metavar="CHANGE",
        help="show beside it what a change would do: shade-cloth=40, fleece ... (may be given again)",
    )  # fmt: skip
    p.add_argument(
        "--garden", metavar="GARDEN", help="show this garden too, a bundled one or a file; its site where none is named"
    )
    p.add_argument("--week", metavar="YYYY-MM-DD", help="tell the jobs of the week from this day on too")
    _years(p)
    p.set_defaults(run=_later("page"))


def _add_open(commands: Any) -> None:
    p = commands.add_parser("open", help="the page on this machine alone, with other places, what-ifs, garden and log")
    p.add_argument("words", nargs="*", help=argparse.SUPPRESS)
    p.add_argument("--folder", metavar="DIR", help="where its files lie (default: that of your place, else documents)")
    p.add_argument("--no-browser", action="store_true", help="print the address only")
    p.add_argument("--shortcut", action="store_true", help="write what starts it without a terminal, and end")
    p.add_argument("--idle", type=_at_least(2.0, "minutes"), default=20.0, metavar="MINUTES", help="ends unasked (20)")
    p.add_argument("--issued", metavar="YYYY-MM-DD", help="the day that is taken for today")
    p.set_defaults(run=_later("open"))


def _add_map(commands: Any) -> None:
    p = commands.add_parser("map", help="a crop over a whole grid of daily weather (NetCDF or Zarr)")
    p.add_argument("words", nargs="*", metavar="GRID CROP", help="a grid file; then one or more crops")
    _out(p, ".png .svg .pdf .nc .zarr")
    _units(p)
    p.add_argument("--chill", action="store_true", help="chill portions of the winters instead of a crop")
    _asked(p)
    _every(p)
    _changes(p)
    _own_crops(p)
    p.add_argument(
        "--variable", dest="variables", action="append", default=[], metavar="NAME=IN_FILE",
        help="which variable of the file is tasmin or tasmax, where it does not tell (may be given again)",
    )  # fmt: skip
    p.add_argument("--workers", type=int, metavar="N", help="processes to work with (default: as the work asks for)")
    p.add_argument("--cluster", metavar="ADDRESS", help="work on the dask cluster at this address instead")
    p.add_argument("--block", type=int, metavar="CELLS", help="most cells worked out at once (default: some 64)")
    p.set_defaults(run=_later("map"))


def _add_weather(commands: Any) -> None:
    p = commands.add_parser("weather", help="fetch, check, export and compare daily weather")
    p.add_argument("action", choices=["fetch", "list", "clear", "check", "export", "offset", "trend", "chill"])
    p.add_argument(
        "words",
        nargs="*",
        metavar="[SITE] [OWN.csv]",
        help="a site; for fetch also a station's id; for clear a station's id",
    )
    _common(p, "check .png .svg .pdf .json; export .nc .csv; offset .json .nc .csv; trend, chill .json")
    _screen(p)
    p.add_argument(
        "--years",
        default="",
        metavar="YEARS",
        help="for fetch and chill, how many years to fetch; for check, export and trend, years of the record: 15, "
        "1991:2010, 2006:",
    )
    p.set_defaults(run=_later("weather"))


def _add_crops(commands: Any) -> None:
    p = commands.add_parser("crops", help="where each crop's numbers come from")
    p.add_argument("words", nargs="*", metavar="CROP")
    _common(p, ".csv .xlsx .json")
    _language(p)
    _own_crops(p)
    p.add_argument("--basis", action="store_true", help="how much of the handbook is published, practice, memory")
    p.add_argument("--bibtex", action="store_true", help="the sources as BibTeX, of the crops named or of all")
    p.set_defaults(run=_later("crops"))


def _add_here(commands: Any) -> None:
    p = commands.add_parser("here", help="remember your place, which stands where no SITE is named; or tell it")
    p.add_argument("words", nargs="*", metavar="SITE")
    _language(p)
    _units(p)
    _common(p)
    p.add_argument("--forget", action="store_true", help="remember no place any more")
    p.set_defaults(run=_later("here"))


def _add_mine(commands: Any) -> None:
    p = commands.add_parser("mine", help="remember your crops, which stand where no CROP is named; or tell them")
    p.add_argument(
        "words",
        nargs="*",
        metavar="add CROP | remove CROP | from GARDEN",
        help="from: those of a garden file, in place of what was there; nothing: show the list",
    )
    _common(p)
    p.add_argument("--forget", action="store_true", help="remember no crops any more")
    p.set_defaults(run=_later("mine"))


def _add_start(commands: Any) -> None:
    p = commands.add_parser("start", help="answer a few questions: a site file is written, place and crops remembered")
    p.add_argument("words", nargs="*", metavar="FILE", help="the site file to write (default: my-plot.toml)")
    _units(p)
    p.add_argument("--over", action="store_true", help="write over a file that is there")
    p.set_defaults(run=_later("start"))


def _add_completion(commands: Any) -> None:
    p = commands.add_parser("completion", help="what a shell needs to complete commands, plots and crops")
    p.add_argument("shell", nargs="?", choices=("bash", "zsh"), help="nothing: the line to add to its settings")
    p.set_defaults(run=_later("completion"), words=[])


def _add_next(commands: Any) -> None:
    """What a call without any word stands for."""
    commands.add_parser("next").set_defaults(run=_later("next"), words=[])


def build() -> argparse.ArgumentParser:
    top = _Parser(
        prog="sowcal",
        description="Which crops a place carries, when to sow, set out and pick them, and how sure that is.",
        epilog="SITE: a bundled plot, a site or CSV file, or LAT,LON; left out, your own (sowcal here), "
        f"else {UNSAID_PLACE}. CROP left out: your own (sowcal mine), else some twenty usual ones; --all: every crop.",
    )
    top.add_argument("--version", action="version", version=f"sowcal {sowcal.__version__}")
    commands = top.add_subparsers(dest="command", required=True, metavar="COMMAND")
    for add in (
        _add_start,
        _add_here,
        _add_mine,
        _add_climate,
        _add_rate,
        _add_chart,
        _add_compare,
        _add_garden,
        _add_week,
        _add_log,
        _add_season,
        _add_page,
        _add_open,
        _add_map,
        _add_weather,
        _add_crops,
        _add_completion,
        _add_next,
    ):
        add(commands)
    return top


def parse(arguments: Sequence[str]) -> argparse.Namespace:
    """Options of one call, of `next` where it has no word; a southern or western LAT,LON pair is no option.

    Names may stand before, between and after the options, which argparse by itself does not allow below a command.
    """
    parser = build()
    options, left = parser.parse_known_args([f" {a}" if _PAIR.match(a) else a for a in arguments or ["next"]])
    if unknown := [word for word in left if word.startswith("-")]:
        parser.error(f"unrecognized arguments: {' '.join(unknown)}")
    options.words += left
    # told before the work is done, not after
    if getattr(options, "out", None):
        need_form(options.out, options.out_forms)
        need_place(options.out)
    date_of(getattr(options, "issued", None), "--issued")
    return options
