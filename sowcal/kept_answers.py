"""Answers kept on disk: what was judged once of a record under some settings is read again, crop by crop.

One file holds the lines and verdicts of one record, its settings and the water asked for, under a digest of all of them
and of this engine's own source. Within it every crop has a digest of its rows, so that an edited crop costs one crop.
How such a file is written and read stands in `kept_files`. They take 35 MB at most, the longest unused out first.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import json
import platform
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Generic, TypeVar

import numpy as np

from sowcal.crops.handbook import Handbook
from sowcal.crops.tables import Crop
from sowcal.kept_files import (
    Plain,
    answers_folder,
    digest_of,
    keeps,
    kinds_of,
    read_parts,
    remembered,
    told,
    write_parts,
)
from sowcal.provenance import source_digest
from sowcal.seasons.site_days import days_as_felt
from sowcal.settings import Settings
from sowcal.suitability import results
from sowcal.suitability.results import CropSeasons, CropVerdict, SettingsSteps
from sowcal.suitability.verdicts import judge_crops
from sowcal.weather.record import DailyRecord, parts_of

if TYPE_CHECKING:
    from sowcal.climate.place_figures import ClimateSummary
    from sowcal.garden.garden_file import Garden
    from sowcal.garden.plan import GardenPlan

__all__ = [
    "MOST_BYTES",
    "KeptAnswers",
    "Telling",
    "crop_digest",
    "judged",
    "lines",
    "planned",
    "record_digest",
    "steps",
    "summarised",
    "windows_alone",
]

Judged = tuple[CropSeasons, CropVerdict]
_T = TypeVar("_T")
Judge = Callable[[Sequence[Crop]], list[Judged]]

MOST_BYTES = 35_000_000
_KINDS = kinds_of(vars(results).values())
_UNSOUND = (KeyError, TypeError, ValueError, IndexError)


def record_digest(record: DailyRecord, settings: Settings, asked: Sequence[object] = ()) -> str:
    """Digest of all that an answer rests on but the crops: days and place as the plant feels them, settings, engine."""

    def parts() -> Iterator[bytes]:
        yield f"{source_digest()} {np.__version__} {platform.machine()} {settings!r} {tuple(asked)!r}".encode()
        yield f"{record.latitude!r} {record.longitude!r} {record.elevation!r} {record.coast} {record.felt!r}".encode()
        yield record.time.astype("datetime64[D]").astype("<i8").tobytes()
        for name in sorted(record.values):
            yield name.encode()
            yield record.values[name].tobytes()
            yield record.origin[name].tobytes() if name in record.origin else b""
        for array in (record.open_range, record.hours):
            yield b"" if array is None else array.tobytes()

    return digest_of(parts())


def crop_digest(crop: Crop, book: Handbook) -> str:
    """Digest of a crop's values; of a perennial also of its rows as told in the verdict, and of their sources."""
    parts = [repr(crop)]
    if crop.perennial is not None:
        rows = [row for table in book.tables for row in book.rows(table, crop.name)]
        named = sorted({str(v) for row in rows for v in row.values() if v in book.sources})
        parts += [json.dumps(rows, sort_keys=True), repr([book.sources[key] for key in named])]
    return digest_of(p.encode() for p in parts)


class KeptAnswers:
    """The kept answers of one record, its settings and what else was asked.

    Parameters
    ----------
    key : str
        From `record_digest`.
    """

    def __init__(self, key: str):
        self.path = answers_folder() / f"answers-{key}.kept"
        self._parts: dict[str, bytes] = {}
        self._crops: dict[str, tuple[str, int, int]] = {}  # digest of its rows, first and number of its numbers
        self._numbers = np.zeros(0)
        self._book = ""
        self._read()

    def _read(self) -> None:
        """Take what the file holds; the text of a crop is read when it is asked for."""
        if (found := read_parts(self.path)) is None:
            return
        with contextlib.suppress(*_UNSOUND):
            head = json.loads(found[0]["head"])
            self._crops, self._book = {k: tuple(v) for k, v in head["crops"].items()}, str(head["book"])
            self._parts, self._numbers = found

    def _held(self, name: str, what: str) -> Any:
        _, first, size = self._crops[name]
        return told(json.loads(self._parts[f"{what} of {name}"]), self._numbers[first : first + size], _KINDS)

    def _which(self, crops: Sequence[Crop], book: Handbook) -> list[Crop]:
        """The crops of which nothing is held that their rows of today were judged by."""
        if self._book == book.fingerprint:
            return [crop for crop in crops if crop.name not in self._crops]
        return [c for c in crops if c.name not in self._crops or self._crops[c.name][0] != crop_digest(c, book)]

    def lines(self, crops: Sequence[Crop], book: Handbook, judge: Judge) -> list[CropSeasons]:
        """As `judged`, the lines alone, which a chart shows."""
        if not self._which(crops, book):
            with contextlib.suppress(*_UNSOUND):
                return [self._held(crop.name, "line") for crop in crops]
        return [line for line, _ in self.judged(crops, book, judge)]

    def judged(self, crops: Sequence[Crop], book: Handbook, judge: Judge) -> list[Judged]:
        """Lines and verdicts of some crops, of which those that are not held are judged and then held.

        Parameters
        ----------
        crops : sequence of Crop
        book : Handbook
        judge : callable
            From crops to their lines and verdicts.
        """
        unknown = {crop.name for crop in self._which(crops, book)}
        found: dict[str, Judged] = {}
        for crop in crops:
            if crop.name not in unknown:
                with contextlib.suppress(*_UNSOUND):
                    found[crop.name] = self._held(crop.name, "line"), self._held(crop.name, "verdict")
        missing = [crop for crop in crops if crop.name not in found]
        if missing:
            new = dict(zip([crop.name for crop in missing], judge(missing), strict=True))
            found |= new
            self._hold(new, book)
        return [found[crop.name] for crop in crops]

    def _hold(self, new: dict[str, Judged], book: Handbook) -> None:
        """Write what was held and what is new, whole or not at all."""
        self._read()  # what another process wrote meanwhile is kept too
        crops: dict[str, tuple[str, int, int]] = {}
        parts: dict[str, bytes] = {}
        numbers: list[np.ndarray] = []
        at = 0
        for name, (rows, first, size) in self._crops.items():
            if name in new or name not in book or rows != crop_digest(book[name], book):
                continue
            crops[name], at = (rows, at, size), at + size
            parts |= {key: self._parts[key] for key in (f"line of {name}", f"verdict of {name}") if key in self._parts}
            numbers.append(self._numbers[first : first + size])
        for name, (line, verdict) in new.items():
            plain = Plain()
            parts |= {f"line of {name}": plain.text(line), f"verdict of {name}": plain.text(verdict)}
            numbers.append(plain.numbers())
            crops[name], at = (crop_digest(book[name], book), at, numbers[-1].size), at + numbers[-1].size
        head = json.dumps({"book": book.fingerprint, "crops": crops}).encode()
        write_parts(self.path, {"head": head, **parts}, np.concatenate(numbers), MOST_BYTES)


