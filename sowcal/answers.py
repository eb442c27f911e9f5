"""The same answers as the commands, one call each: what `import sowcal` offers.

Each takes a site as the command line does: the name of a bundled plot, a file, or 'LAT,LON'.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from sowcal.crops.find import named_crops
from sowcal.crops.handbook import Handbook, handbook
from sowcal.crops.own_values import own_crops, own_files_of_user, with_own_values
from sowcal.crops.records import Crop, Way
from sowcal.errors import InputError, NotJudgedError
from sowcal.made_by import MadeBy
from sowcal.microclimate.what_ifs import with_what_ifs
from sowcal.seasons.settings import Settings
from sowcal.seasons.site_days import SiteDays
from sowcal.suitability.chart import NOT_JUDGED, NOT_JUDGED_RAIN_FED
from sowcal.suitability.judge import hangs_on_its_numbers, judge_crops, remedies
from sowcal.suitability.rating import best_first
from sowcal.suitability.results import CompareResult, CropSeasons, CropVerdict, Record, SowingChart
from sowcal.weather.fingerprint import record_fingerprint
from sowcal.weather.generator import FALLS_SHORT
from sowcal.weather.plain_record import PlainRecord, labelled

if TYPE_CHECKING:
    import xarray as xr

    from sowcal.climate.rain_years import OpeningRains
    from sowcal.climate.summary_record import ClimateSummary
    from sowcal.seasons.perennial_years import PerennialYears
    from sowcal.seasons.season import Seasons

__all__ = [
    "compare_sites",
    "days_as_felt",
    "open_handbook",
    "open_record",
    "perennial_record",
    "rate_crops",
    "record_of",
    "site_climate",
    "sowing_chart",
]

_FEW = 12  # crops at once for which edges, remedies and the weight of the numbers are worked out too


def record_of(dataset: xr.Dataset | PlainRecord) -> Record:
    """What the weather record is: its days, length, and what stands on filled or generated days."""
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
        fingerprint=record_fingerprint(dataset),
    )


def _warnings(record: Record, dataset: xr.Dataset | PlainRecord) -> tuple[str, ...]:
    out = [str(w) for w in json.loads(dataset.attrs.get("warnings", "[]"))]
    problems = json.loads(dataset.attrs.get("problems", "[]"))
    if problems:
        out.append(f"{len(problems)} values of the record could not be used; `sowcal weather check` lists them")
    if record.kind == "generated":
        out.append(FALLS_SHORT)
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


def open_handbook(crop_files: Sequence[str] = ()) -> Handbook:
    """The handbook, with the values of the user's own folder and of the files named laid over it."""
    files = own_files_of_user() + tuple(str(f) for f in crop_files)
    return with_own_values(files) if files else handbook()


def _crops(book: Handbook, words: Sequence[str]) -> list[Crop]:
    """Crops asked for, or the whole handbook."""
    return named_crops(book, words) if words else list(book.values())


def days_as_felt(dataset: xr.Dataset | PlainRecord, settings: Settings) -> SiteDays:
    """Days of one site, with the seed bed that changes to what the plant feels have left it."""
    seedbed = dataset.attrs.get("seedbed", settings.seedbed)
    return SiteDays.from_dataset(dataset, replace(settings, seedbed=seedbed))


@dataclass(frozen=True)
class _Opened:
    """A site opened for an answer."""

    name: str
    dataset: xr.Dataset | PlainRecord
    record: Record
    settings: Settings

    def days(self, what_ifs: Sequence[str] = ()) -> SiteDays:
        changed = with_what_ifs(labelled(self.dataset), what_ifs) if what_ifs else self.dataset
        return days_as_felt(changed, self.settings)


