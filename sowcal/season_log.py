"""What a grower has done and seen, in one plain file: damaged lines are told, new ones appended, sowings made of it.

The file is CSV with a line an event (`date,event,crop,sort,bed,plants,amount,note`), made to be read and mended by
hand. Lines are only ever added at its end, by one program at a time and in one write; `undo` takes the last away.
"""

from __future__ import annotations

import contextlib
import csv
import datetime as dt
import io
import os
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from sowcal.crops.handbook import Handbook, find_crops, handbook
from sowcal.errors import InputError
from sowcal.files import alone, append_whole, file_bytes, plain_number, write_whole
from sowcal.saved_settings import settings_folder
from sowcal.year import clock_day, date_text, read_when

__all__ = ["COLUMNS", "EVENTS", "Entry", "Problem", "SeasonLog", "Sown", "event_in", "log_path", "sown_of"]

COLUMNS = ("date", "event", "crop", "sort", "bed", "plants", "amount", "note")
STARTS = ("sown under cover", "sown outdoors", "planted")
EVENTS = (
    "sown under cover", "came up", "set out", "sown outdoors", "planted", "first picked", "picked", "watered", "tank",
    "cleared", "lost",
)  # fmt: skip
_WAY = {"sown under cover": "set out", "set out": "set out", "sown outdoors": "sown outdoors", "planted": "planted"}
_CROPLESS = ("watered", "tank")
_LITRES = {"watered": "litres given", "tank": "litres in it"}
# A hundred years of ten lines a day come to some 25 MB. Common practice, no source.
_MOST = 30_000_000
_LONGEST = 500  # letters of a cell: a note is a sentence or two
_MOST_AMOUNT = 1e8
_BREAKS = re.compile(r"[\x00-\x1f\x7f\x85\u2028\u2029]+")


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the log.

    Attributes
    ----------
    date : datetime.date
    event : str
        One of `EVENTS`.
    crop : str
        Its name in the handbook; empty for 'tank', and for beds that are watered.
    sort, bed, note : str
    plants : int or None
    amount : float or None
        Litres for 'watered' and 'tank', kilograms for what is picked.
    line : int
        Of the file, from 1; 0 for what is not in it yet.
    """

    date: dt.date
    event: str
    crop: str = ""
    sort: str = ""
    bed: str = ""
    plants: int | None = None
    amount: float | None = None
    note: str = ""
    line: int = 0

    def cells(self) -> list[str]:
        """The line as it is written."""
        amount = "" if self.amount is None else f"{self.amount:.10g}"
        plants = "" if self.plants is None else str(self.plants)
        return [self.date.isoformat(), self.event, self.crop, self.sort, self.bed, plants, amount, self.note]

    def to_json(self) -> dict[str, Any]:
        """Its cells by their columns; what was not said is null."""
        texts = {name: getattr(self, name) or None for name in ("crop", "sort", "bed")}
        told = {"date": self.date.isoformat(), "event": self.event, **texts}
        return {**told, "plants": self.plants, "amount": self.amount, "note": self.note or None, "line": self.line}


@dataclass(frozen=True, slots=True)
class Problem:
    """A line that cannot be used, and why."""

    line: int
    text: str


@dataclass(frozen=True, slots=True)
class Sown:
    """One sowing: what was started together, and what was done to it and seen of it.

    Attributes
    ----------
    crop, sort, bed : str
    way : str
        'sown outdoors', 'set out' or 'planted'.
    entries : tuple of Entry
        In their order; the first has started it.
    """

    crop: str
    sort: str
    bed: str
    way: str
    entries: tuple[Entry, ...]

    def on(self, event: str) -> dt.date | None:
        """Day of the first event of that kind."""
        return next((e.date for e in self.entries if e.event == event), None)

    @property
    def started(self) -> dt.date:
        """Day of the first event: sown, or, of seedlings that were bought, set out."""
        return self.entries[0].date

    @property
    def in_bed(self) -> dt.date | None:
        """Day from which it is in its bed; None for seedlings under cover."""
        return self.on("set out") if self.way == "set out" else self.started

    @property
    def ended(self) -> dt.date | None:
        """Day on which it was cleared or lost; None while it stands."""
        return self.on("cleared") or self.on("lost")

    @property
    def plants(self) -> int | None:
        """As told last."""
        return next((e.plants for e in reversed(self.entries) if e.plants is not None), None)


def log_path(site: str | os.PathLike[str]) -> Path:
    """Where the log of a site lies: beside its file, else in the folder `logs` of the user's settings.

    `site` is a word for a site, as commands take it.
    """
    word = os.fspath(site).strip()
    if os.path.lexists(word):
        path = Path(os.path.abspath(word))
        return path.with_name(f"{path.stem}.log.csv")
    return settings_folder() / "logs" / f"{re.sub(r'[^0-9a-z.,+-]', '_', word.lower())}.log.csv"


def event_in(words: Sequence[str]) -> tuple[str, list[str]]:
    """The event that a call's words begin with, and the words after it.

    Raises
    ------
    InputError
        For words that begin with no event; the nearest is named.
    """
    said = [w.strip() for w in words]
    for count in (3, 2, 1):
        text = " ".join(said[:count]).lower().replace("-", " ")
        if text in EVENTS:
            return text, said[count:]
    near = get_close_matches(" ".join(said[:2]).lower(), EVENTS, 1, 0.5) or get_close_matches(said[0], EVENTS, 1, 0.5)
    hint = f"did you mean {near[0]!r}?" if near else f"events are {', '.join(EVENTS)}"
    raise InputError(f"{' '.join(said[:2])!r} begins with no event of the log; {hint}")


def _number(text: str, what: str, most: float, whole: bool = False) -> float | None:
    if not text.strip():
        return None
    try:
        value = plain_number(text)
    except ValueError:
        raise InputError(f"{what} is {text!r}; give a number") from None
    if not 0.0 <= value <= most or (whole and value % 1):
        raise InputError(f"{what} is {text.strip()}; give a {'whole ' if whole else ''}number from 0 to {most:,.0f}")
    return value


def _crop(word: str, book: Handbook) -> str:
    """The handbook's own name for a crop that a line names, by an older name or a synonym too."""
    if word in book:
        return word
    found = find_crops(book, word)
    if len(found) > 1:
        raise InputError(f"{word!r} may be {', '.join(c.name for c in found)}; name one of them")
    return found[0].name


