"""How far a long fetch has come: one line on a terminal that is wiped when it is done; nothing in files and pipes."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TextIO

from sowcal.counted import counted
from sowcal.weather.progress import heard_by

__all__ = ["shown_progress"]

_QUICK = 0.5  # s; what is done sooner shows nothing
_BAR = 24  # columns


class _Line:
    """The line on the screen."""

    def __init__(self, screen: TextIO, now: Callable[[], float]):
        self.screen, self.now = screen, now
        self.begun: dict[str, float] = {}
        self.width = 0

    def hear(self, what: str, done: int, total: int) -> None:
        begun = self.begun.setdefault(what, self.now())
        if done >= total:
            self.wipe()
        elif self.now() - begun >= _QUICK:
            bar = "#" * (done * _BAR // total)
            self.show(f"fetching {what}: [{bar:<{_BAR}}] {done} of {counted(total, 'year')}")

    def show(self, text: str) -> None:
        text = "".join(c if c.isprintable() and c.isascii() else "?" for c in text)[:100]
        self.screen.write("\r" + text.ljust(self.width))
        self.screen.flush()
        self.width = len(text)

    def wipe(self) -> None:
        if self.width:
            self.screen.write("\r" + " " * self.width + "\r")
            self.screen.flush()
            self.width = 0


@contextmanager
def shown_progress(screen: TextIO | None, now: Callable[[], float] = time.monotonic) -> Iterator[None]:
    """Show fetches inside the block on a screen, where it is a terminal.

    Parameters
    ----------
    screen : text stream
        Standard error; files and pipes get nothing. None where it is closed.
    now : callable
        Seconds of a steady clock.
    """
    if screen is None or not screen.isatty():
        yield
        return
    line = _Line(screen, now)
    with heard_by(line.hear):
        try:
            yield
        finally:
            line.wipe()
