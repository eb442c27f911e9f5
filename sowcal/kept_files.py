"""What was worked out once and is kept on disk: answers, the handbook prepared, days read or generated.

Each lies in a file of JSON and plain numbers, never pickles, named after a digest of all that it rests on, under the
user's cache folder (`platformdirs`) or that named by the environment variable SOWCAL_CACHE. A file that is damaged or
of another version counts as absent.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import hashlib
import json
import os
import platform
import time
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextvars import ContextVar
from math import prod
from pathlib import Path
from typing import Any, TypeVar

import numpy as np

from sowcal.files import write_whole
from sowcal.languages import Phrase, kept_phrase
from sowcal.provenance import source_digest
from sowcal.units import Quantity, quantity

__all__ = [
    "MOST_PREPARED",
    "Later",
    "Plain",
    "answers_folder",
    "cache_folder",
    "digest_of",
    "keeping",
    "keeps",
    "kinds_of",
    "make_room",
    "prepared_folder",
    "read_parts",
    "remembered",
    "told",
    "with_digest",
    "without_digest",
    "write_parts",
]

_A_DAY = 86_400.0  # s
MOST_PREPARED = 15_000_000  # bytes of what is prepared; what a page of all crops rests on has some 8 MB
_T = TypeVar("_T")
_keeps: ContextVar[bool] = ContextVar("_keeps", default=False)


def cache_folder() -> Path:
    """Folder of the kept records; it need not exist."""
    named = os.environ.get("SOWCAL_CACHE")
    if named:
        return Path(named)
    from platformdirs import user_cache_path

    return user_cache_path("sowcal") / "weather"


def answers_folder() -> Path:
    """Folder of the kept answers, beside that of the records; it need not exist."""
    return cache_folder() / "answers" if os.environ.get("SOWCAL_CACHE") else cache_folder().with_name("answers")


def prepared_folder() -> Path:
    """Folder of what was read or made once: the handbook's tables, days of a file or a generator."""
    return answers_folder().with_name("prepared")


@contextlib.contextmanager
def keeping(wanted: bool = True) -> Iterator[None]:
    """Within it what was worked out is kept and read again; the commands ask for it, a program that imports sowcal
    does not."""
    token = _keeps.set(wanted)
    try:
        yield
    finally:
        _keeps.reset(token)


def keeps() -> bool:
    """Whether what is worked out now is kept, and what was kept is read."""
    return _keeps.get()


def digest_of(parts: Iterable[bytes]) -> str:
    """Digest of pieces of data, told apart by their lengths; 32 hexadecimal digits."""
    found = hashlib.blake2b(digest_size=16)
    for part in parts:
        found.update(len(part).to_bytes(8, "little"))
        found.update(part)
    return found.hexdigest()


def with_digest(data: bytes) -> bytes:
    """Bytes after a line of their digest, as they are kept."""
    return digest_of((data,)).encode() + b"\n" + data


def without_digest(kept: bytes) -> bytes | None:
    """The bytes of `with_digest`; None where they are not those that were kept."""
    check, _, data = kept.partition(b"\n")
    return data if check == digest_of((data,)).encode() else None


def read_parts(path: Path) -> tuple[dict[str, bytes], np.ndarray] | None:
    """Texts by name, and numbers, of a file that `write_parts` wrote; None where there is none that is sound."""
    try:
        rest = without_digest(path.read_bytes())
        if rest is None:
            return None
        head, _, body = rest.partition(b"\n")
        found, at = {}, 0
        for name, length in json.loads(head).items():
            found[name], at = body[at : at + length], at + length
        numbers = np.frombuffer(body, dtype="<f8", offset=at)
    except (OSError, ValueError, TypeError, AttributeError):
        return None
    with contextlib.suppress(OSError):
        os.utime(path)
    return found, numbers


def write_parts(path: Path, parts: Mapping[str, bytes], numbers: np.ndarray | None = None, most: int = 0) -> None:
    """Write texts and numbers with their digest, whole or not at all, and keep the folder within `most` bytes.

    A folder that cannot be written to costs nothing.
    """
    head = json.dumps({name: len(part) for name, part in parts.items()}).encode()
    body = b"".join(parts.values()) + (b"" if numbers is None else numbers.astype("<f8").tobytes())
    with contextlib.suppress(OSError):
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, with_digest(head + b"\n" + body))
        make_room(path.parent, most or MOST_PREPARED)


def make_room(folder: Path, most: int) -> None:
    """Take out the longest unused files until what is left takes no more than `most` bytes.

    What was used in the future, by a clock that has gone back since, would stay for ever and push out all that is new.
    """
    files, ahead = [], time.time() + _A_DAY
    for path in folder.glob("*.kept"):
        with contextlib.suppress(OSError):
            found = path.stat()
            files.append((found.st_mtime_ns if found.st_mtime < ahead else 0, found.st_size, path))
    total = sum(size for _, size, _ in files)
    for _, size, path in sorted(files)[:-1]:
        if total <= most:
            return
        with contextlib.suppress(OSError):
            path.unlink()
            total -= size


def _name_of(kind: type) -> str:
    """Name of a kind of record with its module, for a crop's garden is none that is planted."""
    return f"{kind.__module__.rpartition('.')[2]}.{kind.__name__}"


