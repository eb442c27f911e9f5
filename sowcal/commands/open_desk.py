"""What the served page works on: one folder of files, the grower's settings, and answers kept while they hold.

Every answer comes of the calls that the commands make, every change of a file of the very writers of the commands.
"""

from __future__ import annotations

import argparse
import datetime as dt
import os
import re
import threading
import unicodedata
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sowcal.answers import garden_plan, open_handbook, open_record, rate_crops, site_climate, sowing_chart, sowing_week
from sowcal.commands.common import asked_of, issued, own_names, own_place, settings_of
from sowcal.commands.mine import described_place, remember_place
from sowcal.crops.handbook import named_crops
from sowcal.errors import InputError, SowcalError
from sowcal.files import alone, read_toml_text
from sowcal.garden.garden_file import Start, bundled_garden_names
from sowcal.garden.garden_text import garden_of_text, new_garden_text, with_starts
from sowcal.outputs.files import write_bytes, write_text
from sowcal.saved_settings import UNSAID_CROPS, UNSAID_PLACE, Remembered, recall, remember
from sowcal.season_log import COLUMNS, SeasonLog, log_path
from sowcal.weather.site_file import bundled_names, bundled_site, read_site_file
from sowcal.year import day_text

if TYPE_CHECKING:
    from sowcal.garden.plan import GardenPlan
    from sowcal.garden.schedule import Sowing
    from sowcal.outputs.page import Place
    from sowcal.outputs.page_script import StepsTold
    from sowcal.suitability.compare import CompareResult
    from sowcal.suitability.results import CropVerdict, SeasonNow, SowingChart
    from sowcal.suitability.week import Week
    from sowcal.weather.record import DailyRecord

__all__ = ["Desk", "picked_together"]

_RECORDS = (".csv", ".txt", ".nc", ".epw", ".dly", ".gz", ".tnx", ".cli")  # endings of records that may be brought
_NAME = re.compile(r"[^\W_][\w .,()+-]{0,80}")
_WEEK = 7  # days
_MOST_KEPT = 12  # answers; a page of all crops takes some 30 MB of memory


