"""Answers kept on disk: what was judged once of a record under some settings is read again, crop by crop.

One file holds the lines and verdicts of one record, its settings and the water asked for, under a digest of all of them
and of this engine's own source. Within it every crop has a digest of its rows, so that an edited crop costs one crop.
The files are npz archives of plain arrays and one JSON text, never pickles; one that is damaged or foreign counts as
absent. They lie under the user's cache folder and take 50 MB at most, the longest unused out first.
"""

from __future__ import annotations

import contextlib
import hashlib
import io
import json
import os
import platform
import zipfile
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextvars import ContextVar
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any

import numpy as np

from sowcal.crops.handbook import Handbook
from sowcal.crops.tables import Crop
from sowcal.files import write_whole
from sowcal.languages import Phrase, kept_phrase
from sowcal.provenance import source_digest
from sowcal.settings import Settings
from sowcal.suitability import results
from sowcal.suitability.results import CropSeasons, CropVerdict
from sowcal.units import Quantity, quantity
from sowcal.weather.cache import answers_folder
from sowcal.weather.record import DailyRecord

__all__ = ["MOST_BYTES", "KeptAnswers", "crop_digest", "judged", "keeping", "record_digest"]

Judged = tuple[CropSeasons, CropVerdict]

MOST_BYTES = 50_000_000
_KINDS = {kind.__name__: kind for kind in vars(results).values() if isinstance(kind, type) and is_dataclass(kind)}
_keeps: ContextVar[bool] = ContextVar("_keeps", default=False)


@contextlib.contextmanager
def keeping(wanted: bool = True) -> Iterator[None]:
    """Within it answers are kept and read again; the commands ask for it, a program that imports sowcal does not."""
    token = _keeps.set(wanted)
    try:
        yield
    finally:
        _keeps.reset(token)


def _digest(parts: Iterable[bytes]) -> str:
    found = hashlib.blake2b(digest_size=16)
    for part in parts:
        found.update(len(part).to_bytes(8, "little"))
        found.update(part)
    return found.hexdigest()


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

    return _digest(parts())


def crop_digest(crop: Crop, book: Handbook) -> str:
    """Digest of a crop's values; of a perennial also of its rows as told in the verdict, and of their sources."""
    parts = [repr(crop)]
    if crop.perennial is not None:
        rows = [row for table in book.tables for row in book.rows(table, crop.name)]
        named = sorted({str(v) for row in rows for v in row.values() if v in book.sources})
        parts += [json.dumps(rows, sort_keys=True), repr([book.sources[key] for key in named])]
    return _digest(p.encode() for p in parts)


