"""How far long work has come: the work tells it, one line shows it, on the screen that the command gives.

Without a listener nothing happens: who calls sowcal from Python sees nothing that was not asked for.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from typing import TextIO, TypeVar

from sowcal.languages import counted

__all__ = [
    "Listener",
    "followed",
    "heard_by",
    "shown_on",
    "tell_progress",
]

_Item = TypeVar("_Item")
Listener = Callable[[str, int, int, str], None]  # what is done, parts done, parts in all, what a part is

_LISTENER: ContextVar[Listener | None] = ContextVar("sowcal_progress", default=None)


@contextmanager
def heard_by(listener: Listener) -> Iterator[None]:
    """Let a listener hear of all long work inside the block."""
    before = _LISTENER.set(listener)
    try:
        yield
    finally:
        _LISTENER.reset(before)


def tell_progress(what: str, done: int, total: int, part: str) -> None:
    """Tell the listener, if there is one, how many of the parts are done."""
    listener = _LISTENER.get()
    if listener is not None:
        listener(what, done, total, part)


def followed(items: Sequence[_Item], what: str, part: str) -> Iterator[_Item]:
    """The items one by one, telling the listener how many are done."""
    for done, item in enumerate(items):
        tell_progress(what, done, len(items), part)
        yield item
    tell_progress(what, len(items), len(items), part)


_QUICK = 0.5  # s; what is done sooner shows nothing
_BAR = 24  # columns


class _Line:
    """The line on the screen."""

    def __init__(self, screen: TextIO, now: Callable[[], float]):
        self.screen, self.now = screen, now
        self.begun: dict[str, tuple[float, int]] = {}  # when each work was first heard of, and what was done by then
        self.width = 0

    def hear(self, what: str, done: int, total: int, part: str) -> None:
        now = self.now()
        begun, before = self.begun.setdefault(what, (now, done))
        spent = now - begun
        if done >= total:
            self.wipe()
            self.begun.pop(what, None)  # the same work may come again
        elif spent >= _QUICK:
            bar = "#" * (done * _BAR // total)
            left = _left(spent / (done - before) * (total - done)) if done - before > 1 else ""
            self.show(f"{what}: [{bar:<{_BAR}}] {done} of {counted(total, part)}{left}")

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


def _left(seconds: float) -> str:
    return f", {seconds:.0f} s left" if seconds < 90 else f", {seconds / 60:.0f} min left"


@contextmanager
def shown_on(screen: TextIO | None, now: Callable[[], float] = time.monotonic) -> Iterator[None]:
    """Show long work inside the block on a screen, where it is a terminal; nothing of it stays.

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