class Desk:
    """One folder and one grower's settings, as the served page sees and changes them.

    Attributes
    ----------
    folder : Path
        No file outside it is written or read for the page, but the settings, and the logs that lie beside them.
    lock : threading.RLock
        Held while the engine works: one question at a time.
    """

    def __init__(self, folder: Path, options: argparse.Namespace):
        self.folder, self.lock = folder.resolve(), threading.RLock()
        self._options, self._kept = options, {}  # type: argparse.Namespace, dict[Any, Any]
        self.second: str | None = None  # a place that is held beside the grower's own; a view, and no setting

    def options(self, changes: Sequence[str] = ()) -> argparse.Namespace:
        """Options as of a call of now, with changes to what the plants feel."""
        return argparse.Namespace(**{**vars(self._options), "what_ifs": [*self._options.what_ifs, *changes]})

    @property
    def day(self) -> dt.date:
        """Today, or the day that was asked for."""
        return issued(self._options)

    def once(self, key: tuple[Any, ...], make: Callable[[], Any]) -> Any:
        """An answer, worked out where none of this key is kept."""
        with self.lock:
            if key not in self._kept:
                made = make()
                while len(self._kept) >= _MOST_KEPT:
                    self._kept.pop(next(iter(self._kept)))
                self._kept[key] = made
            return self._kept[key]

    # --- the place and the list of crops ---------------------------------------------------------------------------

    @property
    def word(self) -> str:
        """The place: the grower's own, else the one that stands in."""
        word = own_place(self.options()) or UNSAID_PLACE
        if os.path.lexists(word) and not Path(word).resolve().is_relative_to(self.folder):
            raise InputError(
                f"your place {word} lies outside the folder {self.folder}; choose a place of it, or name its folder"
            )
        return word

    def places(self) -> list[tuple[str, str]]:
        """Words and names of the bundled plots and of the site files in the folder."""
        out = [(name, bundled_site(name).name) for name in bundled_names()]
        for path in sorted(self.folder.glob("*.toml")):
            if path.name.endswith(".garden.toml") or not path.resolve().is_relative_to(self.folder):
                continue
            try:
                out.append((path.name, read_site_file(path).name))
            except SowcalError:  # another file of TOML, or one that its owner must mend
                continue
        return out

    def choose(self, place: str) -> Remembered:
        """Remember one of the places that are offered."""
        return remember_place(self._offered(place))

    def _offered(self, place: str) -> str:
        """The place as commands take it, where it is one of those that are offered."""
        if place not in [word for word, _ in self.places()]:
            raise InputError(f"{place!r} is none of the places here; choose one of the list")
        return place if place in bundled_names() else str(self.folder / place)

    def hold_beside(self, place: str) -> None:
        """Hold one of the places that are offered beside the grower's own, or none where it is ''."""
        had, self.second = self.second, place or None
        try:
            self.beside()
        except SowcalError:  # what stood there stays
            self.second = had
            raise

    def beside(self) -> tuple[CompareResult, tuple[Sequence[CropVerdict], Sequence[CropVerdict]]] | None:
        """Both places by the grower's crops, with the verdicts of each; None where no second one is chosen."""
        if self.second is None or self.second == Path(self.word).name:
            return None
        words = (self.word, self._offered(self.second))
        options, mine = self.options(), self.mine()
        key = ("beside", *map(self._stamp, words), tuple(mine))
        return self.once(key, lambda: _held_beside(words, mine, options, self.day))

    def describe(self, said: Mapping[str, str]) -> Remembered:
        """Write a site file of these answers into the folder, and remember it."""
        if record := said.get("record", ""):
            self.inside(record, _RECORDS)
        name = f"{_file_stem(said.get('name', '').strip())}.toml"
        text = described_place(said, self.folder / name)
        return remember_place(str(self._put(name, text.encode("utf-8", "backslashreplace"))))

    def bring(self, name: str, data: bytes) -> str:
        """Keep a record that was dropped in, under its own name or the next free one; the name that it has now."""
        path = self.inside(name, _RECORDS)
        if path.is_file() and path.read_bytes() == data:
            return path.name
        return self._put(path.name, data).name

    def inside(self, name: str, endings: Sequence[str]) -> Path:
        """A file of the folder by its bare name; InputError for a folder in it, a link out, or a kind not taken."""
        path = self.folder / name
        plain = _NAME.fullmatch(name) and ".." not in name
        if not plain or path.resolve().parent != self.folder:
            raise InputError(f"{name!r} is no plain file name; rename the file to letters, figures and one point")
        if path.suffix.lower() not in endings:
            raise InputError(f"{name!r} is none of {', '.join(endings)}; bring the days as such a file")
        return path

    def _put(self, name: str, data: bytes) -> Path:
        """Write a file under the next free name; no other program takes that meanwhile."""
        stem, ending = name.split(".", 1)
        tries = (self.folder / f"{stem}{f'-{k}' if k > 1 else ''}.{ending}" for k in range(1, 1000))
        with alone(self.folder / ".lock-names"):
            path = next(t for t in tries if not os.path.lexists(t))
            write_bytes(path, data)
        return path

    def mine(self) -> list[str]:
        """The grower's crops, else the usual ones."""
        return self._names(recall())

    def _names(self, kept: Remembered) -> list[str]:
        names = [crop for name in kept.mine for crop in own_names(kept, name, self._options.crop_files)]
        book = open_handbook(self._options.crop_files)
        return list(dict.fromkeys(names or [crop.name for crop in named_crops(book, UNSAID_CROPS)]))

    def star(self, crop: str, on: bool) -> list[str]:
        """Put a crop on the list or take it off; the list as it then stands."""
        if crop not in open_handbook(self._options.crop_files):
            raise InputError(f"{crop!r} is no crop of the handbook")

        def changed(kept: Remembered) -> Mapping[str, Any]:
            names = [name for name in self._names(kept) if name != crop]
            return {"mine": tuple([*names, crop] if on else names) or None}

        return self._names(remember(changed))

    # --- answers ---------------------------------------------------------------------------------------------------

    def _stamp(self, word: str) -> tuple[Any, ...]:
        """What an answer of a place hangs on beside the question: its files as they are now, and the day."""
        found = [Path(word)] if os.path.lexists(word) else []
        if found and found[0].suffix.lower() == ".toml":
            named = read_site_file(found[0]).weather.get("file")
            found += [found[0].parent / str(named)] if named else []
        return (word, self.day, *map(_file_stamp, found))

    def weather(self) -> DailyRecord:
        """The days of the place."""
        return open_record(self.word, self._options.years, self.day)[1]

    def rated(self, crops: Sequence[str], changes: Sequence[str] = ()) -> tuple[SowingChart, Sequence[CropVerdict]]:
        """Chart and verdicts of crops, as `sowcal rate` has them."""
        word = self.word
        key = ("rate", *self._stamp(word), tuple(crops), tuple(changes))
        return self.once(key, lambda: rate_crops(word, crops, **asked_of(self.options(changes), self.day)))

    def place(self) -> Place:
        """All that the page says of the place."""
        from sowcal.commands.page import place_of

        word = self.word
        return self.once(self.place_key(), lambda: place_of(word, list(self._options.words), self.options(), self.day))

    def water(self, crop: str) -> tuple[StepsTold | None, list[StepsTold]]:
        """Windows of one crop under the sliders' steps: with what water there is, and on less and less of it."""
        from sowcal.commands.page import on_less_water

        word, steps = self.word, self.place().steps
        own = steps and replace(steps, ways={name: ways for name, ways in steps.ways.items() if name == crop})
        if not own or not own.ways:
            raise InputError(f"{crop!r} is no annual crop of this page")
        key = ("water", *self._stamp(word), crop)
        found = self.once(key, lambda: on_less_water(word, [crop], self.options(), self.day))
        return own, [steps for _, steps in found]

    def place_key(self) -> tuple[Any, ...]:
        """Under which `place` is kept."""
        return ("place", *self._stamp(self.word))

    def has_place(self) -> bool:
        """Whether all that the page says is worked out."""
        return self.place_key() in self._kept

    def answer(self, command: str, crops: Sequence[str], changes: Sequence[str]) -> dict[str, Any]:
        """The answer of a command as its `--json` has it."""
        from sowcal.outputs.json_form import chart_json, rate_json, week_json
        from sowcal.suitability.week import short_week

        options, day, word = self.options(changes), self.day, self.word
        chosen = list(crops) or self.mine()
        if command == "rate":
            chart, verdicts = self.rated(chosen, changes)
            return rate_json(chart.site, chart.record, verdicts, chart.made_by)
        if command == "garden":
            return self.plan().to_json()
        if command == "season":
            from sowcal.outputs.season_document import season_json

            return season_json(self.season())
        if command == "log":
            from sowcal.outputs.season_document import log_json

            return log_json(self.log())
        with self.lock:
            if command == "climate":
                return site_climate(word, what_ifs=options.what_ifs, years=options.years, issued=day).to_json()
            chart = sowing_chart(word, chosen, **asked_of(options, day))
            if command == "chart":
                return chart_json(chart)
            if command == "week":
                return week_json(short_week(self.by_log(sowing_week(chart, day))))
        raise InputError(f"there is no answer {command!r} here")

    # --- the log and the season ------------------------------------------------------------------------------------

    def log(self) -> SeasonLog:
        """The log of the place as it stands in its file."""
        return SeasonLog.open(log_path(self.word), today=self.day, book=open_handbook())

    def done(self) -> list[list[str]]:
        """Crop, event and whole line of what the log has of the week that ends today."""
        lately = (e for e in self.log().entries if 0 <= (self.day - e.date).days < _WEEK)
        return [[e.crop, e.event, "\t".join(e.cells())] for e in lately if e.crop]

    def write_down(self, said: Mapping[str, str]) -> SeasonLog:
        """Append one line to the log."""
        cells = {name: said[name] for name in COLUMNS if said.get(name) and name not in ("event", "crop")}
        return self.log().append(said.get("event", ""), said.get("crop", ""), today=self.day, **cells)

    def take_back(self, line: str | None) -> str:
        """Take the last line of the log away, where it is the one that is meant; the line."""
        log = self.log()
        if line is not None and (not log.entries or log.entries[-1].cells() != line.split("\t")):
            raise InputError("another line was written since; take it back in the log, below")
        return log.undo(today=self.day)[1]

    def season(self) -> SeasonNow:
        """How what is sown stands."""
        from sowcal.site_weather import season_of_site

        word, options, log = self.word, self.options(), self.log()
        garden, mine = self.garden_word(), self.mine()
        key = ("season", *self._stamp(word), _file_stamp(log.path), _garden_stamp(garden), tuple(mine))
        return self.once(
            key,
            lambda: season_of_site(
                word, options.years, options.what_ifs, log, self.day, None, open_handbook(options.crop_files),
                settings_of(options), garden=garden, offered=mine,
            ),
        )  # fmt: skip

    def by_log(self, week: Week) -> Week:
        """The week by what the log knows: nothing is told to be sown that is sown."""
        from sowcal.suitability.week import with_log

        if not any(s.started <= self.day and (s.ended is None or s.ended >= self.day) for s in self.log().sown):
            return week
        return with_log(week, self.season())

    # --- the garden ------------------------------------------------------------------------------------------------

    def garden_word(self) -> str | None:
        """The garden of the place: that of the folder, that which the site file names, or the bundled one."""
        word = self.word
        own = self.folder / f"{_stem_of(word)}.garden.toml"
        if os.path.lexists(word) and word.lower().endswith(".toml") and (named := read_site_file(word).garden):
            own = Path(word).parent / named
            if not own.resolve().is_relative_to(self.folder):
                raise InputError(f"its garden {named!r} lies outside the folder {self.folder}", where=word)
        if own.is_file():
            return str(own)
        return word.lower() if word.lower() in bundled_garden_names() else None

    def plan(self) -> GardenPlan:
        """The plan of the garden, as `sowcal garden` has it."""
        word = self.garden_word()
        if word is None:
            raise InputError("there is no garden for this place; begin one on the page")
        return self.once(self._plan_key(word), lambda: garden_plan(word, settings_of(self.options()), issued=self.day))

    def _plan_key(self, word: str) -> tuple[Any, ...]:
        return ("garden", *self._stamp(self.word), word, _garden_stamp(word))

    def begin_garden(self, said: Mapping[str, str]) -> None:
        """Write a first garden file for the place, named in its site file where it has one."""
        word = self.word
        if self.garden_word() is not None:
            raise InputError("there is a garden already; it is planned on this page")
        site = Path(word).name if os.path.lexists(word) else word
        tanks = [_read(t, "tanks", 1, 1e7) for t in said.get("tanks", "").replace(",", " ").split()]
        beds = int(_read(said.get("beds", ""), "beds", 1, 100))
        text, garden = new_garden_text(
            said.get("name", "").strip(), site, _read(said.get("people", ""), "people", 0.5, 1000), beds,
            _read(said.get("length", ""), "length", 0.3, 1000), _read(said.get("width", ""), "width", 0.3, 100),
            tanks, self.folder,
        )  # fmt: skip
        plan = garden_plan(garden, settings_of(self.options()), issued=self.day)  # before it is written
        path = self.folder / f"{_stem_of(word)}.garden.toml"
        with alone(self.folder / ".lock-names"):
            if self.garden_word() is not None:  # another program was quicker
                raise InputError("there is a garden already; load the page anew")
            write_text(path, text)
        self.once(self._plan_key(str(path)), lambda: plan)

    def move(self, crop: str, way: str, before: int, after: int) -> list[str]:
        """Take one sowing to another day, plan anew, and keep it where that can be planned; what came of it.

        InputError for a sowing that the plan does not have, or a day that brings nothing; the file stays as it was.
        """
        with self.lock:
            plan = self.plan()
            starts = [Start(s.crop.name, s.way, s.start) for s in plan.sowings if s.crop.name == crop and not s.stands]
            moved = Start(crop, way, before)
            if moved not in starts:
                raise InputError(f"the plan has no {crop} {way} on {day_text(before)} any more; load the page anew")
            new = self._start(crop, [replace(s, day=after) if s == moved else s for s in starts])
            return _came_of(plan, new, replace(moved, day=after))

    def free(self, crop: str) -> list[str]:
        """Leave the start days of a crop to the engine again."""
        with self.lock:
            plan = self.plan()
            return [f"{crop} stands on its advised dates again.", *_differs(plan, self._start(crop, []))]

    def _start(self, crop: str, own: Sequence[Start]) -> GardenPlan:
        """The plan and the garden file with these start days of a crop; what others write meanwhile is planned with."""
        word = self.garden_word() or ""
        path = Path(word) if os.path.lexists(word) else self.folder / f"{word}.garden.toml"
        while True:
            text = _garden_text(path, word)
            others = [s for s in garden_of_text(text, str(path), path.parent).starts if s.crop != crop]
            made = with_starts(text, [*others, *own], str(path))
            garden = garden_of_text(made, str(path), path.parent)
            plan = garden_plan(garden, settings_of(self.options()), issued=self.day)
            with alone(path.with_name(f".lock-{path.name}")):
                if _garden_text(path, word) == text:
                    write_text(path, made)
                    break
        return self.once(self._plan_key(str(path)), lambda: plan)