def entry_of(said: dict[str, str], book: Handbook, today: dt.date, line: int = 0) -> Entry:
    """One event from its cells, checked by itself; InputError for what cannot be."""
    cells = {name: _BREAKS.sub(" ", said.get(name) or "").strip() for name in COLUMNS}
    for name, text in cells.items():
        if len(text) > _LONGEST:
            raise InputError(f"{name} has {len(text)} letters; at most {_LONGEST} are kept")
    event = cells["event"].lower()
    if event not in EVENTS:
        near = get_close_matches(event, EVENTS, 1, 0.5)
        hint = f"did you mean {near[0]!r}?" if near else f"known: {', '.join(EVENTS)}"
        raise InputError(f"{cells['event']!r} is no event; {hint}")
    when = read_when(cells["date"], today)
    if when > today:
        raise InputError(f"{date_text(when)} lies ahead of {date_text(today)}; the log is of what was done")
    if not cells["crop"] and event not in _CROPLESS:
        raise InputError(f"name the crop that was {event}" if event != "came up" else "name the crop that came up")
    if cells["crop"] and event == "tank":
        raise InputError("a tank's level is of no crop; leave the crop away")
    crop = _crop(cells["crop"], book) if cells["crop"] else ""
    ways = [w.way for w in book[crop].ways] if crop and event in _WAY else []
    if ways and _WAY[event] not in ways:
        raise InputError(f"{crop} is not {_WAY[event]}; it is {' or '.join(ways)}")
    amount = _number(cells["amount"], "the amount", _MOST_AMOUNT)
    if event in _LITRES and amount is None:
        raise InputError(f"say the {_LITRES[event]}, for example: sowcal log {event} 40")
    plants = _number(cells["plants"], "the number of plants", 1e6, whole=True)
    count = None if plants is None else int(plants)
    return Entry(when, event, crop, cells["sort"], cells["bed"], count, amount, cells["note"], line)


def _alike(one: str, other: str) -> bool:
    return not one or not other or one.casefold() == other.casefold()


