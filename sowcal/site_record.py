"""A site opened for an answer: its days as the plot has them, what they rest on, and what a reader must be told.

Every command opens its site here, so that each says the same of the same record.
"""

from __future__ import annotations

import datetime as dt
import json
import os
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from sowcal.errors import InputError, NotJudgedError
from sowcal.microclimate import with_what_ifs
from sowcal.plurals import counted
from sowcal.seasons.site_days import SiteDays
from sowcal.settings import Settings
from sowcal.suitability.results import Record, record_of
from sowcal.weather.findings import checked, refuse_other_hemisphere, stamped
from sowcal.weather.generator import FALLS_SHORT
from sowcal.weather.record import PlainRecord, check_place, labelled, without_empty_ends
from sowcal.weather.years import chosen_years, years_words

if TYPE_CHECKING:
    import xarray as xr

__all__ = [
    "Opened",
    "at_the_ends",
    "day_of_issue",
    "days_as_felt",
    "open_for_answer",
    "open_record",
    "record_of",
    "record_warnings",
    "spec_of",
]

_FEWEST, _ENOUGH = 3, 10  # whole years without which there are no odds, and rough ones: common practice, no source
_LEAST_DAYS = 365  # a year, without which no start day of the year would have been seen
_MOSTLY_MEASURED = 0.05  # share of filled days above which it is said aloud: common practice, no source


def record_warnings(record: Record, dataset: xr.Dataset | PlainRecord) -> tuple[str, ...]:
    """What a reader of any answer must know of the record, a sentence each."""
    out = [str(w) for w in json.loads(dataset.attrs.get("warnings", "[]"))]
    out += [finding.line for finding in record.findings]
    if record.kind == "generated":
        out.append(FALLS_SHORT)
    usable = record.usable_years
    if usable < _FEWEST:
        out.append(
            f"the record is too short for odds ({usable:.1f} years of days): at least {_FEWEST} whole years are "
            f"needed, and {_ENOUGH} for odds to lean on"
        )
    elif usable < _ENOUGH:
        out.append(f"the record is short ({usable:.1f} years of days): odds from fewer than {_ENOUGH} years are rough")
    if record.filled_share > _MOSTLY_MEASURED:
        out.append(
            f"{record.filled_share:.0%} of the days are filled, not measured: odds of frost and heat from them are "
            "rough"
        )
    if record.missing_days:
        missing = record.missing_days
        out.append(
            f"{counted(missing, 'day')} {'is' if missing == 1 else 'are'} missing; seasons that touch "
            f"{'it' if missing == 1 else 'them'} are left undecided"
        )
    out += _offset_told(dataset)
    return tuple(out)


def _offset_told(dataset: xr.Dataset | PlainRecord) -> list[str]:
    """How the record was moved to the plot, and what that leaves open."""
    if "offset" not in dataset.attrs:
        return []
    report = json.loads(dataset.attrs["offset"])
    words = []
    for o in report["offsets"]:
        if o["season"] == "all year":
            low, high = o["interval"]
            name = {"tasmin": "nights", "tasmax": "days"}[o["variable"]]
            words.append(f"{name} {o['mean']:+.1f} degC (95 per cent interval {low:+.1f} to {high:+.1f})")
    days = report["record"]["days"]
    return [f"the record is moved to the plot by its own thermometer of {counted(days, 'day')}: {', '.join(words)}"] + [
        f"own thermometer: {note}" for note in report["notes"]
    ]


def day_of_issue(issued: dt.date | None = None) -> dt.date:
    """The day of issue as given, else today by the clock, which is read nowhere deeper than here."""
    return issued or dt.date.today()


def spec_of(site: Any) -> str | None:
    """The word of a site that is named: a name, a path, or a pair of degrees; None for weather handed over.

    Raises
    ------
    InputError
        For what is neither.
    """
    if isinstance(site, str):
        return site
    if isinstance(site, os.PathLike):
        return os.fspath(site)
    if isinstance(site, tuple) and len(site) == 2:
        try:
            latitude, longitude = (float(x) for x in site)
        except (TypeError, ValueError):
            raise InputError(
                f"{site!r} is no pair of degrees; give (latitude, longitude), such as (-31.9, 115.9)"
            ) from None
        check_place(latitude, longitude)
        return f"{latitude:.6f},{longitude:.6f}"
    if hasattr(site, "data_vars") or hasattr(site, "columns"):
        return None
    raise InputError(
        f"{type(site).__name__} is no site; give a bundled plot, a file, (latitude, longitude), an xarray.Dataset or a "
        "pandas.DataFrame"
    )


