"""What a grower writes, sends and hands over: logs, gardens by the page, leaflets, settings, data frames, uploads."""

from __future__ import annotations

import asyncio
import contextlib
import datetime as dt
import json
import os
import shutil
import tomllib
import warnings
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextvars import copy_context
from pathlib import Path
from typing import Any
from urllib.parse import quote

import numpy as np
import pandas as pd
import samples
from judge import Defect, ask, sound
from mutate import VALUES, Pick, damaged, odd_text

from sowcal.commands.parser import parse
from sowcal.errors import SowcalError
from sowcal.files import csv_rows, read_lines
from sowcal.garden.garden_file import Start
from sowcal.garden.garden_text import garden_of_text, new_garden_text, with_starts
from sowcal.saved_settings import recall, remember
from sowcal.season_log import SeasonLog, entry_of
from sowcal.site import Site
from sowcal.suitability.leaflet import leaflet_lines
from sowcal.weather.cf_dataset import dataset_of
from sowcal.weather.from_xarray_and_pandas import as_record, record_of_dataset, record_of_frame

__all__ = ["GROWER"]

TODAY = dt.date(2003, 1, 15)
_BY_CHANCE = ("sown outdoors", "radish"), ("tank", ""), ("picked", "leek"), ("lost", "leek"), ("set out", "leek")


def _log(folder: Path, pick: Pick) -> None:
    """A log is read line by line; one line more changes no other, is read as it was said, and can be taken back."""
    path, raw = folder / "a.log.csv", damaged(samples.LOG.encode(), pick)
    path.write_bytes(raw)
    before = SeasonLog.open(path, today=TODAY)
    lines = raw.count(b"\n") + raw.count(b"\r") + 1
    if not all(0 < p.line <= lines and 15 < len(p.text) < 2000 for p in before.problems):
        raise Defect(f"a problem without a line or a sentence: {before.problems}")
    event, crop = _BY_CHANCE[pick(len(_BY_CHANCE))]
    row = {"date": "2002-12-01", "event": event, "crop": crop, "amount": "4.5" if pick(3) else "", "bed": "two"}
    row["note"] = odd_text(pick) if pick(3) == 0 else "a note"
    try:
        after = before.append(**row, today=TODAY)
    except SowcalError:
        if path.read_bytes() != raw:
            raise Defect("a line was refused, and the log is another") from None
        raise
    if not path.read_bytes().startswith(raw):
        raise Defect("one line more changed others")
    meant = entry_of(row, before.book, TODAY).cells()
    if not after.entries or [c.encode(errors="replace") for c in after.entries[-1].cells()] != [
        c.encode(errors="replace") for c in meant
    ]:
        raise Defect(f"a line that was taken is not read again: {meant}")
    if _told(after)[:-1] != _told(before):
        raise Defect("one line more, and others are read otherwise")
    if _told(after.undo(today=TODAY)[0]) != _told(before):
        raise Defect("a line was taken back, and the log is not what it was")
    if raw and path.read_bytes() not in (raw, raw + b"\n"):  # an empty file has a heading since
        raise Defect("a line was taken back, and other bytes than its own are gone or changed")


def _told(log: SeasonLog) -> list[list[str]]:
    return [e.cells() for e in log.entries]


def _season_commands(folder: Path, pick: Pick) -> None:
    """A season asked for, of a damaged log and damaged new days."""
    (folder / "site.toml").write_text(samples.SITE_OF_NORMALS)
    sound = {"site.log.csv": samples.LOG, "new.csv": samples.NEW_DAYS, "other.csv": samples.LOG}
    chosen = sorted(sound)[pick(len(sound))]
    for name, text in sound.items():
        (folder / name).write_bytes(damaged(text.encode(), pick) if name == chosen else text.encode())
    calls = (
        ["season", "site.toml", "--date", "2003-01-15", "--recent", "new.csv", "--json"],
        ["season", "site.toml", "--date", "2002-12-31", "--forecast", "new.csv"],
        ["season", "site.toml", "--year", "2002", "--json"],
        ["log", "--site", "site.toml", "--add", "other.csv", "--json"],
        ["log", "--site", "site.toml", "--undo"],
        ["log", "--site", "site.toml"],
        ["week", "site.toml", "leek", "--date", "2002-12-01"],
    )
    ask(calls[pick(len(calls))], folder)


