"""A Python process of our own beside this one: what it loads, sets or breaks stays in it."""

from __future__ import annotations

import os
import sys
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from subprocess import Popen

__all__ = [
    "start",
]


def start(module: str, *words: str) -> Popen[bytes]:
    """Run a module of this package with the packages of this process, unheard but for pipes in and out.

    A process that is spawned by `multiprocessing` would run the user's own script again.

    Parameters
    ----------
    module : str
        As after `python -m`.
    words : str
        Its arguments.
    """
    import subprocess

    paths = os.pathsep.join(os.path.abspath(p) for p in sys.path)  # '' is the folder that Python was started in
    return subprocess.Popen(
        [sys.executable, "-P", "-m", module, *words],  # -P: nothing is loaded because it lies in the working folder
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        env={**os.environ, "PYTHONPATH": paths},
        creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
    )