def _belongs(entry: Entry, made: list[Sown], of_crop: list[int]) -> int | None:
    """Which of the sowings an event is of: the first that has not had it; of pickings the last that was picked."""

    def fits_it(s: Sown) -> bool:
        under_cover = s.in_bed is None
        if s.ended is not None or s.started > entry.date or not _alike(s.sort, entry.sort):
            return False
        return under_cover if entry.event == "set out" else _alike(s.bed, entry.bed)

    fits = [k for k in of_crop if fits_it(made[k])]
    if entry.event == "picked":
        picked = [k for k in fits if made[k].on("first picked") or made[k].on("picked")]
        return picked[-1] if picked else (fits[0] if fits else None)
    return next((k for k in fits if made[k].on(entry.event) is None), fits[0] if fits else None)


def sown_of(entries: Iterable[Entry]) -> tuple[list[Sown], list[Problem]]:
    """The sowings that events tell of, in the order of their starts, and events that are of none.

    An event without a sort or bed belongs to the first sowing of its crop that has not had it.
    """
    made: list[Sown] = []
    of_crop: dict[str, list[int]] = {}
    problems: list[Problem] = []
    for e in sorted(entries, key=lambda e: (e.date, e.event not in STARTS, e.line)):
        if e.event in _CROPLESS:
            continue
        k = None if e.event in STARTS else _belongs(e, made, of_crop.setdefault(e.crop, []))
        if e.event in STARTS or (k is None and e.event == "set out"):  # the latter of seedlings that were bought
            of_crop.setdefault(e.crop, []).append(len(made))
            made.append(Sown(e.crop, e.sort, e.bed, _WAY[e.event], (e,)))
        elif k is None:
            problems.append(Problem(e.line, _without(e, made)))
        elif e.event in ("first picked", "picked") and made[k].in_bed is None:
            told = f"{e.crop} was picked before it was set out; log 'set out' with its day first"
            problems.append(Problem(e.line, told))
        else:
            s = made[k]
            made[k] = replace(s, sort=s.sort or e.sort, bed=e.bed or s.bed, entries=(*s.entries, e))
    return sorted(made, key=lambda s: s.started), problems


def _without(entry: Entry, made: list[Sown]) -> str:
    """Why an event is of no sowing."""
    of_crop = [s for s in made if s.crop == entry.crop]
    what = f"{entry.crop} {'' if entry.event == 'came up' else 'was '}{entry.event} on {date_text(entry.date)}"
    if of_crop and all(s.ended for s in of_crop):
        return f"{what}, but what was sown of it is cleared or lost by then"
    of_which = (f" ({entry.sort})" if entry.sort else "") + (f" in bed {entry.bed}" if entry.bed else "")
    return f"{what}, before any sowing of it{of_which} that the log knows"


