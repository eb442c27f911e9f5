"""The language in which answers are told: templates with named fields, and the catalogues that have them in others.

What is computed stays in English, as JSON, logs and files have it. Outputs tell it by `say` in the language that is
spoken; a sentence that is made deeper down is a `Phrase`, which keeps its template and its values until then.
"""

from __future__ import annotations

import string
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from numbers import Real
from typing import TYPE_CHECKING, Any

from sowcal.errors import InputError

if TYPE_CHECKING:
    from gettext import GNUTranslations

__all__ = [
    "NAMED",
    "SPOKEN",
    "Phrase",
    "counted",
    "counted_phrase",
    "figure",
    "kept_phrase",
    "phrase",
    "phrase_count",
    "say",
    "say_count",
    "say_crop",
    "sentence_of",
    "speak",
    "speaking",
    "spoken",
    "told_in",
]

SPOKEN = {"en": "English", "pt": "Portuguese", "es": "Spanish"}  # in these every answer can be told
NAMED = ("ar", "ca", "de", "el", "es", "fr", "it", "pt", "tr")  # in these crops can be named
_now: ContextVar[tuple[str, GNUTranslations] | None] = ContextVar("language", default=None)
_read: dict[str, GNUTranslations] = {}
told_in: ContextVar[str] = ContextVar("units", default="si")  # of quantities; `sowcal.units` sets and reads it
_MARKS = str.maketrans(".,", ",.")  # of decimals and thousands, in Portuguese and Spanish


class Phrase(str):
    """A text in English that can be told in another language: it remembers its template and its values."""

    __slots__ = ("many", "template", "values")
    template: str
    many: str  # the template for more than one, where there is one; its value `count` says how many
    values: dict[str, Any]

    def told(self) -> str:
        """In the language that is spoken; a quantity also in the units that are."""
        if self.many:
            return say_count(self.values["count"], self.template, self.many, **self.values)
        return say(self.template, **self.values)


def phrase(template: str, /, **values: Any) -> str:
    """A text made below the outputs, where no language is spoken yet; without values also the mark of a fixed word.

    Parameters
    ----------
    template : str
        English, with named fields as of `str.format`; kept as it is where there are no values.
    **values
        Numbers, names, or phrases.

    Returns
    -------
    str
        A `Phrase`, equal to the English text.

    Examples
    --------
    >>> phrase("{count} of {name}", count=3, name="leek")
    '3 of leek'
    """
    template = template.template if isinstance(template, Phrase) else template
    return kept_phrase(template.format(**values) if values else template, template, "", values)


def kept_phrase(text: str, template: str, many: str, values: dict[str, Any]) -> str:
    """A phrase of what was kept of one.

    Examples
    --------
    >>> kept_phrase("3 days", "{count} day", "{count} days", {"count": 3})
    '3 days'
    """
    made = Phrase(text)
    made.template, made.many, made.values = template, many, values
    return made


def phrase_count(count: float, one: str, many: str, /, **values: Any) -> str:
    """A phrase for one, or for more; `count` is a value of it.

    Examples
    --------
    >>> phrase_count(2, "{count} day is missing", "{count} days are missing")
    '2 days are missing'
    """
    values = {"count": count, **values}
    return kept_phrase((one if count == 1 else many).format(**values), one, many, values)


def sentence_of(words: str) -> str:
    """Words with a capital letter and a full stop; a phrase stays one.

    Examples
    --------
    >>> sentence_of("rain is not known")
    'Rain is not known.'
    """
    plain = f"{words[:1].upper()}{words[1:].rstrip('.')}."
    if not isinstance(words, Phrase):
        return plain
    return kept_phrase(plain, words.template, words.many, words.values)


def figure(value: float, spec: str = "") -> str:
    """A number as `format` gives it, with the marks of the language that is spoken.

    Examples
    --------
    >>> figure(0.25, ".0%"), figure(12345.5, ",.1f")
    ('25%', '12,345.5')
    >>> with speaking("es"):
    ...     figure(0.25, ".0%"), figure(12345.5, ",.1f")
    ('25\xa0%', '12.345,5')
    """
    shown, found = format(value, spec), _now.get()
    if found is None:
        return shown
    return shown.translate(_MARKS).replace("%", "\xa0%" if found[0] == "es" else "%")