_NUMBERS = (1, 2, 0.4, 4, 1e9, -1, 0, float("nan"), float("inf"), 1e-9)


def _starts(folder: Path, pick: Pick) -> None:
    """A garden file as the page changes it: other start days, and all else as it was."""
    text = damaged(samples.GARDEN.encode(), pick).decode("utf-8", "replace")
    if pick(3) == 0:
        numbers = [_NUMBERS[pick(len(_NUMBERS))] for _ in range(3)]
        text, _ = new_garden_text(odd_text(pick), odd_text(pick), numbers[0], 1 + pick(9), *numbers[1:], [9.5], folder)
    before = garden_of_text(text, "a.toml", folder)
    starts = [Start(("carrot", "leek", odd_text(pick))[pick(3)], "sown outdoors", pick(365)) for _ in range(pick(4))]
    made = with_starts(text, starts, "a.toml")
    if {k: v for k, v in tomllib.loads(made).items() if k != "starts"} != tomllib.loads(text):
        raise Defect("other start days, and something else of the garden is another too")
    after = garden_of_text(made, "a.toml", folder)
    if list(after.starts) != starts or after.beds != before.beds:
        raise Defect("start days that were written are not read again")
    if garden_of_text(with_starts(made, [], "a.toml"), "a.toml", folder) != before:
        raise Defect("start days that were taken away have left something")


def _leaflet(folder: Path, pick: Pick) -> None:
    path = folder / "a.csv"
    path.write_bytes(damaged(samples.LEAFLET.encode(), pick))
    if pick(12) == 0:
        ask(["compare", "sallowdene", "--leaflet", "a.csv", *(["--json"] if pick(2) else [])], folder)
    elif not all(
        x.months and set(x.months) <= set(range(1, 13)) for x in leaflet_lines(csv_rows(read_lines(path), "a"), "a")
    ):
        raise Defect("a line of no months, or of months that are none")


def _settings(folder: Path, pick: Pick) -> None:
    """A settings file is read or refused; a change of one key leaves the others and the notes."""
    path, raw = folder / "settings.toml", damaged(samples.SETTINGS.encode(), pick)
    path.write_bytes(raw)
    key = ("here", "mine", "language", "units")[pick(4)]
    values = {"here": odd_text(pick) or "x", "mine": ("leek", "pea"), "language": "es", "units": "us"}
    value: Any = None if pick(4) == 0 else values[key]
    try:
        was = tomllib.loads(recall(folder).text)
        after = remember(lambda _: {key: value}, folder)
    except SowcalError:
        if path.read_bytes() != raw:
            raise Defect("a change was refused, and the settings are others") from None
        raise
    again = recall(folder)
    if (again.here, again.mine) != (after.here, after.mine) or (
        value is not None and getattr(again, key) != (value.strip() if key == "here" else value)
    ):
        raise Defect(f"{key} was kept as {getattr(again, key)!r}")
    now = tomllib.loads(again.text)
    if any(was.get(k) != now.get(k) for k in (was.keys() | now.keys()) - {key, "version"}):
        raise Defect("one key was changed, and others with it")