@dataclass(frozen=True)
class SeasonLog:
    """A log as it stands in its file, which need not exist yet.

    Attributes
    ----------
    path : Path
    entries : tuple of Entry
        What can be used, in the order of the file.
    problems : tuple of Problem
        What cannot, by lines.
    book : Handbook
        By which crops are named.
    form : tuple
        The file's own columns, and the mark between them.
    """

    path: Path
    entries: tuple[Entry, ...] = ()
    problems: tuple[Problem, ...] = ()
    book: Handbook = field(default_factory=handbook, repr=False, compare=False)
    form: tuple[Sequence[str], str] = field(default=(COLUMNS, ","), repr=False, compare=False)

    @classmethod
    def open(
        cls, path: str | os.PathLike[str], *, today: dt.date | None = None, book: Handbook | None = None
    ) -> SeasonLog:
        """Read a log; damaged lines are told in `problems` and the rest is read.

        Raises
        ------
        InputError
            For a file that cannot be read at all.

        Examples
        --------
        >>> SeasonLog.open("no-such.log.csv").entries
        ()
        """
        path, book = Path(path), book or handbook()
        if not os.path.lexists(path):
            return cls(path, book=book)
        entries, problems, form = _read(_text(path), book, today or clock_day())
        _, orphans = sown_of(entries)
        return cls(path, tuple(entries), tuple(sorted((*problems, *orphans), key=lambda p: p.line)), book, form)

    @property
    def sown(self) -> list[Sown]:
        """The sowings that it tells of."""
        return sown_of(self.entries)[0]

    def append(self, event: str, crop: str = "", *, today: dt.date | None = None, **cells: Any) -> SeasonLog:
        """Add one event at the end of the file, and give the log as it then stands.

        Parameters
        ----------
        event, crop : str
        today : datetime.date, optional
            By the clock where left out.
        **cells
            `date`, as `read_when` takes it and today where left out, `sort`, `bed`, `plants`, `amount`, `note`.

        Raises
        ------
        InputError
            For what cannot be, such as a date ahead or a picking before setting out; nothing is written then.

        Examples
        --------
        >>> import tempfile
        >>> with tempfile.TemporaryDirectory() as folder:
        ...     log = SeasonLog.open(f"{folder}/log.csv").append("sown outdoors", "carrot", date="2026-03-20", bed="3")
        >>> [(s.crop, s.bed, s.way, s.started.isoformat()) for s in log.sown]
        [('carrot', '3', 'sown outdoors', '2026-03-20')]
        """
        if unknown := cells.keys() - set(COLUMNS):
            raise InputError(f"the log has no column {sorted(unknown)[0]!r}; it has {', '.join(COLUMNS)}")
        said = {k: "" if v is None else str(v) for k, v in cells.items()}
        return self._extend([{"date": "today", **said, "event": event, "crop": crop}], today=today)

    def _extend(self, rows: Iterable[dict[str, str]], *, today: dt.date | None = None) -> SeasonLog:
        """Add several events, all or none of them; `InputError` for the first that cannot be."""
        day = today or clock_day()
        new = [entry_of(row, self.book, day) for row in rows]
        with self._alone():
            now = SeasonLog.open(self.path, today=day, book=self.book)
            numbered = [replace(e, line=10**9 + k) for k, e in enumerate(new)]  # after all that is there
            known = {(p.line, p.text) for p in sown_of(now.entries)[1]}
            for p in sown_of((*now.entries, *numbered))[1]:
                if (p.line, p.text) not in known:
                    raise InputError(p.text)
            try:
                append_whole(self.path, _lines_of(now, new), ",".join(COLUMNS).encode() + b"\n")
            except OSError as problem:
                raise _unwritable(self.path, problem) from None
            return SeasonLog.open(self.path, today=day, book=self.book)

    def add_file(self, path: str | os.PathLike[str], *, today: dt.date | None = None) -> tuple[SeasonLog, int]:
        """Add the lines of another log that this one lacks, all of them or none; how many they were.

        Raises
        ------
        InputError
            For a damaged line, by its number, or one that does not go with what is there.

        Examples
        --------
        >>> import tempfile
        >>> with tempfile.TemporaryDirectory() as folder:
        ...     other = SeasonLog.open(f"{folder}/other.csv").append("tank", amount=3200, date="2026-05-01")
        ...     log, added = SeasonLog.open(f"{folder}/log.csv").add_file(other.path)
        >>> added
        1
        """
        day = today or clock_day()
        if not os.path.lexists(path):
            raise InputError(f"there is no file {os.fspath(path)!r}; check the name and the folder")
        found, problems, _ = _read(_text(Path(path)), self.book, day)
        if problems:
            raise InputError(problems[0].text, where=os.fspath(path), line=problems[0].line)
        have = {tuple(e.cells()) for e in SeasonLog.open(self.path, today=day, book=self.book).entries}
        rows = [dict(zip(COLUMNS, e.cells(), strict=True)) for e in found if tuple(e.cells()) not in have]
        return (self._extend(rows, today=day) if rows else self), len(rows)

    def undo(self, *, today: dt.date | None = None) -> tuple[SeasonLog, str]:
        """Take the last line away; the log as it then stands, and the line.

        Examples
        --------
        >>> import tempfile
        >>> with tempfile.TemporaryDirectory() as folder:
        ...     SeasonLog.open(f"{folder}/log.csv").append("tank", amount=3200, date="2026-05-01").undo()[1]
        '2026-05-01,tank,,,,,3200,'
        """
        with self._alone():
            raw = file_bytes(self.path, _MOST, "log") if os.path.lexists(self.path) else b""
            lines = raw.splitlines(keepends=True)  # what stays keeps its letters, its mark of them and its line ends
            while lines and not _told(lines[-1]).strip():
                lines.pop()
            if len(lines) <= (1 if lines and _is_header(_told(lines[0])) else 0):
                raise InputError("the log has no line to take away", where=str(self.path))
            gone = lines.pop().decode(_code(raw), errors="replace").strip("\ufeff\r\n")
            try:
                write_whole(Path(os.path.realpath(self.path)), b"".join(lines))
            except OSError as problem:
                raise _unwritable(self.path, problem) from None
            return SeasonLog.open(self.path, today=today, book=self.book), gone

    @contextlib.contextmanager
    def _alone(self) -> Iterator[None]:
        target = Path(os.path.realpath(self.path))
        try:
            target.parent.mkdir(parents=True, exist_ok=True)
        except OSError as problem:
            raise _unwritable(self.path, problem) from None
        with alone(target.with_name(f".lock-{target.name}")):
            yield


