"""`sowcal weather`: fetch, list, clear, check, export, offset, trend, chill."""

from __future__ import annotations

import argparse
import re
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sowcal.commands.common import (
    columns,
    issued,
    own_place,
    print_json,
    say_used,
    show,
    site_and_crops,
    tell,
    unicode_screen,
)
from sowcal.errors import InputError
from sowcal.outputs import reports as text
from sowcal.provenance import MadeBy

if TYPE_CHECKING:
    from sowcal.weather.record import DailyRecord
    from sowcal.weather.site_file import Site

__all__ = ["ACTIONS", "weather_command"]

_STATION = re.compile(r"[A-Z0-9]{5}")


def weather_command(options: argparse.Namespace) -> int:
    """Do what the call's first word says."""
    ACTIONS[options.action](options)
    return 0


def _site(options: argparse.Namespace, most: int = 0) -> tuple[str, list[str]]:
    """The site of the call and the words after it, of which there may be `most`."""
    site, rest = site_and_crops(options)
    if len(rest) > most:
        raise InputError(f"{rest[0]!r} is no site; give a bundled plot, a file or LAT,LON")
    return site, rest


def _open(options: argparse.Namespace, site: str, **keywords: Any) -> tuple[Site, DailyRecord]:
    from sowcal.weather.findings import refuse_other_hemisphere
    from sowcal.weather.open_site import open_weather

    place, record = open_weather(site, **keywords)
    say_used(options)
    if options.action not in ("check", "fetch"):  # the one reports it, the other only keeps days
        refuse_other_hemisphere(record, site)
    for warning in record.warnings:
        tell(warning)
    return place, record


def _made_by(record: DailyRecord) -> MadeBy:
    return MadeBy(records=(record.fingerprint,))


def _told(answer: dict[str, Any], record: DailyRecord) -> dict[str, Any]:
    """An answer with the record that it was made from."""
    return {**answer, "made_by": _made_by(record).to_json()}


def _screen(options: argparse.Namespace) -> dict[str, Any]:
    return {"width": columns(options), "unicode": unicode_screen(options)}


def _no_out(options: argparse.Namespace) -> None:
    if options.out:
        raise InputError(f"'sowcal weather {options.action}' writes no file; leave --out away")


def _no_years(options: argparse.Namespace) -> None:
    if options.years:
        raise InputError(f"'sowcal weather {options.action}' asks for no years; leave --years away")


def _to_fetch(options: argparse.Namespace) -> int | None:
    """How many years to fetch; None where that is left to the site."""
    text = str(options.years or "").strip()
    if text and not (text.isdecimal() and text.isascii() and len(text) <= 3):
        raise InputError(f"{text!r} is no number of years to fetch; write 15, for example", where="--years")
    return int(text) if text else None


def _of_years(options: argparse.Namespace, record: DailyRecord) -> DailyRecord:
    """The record, or the years of it that are asked for."""
    from sowcal.weather.years import chosen_years

    return chosen_years(record, options.years, "--years") if options.years else record


def _write(options: argparse.Namespace, record: DailyRecord) -> None:
    from sowcal.weather.export import export_record

    export_record(record, Path(options.out))
    tell(f"wrote {options.out}")


def _fetch(options: argparse.Namespace) -> None:
    from sowcal.weather.cf_dataset import attributes_of
    from sowcal.weather.stations import get_station

    _no_out(options)
    years = _to_fetch(options)
    word = options.words[0].strip() if options.words else ""
    if len(options.words) == 1 and _STATION.fullmatch(word) and not Path(word).exists():
        record = get_station(word, years=years or 30)
        for warning in record.warnings:
            tell(warning)
    else:
        if not options.words and not own_place(options):
            raise InputError("name what to fetch: LAT,LON, a site file with source = 'station', or a station's id")
        site, _ = _site(options)
        place, record = _open(options, site, longest_gap=0, years=years, at_plot=False)
        if place.weather.get("source") != "station":
            raise InputError(f"{site!r} has its weather from {place.weather.get('source')}; there is nothing to fetch")
    days = [str(record.time[k]) for k in (0, -1)]
    said = attributes_of(record)
    if options.json:
        keys = ("source", "station", "station_distance_km", "station_elevation", "fetched", "licence", "attribution")
        plain = {k: said.get(k) for k in keys if k in said or k == "station_elevation"}
        print_json(_told({"record": {"first": days[0], "last": days[1]}, **plain}, record))
    else:
        show(text.record_lines(said, *days, **_screen(options)))


