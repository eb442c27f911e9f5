"""What a grower said once: one place and one list of crops, in a settings file that is plain to edit.

Commands fall back on it; the calls of Python never do. A change alters the lines of its own key only: notes, unknown
keys and tables of the grower or of another version stay as they are.
"""

from __future__ import annotations

import json
import os
import re
import tomllib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from sowcal.errors import InputError
from sowcal.files import alone, read_toml_text, toml_table, write_whole
from sowcal.languages import NAMED, SPOKEN
from sowcal.units import MEASURES

__all__ = [
    "UNSAID_CROPS",
    "UNSAID_PLACE",
    "USUAL_CROPS",
    "Remembered",
    "parse_remembered",
    "recall",
    "remember",
    "settings_folder",
    "with_value",
]


# What most kitchen gardens of mild winters and hot summers grow. Common practice, no source.
USUAL_CROPS = (
    "tomato (large)",
    "sweet pepper (blocky)",
    "aubergine",
    "courgette",
    "cucumber",
    "winter squash",
    "french bean (bush)",
    "broad bean",
    "pea (shelling)",
    "potato (early)",
    "onion (intermediate-day)",
    "garlic (softneck)",
    "leek",
    "carrot",
    "beetroot",
    "chard",
    "spinach",
    "lettuce (leaf)",
    "cabbage (winter)",
    "kale",
    "radish",
    "parsley",
    "basil",
)
# What stands in while nothing is remembered, in one place: the bundled plot that has frost, two seasons and a summer
# that kills, and the usual crops.
UNSAID_PLACE = "sallowdene"
UNSAID_CROPS: tuple[str, ...] = USUAL_CROPS

FILE = "settings.toml"
VERSION = 1  # of the form of the file
_KEYS = ("version", "here", "mine", "language", "units")
_HEAD = f"""\
# What sowcal remembers. Edit it as you like; what follows a # is a note.
version = {VERSION}
"""
_NOTES = {
    "here": '# The place: a site file, a bundled plot, or "LAT,LON" (sowcal here).',
    "language": "# The language of answers: en, pt or es (sowcal here --language pt).",
    "mine": "# The crops, by the names that `sowcal crops` lists (sowcal mine).",
    "units": "# The units of answers: si or us (sowcal here --units us).",
}

Value = str | tuple[str, ...] | None  # None takes the key away


@dataclass(frozen=True, slots=True)
class Remembered:
    """What stands in the settings file.

    Attributes
    ----------
    here : str
        The place: a site file, a bundled plot or 'LAT,LON'; empty where none was said.
    mine : tuple of str
        Names of crops, as they stand there; empty where none were said.
    path : Path
        The settings file; it need not exist.
    notes : tuple of str
        What a reader must be told: keys that this version does not know.
    text : str
        The file as it stands.
    language, units : str
        Of answers; empty where none were said.
    """

    here: str
    mine: tuple[str, ...]
    path: Path
    notes: tuple[str, ...] = ()
    text: str = field(default="", repr=False)
    language: str = ""
    units: str = ""

    def line_of(self, value: str) -> int | None:
        """Line of the file in which a value stands, from 1."""
        for number, line in enumerate(self.text.split("\n"), 1):
            if any(quoted in line for quoted in (_quoted(value), f"'{value}'")):
                return number
        return None


def settings_folder() -> Path:
    """Folder of the user's settings, or that named by the environment variable SOWCAL_HOME; it need not exist."""
    if named := os.environ.get("SOWCAL_HOME"):
        return Path(os.path.abspath(os.path.expanduser(named)))
    from platformdirs import user_config_dir

    return Path(user_config_dir("sowcal", appauthor=False))