def _held_beside(
    words: tuple[str, str], crops: Sequence[str], options: argparse.Namespace, day: dt.date
) -> tuple[CompareResult, tuple[Sequence[CropVerdict], Sequence[CropVerdict]]]:
    from sowcal.suitability.compare import compare

    asked = asked_of(options, day)
    charts, verdicts = zip(*(rate_crops(word, crops, most_remedies=0, **asked) for word in words), strict=True)
    climates = [
        site_climate(word, what_ifs=options.what_ifs, years=options.years, issued=day).to_json() for word in words
    ]
    return compare(charts, verdicts, (climates[0], climates[1])), verdicts


def _garden_text(path: Path, word: str) -> str:
    """The garden file as it stands; while there is none, the bundled one."""
    if path.is_file():
        return read_toml_text(path, "garden file")
    return (files("sowcal") / "plots" / f"{word}.garden.toml").read_text(encoding="utf-8")


def _read(text: str, what: str, least: float, most: float) -> float:
    try:
        value = float(text)
    except ValueError:
        value = float("nan")
    if not least <= value <= most:
        raise InputError(f"{what} is {text!r}; give a number from {least:,.10g} to {most:,.10g}")
    return value


def _file_stem(name: str) -> str:
    """A name for files out of the name of a place."""
    letters = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", letters).strip("-")[:40] or "my-plot"


