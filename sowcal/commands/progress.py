"""How far a long run is, on a terminal's standard error."""

from __future__ import annotations

import sys
import time

__all__ = ["ProgressBar"]

_WIDTH = 30


class ProgressBar:
    """A bar that fills as blocks are done; nothing at all where standard error is no terminal."""

    def __init__(self) -> None:
        self._shown = sys.stderr is not None and sys.stderr.isatty()
        self._begun = time.monotonic()
        self.done = self.total = self.reused = 0

    def __call__(self, done: int, total: int, reused: int) -> None:
        """Blocks done, all blocks, and those of them taken over from an earlier run."""
        self.done, self.total, self.reused = done, total, reused
        if not self._shown:
            return
        filled = _WIDTH * done // max(total, 1)
        bar = f"[{'#' * filled}{'.' * (_WIDTH - filled)}]"
        text = f"{bar} {done} of {total} blocks{self._left(done - reused, total - done)}"
        print(f"\r{text:<79}", end="" if done < total else "\n", file=sys.stderr, flush=True)

    def _left(self, done: int, to_do: int) -> str:
        if done < 2 or not to_do:
            return ""
        seconds = (time.monotonic() - self._begun) / done * to_do
        return f", {seconds:.0f} s left" if seconds < 90 else f", {seconds / 60:.0f} min left"

    def end(self) -> None:
        """Leave the line of a bar that was not filled."""
        if self._shown and self.done < self.total:
            print(file=sys.stderr)
