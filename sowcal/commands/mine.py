"""`sowcal here`, `sowcal mine` and `sowcal start`: a grower's own place and crops, said once."""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

from sowcal.commands.common import own_names, own_place, print_json, show, sites_and_crops, tell
from sowcal.crops.handbook import named_crops
from sowcal.errors import InputError
from sowcal.files import plain_number
from sowcal.languages import counted
from sowcal.outputs.terminal import plain, wrap
from sowcal.provenance import MadeBy
from sowcal.saved_settings import UNSAID_CROPS, UNSAID_PLACE, USUAL_CROPS, Remembered, Value, recall, remember

__all__ = ["described_place", "here_command", "mine_command", "next_command", "remember_place", "start_command"]

_WIDTH = 100


def _say(text: str) -> None:  # paths are shown as they are: a wrapped one could not be copied
    show("\n".join(wrap(plain(text), _WIDTH)))


def _listed(crops: Sequence[str]) -> str:
    return "\n".join(wrap(", ".join(map(plain, crops)), _WIDTH, first="  ", later="  "))


def _told(kept: Remembered) -> Remembered:
    for note in kept.notes:
        tell(note)
    return kept


def _said_how(options: argparse.Namespace) -> dict[str, str]:
    """How answers are to be told from now on, as far as the call says it."""
    return {key: said for key in ("language", "units") if (said := getattr(options, key))}


def here_command(options: argparse.Namespace) -> int:
    """Remember a place, forget it, or tell it."""
    words = [w.strip() for w in options.words]
    if options.forget:
        if words:
            raise InputError(f"--forget takes no place; leave {words[0]!r} away")
        kept = _told(remember(lambda _: {"here": None}))
    elif words:
        kept = _told(remember_place(" ".join(words)))
    elif told := _said_how(options):
        kept = _told(remember(lambda _: told))
    else:
        kept = recall()  # its notes are told as the place is looked up
    if words and (told := _said_how(options)):
        kept = remember(lambda _: told)
    place = own_place(options) if not words and not options.forget else kept.here
    name = _name(place) if place else None
    if options.json:
        answer = {"settings": str(kept.path), "here": kept.here or None, "site": name}
        print_json({**answer, "made_by": MadeBy().to_json()})
    elif name is None:
        _say(f"No place is remembered; {UNSAID_PLACE} stands in. Say one: sowcal here my-plot.toml, or: sowcal start")
    else:
        show(plain(f"{name}: {kept.here}"))
        show(plain(f"Commands take it where no place is named; kept in {kept.path}"))
    return 0


def _name(place: str) -> str:
    """Name of a place, without its weather."""
    from sowcal.weather.site_file import bundled_names, bundled_site, read_site_file

    if place.lower() in bundled_names():
        return bundled_site(place).name
    if Path(place).suffix.lower() == ".toml":
        return read_site_file(place).name
    return Path(place).stem if os.path.lexists(place) else place


def remember_place(word: str) -> Remembered:
    """Remember a place that can be opened, a file by its whole path.

    Raises
    ------
    InputError
        For what is no site, or a file whose weather cannot be used; nothing changes then.
    """
    from sowcal.weather.open_site import open_weather
    from sowcal.weather.record import check_place
    from sowcal.weather.site_file import bundled_names, read_site_file

    sites, _ = sites_and_crops([word], 1)
    if not sites:
        raise InputError(f"{word!r} is no site; give a bundled plot, a file or LAT,LON")
    place = sites[0]
    if place.lower() in bundled_names():
        place = place.lower()
    elif not os.path.lexists(place):
        latitude, longitude = map(float, place.split(","))
        check_place(latitude, longitude)
    else:
        place = os.path.abspath(place)
        # a station's days are fetched when they are asked for, not before
        if Path(place).suffix.lower() != ".toml" or read_site_file(place).weather["source"] != "station":
            open_weather(place)
    return remember(lambda _: {"here": place})