def _unwritable(path: Path, problem: OSError) -> InputError:
    return InputError(f"the log cannot be written ({problem.strerror}); make its folder writable", where=str(path))


def _text(path: Path) -> str:
    return _told(file_bytes(path, _MOST, "log"))


def _told(raw: bytes) -> str:
    return raw.decode(_code(raw), errors="replace").lstrip("\ufeff").replace("\r\n", "\n").replace("\r", "\n")


def _code(raw: bytes) -> str:
    """UTF-8, or what older spreadsheets write."""
    with contextlib.suppress(UnicodeDecodeError):
        raw.decode("utf-8")
        return "utf-8"
    return "cp1252"


def _is_header(line: str) -> bool:
    return {"date", "event"} <= {c.strip().strip('"').lower() for c in re.split("[,;\t]", line)}


def _read(text: str, book: Handbook, today: dt.date) -> tuple[list[Entry], list[Problem], tuple[Sequence[str], str]]:
    """Entries, the lines that are none, columns and their mark; line by line, so that one cannot spoil the next."""
    entries: list[Entry] = []
    problems: list[Problem] = []
    columns, mark = list(COLUMNS), ","
    for number, line in enumerate(text.split("\n"), 1):
        if not line.strip(" ,;\t") or line.lstrip().startswith("#"):
            continue
        try:
            if _is_header(line) and not entries:
                mark = next((m for m in (";", "\t") if m in line and "," not in line), ",")
                columns = [c.strip().lower() for c in next(csv.reader([line], delimiter=mark))]
                continue
            cells = next(csv.reader([line], delimiter=mark, strict=True))
            if len(cells) > len(columns) and any(c.strip() for c in cells[len(columns) :]):
                raise InputError(f"the line has {len(cells)} cells, and there are {len(columns)} columns")
            said = dict(zip(columns, cells, strict=False))
            if not re.fullmatch(r"\s*\d{4}-\d{1,2}-\d{1,2}\s*", said.get("date", "")):
                raise InputError(f"{said.get('date', '')!r} is no date; in the file it is written as 2026-03-20")
            entries.append(entry_of(said, book, today, number))
        except csv.Error:
            problems.append(Problem(number, "a quotation mark is left open"))
        except InputError as problem:
            problems.append(Problem(number, problem.message))
    return entries, problems, (columns, mark)


def _lines_of(log: SeasonLog, new: list[Entry]) -> bytes:
    """Lines as the file of a log has them: a spreadsheet may have saved it with other columns, mark or letters."""
    made, (columns, mark) = io.StringIO(), log.form
    write = csv.writer(made, lineterminator="\n", delimiter=mark)
    for entry in new:
        cells = dict(zip(COLUMNS, entry.cells(), strict=True))
        if lost := [name for name in COLUMNS if cells[name] and name not in columns]:
            raise InputError(f"the log's first line has no column {lost[0]!r}; add it there", where=str(log.path))
        write.writerow([cells.get(name, "") for name in columns])
    code = _code(file_bytes(log.path, _MOST, "log")) if os.path.lexists(log.path) else "utf-8"
    try:
        return made.getvalue().encode(code, "replace" if code == "utf-8" else "strict")
    except UnicodeEncodeError:
        raise InputError("it is no UTF-8 and cannot take all letters; save it as UTF-8", where=str(log.path)) from None