class KeptAnswers:
    """The kept answers of one record, its settings and what else was asked.

    Parameters
    ----------
    key : str
        From `record_digest`.
    """

    def __init__(self, key: str):
        self.path = answers_folder() / f"answers-{key}.npz"
        self._crops: dict[str, dict[str, Any]] = {}
        self._numbers = np.zeros(0)
        self._book = ""
        self._read()

    def _read(self) -> None:
        try:
            with np.load(io.BytesIO(self.path.read_bytes()), allow_pickle=False) as held:
                text, numbers, check = held["answers"].tobytes(), held["numbers"], held["check"].tobytes()
            if check != _digest((text, numbers.tobytes())).encode():
                return
            found = json.loads(text)
            self._crops, self._book, self._numbers = dict(found["crops"]), str(found["book"]), numbers
            os.utime(self.path)
        except (OSError, ValueError, KeyError, TypeError, EOFError, zipfile.BadZipFile):
            self._crops = {}

    def judged(
        self, crops: Sequence[Crop], book: Handbook, judge: Callable[[Sequence[Crop]], list[Judged]]
    ) -> list[Judged]:
        """Lines and verdicts of some crops, of which those that are not held are judged and then held.

        Parameters
        ----------
        crops : sequence of Crop
        book : Handbook
        judge : callable
            From crops to their lines and verdicts.
        """
        same_book = self._book == book.fingerprint
        found: dict[str, Judged] = {}
        rows: dict[str, str] = {}
        for crop in crops:
            held = self._crops.get(crop.name)
            if held is None or not same_book:
                rows[crop.name] = crop_digest(crop, book)
            if held is not None and (same_book or held["rows"] == rows[crop.name]):
                with contextlib.suppress(KeyError, TypeError, ValueError, IndexError):
                    found[crop.name] = (self._told(held["line"]), self._told(held["verdict"]))
        missing = [crop for crop in crops if crop.name not in found]
        if missing:
            new = judge(missing)
            for crop, pair in zip(missing, new, strict=True):
                found[crop.name] = pair
            self._hold({c.name: (rows.get(c.name) or crop_digest(c, book), *found[c.name]) for c in missing}, book)
        return [found[crop.name] for crop in crops]

    def _hold(self, new: dict[str, tuple[str, CropSeasons, CropVerdict]], book: Handbook) -> None:
        """Write what was held and what is new, whole or not at all; a folder that cannot be written costs nothing."""
        store = _Store()
        crops: dict[str, dict[str, Any]] = {}
        # what another process wrote meanwhile is kept too
        self._read()
        for name, held in self._crops.items():
            if name in new or name not in book or (held["rows"] != crop_digest(book[name], book)):
                continue
            with contextlib.suppress(KeyError, TypeError, ValueError, IndexError):
                pair = self._told(held["line"]), self._told(held["verdict"])
                crops[name] = {"rows": held["rows"], "line": store.plain(pair[0]), "verdict": store.plain(pair[1])}
        for name, (rows, line, verdict) in new.items():
            crops[name] = {"rows": rows, "line": store.plain(line), "verdict": store.plain(verdict)}
        text = json.dumps({"book": book.fingerprint, "crops": crops}, separators=(",", ":")).encode()
        numbers = store.numbers()
        check = _digest((text, numbers.tobytes())).encode()
        raw = io.BytesIO()
        answers, check_bytes = (np.frombuffer(held, dtype=np.uint8) for held in (text, check))
        np.savez(raw, numbers=numbers, answers=answers, check=check_bytes)
        with contextlib.suppress(OSError):
            self.path.parent.mkdir(parents=True, exist_ok=True)
            write_whole(self.path, raw.getvalue())
            _make_room(self.path.parent)

    def _told(self, plain: Any) -> Any:
        """The value of its plain form."""
        if not isinstance(plain, list):
            return plain
        kind, *rest = plain
        if kind == "t":
            return tuple(map(self._told, rest))
        if kind == "l":
            return list(map(self._told, rest))
        if kind == "m":
            return {self._told(k): self._told(v) for k, v in rest}
        if kind == "p":
            text, template, many, values = rest
            return kept_phrase(text, template, many, self._told(values))
        if kind == "q":
            return quantity(*rest)
        if kind == "a":
            first, shape = rest
            size = int(np.prod(shape))
            if first + size > self._numbers.size:
                raise ValueError("an array is cut off")
            return self._numbers[first : first + size].reshape(shape).copy()
        return _KINDS[kind](*map(self._told, rest))


class _Store:
    """Plain forms of answers, with their arrays in one row of numbers."""

    def __init__(self) -> None:
        self._arrays: list[np.ndarray] = []
        self._size = 0

    def plain(self, value: Any) -> Any:
        """Text, numbers and truth as they are; all else a list that begins with its kind."""
        if isinstance(value, Quantity):
            return ["q", *map(self.plain, value.values.values())]
        if isinstance(value, Phrase):  # told again in the language of whoever reads it
            return ["p", str(value), value.template, value.many, self.plain(value.values)]
        if value is None or isinstance(value, str | bool):
            return value
        if isinstance(value, np.generic):
            return value.item()
        if isinstance(value, int | float):
            return value
        if isinstance(value, tuple):
            return ["t", *map(self.plain, value)]
        if isinstance(value, list):
            return ["l", *map(self.plain, value)]
        if isinstance(value, dict):
            return ["m", *([self.plain(k), self.plain(v)] for k, v in value.items())]
        if isinstance(value, np.ndarray):
            first, self._size = self._size, self._size + value.size
            self._arrays.append(value.astype(float).ravel())
            return ["a", first, list(value.shape)]
        return [type(value).__name__, *(self.plain(getattr(value, f.name)) for f in fields(value))]

    def numbers(self) -> np.ndarray:
        return np.concatenate(self._arrays) if self._arrays else np.zeros(0)


def _make_room(folder: Path) -> None:
    """Take out the longest unused answers until what is left takes no more than its share."""
    held = []
    for path in folder.glob("answers-*.npz"):
        with contextlib.suppress(OSError):
            held.append((path.stat().st_mtime_ns, path.stat().st_size, path))
    total = sum(size for _, size, _ in held)
    for _, size, path in sorted(held)[:-1]:
        if total <= MOST_BYTES:
            return
        with contextlib.suppress(OSError):
            path.unlink()
            total -= size


def judged(
    record: DailyRecord,
    settings: Settings,
    crops: Sequence[Crop],
    book: Handbook,
    judge: Callable[[Sequence[Crop]], list[Judged]],
    asked: Sequence[object] = (),
) -> list[Judged]:
    """Lines and verdicts of some crops, kept ones read where keeping is asked for (`keeping`)."""
    if not _keeps.get():
        return judge(crops)
    return KeptAnswers(record_digest(record, settings, asked)).judged(crops, book, judge)
