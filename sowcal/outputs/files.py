"""Answers and pictures written to files by suffix: whole or not at all, and the same bytes each time."""

from __future__ import annotations

import datetime as dt
import errno
import io
import os
from collections.abc import Callable, Iterable, Sequence
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sowcal.errors import InputError
from sowcal.files import write_whole

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from sowcal.outputs.tables import TableSheet

__all__ = ["PICTURES", "TABLES", "need_form", "need_place", "page_path", "write_bytes", "write_output", "write_text"]

PICTURES = (".png", ".svg", ".pdf")
TABLES = (".csv", ".xlsx")
_NO_ROOM = (errno.ENOSPC, errno.EFBIG, errno.EDQUOT, errno.EIO)
_DPI = 150  # pixels an inch: small print stays sharp on paper
# One fixed salt makes the ids inside an SVG the same in every run.
_SETTINGS: Any = {"svg.hashsalt": "sowcal", "svg.fonttype": "path", "pdf.fonttype": 42}


def page_path(path: Path, page: int) -> Path:
    """File of a page counted from 1: c.png, c-2.png, c-3.png."""
    return path if page == 1 else path.with_name(f"{path.stem}-{page}{path.suffix}")


def write_bytes(path: Path, data: bytes | memoryview) -> list[Path]:
    """A file, whole or not at all.

    Raises
    ------
    InputError
        Where the place cannot be written to, or has no room.
    """
    try:
        write_whole(path, data)
    except OSError as error:
        if error.errno in _NO_ROOM:
            raise InputError(f"could not be written ({error.strerror})", where=str(path)) from None
        raise InputError(
            f"cannot write there ({error.strerror}); name a folder that exists and may be written to",
            where=str(path),
        ) from None
    return [path]


def write_text(path: Path, text: str) -> list[Path]:
    """A text in UTF-8 with line feeds."""
    # a name of bytes that are no text comes as lone surrogates: written as \udcff, which JSON reads again
    return write_bytes(path, text.encode("utf-8", "backslashreplace"))


def _write_pdf(path: Path, pages: list[Figure]) -> list[Path]:
    from matplotlib.backends.backend_pdf import PdfPages

    made = io.BytesIO()
    with PdfPages(made, metadata={"Creator": "sowcal", "Producer": "sowcal", "CreationDate": None}) as pdf:
        for page in pages:
            pdf.savefig(page)
    return write_bytes(path, made.getbuffer())


def _write_pages(path: Path, pages: list[Figure]) -> list[Path]:
    suffix = path.suffix.lower()
    metadata: dict[str, Any] = {"Software": "sowcal"} if suffix == ".png" else {"Creator": "sowcal", "Date": None}
    made = []
    for page in pages:
        made.append(io.BytesIO())
        page.savefig(made[-1], format=suffix[1:], dpi=_DPI, metadata=metadata)
    return [p for k, held in enumerate(made, 1) for p in write_bytes(page_path(path, k), held.getbuffer())]


def need_form(path: str | Path, forms: Iterable[str]) -> None:
    """Nothing where the ending of a file's name is among the forms and can be made here; else an InputError."""
    path = Path(path)
    known = list(dict.fromkeys(forms))
    if path.suffix.lower() in known:
        if path.suffix.lower() == ".xlsx" and find_spec("openpyxl") is None:
            raise InputError(
                "a workbook needs the package openpyxl (pip install 'sowcal[xlsx]'); install it, or end the name in "
                ".csv",
                where=str(path),
            )
        return
    wanted = " or ".join(filter(None, [", ".join(known[:-1]), known[-1]]))
    if path.suffix:
        raise InputError(f"this answer cannot be written as {path.suffix}; end the name in {wanted}", where=str(path))
    raise InputError(f"the name has no ending to tell the form of the file; end it in {wanted}", where=str(path))


def need_place(path: str | Path) -> None:
    """Nothing where a file may be written to a path; else an InputError."""
    path = Path(path)
    if os.path.isdir(path):
        from sowcal.weather.netcdf import is_zarr

        if not is_zarr(path):
            raise InputError("there is a folder of this name; name another file", where=str(path))
    if not os.path.isdir(path.parent) or not os.access(path.parent, os.W_OK):
        raise InputError("cannot write there; name a folder that exists and may be written to", where=str(path))


def _of(answer: Any) -> Any:
    return answer() if callable(answer) else answer


def write_output(
    path: str | Path,
    *,
    figures: Callable[[], Iterable[Figure]] | Iterable[Figure] | None = None,
    answer: Callable[[], Any] | Any = None,
    texts: dict[str, Callable[[], str] | str] | None = None,
    tables: Callable[[], Sequence[TableSheet]] | None = None,
    issued: dt.date | None = None,
) -> list[Path]:
    """Write what there is by the suffix of the file's name.

    Parameters
    ----------
    path : path
        `.png`, `.svg` (one file a page: c.png, c-2.png), `.pdf` (all pages in one), `.json`, or a suffix of
        `texts`.
    figures : figures or a function that draws them, optional
    answer : plain dict or a function that gives it, optional
    texts : dict, optional
        Text, or a function that gives it, by suffix (for example `{'.html': page}`).
    tables : function, optional
        Gives the tables: `.csv` has the first of them, `.xlsx` a sheet of each.
    issued : datetime.date, optional
        Date of issue, which a workbook bears as its day of making; 1 January 2000 where none is given.

    Returns
    -------
    list of Path
        Files written, in the order of the pages.

    Raises
    ------
    InputError
        Where this answer has no form of that suffix, or the place cannot be written to.
    """
    path = Path(path)
    suffix = path.suffix.lower()
    texts = texts or {}
    forms = list(PICTURES if figures is not None else ()) + ([".json"] if answer is not None else []) + list(texts)
    forms += TABLES if tables is not None else ()
    need_form(path, forms)
    if suffix in texts:
        return write_text(path, _of(texts[suffix]))
    if suffix in TABLES and tables is not None:
        from sowcal.outputs.tables import csv_text, workbook

        if suffix == ".csv":
            return write_text(path, csv_text(tables()[0]))
        return write_bytes(path, workbook(tables(), issued or dt.date(2000, 1, 1)))
    if suffix == ".json":
        from sowcal.outputs.json_form import json_text

        return write_text(path, json_text(_of(answer)))
    import matplotlib

    with matplotlib.rc_context(_SETTINGS):
        pages = list(_of(figures))
        return _write_pdf(path, pages) if suffix == ".pdf" else _write_pages(path, pages)