class _Told(string.Formatter):
    """Fields told in the language that is spoken: phrases by their templates, numbers by its marks."""

    def format_field(self, value: Any, format_spec: str) -> str:
        if isinstance(value, Phrase):
            value = say(value)
        number = isinstance(value, Real)
        return figure(value, format_spec) if number else format(value, format_spec)


_TOLD = _Told()


def say(text: str, /, **values: Any) -> str:
    """A text in the language that is spoken; one that its catalogue lacks stays as it is.

    Parameters
    ----------
    text : str
        A template in English with named fields, a phrase, or a word of the engine such as 'set out'.
    **values
        For the fields; a phrase with values of its own needs none.

    Examples
    --------
    >>> say("{count} crops", count=3)
    '3 crops'
    >>> with speaking("pt"):
    ...     say("set out")
    'transplantar'
    """
    found = _now.get()
    if found is None and told_in.get() == "si":
        return text.format(**values) if values else str(text)
    if isinstance(text, Phrase):
        if not values and (text.many or text.values):
            return text.told()
        text = text.template
    told = found[1].gettext(text) if found and text else text
    return _TOLD.vformat(told, (), values) if values else told


def say_count(count: float, one: str, many: str, /, **values: Any) -> str:
    """A template for one, or that for more, as the language that is spoken has it.

    Parameters
    ----------
    count : int or float
        Of which the language takes its number; told where the template has a field `count`.
    one, many : str
        Templates in English.
    **values
        For the fields; `count` is given in itself, unless it is to be shown in another way.

    Examples
    --------
    >>> say_count(1, "{count} is open", "{count} are open"), say_count(2, "{count} is open", "{count} are open")
    ('1 is open', '2 are open')
    """
    values = {"count": count, **values}
    found = _now.get()
    if found is None and told_in.get() == "si":
        return (one if count == 1 else many).format(**values)
    template = found[1].ngettext(one, many, 1 if count == 1 else 2) if found else one if count == 1 else many
    return _TOLD.vformat(template, (), values)


def say_crop(name: str) -> str:
    """A crop of the handbook by its name in the language that is spoken; one of a grower's own as it is.

    Examples
    --------
    >>> with speaking("pt"):
    ...     say_crop("leek")
    'alho-francês'
    """
    found = _now.get()
    return name if found is None else found[1].pgettext("crop", name)


def spoken() -> str:
    """The language that is spoken, by its two letters."""
    found = _now.get()
    return "en" if found is None else found[0]


def _catalogue(language: str) -> GNUTranslations:
    """The catalogue of a language, read once; English needs none, nor the library that reads them."""
    if language not in _read:
        from gettext import GNUTranslations
        from importlib.resources import files

        with (files("sowcal") / "languages" / language / "sowcal.mo").open("rb") as file:
            _read[language] = GNUTranslations(file)
    return _read[language]


def speak(language: str) -> None:
    """Tell all that follows in a language.

    Raises
    ------
    InputError
        For a language that answers cannot be told in.
    """
    if language not in SPOKEN:
        raise InputError(f"answers are not told in {language!r}; choose {', '.join(SPOKEN)}")
    _now.set(None if language == "en" else (language, _catalogue(language)))


@contextmanager
def speaking(language: str) -> Iterator[None]:
    """Tell what is told within in a language."""
    before = _now.get()
    speak(language)
    try:
        yield
    finally:
        _now.set(before)


def counted(count: float, noun: str) -> str:
    """How many of what, in the number that the count asks for.

    Parameters
    ----------
    count : int or float
        Shown in full where it is whole, else with six figures.
    noun : str
        For one of them ('day', 'cold season'); more are told with an 's'.

    Examples
    --------
    >>> counted(1, "day"), counted(2.0, "cold season"), counted(1.5, "year")
    ('1 day', '2 cold seasons', '1.5 years')
    """
    return say(counted_phrase(count, noun))


def counted_phrase(count: float, noun: str) -> str:
    """The same as a phrase, for a text that is made below the outputs.

    Examples
    --------
    >>> counted_phrase(3, "day")
    '3 days'
    """
    shown = int(count) if float(count).is_integer() else float(f"{count:g}")
    return phrase_count(1 if shown == 1 else 2, f"{{count}} {noun}", f"{{count}} {noun}s", count=shown)
