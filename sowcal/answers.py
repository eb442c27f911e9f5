"""The same answers as the commands, one call each: what `import sowcal` offers.

Each takes a site as the command line does: the name of a bundled plot, a file, or 'LAT,LON'.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from sowcal.crops.find import named_crops
from sowcal.crops.handbook import handbook
from sowcal.crops.records import Crop
from sowcal.errors import NotJudgedError
from sowcal.seasons.settings import Settings
from sowcal.seasons.site_days import SiteDays
from sowcal.suitability.chart import NOT_JUDGED, crop_seasons
from sowcal.suitability.rating import best_first, rate_annual
from sowcal.suitability.results import CompareResult, CropVerdict, Record, SowingChart

if TYPE_CHECKING:
    import xarray as xr

    from sowcal.climate.summary_record import ClimateSummary

__all__ = ["compare_sites", "open_record", "rate_crops", "record_of", "site_climate", "sowing_chart"]


def record_of(dataset: xr.Dataset) -> Record:
    """What the weather record is: its days, length, and what stands on filled or generated days."""
    import numpy as np

    origin = [dataset[f"{v}_origin"].values for v in ("tasmin", "tasmax") if f"{v}_origin" in dataset]
    time = dataset["time"].values
    first, last = (str(np.datetime64(t, "D")) for t in (time[0], time[-1]))
    worst = np.maximum.reduce(origin) if origin else np.zeros(time.size)
    shares = {name: int((worst == code).sum()) for code, name in enumerate(("observed", "filled", "generated"))}
    kind = "generated" if shares["generated"] == time.size else "mixed" if shares["generated"] else "observed"
    missing = np.isnan(dataset["tasmin"].values) | np.isnan(dataset["tasmax"].values)
    return Record(
        first=first,
        last=last,
        years=round(time.size / 365.25, 1),
        kind=kind,
        filled_days=shares["filled"],
        missing_days=int(missing.sum()),
    )


def _warnings(record: Record) -> tuple[str, ...]:
    out = []
    if record.kind == "generated":
        out.append("the weather is generated from monthly normals, extremes are tamer than observed ones")
    if record.years < 10:
        out.append(f"the record is short ({record.years:g} years): odds from fewer than 10 years are rough")
    if record.missing_days:
        out.append(f"{record.missing_days} days are missing; seasons that touch them are left undecided")
    return tuple(out)


def open_record(site: str | xr.Dataset) -> tuple[str, xr.Dataset]:
    """Name and daily dataset of a site given by name, file, 'LAT,LON', or as a dataset already."""
    if isinstance(site, str):
        from sowcal.weather.open_site import open_weather

        found, dataset = open_weather(site)
        return found.name, dataset
    return str(site.attrs.get("title", "site")), site


def annuals(words: Sequence[str] = ()) -> list[Crop]:
    """Crops asked for, or every annual of the handbook."""
    book = handbook()
    if words:
        return named_crops(book, words)
    return [c for c in book.values() if c.life == "annual"]


def sowing_chart(site: str | xr.Dataset, crops: Iterable[str] = (), settings: Settings | None = None) -> SowingChart:
    """When each crop can be sown, set out or planted, and picked, with odds.

    Parameters
    ----------
    site : str or xarray.Dataset
        Bundled plot, file, 'LAT,LON', or a daily dataset.
    crops : iterable of str
        Names; none means every annual.
    settings : Settings, optional
        Risk, yield and time asked for.

    Returns
    -------
    SowingChart

    Raises
    ------
    InputError, NetworkError, NotJudgedError
        Where the site or a crop is not known or the record carries no answer.
    """
    name, dataset = open_record(site)
    settings = settings or Settings()
    record = record_of(dataset)
    days = SiteDays.from_dataset(dataset, settings)
    if days.size < 365:
        raise NotJudgedError(f"the record holds {days.size} days; a chart needs at least three whole years", where=name)
    return SowingChart(
        site=name,
        latitude=days.latitude,
        record=record,
        reliability_asked=settings.risk,
        crops=crop_seasons(days, annuals(list(crops))),
        not_judged=NOT_JUDGED,
        warnings=_warnings(record),
    )


def rate_crops(
    site: str | xr.Dataset, crops: Iterable[str] = (), settings: Settings | None = None
) -> tuple[SowingChart, list[CropVerdict]]:
    """How far each crop suits the site, best first, with the chart that says so."""
    chart = sowing_chart(site, crops, settings)
    return chart, best_first([rate_annual(line) for line in chart.crops])


def site_climate(site: str | xr.Dataset) -> ClimateSummary:
    """What one place is like, in figures."""
    from sowcal.climate.summary import climate_summary

    name, dataset = open_record(site)
    return climate_summary(dataset, name, record_of(dataset))


def compare_sites(
    first: str | xr.Dataset,
    second: str | xr.Dataset,
    crops: Iterable[str] = (),
    settings: Settings | None = None,
) -> CompareResult:
    """Two places side by side: climates, crops gained and lost, windows moved.

    Parameters
    ----------
    first, second : str or xarray.Dataset
        Sites.
    crops : iterable of str
        Names; none means every annual.
    settings : Settings, optional
        Risk, yield and time asked for.
    """
    from sowcal.suitability.compare import compare

    opened = [open_record(s) for s in (first, second)]
    words = list(crops)
    rated = []
    for name, dataset in opened:
        rated.append(rate_crops(dataset.assign_attrs(title=name), words, settings))
    climates = [site_climate(dataset.assign_attrs(title=name)).to_json() for name, dataset in opened]
    return compare((rated[0][0], rated[1][0]), (rated[0][1], rated[1][1]), (climates[0], climates[1]))