def mine_command(options: argparse.Namespace) -> int:
    """Tell the list of crops, or change it."""
    words = [w.strip() for w in options.words]
    if options.forget:
        if words:
            raise InputError(f"--forget takes no crops; to take out some: sowcal mine remove {' '.join(words)}")
        kept, said = remember(lambda _: {"mine": None}), ""
    elif words:
        action, crops = words[0].lower(), words[1:]
        if action not in _ACTIONS:
            raise InputError(f"{words[0]!r} is none of add, remove and from; for example: sowcal mine add {words[0]}")
        if not crops:
            raise InputError(
                f"name what to {_ACTIONS[action][1]}, for example: sowcal mine {action} {_ACTIONS[action][2]}"
            )
        kept, said = _ACTIONS[action][0](crops)
    else:
        kept, said = recall(), ""
    _told(kept)
    names = list(dict.fromkeys(crop for name in kept.mine for crop in own_names(kept, name, [])))
    if options.json:
        print_json({"settings": str(kept.path), "crops": names, "made_by": MadeBy().to_json()})
        return 0
    if said:
        _say(said)
    if names:
        show(plain(f"Your {counted(len(names), 'crop')}, kept in {kept.path}:"))
        show(_listed(names))
    else:
        _say(
            f"No crops are remembered; {counted(len(UNSAID_CROPS), 'usual crop')} stand in: {', '.join(UNSAID_CROPS)}. "
            "Say yours, for example: sowcal mine add tomato leek"
        )
    return 0


def _crops_of(words: Sequence[str]) -> list[str]:
    """Names of the crops that words mean; InputError for a word that means none."""
    from sowcal.answers import open_handbook

    return [crop.name for crop in named_crops(open_handbook(), words)]


def add_crops(words: Sequence[str]) -> tuple[Remembered, str]:
    """Add crops to the list; what came of it, in a sentence."""
    wanted = _crops_of(words)
    new: list[str] = []

    def added(kept: Remembered) -> Mapping[str, Value]:
        new[:] = [crop for crop in wanted if crop not in kept.mine]
        return {"mine": (*kept.mine, *new)} if new else {}

    kept = remember(added)
    old = [crop for crop in wanted if crop not in new]
    said = [f"Added: {', '.join(new)}."] if new else []
    return kept, " ".join([*said, *([f"In it already: {', '.join(old)}."] if old else [])])


def _remove(words: Sequence[str]) -> tuple[Remembered, str]:
    """Take crops out of the list, also by a name that the handbook does not have."""
    gone: list[str] = []

    def removed(kept: Remembered) -> Mapping[str, Value]:
        whole = " ".join(words)
        as_written = {name for name in kept.mine if name.casefold() == whole.casefold() or name in words}
        rest = (
            []
            if any(n.casefold() == whole.casefold() for n in as_written)
            else [w for w in words if w not in as_written]
        )
        meant = {*as_written, *(_crops_of(rest) if rest else ())}
        gone[:] = [name for name in kept.mine if name in meant]
        if not gone:
            raise InputError(f"{whole!r} is not in your list; `sowcal mine` shows it", where=str(kept.path))
        left = tuple(name for name in kept.mine if name not in meant)
        return {"mine": left or None}

    return remember(removed), f"Removed: {', '.join(gone)}."


def _from_garden(words: Sequence[str]) -> tuple[Remembered, str]:
    """Take the crops of a garden file for the list; what leaves the list by it is told."""
    from sowcal.garden.garden_file import open_garden

    word = " ".join(words)
    garden = open_garden(word)
    if not garden.crops:
        raise InputError("this garden names no crops, it has them suggested; write crops = [...] in it", where=word)
    try:
        names = tuple(dict.fromkeys(name for crop in garden.crops for name in _crops_of([crop])))
    except InputError as problem:
        raise InputError(problem.message, where=word) from None
    left: list[str] = []

    def taken(kept: Remembered) -> Mapping[str, Value]:
        left[:] = [name for name in kept.mine if name not in names]
        return {"mine": names}

    kept = remember(taken)
    out = f" Not in it any more: {', '.join(left)}." if left else ""
    return kept, f"Your list is that of {garden.name}.{out}"