def _open(site: str | xr.Dataset, settings: Settings | None, what_ifs: Sequence[str]) -> _Opened:
    from sowcal.weather.open_site import open_plain

    # a generated record goes without labels as far as it can: xarray is then not even imported
    plain = open_plain(site) if isinstance(site, str) else None
    name, dataset = (plain[0].name, plain[1]) if plain else open_record(site)
    record = record_of(dataset)
    if dataset.sizes["time"] < 365:
        raise NotJudgedError(
            f"the record holds {dataset.sizes['time']} days; this needs at least three whole years", where=name
        )
    if what_ifs:
        dataset = with_what_ifs(labelled(dataset), what_ifs)
    if said := dataset.attrs.get("what_ifs"):
        name = f"{name}, with {said}"
    return _Opened(name, dataset, record, settings or Settings())


def _chart(opened: _Opened, days: SiteDays, lines: Sequence[CropSeasons], book: Handbook) -> SowingChart:
    own = [c for c in own_crops(book) if c in {line.crop for line in lines}]
    said = (f"values of your own stand behind: {', '.join(own)}",) if own else ()
    return SowingChart(
        site=opened.name,
        latitude=days.latitude,
        record=opened.record,
        reliability_asked=opened.settings.risk,
        crops=tuple(lines),
        not_judged=NOT_JUDGED,
        warnings=_warnings(opened.record, opened.dataset) + said,
        made_by=MadeBy(book.fingerprint, (opened.record.fingerprint,)),
    )


def _within_water(dataset: xr.Dataset, days: SiteDays, most: float) -> Callable[[Crop, Way], np.ndarray]:
    """Start days whose season draws no more than so much stored water in the dry year in ten."""
    from sowcal.garden.garden_weather import garden_weather
    from sowcal.garden.start_day_water import start_day_water

    weather = garden_weather(dataset)

    def allowed(crop: Crop, way: Way) -> np.ndarray:
        need = start_day_water(days, weather, crop, way).dry_year
        return np.nan_to_num(need, nan=np.inf) <= most

    return allowed


def _on_rain(opened: _Opened) -> tuple[Callable[[Crop, Way, Seasons], Seasons], OpeningRains | None]:
    """What becomes of seasons on rain alone, and the opening rains."""
    from sowcal.climate.rain_years import rains_by_year
    from sowcal.garden.garden_weather import garden_weather
    from sowcal.garden.rain_fed import rain_fed_seasons

    dataset = labelled(opened.dataset)
    return rain_fed_seasons(garden_weather(dataset), where=opened.name), rains_by_year(dataset)


def sowing_chart(
    site: str | xr.Dataset,
    crops: Iterable[str] = (),
    settings: Settings | None = None,
    *,
    what_ifs: Sequence[str] = (),
    crop_files: Sequence[str] = (),
    most_water: float | None = None,
    rain_fed: bool = False,
) -> SowingChart:
    """When each crop can be sown, set out or planted, and picked, with odds.

    Parameters
    ----------
    site : str or xarray.Dataset
        Bundled plot, file, 'LAT,LON', or a daily dataset.
    crops : iterable of str
        Names; none means the whole handbook.
    settings : Settings, optional
        Risk, yield and time asked for.
    what_ifs : sequence of str
        Changes to what the plant feels, such as 'mulch' or 'shade-cloth=40'.
    crop_files : sequence of str
        Files with the grower's own crops and values.
    most_water : float, optional
        Stored water that an advised start may draw in the dry year in ten, litres per m2 of bed over its
        season, drip-fed on bare loam.
    rain_fed : bool, optional
        Whether annuals live on rain alone, on bare loam: want of water then takes its share of every season's
        yield (FAO-56 eq. 90), and the chart carries the opening rains of each year.

    Returns
    -------
    SowingChart

    Raises
    ------
    InputError, NetworkError, NotJudgedError
        Where the site or a crop is not known or the record carries no answer.
    """
    if rain_fed and most_water is not None:
        raise InputError("a crop on rain alone draws no stored water; ask for one or the other")
    book = open_handbook(crop_files)
    chosen = _crops(book, list(crops))
    settings = settings or Settings()
    if len(chosen) <= _FEW and not settings.edge_draws:
        settings = replace(settings, edge_draws=200)
    opened = _open(site, settings, what_ifs)
    days = opened.days()
    allowed = None if most_water is None else _within_water(labelled(opened.dataset), days, most_water)
    changed, rains = _on_rain(opened) if rain_fed else (None, None)
    judged = judge_crops(days, chosen, book, allowed, changed)
    chart = _chart(opened, days, [line for line, _ in judged], book)
    if not rain_fed:
        return chart
    return replace(chart, site=f"{chart.site}, on rain alone", not_judged=NOT_JUDGED_RAIN_FED, opening_rains=rains)