@contextlib.contextmanager
def _home(folder: Path, pick: Pick) -> Iterator[None]:
    """Settings of this input alone, beside its folder; now and then damaged."""
    home, before = folder.parent / "home", os.environ.get("SOWCAL_HOME")
    shutil.rmtree(home, ignore_errors=True)
    home.mkdir()
    if pick(3) == 0:
        (home / "settings.toml").write_bytes(damaged(samples.SETTINGS.encode(), pick))
    os.environ["SOWCAL_HOME"] = str(home)
    try:
        yield
        if left := [p for p in home.rglob("*") if p.name.startswith(".sowcal")]:
            raise Defect(f"left half written: {left}")
    finally:
        os.environ.pop("SOWCAL_HOME") if before is None else os.environ.update(SOWCAL_HOME=before)


LANGUAGES = ("en", "pt", "es", "fr", "it", "ca", "de", "el", "ar", "tr", "PT", "xx", "")
NAMED = ("alface", "lechuga", "laitue", "couve", "judía", "fava", "Möhre", "مقدونس", "havuç", "lettuce", "broad bean")


def _languages_and_units(folder: Path, pick: Pick) -> None:
    """Questions in every language and unit, by options and by what is remembered."""
    words: list[str] = [("rate", "chart", "week", "climate", "crops", "here", "season", "compare", "mine")[pick(9)]]
    if words[0] in ("rate", "chart", "week", "crops"):
        words += [odd_text(pick).replace("\0", "") if pick(4) == 0 else NAMED[pick(len(NAMED))]]
    elif words[0] == "mine":
        words += [("add", "remove", "from")[pick(3)], NAMED[pick(len(NAMED))]] if pick(2) else []
    elif words[0] == "compare":
        words += ["sallowdene", "wrackhythe", "--with", "warmer=1"] if pick(2) else []
    if pick(3):
        words += ["--language", LANGUAGES[pick(len(LANGUAGES))]]
    if pick(3):
        words += ["--units", ("si", "us", "imperial", "", "SI")[pick(5)]]
    if pick(4) == 0:
        words += [("--json", "--ascii", "--width=40", "--with=higher=100", "--most-water=3", "--all")[pick(6)]]
    if "--all" in words:
        words.remove("--all")  # of all crops the answer takes long
    with _home(folder, pick):
        ask(words, folder)


def _frame(folder: Path, pick: Pick) -> None:
    """A data frame as somebody may have it."""
    data = samples.longer()
    frame = pd.DataFrame(
        {"tmin": data["tasmin"], "tmax": data["tasmax"], "rain": data["pr"]}, pd.to_datetime(data.time)
    )
    for _ in range(pick(4)):
        with warnings.catch_warnings(), contextlib.suppress(Exception):  # of pandas itself, while it is made
            warnings.simplefilter("ignore")
            frame = FRAME[pick(len(FRAME))](frame, pick)
    said = {"latitude": _number_or_not(pick, 40.1), "longitude": _number_or_not(pick, -2.9), "temperature_unit": "degC"}
    if pick(6) == 0:
        said["temperature_unit"] = VALUES[pick(len(VALUES))]
    if pick(6) == 0:
        said["columns"] = {("date", "tasmin", "pr", "x")[pick(4)]: ("tmin", "index", "none", 3)[pick(4)]}
    sound(record_of_frame(frame, **said))
    Site.from_pandas(frame, **said).to_pandas()


def _number_or_not(pick: Pick, sound: float) -> Any:
    return (None, "40", float("nan"), 1e9, -90, "x", np.float32(3), 10**400, sound, sound, sound)[pick(11)]


def _with_cell(frame: pd.DataFrame, pick: Pick) -> pd.DataFrame:
    if frame.empty or not frame.shape[1]:
        return frame
    frame = frame.astype(object)
    values = (
        None,
        "x",
        "3,5",
        1e308,
        float("inf"),
        -9999,
        True,
        pd.NaT,
        pd.NA,
        3 + 1j,
        [],
        {},
        b"4",
        dt.date(2001, 1, 1),
    )
    frame.iat[pick(len(frame)), pick(frame.shape[1])] = values[pick(len(values))]
    return frame