_ACTIONS: dict[str, tuple[Callable[[Sequence[str]], tuple[Remembered, str]], str, str]] = {
    "add": (add_crops, "add", "tomato leek"),
    "remove": (_remove, "remove", "leek"),
    "from": (_from_garden, "take it from", "my.garden.toml"),
}

_PATIENCE = 5  # refusals of one question; who sends the same line for ever is not left to it


def _ask(question: str, example: str, check: Callable[[str], Any]) -> Any:
    """Put a question until its answer passes the check; the reason is told each time.

    Raises
    ------
    InputError
        Where the answers end, or are refused time and again.
    """
    for _ in range(_PATIENCE):
        _say(f"{question} (for example: {example})")
        try:
            line = sys.stdin.readline(100_000) if sys.stdin is not None else ""
        except UnicodeDecodeError:
            raise InputError("the answers are not UTF-8 text; nothing was written", where="standard input") from None
        if not line:
            raise InputError(
                f"the answers ended before this one: {question}; nothing was written", where="standard input"
            )
        try:
            return check(line.strip())
        except InputError as problem:
            tell(problem)
    raise InputError(f"no answer of {_PATIENCE} would do for: {question}; nothing was written")


def _place_name(text: str) -> str:
    if not text or not text.isprintable() or len(text) > 100:
        raise InputError("give a name of 1 to 100 letters")
    return text


def _number(text: str, least: float, most: float, what: str) -> float:
    try:
        value = plain_number(text)
    except ValueError:
        raise InputError(f"{text!r} is no number; write {what} in figures, with a point for decimals") from None
    if not least <= value <= most:
        raise InputError(f"{what} is {value:g}; it must lie between {least:g} and {most:g}")
    return value


def _degrees(text: str) -> tuple[float, float]:
    parts = text.replace(",", " ").split()
    if len(parts) != 2:
        raise InputError(f"{text!r} is not a pair; write latitude, comma, longitude, with points for decimals")
    return _number(parts[0], -90, 90, "latitude"), _number(parts[1], -180, 180, "longitude")


def _twelve(text: str, least: float, most: float, what: str) -> list[float]:
    parts = text.replace(",", " ").replace(";", " ").split()
    if len(parts) != 12:
        raise InputError(f"these are {counted(len(parts), 'number')}; twelve are needed, January first")
    return [_number(part, least, most, what) for part in parts]


def _source(text: str) -> str:
    kinds = {"1": "file", "2": "normals", "an almanac": "normals", "almanac": "normals", "3": "station"}
    kind = kinds.get(text.lower(), text.lower())
    if kind not in kinds.values():
        raise InputError(f"{text!r} is none of the three; answer 1, 2 or 3")
    return kind


def _unit(text: str) -> str:
    units = {"degc": "degC", "c": "degC", "degf": "degF", "f": "degF", "k": "K"}
    if text.lower() not in units:
        raise InputError(f"{text!r} is no unit of temperature known here; answer degC, degF or K")
    return units[text.lower()]


def _grown(text: str) -> list[str]:
    if text.lower() == "usual":
        return list(USUAL_CROPS)
    out: list[str] = []
    for part in text.replace(";", ",").split(","):
        out += _crops_of(part.split()) if part.strip() else []
    return list(dict.fromkeys(out))


def _normals(head: str, target: Path) -> list[str]:
    """Lines of the table of weather with twelve monthly normals of each kind, asked for one by one."""
    low = _ask(
        "Mean daily minimum of each month, degC, January to December?",
        "2 2 4 6 10 14 17 17 14 10 5 2",
        lambda text: _twelve(text, -60, 60, "a minimum"),
    )

    def above(text: str) -> list[float]:
        high = _twelve(text, -60, 60, "a maximum")
        if colder := [k for k, (a, b) in enumerate(zip(low, high, strict=True)) if b <= a]:
            raise InputError(f"the maximum of month {colder[0] + 1} is not above its minimum, {low[colder[0]]:g}")
        return high

    high = _ask("Mean daily maximum of each month, degC?", "13 15 18 20 25 31 35 35 30 23 17 13", above)
    rain = _ask("Rain of each month, mm?", "72 62 54 44 30 10 2 4 26 62 78 76", lambda t: _twelve(t, 0, 3000, "rain"))

    def lines(text: str) -> list[str]:
        wet = _twelve(text, 0, 31, "a number of days")
        rows = {"tasmin": (low, "degC"), "tasmax": (high, "degC"), "pr": (rain, "mm"), "wet_days": (wet, "days")}
        out = _normals_lines(rows)
        _opens(head + "\n".join(out), target)
        return out

    return _ask("Days with 1 mm of rain or more, of each month?", "9 8 8 7 5 2 0.5 0.7 3 7 9 10", lines)