def judged(
    record: DailyRecord,
    settings: Settings,
    crops: Sequence[Crop],
    book: Handbook,
    judge: Judge,
    asked: Sequence[object] = (),
) -> list[Judged]:
    """Lines and verdicts of some crops, kept ones read where keeping is asked for (`kept_files.keeping`)."""
    if not keeps():
        return judge(crops)
    return KeptAnswers(record_digest(record, settings, asked)).judged(crops, book, judge)


def lines(
    record: DailyRecord,
    settings: Settings,
    crops: Sequence[Crop],
    book: Handbook,
    judge: Judge,
    asked: Sequence[object] = (),
) -> list[CropSeasons]:
    """As `judged`, the lines alone; what is held of the verdicts is then not read."""
    if not keeps():
        return [line for line, _ in judge(crops)]
    return KeptAnswers(record_digest(record, settings, asked)).lines(crops, book, judge)


def windows_alone(record: DailyRecord, settings: Settings, crops: Sequence[Crop], book: Handbook) -> list[CropSeasons]:
    """As `lines`, without days of picking and raising, water and yield: for who asks for windows alone."""

    def judge(some: Sequence[Crop]) -> list[Judged]:
        return judge_crops(days_as_felt(record, settings), some, book, calendar=False)

    return lines(record, settings, crops, book, judge, ("windows alone",))


@dataclass(frozen=True)
class Telling(Generic[_T]):
    """What is made of windows under steps of settings, and kept and read in their place.

    Attributes
    ----------
    name : str
        Of what is made, with all that it hangs on beside the windows.
    make : callable
    kinds : mapping
        The records that may stand in it, as of `kinds_of`.
    """

    name: str
    make: Callable[[SettingsSteps], _T]
    kinds: Mapping[str, Callable[..., Any]]


def steps(
    record: DailyRecord,
    settings: Settings,
    crops: Sequence[Crop],
    book: Handbook,
    make: Callable[[], tuple[SettingsSteps, ...]],
    asked: Sequence[object],
    told: Telling[Any] | None = None,
) -> tuple[Any, ...]:
    """Windows under steps of settings, all crops together, kept ones read where keeping is asked for; or, where `told`
    says so, what is made of each."""
    if not keeps():
        return make() if told is None else tuple(map(told.make, make()))
    rests_on = (record_digest(record, settings, asked), book.fingerprint, *(crop.name for crop in crops))
    parts = [part.encode() for part in rests_on]

    def windows() -> tuple[SettingsSteps, ...]:
        return remembered("steps", parts, make, lambda: _KINDS)

    if told is None:
        return windows()
    each, kinds = told.make, told.kinds
    return remembered("told", [told.name.encode(), *parts], lambda: tuple(map(each, windows())), lambda: kinds)


def summarised(weather: DailyRecord, name: str, record: results.Record) -> ClimateSummary:
    """The figures of a place (`climate_summary`), kept ones read where keeping is asked for."""
    from sowcal import provenance
    from sowcal.climate import frost, place_figures, rain, summary
    from sowcal.weather import findings, years

    modules = (findings, frost, place_figures, provenance, rain, years)
    found = remembered(
        "climate",
        (repr((name, record)).encode(), *parts_of(weather)),
        lambda: summary.climate_summary(weather, name, record),
        lambda: kinds_of(value for module in modules for value in vars(module).values()),
    )
    return replace(found, made_by=provenance.MadeBy(records=(record.fingerprint,)))  # by this version


def planned(
    garden: Garden, name: str, record: DailyRecord, settings: Settings | None, book: Handbook, begin: dt.date
) -> GardenPlan:
    """The plan of a garden from a day on (`plan_garden`), a kept one read where keeping is asked for."""
    from sowcal.crops import tables
    from sowcal.garden import bed_file, beds, diary, garden_file, plan, plants, quantities, schedule, store, water_need

    rests_on = (garden, name, settings, book.fingerprint, begin)
    modules = (tables, bed_file, beds, diary, garden_file, plan, plants, quantities, schedule, store, water_need)
    return remembered(
        "garden",
        (repr(rests_on).encode(), *parts_of(record)),
        lambda: plan.plan_garden(garden, name, record, settings=settings, book=book, begin=begin),
        lambda: kinds_of(value for module in modules for value in vars(module).values()),
    )
