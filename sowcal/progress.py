"""Who hears how far a long fetch has come: the weather tells, a command draws; without a listener nothing happens."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar

__all__ = [
    "Listener",
    "heard_by",
    "tell_progress",
]

Listener = Callable[[str, int, int], None]  # what is fetched, parts done, parts in all

_LISTENER: ContextVar[Listener | None] = ContextVar("sowcal_progress", default=None)


@contextmanager
def heard_by(listener: Listener) -> Iterator[None]:
    """Let a listener hear of all fetches inside the block."""
    before = _LISTENER.set(listener)
    try:
        yield
    finally:
        _LISTENER.reset(before)


def tell_progress(what: str, done: int, total: int) -> None:
    """Tell the listener, if there is one, how many of the parts are done."""
    listener = _LISTENER.get()
    if listener is not None:
        listener(what, done, total)