def _normals_lines(rows: Mapping[str, tuple[Sequence[float], str]]) -> list[str]:
    """Lines of the table of weather of twelve monthly means of each kind, with their units."""
    said = [f"{key} = [{', '.join(f'{v:g}' for v in values)}]  # {unit}" for key, (values, unit) in rows.items()]
    return ["[weather]", 'source = "normals"', "# monthly means, January first; wet days have 1 mm or more", *said]


def _file_lines(named: str, unit: str) -> list[str]:
    return [
        "[weather]",
        'source = "file"',
        f"file = {json.dumps(named, ensure_ascii=False)}  # days with minimum and maximum",
        f'temperature_unit = "{unit}"',
    ]


_STATION_LINES = ["[weather]", 'source = "station"  # the nearest one; a line such as id = "..." names another']


def described_place(said: Mapping[str, str], target: Path) -> str:
    """The text of a site file from the answers to the questions of `sowcal start`, checked as they are there.

    Parameters
    ----------
    said : mapping
        `name`, `degrees`, `height`; `record`, a file in the folder of `target`, with its `unit`; or the normals
        `tasmin`, `tasmax`, `pr` and `wet_days`, twelve numbers each; with neither the nearest station is taken.
    target : pathlib.Path
        The site file that it is to be.

    Raises
    ------
    InputError
        For an answer that will not do, or a file of which no weather can be made.
    """
    latitude, longitude = _degrees(said.get("degrees", ""))
    height = _number(said.get("height", ""), -500, 9000, "the height")
    head = _head_text(_place_name(said.get("name", "").strip()), latitude, longitude, height)
    normals = {key: said.get(key, "").strip() for key in ("tasmin", "tasmax", "pr", "wet_days")}
    if record := said.get("record", ""):
        lines = _file_lines(record, _unit(said.get("unit", "degC")))
    elif any(normals.values()):
        low, high = (_twelve(normals[key], -60, 60, "a temperature") for key in ("tasmin", "tasmax"))
        rain, wet = _twelve(normals["pr"], 0, 3000, "rain"), _twelve(normals["wet_days"], 0, 31, "a number of days")
        rows = {"tasmin": (low, "degC"), "tasmax": (high, "degC"), "pr": (rain, "mm"), "wet_days": (wet, "days")}
        lines = _normals_lines(rows)
    else:
        lines = _STATION_LINES
    text = head + "\n".join(lines) + "\n"
    _opens(text, target)
    return text


def _weather_lines(head: str, target: Path) -> list[str]:
    """Lines of the table of weather: where the daily temperatures come from."""
    kind = _ask(
        "Where do its temperatures come from: 1 a file of your thermometer or station, 2 an almanac's monthly normals, "
        "3 the nearest station with a long record (fetched once)?",
        "1",
        _source,
    )
    if kind == "normals":
        return _normals(head, target)
    if kind == "station":
        return _STATION_LINES

    def record(text: str) -> list[str]:
        path = Path(os.path.abspath(os.path.expanduser(text)))
        if not text or not os.path.isfile(path):
            raise InputError(f"there is no file {text!r}; check the name and the folder")
        unit = _ask("In what unit are its temperatures?", "degC", _unit)
        inside = target.parent in path.parents
        lines = _file_lines((path.relative_to(target.parent) if inside else path).as_posix(), unit)
        _opens(head + "\n".join(lines), target)
        return lines

    return _ask("Which file holds the days, with date, minimum and maximum?", "my-record.csv", record)


