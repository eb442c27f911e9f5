"""Finding crops by name, part of a name, type, botanical name, family or synonym."""

from __future__ import annotations

import difflib
from collections.abc import Sequence

from sowcal.crops.handbook import Handbook
from sowcal.crops.records import Crop
from sowcal.errors import InputError

__all__ = ["find_crops", "named_crops"]


def _fold(text: str) -> str:
    return " ".join(text.casefold().replace("-", " ").split())


def _names(crop: Crop) -> list[str]:
    return [crop.name, crop.kind, *crop.synonyms, crop.botanical_name]


def find_crops(book: Handbook, word: str) -> list[Crop]:
    """All crops that a word may mean, the closest kind of match only.

    An exact name comes first, then the plain name of several types (`tomato`), synonyms and botanical names,
    families, and last any part of a name.

    Raises
    ------
    InputError
        Where nothing matches; the message gives the nearest names.
    """
    wanted = _fold(word)
    if not wanted:
        raise InputError("an empty word names no crop; `sowcal crops` lists all")
    for test in (
        lambda c: _fold(c.name) == wanted,
        lambda c: wanted in {_fold(n) for n in _names(c)} or wanted.removesuffix("s") in {_fold(n) for n in _names(c)},
        lambda c: _fold(c.family) == wanted,
        lambda c: any(wanted in _fold(n) for n in _names(c)),
    ):
        found = [c for c in book.values() if test(c)]
        if found:
            return found
    pool = {_fold(n): n for c in book.values() for n in _names(c)}
    near = [pool[n] for n in difflib.get_close_matches(wanted, pool, 4, 0.6)]
    hint = f"nearest: {', '.join(near)}" if near else "`sowcal crops` lists all"
    raise InputError(f"there is no crop {word!r} in the handbook; {hint}")


def named_crops(book: Handbook, words: Sequence[str]) -> list[Crop]:
    """Crops meant by several words, each once, in the order asked for.

    Names of more than one word need no quotes: the longest run of words that is a name is taken as one.
    """
    whole = {_fold(n) for c in book.values() for n in _names(c)}
    out: dict[str, Crop] = {}
    i = 0
    while i < len(words):
        ends = range(len(words), i + 1, -1)
        j = next((j for j in ends if _fold(" ".join(words[i:j])) in whole), i + 1)
        for crop in find_crops(book, " ".join(words[i:j])):
            out[crop.name] = crop
        i = j
    return list(out.values())
