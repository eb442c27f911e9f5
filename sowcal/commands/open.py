"""`sowcal open`: the page served on this machine alone, for what needs the engine."""

from __future__ import annotations

import argparse
import os
import shlex
import sys
import threading
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sowcal.commands.common import own_place, show, tell
from sowcal.errors import InputError
from sowcal.outputs.files import write_text

if TYPE_CHECKING:
    from sowcal.commands.open_guard import Guard

__all__ = ["open_command", "served"]

_BEAT = 5.0  # s between two looks at whether anybody is there


def _folder(options: argparse.Namespace) -> Path:
    """The folder to work in: as named, else that of the remembered place, else one of the user's documents."""
    if options.folder:
        folder = Path(os.path.abspath(os.path.expanduser(options.folder)))
    else:
        place = own_place(options)
        if place and os.path.lexists(place):
            return Path(os.path.abspath(place)).parent
        from platformdirs import user_documents_dir

        folder = Path(user_documents_dir()) / "sowcal"
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        raise InputError(
            f"it cannot be made ({problem.strerror}); name another by --folder", where=str(folder)
        ) from None
    return folder


def served(folder: Path, options: argparse.Namespace, idle: float, begun: Callable[[Guard], None]) -> Any:
    """The server, not yet run, on a free port of this machine; its sockets stand in `held`.

    Parameters
    ----------
    folder : Path
    options : argparse.Namespace
        As `sowcal page` has them.
    idle : float
        Seconds without a request after which it ends.
    begun : callable
        Told, with the guard, when the page can be asked for.
    """
    try:
        import uvicorn

        from sowcal.commands.open_app import Page
    except ImportError as problem:
        if (problem.name or "").split(".")[0] not in ("starlette", "uvicorn", "anyio", "h11", "click"):
            raise
        raise InputError(
            f"the package {problem.name} is not installed, and `sowcal open` needs it; "
            "python -m pip install 'sowcal[open]'"
        ) from None
    from sowcal.commands.open_desk import Desk
    from sowcal.commands.open_guard import Guard

    class Server(uvicorn.Server):
        held: list[Any]

        async def startup(self, sockets: Any = None) -> None:
            await super().startup(sockets)
            page.begin()
            threading.Thread(target=_ends_when_idle, args=(self, guard, idle), daemon=True).start()
            begun(guard)

    def end() -> None:
        server.should_exit = True

    page = Page(Desk(folder, options), end)
    guard = Guard(page.app)
    # no word on the screen but ours; open windows do not hold up the end
    config = uvicorn.Config(
        guard, host="127.0.0.1", port=0, log_config=None, log_level="critical", access_log=False, server_header=False,
        lifespan="off", ws="none", timeout_graceful_shutdown=2, proxy_headers=False,
    )  # fmt: skip
    server = Server(config)
    server.held = [config.bind_socket()]
    guard.port = server.held[0].getsockname()[1]
    return server


def _ends_when_idle(server: Any, guard: Guard, idle: float) -> None:
    while not server.should_exit:
        if time.monotonic() - guard.asked > idle:
            server.should_exit = True
        time.sleep(min(_BEAT, idle / 4))


def open_command(options: argparse.Namespace) -> int:
    """Serve the page until it is told to end or nobody asks, or write a desktop entry that does so."""
    if options.words:
        raise InputError(
            f"the place is chosen on the page; leave {options.words[0]!r} away, or say `sowcal here` first"
        )
    folder = _folder(options)
    if options.shortcut:
        path = _shortcut(folder, sys.platform)
        tried = path.suffix == ".desktop"
        what = "sowcal stands among the programs of this desktop" if tried else "open it to start sowcal"
        show(f"Wrote {path}: {what}")
        if not tried:
            tell("this kind of shortcut was never tried on its own system; if it fails, make one to `sowcal open`")
        return 0
    from sowcal.commands.parser import parse

    asked = parse(["page", "--all", *(["--issued", options.issued] if options.issued else [])])
    browses = _has_screen() and not options.no_browser

    def begun(guard: Guard) -> None:
        show(guard.address)
        if browses:
            import webbrowser

            threading.Thread(target=webbrowser.open, args=(guard.address,), daemon=True).start()

    server = served(folder, asked, 60.0 * options.idle, begun)
    if browses:
        tell(f"files are kept in {folder}; the address opens once; end on the page, or here with Ctrl-C")
    server.run(sockets=server.held)
    return 0


def _has_screen() -> bool:
    """Whether a browser of windows can be opened: one of letters would take the terminal."""
    if sys.platform in ("win32", "darwin"):
        return True
    return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


def _shortcut(folder: Path, system: str) -> Path:
    """Write what starts it without a terminal: an entry among the programs, or on other systems a file to open."""
    words = (sys.executable, "-m", "sowcal", "open", "--folder", str(folder))
    if any(letter < " " for word in words for letter in word):
        raise InputError(f"{str(folder)!r} holds a control character, which no shortcut can; rename it")
    path, text = {"win32": _batch_file, "darwin": _command_file}.get(system, _desktop_entry)(words)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        raise InputError(f"it cannot be made ({problem.strerror})", where=str(path.parent)) from None
    write_text(path, text)
    if system == "darwin":
        path.chmod(0o755)  # a file that is no program is not started from the desktop
    return path


def _desktop_entry(words: Sequence[str]) -> tuple[Path, str]:
    home = os.environ.get("XDG_DATA_HOME") or os.path.expanduser("~/.local/share")
    lines = [
        "[Desktop Entry]",
        "Type=Application",
        "Name=sowcal",
        "Comment=When to sow, set out and pick, and how sure that is",
        f"Exec={' '.join(map(_argument, words))}",
        "Terminal=false",
        "Categories=Science;Education;",
    ]
    return Path(home) / "applications" / "sowcal.desktop", "\n".join(lines) + "\n"


def _command_file(words: Sequence[str]) -> tuple[Path, str]:
    """A file that the desktop of macOS opens in its terminal (its ending and mode: from memory, not tried there)."""
    return _desktop() / "sowcal.command", f"#!/bin/sh\nexec {shlex.join(words)}\n"


def _batch_file(words: Sequence[str]) -> tuple[Path, str]:
    """A file that Windows runs by its ending; the first lines keep it quiet and make it read as UTF-8 (from memory, not
    tried there)."""
    # names of files hold no quotation mark there; a sign of per cent would name a variable
    said = " ".join('"' + word.replace("%", "%%") + '"' for word in words)
    return _desktop() / "sowcal.cmd", f"@echo off\nchcp 65001 >nul\n{said}\n"


def _desktop() -> Path:
    from platformdirs import user_desktop_dir

    return Path(user_desktop_dir())


def _argument(word: str) -> str:
    """One argument of a desktop entry's command (Desktop Entry Specification, "The Exec key"; from memory)."""
    for letter in '\\"`$':
        word = word.replace(letter, f"\\{letter}")
    # the value is a text of its own, whose backslashes are doubled again
    return '"' + word.replace("\\", "\\\\").replace("%", "%%") + '"'
