"""Units in which quantities are told: SI, or those usual in the United States. What is reckoned and kept is SI.

`told` tells a quantity where a text is made; `quantity` is one below the outputs, SI as a text, which `say` tells.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, Literal

from sowcal.errors import InputError
from sowcal.languages import Phrase, figure, phrase, say, told_in

__all__ = [
    "MEASURES",
    "UNITS",
    "Form",
    "Quantity",
    "amount",
    "converted",
    "measured",
    "measuring",
    "quantities",
    "quantity",
    "told",
    "told_together",
    "unit_word",
]

Form = Literal["whole", "number", "unit"]
MEASURES = {"si": "degC, mm, metres, litres, kg", "us": "degF, inches, feet, US gallons, pounds"}

# All exact by definition, from memory: the international yard and pound of 1959, the US liquid gallon of 231 cubic
# inches, standard gravity.
_INCH = 0.0254  # m
_POUND = 0.45359237  # kg
_GALLON = 231 * _INCH**3 * 1000  # litres
_GRAVITY = 9.80665  # m s-2
_FOOT, _OUNCE, _MILE = 12 * _INCH, _POUND / 16, 1.609344  # m, kg, km
_SQUARE_FOOT = _FOOT**2  # m2
_PSI = _POUND * _GRAVITY / _INCH**2 / 1000  # kPa


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit, and that which stands for it in the United States: a value there is value * factor + zero."""

    si: str
    us: str
    factor: float
    zero: float = 0.0


UNITS = {
    "degC": Unit("degC", "degF", 1.8, 32.0),  # a temperature
    "degC apart": Unit("degC", "degF", 1.8),  # a difference of two: a rise, an error, a trend
    "°C": Unit("°C", "°F", 1.8, 32.0),
    "°C apart": Unit("°C", "°F", 1.8),
    "K": Unit("K", "degF", 1.8),  # a difference as tables of weather have it
    "degree days": Unit("degree days", "degree days", 1.8),  # warmth above a base, times days
    "mm": Unit("mm", "inches", 0.001 / _INCH),
    "cm": Unit("cm", "inches", 0.01 / _INCH),
    "m": Unit("m", "ft", 1 / _FOOT),
    "metres": Unit("metres", "feet", 1 / _FOOT),  # at the head of a scale
    "km": Unit("km", "miles", 1 / _MILE),
    "m2": Unit("m2", "sq ft", 1 / _SQUARE_FOOT),
    "kg": Unit("kg", "lb", 1 / _POUND),
    "g": Unit("g", "oz", 0.001 / _OUNCE),
    "kg/m2": Unit("kg/m2", "lb/ft2", _SQUARE_FOOT / _POUND),
    "g/m2": Unit("g/m2", "oz/ft2", 0.001 * _SQUARE_FOOT / _OUNCE),
    "litres": Unit("litres", "gallons", 1 / _GALLON),
    "litres/m2": Unit("litres/m2", "gallons/sq ft", _SQUARE_FOOT / _GALLON),
    "l/m2": Unit("l/m2", "gal/ft2", _SQUARE_FOOT / _GALLON),
    "litres per square metre": Unit("litres per square metre", "gallons per square foot", _SQUARE_FOOT / _GALLON),
    "litres per m²": Unit("litres per m²", "gallons per sq ft", _SQUARE_FOOT / _GALLON),
    "litres each m2": Unit("litres", "gallons", _SQUARE_FOOT / _GALLON),  # where the text names the square
    "a square metre": Unit("a square metre", "a square foot", 1.0),
    "l/h": Unit("l/h", "gal/h", 1 / _GALLON),
    "l/min": Unit("l/min", "gal/min", 1 / _GALLON),
    "kPa": Unit("kPa", "psi", 1 / _PSI),
    "bar": Unit("bar", "psi", 100 / _PSI),
    "t": Unit("t", "short tons", 1000 / (2000 * _POUND)),
    "litre": Unit("litre", "gallon", 1 / _GALLON),  # before a noun
    "thousand litres": Unit("thousand litres", "250 gallons", 1.0),  # a round figure
    "g or more to the kg": Unit("g or more to the kg", "oz or more to the lb", 0.001 * _POUND / _OUNCE),
}


class Quantity(Phrase):
    """A quantity below the outputs: a text in SI and English, told by `say` in the units and language of the call."""

    __slots__ = ()

    def told(self) -> str:
        form, values = self.values["form"], (self.values["value"], self.values["unit"])
        if form == "unit":
            return unit_word(self.values["unit"])
        number = amount(*values, self.values["spec"])
        return number if form == "number" else f"{number} {unit_word(self.values['unit'])}"