def _as_type(frame: pd.DataFrame, pick: Pick) -> pd.DataFrame:
    kinds = ("float32", "float16", "string", "object", "category", "complex128", "Float64", "str", "bool")
    return frame.astype(kinds[pick(len(kinds))])


def _of_days(frame: pd.DataFrame, pick: Pick) -> pd.DataFrame:
    """Another index."""
    days, what = frame.index, pick(11)
    if not isinstance(days, pd.DatetimeIndex):
        return frame.reset_index() if pick(2) else frame
    if what == 0 and days.tz is None:
        return frame.set_axis(days.tz_localize("Europe/Lisbon"))
    made: Any = (
        days, days.astype(str), days + pd.Timedelta(hours=12), days.astype("int64"), range(len(days)), days[::-1],
        days.strftime("%d/%m/%Y"), days.where(np.arange(len(days)) != 3), days + pd.DateOffset(years=200),
        days.date, days.repeat(2)[: len(days)],
    )[what]  # fmt: skip
    return frame.set_axis(made)


FRAME: tuple[Callable[[pd.DataFrame, Pick], pd.DataFrame], ...] = (
    _with_cell,
    _with_cell,
    _as_type,
    _of_days,
    _of_days,
    lambda f, pick: f.sample(frac=1.0, random_state=pick(9)),
    lambda f, pick: pd.concat([f, f.iloc[pick(len(f) + 1) :]]),
    lambda f, pick: f.drop(index=f.index[pick(len(f) + 1) :]),
    lambda f, pick: f.iloc[:, : pick(f.shape[1] + 1)],
    lambda f, pick: f.rename(columns={"tmin": (odd_text(pick), "tmax", 3, ("a", "b"), None, "tmin_degF")[pick(6)]}),
    lambda f, pick: f.reset_index(names="date") if "date" not in f.columns else f,
    lambda f, pick: pd.concat([f], axis=1, keys=["a"]),
    lambda f, pick: f.iloc[:: 1 + pick(3)],
    lambda f, pick: (f.attrs.update(latitude=(None, "x", 40, [1])[pick(4)], title=odd_text(pick)), f)[1],
    lambda f, pick: f.T if pick(8) == 0 else f,
)


def _dataset(folder: Path, pick: Pick) -> None:
    """A labelled dataset as somebody may have it; the record's own, or a grid."""
    data = dataset_of(samples.longer()) if pick(2) else samples.grid()
    for _ in range(pick(4)):
        names = sorted(map(str, data.variables))
        name = names[pick(len(names))] if names else ""
        with warnings.catch_warnings(), contextlib.suppress(Exception):  # of xarray itself, while it is made
            warnings.simplefilter("ignore")
            data = _dataset_otherwise(data, name, pick)
    said = {"latitude": _number_or_not(pick, 40.1), "longitude": _number_or_not(pick, -2.9)}
    if pick(4) == 0:
        sound(as_record(data))
    sound(record_of_dataset(data, **said))
    Site.from_xarray(data, **said).to_xarray()