def recall(folder: str | Path | None = None) -> Remembered:
    r"""What `sowcal here` and `sowcal mine` remember; no other call of Python looks at it.

    Parameters
    ----------
    folder : str or pathlib.Path, optional
        Folder of the settings file; the user's own, or SOWCAL_HOME, where left out.

    Raises
    ------
    InputError
        For a file that is damaged (with the line), cannot be read, or is of a newer version.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     _ = Path(folder, "settings.toml").write_text('here = "sallowdene"\nmine = ["leek", "kale"]\n')
    ...     kept = recall(folder)
    >>> kept.here, kept.mine
    ('sallowdene', ('leek', 'kale'))
    """
    path = (settings_folder() if folder is None else Path(os.path.abspath(folder))) / FILE
    if not os.path.lexists(path):
        return Remembered("", (), path)
    return parse_remembered(read_toml_text(path, "settings file"), path)


def parse_remembered(text: str, path: Path) -> Remembered:
    """What the text of a settings file says; `path` names it in errors, which give the line."""
    table = toml_table(text, str(path))

    def fail(message: str, key: str) -> InputError:
        return InputError(message, where=str(path), line=_line_of_key(text, key))

    version = table.get("version", VERSION)
    if isinstance(version, bool) or not isinstance(version, int) or version < 1:
        raise fail(f"version is {version!r}; it must be {VERSION}", "version")
    if version > VERSION:
        raise fail(
            f"these settings are of a newer sowcal (version {version}, and this one reads {VERSION}); use that one, or "
            "name another folder by SOWCAL_HOME",
            "version",
        )
    here = table.get("here", "")
    if not isinstance(here, str) or ("here" in table and not here.strip()):
        raise fail(f'here is {here!r}; it must be a text in quotation marks such as here = "my-plot.toml"', "here")
    mine = table.get("mine", [])
    if not isinstance(mine, list) or not all(isinstance(crop, str) and crop.strip() for crop in mine):
        raise fail('mine must be a list of names such as mine = ["leek", "kale"]', "mine")
    language = table.get("language", "")
    if language not in ("", *SPOKEN, *NAMED):
        raise fail(
            f"language is {language!r}; it must be one of {', '.join(SPOKEN)}, or of {', '.join(NAMED)}", "language"
        )
    units = table.get("units", "")
    if units not in ("", *MEASURES):
        raise fail(f"units is {units!r}; it must be {' or '.join(MEASURES)}", "units")
    names = tuple(dict.fromkeys(crop.strip() for crop in mine))
    notes = tuple(_of_unknown(key, text, path) for key in table if key not in _KEYS)
    return Remembered(here.strip(), names, path, notes, text, language, units)


def _of_unknown(key: str, text: str, path: Path) -> str:
    near = get_close_matches(key.lower(), _KEYS, n=1)
    hint = f" (did you mean {near[0]!r}?)" if near else ""
    number = _line_of_key(text, key)
    line = f", line {number}" if number else ""
    return f"{path}{line}: this sowcal does not know {key!r}{hint}; it is left as it is"


def _line_of_key(text: str, key: str) -> int | None:
    """Line in which a key of the top of a file, or the first table of that name, begins."""
    begins = re.compile(rf"\s*(\[+\s*)?[\"']?{re.escape(key)}[\"']?\s*([.=\]])")
    return next((n for n, line in enumerate(text.split("\n"), 1) if begins.match(line)), None)


def _quoted(text: str) -> str:
    """A text as TOML has it: JSON's escapes are TOML's, but for the letter that deletes."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _statements(lines: list[str]) -> Iterator[tuple[dict[str, Any], int, int]]:
    """What each statement before the first table says, with its first line and the line after its last one."""
    first = 0
    while first < len(lines):
        begun = lines[first].strip()
        if begun.startswith("["):
            return
        if not begun or begun.startswith("#"):
            first += 1
            continue
        end = first + 1
        while True:
            try:
                said = tomllib.loads("\n".join(lines[first:end]))
                break
            except tomllib.TOMLDecodeError:
                end += 1
                if end > len(lines):  # no statement by itself; the whole text was read before
                    return
        yield said, first, end
        first = end


_ENTRY = re.compile(r"""\s*(?P<name>"[^"]*"|'[^']*')\s*,?\s*(?P<note>\#.*)?""")
_NOTE = re.compile(r"""[^#]*|.*["'\[\],]\s*(?P<note>\#.*)""")