def open_record(site: str | xr.Dataset, years: str = "", issued: dt.date | None = None) -> tuple[str, xr.Dataset]:
    """Name and daily dataset, as the plot has it, of a site given by name, file, 'LAT,LON', or as a dataset already.

    Parameters
    ----------
    site : str or xarray.Dataset
    years : str
        Where given, those only are kept: '15' for the last fifteen, '1991:2010' for those.
    issued : datetime.date, optional
        Day of issue, after which days lie in the future; today where left out. With the same one the same record has
        the same findings.

    Returns
    -------
    name : str
    dataset : xarray.Dataset
        What looks wrong in it, as it was read, is noted for `record_of`.

    Raises
    ------
    InputError
        Also for a record whose seasons are those of the other hemisphere.
    """
    issued = day_of_issue(issued)
    if (word := spec_of(site)) is not None:
        from sowcal.weather.open_site import open_weather

        found, dataset = open_weather(word, issued=issued)
        refuse_other_hemisphere(dataset, word)
        name, dataset = found.name, _at_plot(dataset)
    else:
        from sowcal.weather.datasets_and_frames import as_record

        dataset = as_record(site)
        name = str(dataset.attrs.get("title") or "site")
        refuse_other_hemisphere(dataset, name)
        dataset = checked(dataset, issued)
    dataset = without_empty_ends(dataset)
    if years:
        name, dataset = f"{name}, {years_words(years, '--years')}", chosen_years(dataset, years, "--years")
    return name, stamped(dataset)


def _at_plot(dataset: xr.Dataset) -> xr.Dataset:
    """The days under the changes that the site file says hold on the plot."""
    changes = json.loads(dataset.attrs.get("plot", "[]"))
    try:
        return with_what_ifs(dataset, changes) if changes else dataset
    except InputError as problem:
        raise InputError(problem.message, where="changes under [plot]") from None


def days_as_felt(dataset: xr.Dataset | PlainRecord, settings: Settings) -> SiteDays:
    """Days of one site, with the seed bed that changes to what the plant feels have left it."""
    seedbed = dataset.attrs.get("seedbed", settings.seedbed)
    return SiteDays.from_dataset(dataset, replace(settings, seedbed=seedbed))


@dataclass(frozen=True)
class Opened:
    """A site opened for an answer.

    Attributes
    ----------
    name : str
    dataset : xarray.Dataset or PlainRecord
        Under the changes asked for.
    record : Record
    settings : Settings
    ends : tuple of two xarray.Dataset, or None
        The same at the cold and the warm end of what the plot's own thermometer leaves open.
    """

    name: str
    dataset: xr.Dataset | PlainRecord
    record: Record
    settings: Settings
    ends: tuple[xr.Dataset, xr.Dataset] | None = None

    def days(self, what_ifs: Sequence[str] = ()) -> SiteDays:
        """The days, under more changes where they are named."""
        changed = with_what_ifs(labelled(self.dataset), what_ifs) if what_ifs else self.dataset
        return days_as_felt(changed, self.settings)

    @property
    def warnings(self) -> tuple[str, ...]:
        """What a reader must be told of the record."""
        return record_warnings(self.record, self.dataset)


def open_for_answer(
    site: str | xr.Dataset,
    settings: Settings | None,
    what_ifs: Sequence[str],
    years: str = "",
    issued: dt.date | None = None,
) -> Opened:
    """A site's days under some changes, with what they rest on; `years` and `issued` as `open_record` has them.

    Raises
    ------
    InputError, NetworkError, NotJudgedError
        Where the site is not known, its seasons are those of the other hemisphere, or its record is shorter than a
        year.
    """
    from sowcal.weather.open_site import open_plain

    # a record that is complete as it is read goes without labels as far as it can: xarray is then not even imported
    word = None if years else spec_of(site)
    plain = open_plain(word, day_of_issue(issued)) if word is not None else None
    name, dataset = (plain[0].name, plain[1]) if plain else open_record(site, years, issued)
    record = record_of(dataset)
    if (held := dataset.sizes["time"]) < _LEAST_DAYS:
        raise NotJudgedError(
            f"{counted(held, 'day')} of record cannot be judged; at least {_LEAST_DAYS} are needed, "
            "and three whole years for odds",
            where=name,
        )
    ends = at_the_ends(dataset, what_ifs)
    if what_ifs:
        dataset = with_what_ifs(labelled(dataset), what_ifs)
    if said := dataset.attrs.get("what_ifs"):
        name = f"{name}, with {said}"
    return Opened(name, dataset, record, settings or Settings(), ends)


def at_the_ends(dataset: xr.Dataset | PlainRecord, what_ifs: Sequence[str]) -> tuple[xr.Dataset, xr.Dataset] | None:
    """The same days under the same changes at the two ends of what the plot's own thermometer leaves open."""
    if "offset_half_width" not in dataset.attrs:
        return None
    from sowcal.weather.offset import offset_ends

    found = offset_ends(labelled(dataset))
    if found is None or not what_ifs:
        return found
    cold, warm = (with_what_ifs(d, what_ifs) for d in found)
    return cold, warm
