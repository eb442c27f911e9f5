"""The plots that come with the package: invented places on an invented island, for trying everything out."""

from __future__ import annotations

from functools import cache
from importlib.resources import files

from sowcal.errors import InputError
from sowcal.weather.site_file import Site, parse_site

__all__ = ["bundled_names", "bundled_site"]

_ORDER = ("wrackhythe", "sallowdene")  # the first one stands where no site is named


def bundled_names() -> list[str]:
    """Names of the bundled plots, the usual one first."""
    return list(_ORDER)


@cache
def bundled_site(name: str) -> Site:
    """The bundled plot of that name, capital letters or not; `InputError` for any other name."""
    key = name.strip().lower()
    if key not in _ORDER:
        raise InputError(f"there is no bundled plot {name!r}; there are {' and '.join(_ORDER)}")
    text = (files("sowcal") / "plots" / f"{key}.toml").read_text(encoding="utf-8")
    return parse_site(text, where=f"bundled plot {key}")