def _note(line: str) -> str:
    """The note at the end of a line, with the space before it."""
    found = _NOTE.fullmatch(line)
    return f"  {found['note']}" if found and found["note"] else ""


def _list_lines(names: tuple[str, ...], before: list[str]) -> list[str]:
    """Lines of the list of crops, one a name; notes stay beside or above the names where they stood."""
    beside: dict[str, tuple[list[str], str]] = {}
    above: list[str] = []
    for line in map(str.strip, before[1:-1]):
        entry = _ENTRY.fullmatch(line)
        if entry is not None and entry["name"][1:-1] in names:
            beside[entry["name"][1:-1]] = (above, _note(line))
            above = []
        elif line.startswith("#"):
            above.append(f"    {line}")
        elif entry is None and _note(line):  # several names on a line
            above.append(f"  {_note(line)}")
    out = [f"mine = [{_note(before[0]) if len(before) > 1 else ''}"]
    for name in names:
        over, note = beside.get(name, ([], ""))
        out += [*over, f"    {_quoted(name)},{note}"]
    return [*out, *above, f"]{_note(before[-1]) if before else ''}"]


def with_value(text: str, key: str, value: Value, where: str) -> str:
    """The text of a settings file with another value of one key; all else stays as it is.

    Raises
    ------
    InputError
        Where the key is written in a way that cannot be changed line by line; nothing is lost then.
    """
    lines = text.removesuffix("\n").split("\n") if text else []
    spans = [(first, end) for said, first, end in _statements(lines) if set(said) == {key}]
    first, end = spans[0] if spans else (0, 0)
    if isinstance(value, str):
        new = [f"{key} = {_quoted(value)}{_note(lines[first]) if end == first + 1 else ''}"]
    else:
        new = _list_lines(value, lines[first:end]) if value is not None else []
    if spans:
        if value is None and first and lines[first - 1] == _NOTES.get(key):
            first -= 1
        lines[first:end] = new
    elif new:
        at = max((end for _, _, end in _statements(lines)), default=0)
        at = at or next((n for n, line in enumerate(lines) if line.strip().startswith("[")), len(lines))
        lines[at:at] = ["", _NOTES[key], *new]
    made = "\n".join(lines) + "\n"
    wanted = {k: v for k, v in tomllib.loads(text).items() if k != key}
    if value is not None:
        wanted[key] = list(value) if isinstance(value, tuple) else value
    try:
        if tomllib.loads(made) == wanted:
            return made
    except tomllib.TOMLDecodeError:
        pass
    raise InputError(f"{key} is not on lines of its own, and cannot be changed; change it by hand", where=where)


def remember(change: Callable[[Remembered], Mapping[str, Value]], folder: str | Path | None = None) -> Remembered:
    """Change what is remembered, one program at a time, whole or not at all.

    Parameters
    ----------
    change : callable
        From what is remembered to the new values of 'here', 'mine', 'language' and 'units'; None takes one away.
    folder : str or pathlib.Path, optional
        As for `recall`.

    Returns
    -------
    Remembered
        What stands there now.

    Raises
    ------
    InputError
        As `recall`; also where the folder or the file cannot be written to. The file stays as it was.
    """
    path = recall(folder).path  # what cannot be read is told before a folder is made
    target = Path(os.path.realpath(path))  # a file kept elsewhere, and linked to, stays a link
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        with alone(target.with_name(".lock-settings")):
            kept = recall(path.parent)
            text = kept.text or _HEAD
            for key, value in change(kept).items():
                text = with_value(text, key, value, str(path))
            made = parse_remembered(text, path)  # what could not be read again is not written
            if text != (kept.text or _HEAD):
                if target.exists() and not os.access(target, os.W_OK):
                    raise PermissionError(13, "it may not be written to")
                write_whole(target, text.encode("utf-8"))
            return made
    except UnicodeEncodeError:
        raise InputError(
            "a name with letters that are no Unicode cannot be kept; rename the file", where=str(path)
        ) from None
    except OSError as problem:
        raise InputError(
            f"the settings cannot be written ({problem.strerror}); make the folder writable, or name another by "
            "SOWCAL_HOME",
            where=str(path),
        ) from None
