"""A site opened for an answer: its days as the plot has them, what they rest on, and what a reader must be told.

Every command opens its site here, so that each says the same of the same record.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from sowcal.counted import counted
from sowcal.errors import InputError, NotJudgedError
from sowcal.microclimate.what_ifs import with_what_ifs
from sowcal.seasons.settings import Settings
from sowcal.seasons.site_days import SiteDays
from sowcal.suitability.record import record_of
from sowcal.suitability.results import Record
from sowcal.weather.generator import FALLS_SHORT
from sowcal.weather.period import chosen_years, years_words
from sowcal.weather.plain_record import PlainRecord, labelled

if TYPE_CHECKING:
    import xarray as xr

__all__ = ["Opened", "at_the_ends", "days_as_felt", "open_for_answer", "open_record", "record_of", "record_warnings"]

_FEWEST, _ENOUGH = 3, 10  # whole years without which there are no odds, and rough ones (DESIGN section 10)
_MOSTLY_MEASURED = 0.05  # share of filled days above which it is said aloud: common practice, no source


def record_warnings(record: Record, dataset: xr.Dataset | PlainRecord) -> tuple[str, ...]:
    """What a reader of any answer must know of the record, a sentence each."""
    out = [str(w) for w in json.loads(dataset.attrs.get("warnings", "[]"))]
    problems = json.loads(dataset.attrs.get("problems", "[]"))
    if problems:
        out.append(f"{len(problems)} values of the record could not be used; `sowcal weather check` lists them")
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
        out.append(f"{record.missing_days} days are missing; seasons that touch them are left undecided")
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
    return [f"the record is moved to the plot by its own thermometer of {days} days: {', '.join(words)}"] + [
        f"own thermometer: {note}" for note in report["notes"]
    ]


def open_record(site: str | xr.Dataset, years: str = "") -> tuple[str, xr.Dataset]:
    """Name and daily dataset, as the plot has it, of a site given by name, file, 'LAT,LON', or as a dataset already.

    `years`, where given, keeps those only: '15' for the last fifteen, '1991:2010' for those.
    """
    if isinstance(site, str):
        from sowcal.weather.open_site import open_weather

        found, dataset = open_weather(site)
        name, dataset = found.name, _at_plot(dataset)
    else:
        name, dataset = str(site.attrs.get("title", "site")), site
    if not years:
        return name, dataset
    return f"{name}, {years_words(years, '--years')}", chosen_years(dataset, years, "--years")


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
    site: str | xr.Dataset, settings: Settings | None, what_ifs: Sequence[str], years: str = ""
) -> Opened:
    """A site's days under some changes, with what they rest on; of some `years` only, as `open_record` has it.

    Raises
    ------
    InputError, NetworkError, NotJudgedError
        Where the site is not known, or its record is shorter than a year.
    """
    from sowcal.weather.open_site import open_plain

    # a generated record goes without labels as far as it can: xarray is then not even imported
    plain = open_plain(site) if isinstance(site, str) and not years else None
    name, dataset = (plain[0].name, plain[1]) if plain else open_record(site, years)
    record = record_of(dataset)
    if dataset.sizes["time"] < 365:
        raise NotJudgedError(
            f"the record holds {counted(dataset.sizes['time'], 'day')}; this needs at least three whole years",
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