def _stem_of(word: str) -> str:
    return Path(word).stem if os.path.lexists(word) else re.sub(r"[^0-9a-z.,+-]", "_", word.lower())


def _file_stamp(path: Path) -> tuple[str, int, int]:
    try:
        found = path.stat()
    except OSError:
        return str(path), 0, 0
    return str(path), found.st_mtime_ns, found.st_size


def _garden_stamp(word: str | None) -> tuple[str, int, int] | None:
    return None if word is None else _file_stamp(Path(word))


def _came_of(before: GardenPlan, after: GardenPlan, start: Start) -> list[str]:
    """What a moved sowing does, and what it does to all else."""
    from sowcal.outputs.wording import odds_text

    found = next(
        (s for s in after.sowings if (s.crop.name, s.way, s.start) == (start.crop, start.way, start.day)), None
    )
    when = f"{start.crop} {start.way} on {day_text(start.day)}"
    if found is None:
        why = next((left.why for left in after.left_out if left.crop == start.crop), "nothing is left for it to bring")
        return [f"{when}: {why}.", *_differs(before, after)]
    advised = "within its advised dates" if found.advised else "not within its advised dates"
    works = f"{when}: works in {odds_text(found.reliability)}, {advised}."
    return [works, *picked_together(after.sowings, found), *_differs(before, after)]


