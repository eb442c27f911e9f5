"""`sowcal completion`: what a shell needs to complete commands, options, plots and crops."""

from __future__ import annotations

import argparse
import re
from importlib.util import find_spec
from typing import Any

from sowcal.commands.common import show
from sowcal.errors import InputError

__all__ = ["LINES", "SHELLS", "completion_command"]

LINES = {  # the line to add, and the file that it goes to
    "bash": ('eval "$(sowcal completion bash)"', "~/.bashrc"),
    "zsh": ('eval "$(sowcal completion zsh)"', "~/.zshrc"),
}
SHELLS = tuple(LINES)
_WORDS = {
    "bash": """_sowcal_words() {{
  compgen -W "{words}" -- "$1"
  compgen -f -- "$1"
}}""",
    "zsh": """_sowcal_words() {{
  compadd {words}
  _files
}}""",
}


def _words() -> list[str]:
    """Bundled plots and the plain names of crops that are one word."""
    from sowcal.answers import open_handbook
    from sowcal.weather.site_file import bundled_names

    plain = {name.partition(" (")[0] for name in open_handbook()}
    return [*bundled_names(), *sorted(name for name in plain if re.fullmatch(r"[a-z-]+", name))]


def _completed(parser: argparse.ArgumentParser) -> None:
    """Say of each argument of a parser, and of its commands, what may stand there."""
    import shtab

    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            for command in action.choices.values():
                _completed(command)
        elif action.dest == "words":
            action.complete = {shell: "_sowcal_words" for shell in SHELLS}  # type: ignore[attr-defined]
        elif action.metavar in ("FILE", "GARDEN"):
            action.complete = shtab.FILE  # type: ignore[attr-defined]


def completion_command(options: argparse.Namespace) -> int:
    """Print the script of a shell, or the line to add to its settings."""
    if not options.shell:
        told = [f"{shell:<5} add to {file}:  {line}" for shell, (line, file) in LINES.items()]
        show("\n".join([*told, "It needs the package shtab: pip install 'sowcal[completion]'"]))
        return 0
    if find_spec("shtab") is None:
        raise InputError("completion needs the package shtab; pip install 'sowcal[completion]'")
    import shtab

    from sowcal.commands.parser import build

    parser: Any = build()
    _completed(parser)
    words = " ".join(_words())
    preamble: Any = {shell: text.format(words=words) for shell, text in _WORDS.items()}
    show(shtab.complete(parser, options.shell, preamble=preamble))
    return 0