def kinds_of(values: Iterable[Any]) -> dict[str, Any]:
    """The kinds of records among some values, by the names that `Plain` gives them."""
    return {_name_of(v): v for v in values if isinstance(v, type) and hasattr(v, "__dataclass_fields__")}


_AS_THEY_ARE = {str, float, int, bool, type(None)}


class Plain:
    """Plain forms of values for JSON, with their arrays in one row of numbers."""

    def __init__(self) -> None:
        self._arrays: list[np.ndarray] = []
        self._size = 0

    def of(self, value: Any) -> Any:
        """Text, numbers and truth as they are; all else a list that begins with its kind."""
        if type(value) in _AS_THEY_ARE:
            return value
        if isinstance(value, Quantity):
            return ["q", *map(self.of, value.values.values())]
        if isinstance(value, Phrase):  # told again in the language of whoever reads it
            return ["p", str(value), value.template, value.many, self.of(value.values)]
        if isinstance(value, str):
            return str(value)
        if isinstance(value, np.generic):
            return value.item()
        if isinstance(value, int | float):
            return value
        if isinstance(value, tuple):
            if value and all(type(x) is tuple and _AS_THEY_ARE.issuperset(map(type, x)) for x in value):
                return ["r", *map(list, value)]  # pairs of a year and a day: most of what windows hold
            return ["t", *map(self.of, value)]
        if isinstance(value, list):
            return ["l", *map(self.of, value)]
        if isinstance(value, Mapping):
            return ["m", *([self.of(k), self.of(v)] for k, v in value.items())]
        if isinstance(value, np.ndarray):
            first, self._size = self._size, self._size + value.size
            self._arrays.append(value.astype(float).ravel())
            return ["a", first, list(value.shape), "" if value.dtype == float else str(value.dtype)]
        if isinstance(value, dt.date):
            return ["d", value.isoformat()]
        return [_name_of(type(value)), *[self.of(getattr(value, name)) for name in value.__dataclass_fields__]]

    def text(self, value: Any) -> bytes:
        """The plain form as JSON."""
        return json.dumps(self.of(value), separators=(",", ":")).encode()

    def numbers(self) -> np.ndarray:
        """All arrays, one after the other."""
        return np.concatenate(self._arrays) if self._arrays else np.zeros(0)


def told(plain: Any, numbers: np.ndarray, kinds: Mapping[str, Callable[..., Any]]) -> Any:
    """The value of a plain form, of records of these kinds.

    Raises
    ------
    ValueError, KeyError, TypeError, IndexError
        For what `Plain` has not written.
    """

    def of(held: list[Any]) -> Any:
        kind = held[0]
        if kind == "t":
            return tuple([of(x) if type(x) is list else x for x in held[1:]])
        if kind == "r":
            return tuple(map(tuple, held[1:]))
        if kind == "a":
            _, first, shape, dtype = held
            size = prod(shape)
            if first + size > numbers.size:
                raise ValueError("an array is cut off")
            return numbers[first : first + size].reshape(shape).astype(dtype or float)
        if kind == "m":
            return {
                of(k) if type(k) is list else k: of(v) if type(v) is list else v  # keys may be tuples
                for k, v in held[1:]
            }
        if kind == "l":
            return [of(x) if type(x) is list else x for x in held[1:]]
        if kind == "d":
            return dt.date.fromisoformat(held[1])
        if kind == "q":
            return quantity(*held[1:])
        if kind == "p":
            _, text, template, many, values = held
            return kept_phrase(text, template, many, of(values))
        return kinds[kind](*[of(x) if type(x) is list else x for x in held[1:]])

    return of(plain) if type(plain) is list else plain


class Later(Mapping[str, Any]):
    """Values by name, each made from its kept form when it is asked for."""

    def __init__(self, held: Mapping[str, Any], make: Callable[[Any], Any]):
        self._held, self._make = held, make
        self._made: dict[str, Any] = {}

    def __getitem__(self, name: str) -> Any:
        if name not in self._made:
            self._made[name] = self._make(self._held[name])
        return self._made[name]

    def __contains__(self, name: object) -> bool:
        return name in self._held

    def __iter__(self) -> Iterator[str]:
        return iter(self._held)

    def __len__(self) -> int:
        return len(self._held)


def remembered(
    what: str, parts: Iterable[bytes], make: Callable[[], _T], kinds: Callable[[], Mapping[str, Callable[..., Any]]]
) -> _T:
    """What is made of some data: read where it was kept, and kept where it is made (`keeping`).

    Parameters
    ----------
    what : str
        Beginning of the file's name.
    parts : iterable of bytes
        All that it rests on, but for this engine's source and numpy, which are always asked for.
    make : callable
    kinds : callable
        Gives the records that may stand in it, by their names.
    """
    if not keeps():
        return make()
    engine = f"{source_digest()} {np.__version__} {platform.machine()}".encode()
    path = prepared_folder() / f"{what}-{digest_of((engine, *parts))}.kept"
    if (found := read_parts(path)) is not None:
        with contextlib.suppress(KeyError, TypeError, ValueError, IndexError):
            return told(json.loads(found[0]["value"]), found[1], kinds())
    made, plain = make(), Plain()
    write_parts(path, {"value": plain.text(made)}, plain.numbers())
    return made