def _list(options: argparse.Namespace) -> None:
    from sowcal.kept_files import cache_folder
    from sowcal.weather.cache import kept_records

    _no_out(options)
    _no_years(options)
    if options.words:
        raise InputError("'sowcal weather list' takes no further words")
    records = kept_records()
    if options.json:
        keys = ("station", "what", "name", "first", "last", "fetched", "size", "sound")
        answer = {"folder": str(cache_folder()), "records": [{k: getattr(r, k) for k in keys} for r in records]}
        print_json({**answer, "made_by": MadeBy().to_json()})
    else:
        show(text.kept_text(records, str(cache_folder()), **_screen(options)))


def _clear(options: argparse.Namespace) -> None:
    from sowcal.weather.cache import clear

    _no_out(options)
    _no_years(options)
    removed = sum(clear(word.strip()) for word in options.words) if options.words else clear()
    if options.json:
        print_json({"removed": removed, "made_by": MadeBy().to_json()})
    else:
        show(f"{removed} kept {'record' if removed == 1 else 'records'} removed")


def _check(options: argparse.Namespace) -> None:
    from sowcal.weather.quality import quality_report

    site, _ = _site(options)
    record = _of_years(options, _open(options, site, at_plot=False)[1])
    report = quality_report(record, issued(options))
    answer = _told(report.to_json(), record)
    if options.out:
        from sowcal.outputs.figure_climate import quality_figures
        from sowcal.outputs.files import write_output

        for path in write_output(options.out, figures=lambda: quality_figures(report, _made_by(record)), answer=answer):
            tell(f"wrote {path}")
    elif options.json:
        print_json(answer)
    else:
        show(text.quality_text(report, **_screen(options)))
        show(_made_by(record).short())


def _export(options: argparse.Namespace) -> None:
    if not options.out:
        raise InputError("name the file to write, such as --out record.nc or --out record.csv")
    site, _ = _site(options)
    _write(options, _of_years(options, _open(options, site)[1]))


def _answer(options: argparse.Namespace, answer: Any, record: DailyRecord, words: Callable[[], str]) -> None:
    """An answer to a file, as JSON, or in words with what it was made with."""
    if options.out:
        from sowcal.outputs.files import write_output

        for path in write_output(options.out, answer=answer):
            tell(f"wrote {path}")
    elif options.json:
        print_json(answer)
    else:
        show(words())
        show(_made_by(record).short())


def _offset(options: argparse.Namespace) -> None:
    from sowcal.weather.offset import station_offset, with_offset
    from sowcal.weather.open_site import read_record

    _no_years(options)
    if len(options.words) == 1 and (mine := own_place(options)):
        options.words.insert(0, mine)
    if len(options.words) != 2:
        raise InputError("give the site and the file of your own readings: sowcal weather offset SITE OWN.csv")
    own = Path(options.words[1].strip())
    site, _ = _site(options, most=1)
    place, record = _open(options, site, longest_gap=0, at_plot=False)
    report = station_offset(record, read_record(own))
    answer = _told(report.to_json(), record)
    if options.out and Path(options.out).suffix.lower() != ".json":
        _write(options, with_offset(record, report))
    else:
        _answer(options, answer, record, lambda: text.offset_text(report, place.name, **_screen(options)))


def _trend(options: argparse.Namespace) -> None:
    from sowcal.weather.years import trends

    site, _ = _site(options)
    place, record = _open(options, site, longest_gap=0)
    record = _of_years(options, record)
    found = trends(record)
    answer = _told({"site": place.name, "trends": [t.to_json() for t in found]}, record)
    _answer(options, answer, record, lambda: text.trend_text(found, place.name, **_screen(options)))


def _chill(options: argparse.Namespace) -> None:
    from sowcal.climate.place_figures import chill_definitions
    from sowcal.climate.summary import chill_both_ways

    site, _ = _site(options)
    asked = _to_fetch(options)
    place, record = _open(options, site, longest_gap=0, years=asked, at_plot=False)
    if place.weather.get("source") != "station":
        raise InputError(f"{site!r} has no hourly values; they come with source = 'station' under [weather]")
    if record.hours is None:
        from sowcal.weather.station_hours import get_station_hours

        years = asked or place.weather.get("years", 30)
        assert record.station is not None
        hours = get_station_hours(record.station.id, years=years, elevation=place.elevation)
        for warning in hours.warnings:
            tell(warning)
        record = hours.beside(record)
    found = chill_both_ways(record)
    assert record.station is not None
    named = {"site": place.name, "station": record.station.id}
    meant = chill_definitions(place.latitude)
    sentences = {model: d.sentence for model, d in meant.items()}
    answer = _told({**named, "chill": [f.to_json() for f in found], "definitions": sentences}, record)
    _answer(options, answer, record, lambda: text.chill_text(found, place.name, meant, **_screen(options)))


ACTIONS = {
    "fetch": _fetch,
    "list": _list,
    "clear": _clear,
    "check": _check,
    "export": _export,
    "offset": _offset,
    "trend": _trend,
    "chill": _chill,
}