def _opens(text: str, target: Path) -> None:
    """Nothing where a site file of this text can be used; else an InputError."""
    from sowcal.weather.open_site import site_weather
    from sowcal.weather.site_file import parse_site

    site = parse_site(text, where=str(target), path=target)
    if site.weather["source"] != "station":
        site_weather(site)


def _head(target: Path) -> str:
    """The first lines of a site file: what the place is called and where it lies."""
    name = _ask("What is the place called?", "Upper terrace", _place_name)
    latitude, longitude = _ask(
        "Where is it? Latitude, longitude in degrees, south and west with a minus", "38.4, -8.1", _degrees
    )
    height = _ask("How high does it lie, m above the sea?", "85", lambda text: _number(text, -500, 9000, "the height"))
    return _head_text(name, latitude, longitude, height)


def _head_text(name: str, latitude: float, longitude: float, height: float) -> str:
    return "\n".join(
        [
            "# A place and where its weather comes from, written by `sowcal start`; edit it as you like.",
            f"name = {json.dumps(name, ensure_ascii=False)}",
            f"latitude = {latitude:.12g}  # degrees north, south is negative",
            f"longitude = {longitude:.12g}  # degrees east, west is negative",
            f"elevation = {height:g}  # m above the sea",
            '# garden = "my.garden.toml"  # its garden file, for `sowcal garden`; found from this folder',
            "",
            "",
        ]
    )


def start_command(options: argparse.Namespace) -> int:
    """Ask for a first place and its crops, write the site file, remember both, and tell what to call next."""
    from sowcal.outputs.files import need_form, need_place, write_text

    target = Path(os.path.abspath(" ".join(w.strip() for w in options.words) or "my-plot.toml"))
    need_form(target, [".toml"])
    need_place(target)
    if os.path.lexists(target) and not options.over:
        raise InputError(
            "there is a file of this name; name another, or say --over to write over it", where=str(target)
        )
    recall()  # settings that cannot be read are told before the questions, not after them
    head = _head(target)
    text = head + "\n".join(_weather_lines(head, target)) + "\n"
    _opens(text, target)
    crops = _ask(
        "What do you grow, or mean to? Names with commas; `usual` for some twenty usual ones; empty for later",
        "tomato, leek, broad bean",
        _grown,
    )
    write_text(target, text)
    show(plain(f"Wrote {target}"))
    units = {"units": options.units} if options.units else {}
    remember(lambda _: {"here": str(target), **units})
    if crops:
        kept, _ = add_crops(crops)
        _say(f"Your list has {counted(len(kept.mine), 'crop')} (sowcal mine). Next: sowcal chart")
    else:
        _say("Next: sowcal mine add tomato leek, for example; then: sowcal chart")
    return 0


def next_command(options: argparse.Namespace) -> int:
    """Tell somebody who calls the program alone what to do next, by what is remembered."""
    kept = recall()
    for note in kept.notes:
        tell(note)
    if not kept.here and not kept.mine:
        told = [
            "Nothing is remembered yet. Next:",
            "  sowcal start   a few questions: where you garden, its temperatures, what you grow",
            f"  sowcal chart   some twenty usual crops on an invented plot ({UNSAID_PLACE}), to look around",
        ]
    else:
        told = [f"Your place: {kept.here or f'none yet, so {UNSAID_PLACE} stands in (sowcal here FILE)'}"]
        mine = f"{counted(len(kept.mine), 'crop')} (sowcal mine)" if kept.mine else "none yet (sowcal mine add leek)"
        told += [
            f"Your crops: {mine}",
            "Next:",
            "  sowcal week    what to sow, set out and pick this week",
            "  sowcal chart   the year, a line a crop",
            "  sowcal log     write down what you have sown; then sowcal season tells how it stands",
        ]
    show("\n".join([*(plain(line) for line in told), "sowcal --help tells every command."]))
    return 0