def quantity(value: float, unit: str, spec: str = "g", form: Form = "whole") -> Quantity:
    """A quantity for a `phrase`, its number alone, or its unit alone.

    Parameters
    ----------
    value : float
        In the SI unit.
    unit : str
        A key of `UNITS`.
    spec : str
        How many figures SI shows of it, as of `format`.
    form : str
        'whole', 'number' or 'unit'.

    Examples
    --------
    >>> quantity(30.0, "degC")
    '30 degC'
    >>> with measuring("us"):
    ...     say(quantity(30.0, "degC"))
    '86 degF'
    """
    word = UNITS[unit].si
    parts = {"number": format(value, spec), "unit": word}
    made = Quantity(parts.get(form) or f"{parts['number']} {word}")
    made.template, made.many = "", ""
    made.values = {"value": value, "unit": unit, "spec": spec, "form": form}
    return made


def quantities(low: float, high: float, unit: str, spec: str = "g") -> str:
    """A phrase of two of a kind: '0.5 to 2.5 degC'."""
    return phrase("{low} to {high}", low=quantity(low, unit, spec, "number"), high=quantity(high, unit, spec))


def _decimals(shown: str) -> int:
    """Decimals of a number as it is shown."""
    return len(shown.partition(".")[2])


def _exponent(resolution: float, factor: float) -> int:
    """Power of ten to which a converted value is told: at most two of the SI value's own steps, so that it claims
    little more than was told, and loses little."""
    return math.floor(math.log10(2.0 * resolution * factor) + 1e-9)


def amount(value: float, unit: str, spec: str = "g", step: int = 1) -> str:
    """The number of a quantity in the units that are told, with no more figures than SI shows of it.

    Parameters
    ----------
    value : float
        In the SI unit.
    unit : str
        A key of `UNITS`.
    spec : str
        How SI shows it, as of `format`.
    step : int
        SI is told to this power of ten: 10 for whole tens.

    Examples
    --------
    >>> with measuring("us"):
    ...     amount(21.34, "degC", ".1f"), amount(2, "degC apart"), amount(529.2, "mm", ".0f")
    ('70.4', '3.6', '20.83')
    """
    shown = round(value, 1 - len(str(step))) if step > 1 else value
    plain = format(shown, spec)
    if told_in.get() == "si" or not math.isfinite(value):
        return figure(shown, spec)
    us = UNITS[unit]
    places = -_exponent(step * 10.0 ** -_decimals(plain), us.factor)
    if not spec.endswith("f"):
        places = max(places, 1)  # a limit as it was set, not a measurement: 2 is 2.0
    found = round(converted(value, unit), places) + 0.0  # never -0
    flags = "".join(mark for mark in "+," if mark in spec)
    if spec.endswith("f"):
        return figure(found, f"{flags}.{max(places, 0)}f")
    return figure(float(f"{found:.{max(places, 0)}f}"), f"{flags}.12g")


def converted(value: Any, unit: str) -> Any:
    """A number, or an array of them, from SI to the units that are told.

    Examples
    --------
    >>> converted(10.0, "degC")
    10.0
    >>> with measuring("us"):
    ...     converted(10.0, "degC"), converted(10.0, "degC apart")
    (50.0, 18.0)
    """
    if told_in.get() == "si":
        return value
    us = UNITS[unit]
    return value * us.factor + us.zero


def unit_word(name: str) -> str:
    """The word of a unit, in the units and the language that are told."""
    return say(getattr(UNITS[name], told_in.get()))


def told(value: float, unit: str, spec: str = "g", step: int = 1) -> str:
    """A quantity with its unit, as `amount` tells it.

    Examples
    --------
    >>> told(2.5, "kg", ".1f")
    '2.5 kg'
    >>> with measuring("us"):
    ...     told(2.5, "kg", ".1f"), told(1.2, "m")
    ('5.5 lb', '3.9 ft')
    """
    return f"{amount(value, unit, spec, step)} {unit_word(unit)}"


def told_together(value: float, words: str, spec: str = "g", step: int = 1) -> str:
    """A quantity whose unit begins some words, 'litres of compost'; what begins with no unit is told in its number.

    Examples
    --------
    >>> with measuring("us"):
    ...     told_together(100.0, "litres of compost", ".0f"), told_together(12.0, "cells")
    ('26.4 gallons of compost', '12 cells')
    >>> told_together(1.0, "tubers")
    '1 tuber'
    """
    first, space, rest = words.partition(" ")
    if first not in UNITS:
        return f"{format(value, spec)} {words.removesuffix('s') if value == 1 else words}"
    return f"{told(value, first, spec, step)}{space}{rest}"


def measured() -> str:
    """The units that are told: 'si' or 'us'."""
    return told_in.get()


@contextmanager
def measuring(units: str) -> Iterator[None]:
    """Tell quantities within in these units.

    Raises
    ------
    InputError
        For units that quantities cannot be told in.
    """
    if units not in MEASURES:
        raise InputError(f"quantities are not told in {units!r}; choose {' or '.join(MEASURES)}")
    before = told_in.set(units)
    try:
        yield
    finally:
        told_in.reset(before)
