"""A record written as NetCDF or CSV: whole or not at all, and readable by this package again."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from sowcal.errors import InputError
from sowcal.files import write_whole
from sowcal.weather.record import ORIGIN_WORDS, VARIABLES

if TYPE_CHECKING:
    from sowcal.weather.record import DailyRecord

__all__ = ["EXPORTS", "csv_text", "export_record"]

# What begins a formula, after a separator; a plain number with its sign is none (-31.9,115.9 names a place).
_FORMULA = re.compile(r"""([,;|"']\s*)(?=[=@+-])(?![+-]\d+(?:\.\d*)?\s*(?:[,;|]|$))""")
EXPORTS = (".nc", ".csv")
_HEADERS = {
    "tasmin": "tasmin_degC",
    "tasmax": "tasmax_degC",
    "tas": "tas_degC",
    "pr": "pr_mm",
    "hurs": "hurs_percent",
    "sfcWind": "wind_m_s",
    "rsds": "rsds_MJ_m2",
    "sunshine": "sunshine_h",
}


def _as_utf8(value: str | int | float) -> str | int | float:
    """A text without the lone surrogates that stand for bytes of a file's name that are no text."""
    return value.encode("utf-8", "backslashreplace").decode() if isinstance(value, str) else value


def _harmless(text: str) -> str:
    """A remark on one line, no part of which a spreadsheet takes for a formula after parting it at commas."""
    line = " ".join("".join(c if c.isprintable() else " " for c in text).split())
    return _FORMULA.sub(r"\1'", line)


def csv_text(record: DailyRecord) -> str:
    """A table with remarks above it.

    Beside each variable that has other than observed values stands a column such as `tasmin_origin`, empty where
    the value was observed (or is missing), else 'filled' or 'generated'; `read_csv` understands it.
    """
    remarks = {"name": record.title, "source": record.source, "licence": record.licence}
    lines = [f"# {k}: {_harmless(str(v))}" for k, v in remarks.items() if v]
    for name in ("latitude", "longitude", "elevation"):
        value = getattr(record, name)
        if np.isfinite(value):
            lines.append(f"# {name}: {value!r}")
    names = [v for v in VARIABLES if v in record and np.isfinite(record[v]).any()]
    names = list(dict.fromkeys(["tasmin", "tasmax", *names]))
    headers, columns = ["date"], []
    for name in names:
        values, codes = record[name], record.origin[name]
        headers.append(_HEADERS[name])
        columns.append(["" if np.isnan(v) else repr(round(float(v), 6)) for v in values])
        words = [ORIGIN_WORDS.get(int(c), "") for c in codes]
        if any(words):
            headers.append(f"{name}_origin")
            columns.append(words)
    lines.append(",".join(headers))
    days = record.time.astype(str)
    lines += [",".join(row) for row in zip(days, *columns, strict=True)]
    return "\n".join(lines) + "\n"


def export_record(record: DailyRecord, path: Path) -> None:
    """Write a record by the suffix of the file's name.

    Raises
    ------
    InputError
        For another suffix than `.nc` (classic NetCDF, CF) and `.csv`, or a place that cannot be written to.
    """
    suffix = path.suffix.lower()
    if suffix not in EXPORTS:
        raise InputError("a record is written as .nc or .csv; give the file such an ending", where=str(path))
    if suffix == ".csv":
        data: bytes | memoryview = csv_text(record).encode("utf-8", "backslashreplace")
    else:
        from sowcal.weather.cf_dataset import dataset_of

        plain = dataset_of(record)
        plain.attrs = {k: _as_utf8(v) for k, v in plain.attrs.items()}
        data = plain.to_netcdf(engine="scipy")
    try:
        write_whole(path, data)
    except OSError as problem:
        raise InputError(
            f"cannot write there ({problem.strerror}); name a folder that exists and may be written to",
            where=str(path),
        ) from None