def picked_together(sowings: Sequence[Sowing], of: Sowing) -> list[str]:
    """A sentence for each other sowing of its crop with which one is picked for half of the days of either or more."""
    from sowcal.suitability.windows import median

    def days(sowing: Sowing) -> set[int]:
        first, last = (median(wait) for wait in (sowing.first, sowing.last))
        return (
            set()
            if first != first or last != last
            else {(sowing.start + k) % 365 for k in range(round(first), round(last) + 1)}
        )

    own, out = days(of), []
    for other in (s for s in sowings if s.crop.name == of.crop.name and s is not of and not s.stands):
        both = own & days(other)
        if both and 2 * len(both) >= min(len(own), len(days(other))):
            out.append(f"For {len(both)} days it is picked together with that of {day_text(other.start)}: a glut.")
    return out


def _differs(before: GardenPlan, after: GardenPlan) -> list[str]:
    """In sentences, what of the whole plan is not as it was: the tank, what is left out, families that return."""
    out = []
    dry = [p.store.chance_dry for p in (before, after)]
    if all(d is not None for d in dry) and dry[0] != dry[1]:
        out.append(f"The tank runs dry in {dry[1]:.0%} of years, {dry[0]:.0%} before.")
    drawn = [p.need.year(0.5) for p in (before, after)]
    if abs(drawn[0] - drawn[1]) >= 1.0:
        out.append(f"The garden draws {drawn[1]:,.0f} litres in the middle year, {drawn[0]:,.0f} before.")
    left = [{f"{line.crop}: {line.why}" for line in p.left_out} for p in (before, after)]
    out += [f"Left out now: {text}." for text in sorted(left[1] - left[0])]
    out += [f"Fits again: {text.split(':')[0]}." for text in sorted(left[0] - left[1])]
    out += [f"Now {text}." for text in after.rotation if text not in before.rotation]
    return out or ["Nothing else of the plan changes."]