def _dataset_otherwise(data: Any, name: str, pick: Pick) -> Any:
    what = pick(10)
    if not name:
        return data
    if what == 0:
        return data.drop_vars(name)
    if what == 1:
        key = ("units", "standard_name", "calendar", "valid_min", "_FillValue")[pick(5)]
        data = data.copy()
        data[name].attrs[key] = (odd_text(pick), "K", "degF", 3, [1, 2], None, "mm/h", "kg m-2 s-1")[pick(8)]
        return data
    if what == 2:
        data = data.copy()
        data.attrs[("title", "source", "problems", "warnings", "history", "elevation")[pick(6)]] = (
            odd_text(pick), 3, [1], None, "[", "{}",
        )[pick(6)]  # fmt: skip
        return data
    if what == 3 and data.sizes:
        dims = sorted(map(str, data.sizes))
        along = dims[pick(len(dims))]
        rows = (slice(0, 0), slice(None, None, -1), slice(None, None, 2), [0, 0, 1], 0)[pick(5)]
        return (
            data.isel({along: rows if along != "time" or rows != 0 else slice(0, 1)}) if data.sizes[along] > 1 else data
        )
    if what == 4:
        kinds = ("float32", "int16", "U9", "object", "complex", "datetime64[ns]", "bool")
        return data.assign({name: data[name].astype(kinds[pick(len(kinds))])}) if name not in data.dims else data
    if what == 5 and name not in data.dims:
        values = (np.nan, np.inf, -1e30, 1e6, 273.15)
        return data.assign({name: data[name].where(data[name].astype(str) == "", values[pick(len(values))])})
    if what == 6:
        return data.rename({name: ("tasmax_", "x", "tas", "lat2")[pick(4)] + str(pick(9))})
    if what == 7 and name not in data.dims:
        return data.assign({name: data[name] + (300.0 if pick(2) else -40.0)}) if data[name].dtype.kind == "f" else data
    if what == 8 and "time" in data.dims and data["time"].dtype.kind == "M":
        steps = (np.timedelta64(12, "h"), np.timedelta64(400 * 365, "D") / 2, np.timedelta64(1, "ns"))
        return data.assign_coords(time=data["time"] + steps[pick(3)].astype("timedelta64[ns]"))
    return data.transpose(*reversed(list(data.dims)))


def _request(app: Any, method: str, path: str, body: bytes) -> tuple[int, bytes]:
    """Status and body of one request, without a server."""
    sent, came, status = [{"type": "http.request", "body": body, "more_body": False}], bytearray(), [0]

    async def receive() -> dict[str, Any]:
        return sent.pop() if sent else {"type": "http.disconnect"}

    async def send(message: dict[str, Any]) -> None:
        status[0] = message.get("status", status[0])
        came.extend(message.get("body", b""))

    bare, _, query = path.partition("?")
    scope = {
        "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": method, "path": bare,
        "root_path": "", "raw_path": bare.encode(), "query_string": query.encode(), "headers": [], "scheme": "http",
        "server": ("127.0.0.1", 1), "client": ("127.0.0.1", 2),
    }  # fmt: skip
    with ThreadPoolExecutor(1) as alone:  # a loop of its own, for a browser's may run in this thread
        alone.submit(copy_context().run, asyncio.run, app(scope, receive, send)).result()
    return status[0], bytes(came)


def _desk(folder: Path) -> tuple[Any, Path]:
    """The application of the page on a folder of its own, with one site; nothing is worked out unasked."""
    from sowcal.commands.open_app import Page
    from sowcal.commands.open_desk import Desk
    from sowcal.outputs.document import Html

    plot = folder / "plot"
    plot.mkdir()
    (plot / "site.toml").write_text(samples.SITE_OF_NORMALS)
    (plot / "old.csv").write_bytes(samples.weather()["csv"][1])
    remember(lambda _: {"here": str(plot / "site.toml")})
    page = Page(Desk(plot, parse(["page", "radish", "--issued", "2003-01-15"])), lambda: None)
    page.begin, page._log_section = lambda: None, lambda: Html("")  # type: ignore[method-assign]
    return page.app, plot


def _answered(app: Any, plot: Path, method: str, path: str, body: bytes) -> int:
    """One request, and what must hold after it."""
    before = {p: p.read_bytes() for p in plot.rglob("*") if p.is_file()}
    status, came = _request(app, method, path, body)
    if status not in (200, 422):
        raise Defect(f"{method} {path[:60]!r} was answered with {status}")
    said = json.loads(came)
    if status == 422 and not 15 < len(said["said"]) < 2000:
        raise Defect(f"a refusal of {len(said['said'])} letters: {said['said'][:200]!r}")
    left = {p.name for p in plot.parent.rglob("*") if p.is_file() and p not in before}
    if any(n.startswith(".") and not n.startswith(".lock-") for n in left) or {
        p.name for p in plot.parent.iterdir()
    } != {"plot"}:
        raise Defect(f"left half written, or outside the folder: {left}")
    for p, raw in before.items():
        now = p.read_bytes()
        if now != raw and (status == 422 or not p.name.endswith((".log.csv", ".garden.toml"))):
            raise Defect(f"{p.name} is another after {path[:60]!r} ({status})")
    return status