def rate_crops(
    site: str | xr.Dataset,
    crops: Iterable[str] = (),
    settings: Settings | None = None,
    *,
    what_ifs: Sequence[str] = (),
    crop_files: Sequence[str] = (),
    most_remedies: int = _FEW,
) -> tuple[SowingChart, list[CropVerdict]]:
    """How far each crop suits the site, best first, with the chart that says so.

    Parameters
    ----------
    site, crops, settings, what_ifs, crop_files
        As for :func:`sowing_chart`.
    most_remedies : int
        What would lift each verdict is worked out where no more crops than this are asked for.
    """
    opened = _open(site, settings, what_ifs)
    days = opened.days()
    book = open_handbook(crop_files)
    chosen = _crops(book, list(crops))
    judged = judge_crops(days, chosen, book)
    verdicts = [verdict for _, verdict in judged]
    if len(chosen) <= most_remedies:
        changed_site = cache(opened.days)
        verdicts = [
            replace(
                hangs_on_its_numbers(days, crop, v, book),
                what_would_change_it=remedies(changed_site, crop, v, book),
            )
            for crop, v in zip(chosen, verdicts, strict=True)
        ]
    return _chart(opened, days, [line for line, _ in judged], book), best_first(verdicts)


def site_climate(site: str | xr.Dataset, *, what_ifs: Sequence[str] = ()) -> ClimateSummary:
    """What one place is like, in figures; under some changes where they are named."""
    from sowcal.climate.summary import climate_summary

    name, dataset = open_record(site)
    return climate_summary(with_what_ifs(dataset, what_ifs), name, record_of(dataset))


def compare_sites(
    first: str | xr.Dataset,
    second: str | xr.Dataset,
    crops: Iterable[str] = (),
    settings: Settings | None = None,
    *,
    what_ifs: tuple[Sequence[str], Sequence[str]] = ((), ()),
    crop_files: Sequence[str] = (),
) -> CompareResult:
    """Two places side by side: climates, crops gained and lost, windows moved.

    Parameters
    ----------
    first, second : str or xarray.Dataset
        Sites.
    crops : iterable of str
        Names; none means the whole handbook.
    settings : Settings, optional
        Risk, yield and time asked for.
    what_ifs : two sequences of str
        Changes at the first and at the second place.
    crop_files : sequence of str
        Files with the grower's own crops and values.
    """
    from sowcal.suitability.compare import compare

    words = list(crops)
    rated, climates = [], []
    for site, changes in zip((first, second), what_ifs, strict=True):
        name, dataset = open_record(site)
        dataset = dataset.assign_attrs(title=name)
        rated.append(rate_crops(dataset, words, settings, what_ifs=changes, crop_files=crop_files, most_remedies=0))
        climates.append(site_climate(dataset, what_ifs=changes).to_json())
    return compare((rated[0][0], rated[1][0]), (rated[0][1], rated[1][1]), (climates[0], climates[1]))


def perennial_record(
    site: str | xr.Dataset, crop: str, settings: Settings | None = None, *, what_ifs: Sequence[str] = ()
) -> PerennialYears:
    """One perennial through every year of a site's record."""
    from sowcal.seasons.perennial_years import perennial_years

    (found,) = named_crops(handbook(), [crop])[:1]
    if found.perennial is None:
        raise InputError(f"{found.name} is no perennial; `sowcal chart` shows its seasons")
    return perennial_years(_open(site, settings, what_ifs).days(), found)