def _upload(folder: Path, pick: Pick) -> None:
    """A record dropped on the page, under any name, and a place made of it."""
    with _home(folder, lambda n: n - 1):
        app, plot = _desk(folder)
        kinds = [k for k in samples.weather() if k != "epw"]
        name, raw = samples.weather()[kinds[pick(len(kinds))]]
        name = (name, "old.csv", odd_text(pick) + name, "../a.csv", "a.toml", "a b (1).csv", "CON.csv", "a..csv")[
            pick(8)
        ]
        data = damaged(raw, pick) if pick(4) else raw
        status = _answered(app, plot, "PUT", "/record?name=" + quote(name.encode("utf-8", "surrogateescape")), data)
        if status == 200 and data not in [p.read_bytes() for p in plot.glob("*")]:
            raise Defect("a record was taken, and is not kept as it came")
        fields = {"name": odd_text(pick), "degrees": "40.1 -2.9" if pick(4) else odd_text(pick), "height": "12"}
        fields |= {"record": name, "unit": ("degC", "degF", "", "x")[pick(4)]}
        _answered(app, plot, "POST", "/place/describe", json.dumps(fields, ensure_ascii=True).encode())


def _forms(folder: Path, pick: Pick) -> None:
    """Forms of the page, some of them filled in by nobody's browser."""
    forms: tuple[tuple[str, dict[str, str]], ...] = (
        ("/mine", {"crop": "leek", "on": "yes"}),
        ("/log", {"event": "sown outdoors", "crop": "carrot", "date": "2002-12-01", "bed": "one", "note": "x"}),
        ("/log", {"event": "tank", "amount": "40", "date": "today"}),
        ("/log/undo", {"line": "2002-12-01\ttank\t\t\t\t\t40\t"}),
        ("/place/choose", {"place": "sallowdene"}),
        ("/garden/begin", {"name": "Mine", "people": "2", "beds": "2", "length": "4", "width": "1.2", "tanks": "1000"}),
        ("/garden/free", {"crop": "leek"}),
        ("/garden/move", {"crop": "leek", "way": "set out", "from": "05-01", "to": "05-08"}),
        ("/place/describe", {"name": "New", "degrees": "40 -3", "height": "1", "tasmin": "4 " * 12,
                             "tasmax": "16 " * 12, "pr": "40 " * 12, "wet_days": "8 " * 12}),
    )  # fmt: skip
    with _home(folder, lambda n: n - 1):
        app, plot = _desk(folder)
        for _ in range(1 + pick(3)):
            path, fields = forms[pick(len(forms))]
            fields = dict(fields)
            for _ in range(pick(3)):
                key = sorted(fields)[pick(len(fields))]
                fields[key] = VALUES[pick(len(VALUES))] if pick(2) else odd_text(pick)
            body = json.dumps(fields).encode()
            _answered(app, plot, "POST", path, damaged(body, pick) if pick(4) == 0 else body)
        SeasonLog.open(plot / "site.log.csv", today=TODAY)
        recall()


GROWER: dict[str, Callable[[Path, Pick], None]] = {
    "log": _log,
    "season, by commands": _season_commands,
    "garden, by the page": _starts,
    "leaflet": _leaflet,
    "settings file": _settings,
    "languages and units": _languages_and_units,
    "data frame": _frame,
    "dataset": _dataset,
    "upload": _upload,
    "forms of the page": _forms,
}
