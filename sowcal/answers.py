"""The same answers as the commands, one call each: what `import sowcal` offers.

Each takes a site as the command line does: the name of a bundled plot, a file, or 'LAT,LON'.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from functools import cache
from typing import TYPE_CHECKING, Any

from sowcal import kept_answers
from sowcal.crops.handbook import Handbook, crop_words, handbook, named_crops
from sowcal.crops.own_values import own_crops, own_files_of_user, with_own_values
from sowcal.crops.tables import Crop
from sowcal.errors import InputError
from sowcal.languages import phrase
from sowcal.microclimate import with_what_ifs
from sowcal.provenance import FEWER_STARTS, MadeBy
from sowcal.seasons.site_days import SiteDays
from sowcal.settings import Settings
from sowcal.site_weather import (
    Opened,
    Place,
    at_the_ends,
    day_of_issue,
    days_as_felt,
    one_wish,
    open_for_answer,
    open_record,
    record_of,
    record_warnings,
    water_rule,
    water_rules,
)
from sowcal.suitability.annuals import GRADES, NOT_JUDGED, NOT_JUDGED_RAIN_FED, NOT_JUDGED_STORED, best_first
from sowcal.suitability.compare import against_whole
from sowcal.suitability.results import CropSeasons, CropVerdict, SettingsSteps, SowingChart
from sowcal.suitability.verdicts import (
    hangs_on_its_numbers,
    judge_crops,
    lines_with_range,
    perennials_lifted,
    remedies,
    steps_of_settings,
    verdict_with_range,
)
from sowcal.units import quantity

if TYPE_CHECKING:
    from pathlib import Path

    from sowcal.climate.place_figures import ClimateSummary
    from sowcal.garden.garden_file import Garden
    from sowcal.garden.plan import GardenPlan
    from sowcal.seasons.perennial_years import PerennialYears
    from sowcal.suitability.week import Week
    from sowcal.weather.record import DailyRecord

__all__ = [
    "days_as_felt",
    "garden_plan",
    "open_handbook",
    "open_record",
    "perennial_record",
    "rate_crops",
    "record_of",
    "site_climate",
    "sowing_chart",
    "sowing_week",
    "windows_by_water",
]

_FEW = 12  # crops at once for which edges, remedies and the weight of the numbers are worked out too


def open_handbook(crop_files: Sequence[str] = ()) -> Handbook:
    """The handbook, with the values of the user's own folder and of the files named laid over it.

    Raises `InputError` for a file that is missing or not sound, with its line and column.

    Examples
    --------
    >>> len(open_handbook()), open_handbook()["courgette"].botanical_name
    (198, 'Cucurbita pepo')
    """
    files = own_files_of_user() + tuple(str(f) for f in crop_files)
    return with_own_values(files) if files else handbook()


def _chart(opened: Opened, lines: Sequence[CropSeasons], book: Handbook) -> SowingChart:
    own = [c for c in own_crops(book) if c in {line.crop for line in lines}]
    said = (phrase("values of your own stand behind: {crops}", crops=", ".join(own)),) if own else ()
    if opened.settings.every > 1:
        said = (*said, phrase(FEWER_STARTS, every=opened.settings.every))
    return SowingChart(
        site=opened.name,
        latitude=opened.weather.latitude,
        record=opened.record,
        reliability_asked=opened.settings.reliability,
        crops=tuple(lines),
        not_judged=NOT_JUDGED,
        warnings=opened.warnings + said,
        own_thermometer=opened.weather.offset.report.to_json() if opened.weather.offset else None,
        made_by=MadeBy(book.fingerprint, (opened.record.fingerprint,), every=opened.settings.every),
    )


def _judge(
    opened: Opened, weather: DailyRecord, book: Handbook, most: float | None, rain_fed: bool
) -> Callable[[Sequence[Crop]], list[tuple[CropSeasons, CropVerdict]]]:
    """What judges crops on these days: those of a site opened, or of an end of what its own thermometer leaves open."""

    def judge(some: Sequence[Crop]) -> list[tuple[CropSeasons, CropVerdict]]:
        days = days_as_felt(weather, opened.settings)
        found = judge_crops(days, some, book, water_rule(opened, most, rain_fed))
        days.let_go(0)  # water rests on none of the sums by which seasons were judged
        return _with_harvest(weather, days, some, found, rain_fed) if weather is opened.weather else found

    return judge


def _lines(
    opened: Opened, crops: Sequence[Crop], book: Handbook, most: float | None, rain_fed: bool
) -> list[CropSeasons]:
    """The lines alone of `_judged`."""
    if opened.ends is not None:
        return [line for line, _ in _judged(opened, crops, book, most, rain_fed)]
    asked = _judge(opened, opened.weather, book, most, rain_fed), (most, rain_fed, False)
    return kept_answers.lines(opened.weather, opened.settings, crops, book, *asked)


def _judged(
    opened: Opened, crops: Sequence[Crop], book: Handbook, most: float | None = None, rain_fed: bool = False
) -> list[tuple[CropSeasons, CropVerdict]]:
    """Lines and verdicts with water and yield of a square metre, within the error of the plot's own thermometer."""

    def of(weather: DailyRecord) -> list[tuple[CropSeasons, CropVerdict]]:
        at_end = weather is not opened.weather  # of the ends only windows and words are told
        judge = _judge(opened, weather, book, most, rain_fed)
        return kept_answers.judged(weather, opened.settings, crops, book, judge, (most, rain_fed, at_end))

    judged = of(opened.weather)
    if opened.ends is None:
        return judged
    at_ends = [of(weather) for weather in opened.ends]
    lines = lines_with_range(*([line for line, _ in j] for j in (judged, *at_ends)))
    verdicts = [
        verdict_with_range(v, c, w, line)
        for line, (_, v), (_, c), (_, w) in zip(lines, judged, at_ends[0], at_ends[1], strict=True)
    ]
    return list(zip(lines, verdicts, strict=True))


def _weighed(
    opened: Opened, crops: Sequence[Crop], book: Handbook, most_remedies: int, most: float | None, rain_fed: bool
) -> list[tuple[CropSeasons, CropVerdict]]:
    """Lines and verdicts with what would lift these: of few crops all of it, of many that of perennials."""
    few = len(crops) <= most_remedies

    def weigh(some: Sequence[Crop]) -> list[tuple[CropSeasons, CropVerdict]]:
        judged = _judged(opened, some, book, most, rain_fed)
        changed_site = cache(opened.days)
        if not few:
            lifted = perennials_lifted(changed_site, some, [verdict for _, verdict in judged], book)
            return [(line, verdict) for (line, _), verdict in zip(judged, lifted, strict=True)]
        days, water = opened.days(), water_rule(opened, most, rain_fed)
        changed_water = cache(lambda names: water_rule(opened, most, rain_fed, names))

        def weighed(crop: Crop, v: CropVerdict) -> CropVerdict:
            lifts = _more_water(opened, crop, v, book) or remedies(changed_site, crop, v, book, changed_water)
            return replace(hangs_on_its_numbers(days, crop, v, book, water), what_would_change_it=lifts)

        return [(line, weighed(crop, v)) for crop, (line, v) in zip(some, judged, strict=True)]

    if not most_remedies:
        return _judged(opened, crops, book, most, rain_fed)
    if opened.ends is not None:
        return weigh(crops)
    asked = (most, rain_fed, few, opened.weather.plot, opened.weather.changes)
    return kept_answers.judged(opened.weather, opened.settings, crops, book, weigh, asked)


def _with_harvest(
    weather: DailyRecord,
    days: SiteDays,
    crops: Sequence[Crop],
    judged: Sequence[tuple[CropSeasons, CropVerdict]],
    rain_fed: bool,
) -> list[tuple[CropSeasons, CropVerdict]]:
    """Lines and verdicts with the water that a square metre draws, what it gives, and the weeks of picking."""
    from sowcal.garden.harvest import with_harvest
    from sowcal.garden.perennials import with_litres

    lines, verdicts = [line for line, _ in judged], [verdict for _, verdict in judged]
    if any(crop.perennial for crop in crops):
        verdicts = with_litres(days, weather, crops, verdicts)
    return with_harvest(days, weather, crops, list(zip(lines, verdicts, strict=True)), watered=not rain_fed)


def _on_water(chart: SowingChart, opened: Opened, most: float | None, rain_fed: bool) -> SowingChart:
    """The chart with the water that it reckons with in its name, and what is then not judged."""
    if rain_fed:
        from sowcal.climate.rain import rains_by_year

        name = phrase("{site}, on rain alone", site=chart.site)
        return replace(chart, site=name, not_judged=NOT_JUDGED_RAIN_FED, opening_rains=rains_by_year(opened.weather))
    if most is not None:
        said = phrase(
            "{site}, on {water} of stored water per {m2} at most",
            site=chart.site,
            water=quantity(most, "litres each m2"),
            m2=quantity(0, "m2", form="unit"),
        )
        return replace(chart, site=said, not_judged=NOT_JUDGED_STORED)
    return chart


def sowing_chart(
    site: Place,
    crops: str | Iterable[str] = (),
    settings: Settings | None = None,
    *,
    what_ifs: Sequence[str] = (),
    crop_files: Sequence[str] = (),
    most_water: float | None = None,
    rain_fed: bool = False,
    years: str = "",
    issued: dt.date | None = None,
) -> SowingChart:
    """When each crop can be sown, set out or planted, and picked, with odds.

    Parameters
    ----------
    site : str, path, pair of float, xarray.Dataset or pandas.DataFrame
        Bundled plot, file, 'LAT,LON', or weather handed over.
    crops : str or iterable of str
        Names; none means the whole handbook.
    settings : Settings, optional
        Reliability, yield and time asked for.
    what_ifs : sequence of str
        Changes to what the plant feels, such as 'mulch' or 'shade-cloth=40'.
    crop_files : sequence of str
        Files with the grower's own crops and values.
    most_water : float, optional
        Stored water that an advised start may draw in the dry year in ten, litres per m2 of bed over its
        season, drip-fed on bare loam. A year in which a start draws more is lost to want of water.
    rain_fed : bool, optional
        Whether annuals live on rain alone, on bare loam: want of water then takes its share of every season's
        yield (FAO-56 eq. 90), and the chart carries the opening rains of each year.
    years : str, optional
        Years of the record that count: '15' for the last fifteen, '1991:2010' for those. The chart then says how its
        windows move against the whole record.
    issued : datetime.date, optional
        Day of issue: days after it lie in the future and are told; today where left out.

    Returns
    -------
    SowingChart

    Raises
    ------
    InputError, NetworkError, NotJudgedError
        Where the site or a crop is not known or the record carries no answer.

    Examples
    --------
    >>> chart = sowing_chart("sallowdene", ["courgette"], issued=dt.date(2026, 1, 15))
    >>> [(start.way, [(w.start, w.end) for w in start.windows]) for start in chart.crops[0].starts]
    [('sown outdoors', [(128, 191)]), ('set out', [(124, 194)])]
    """
    one_wish(most_water, rain_fed)
    book = open_handbook(crop_files)
    chosen = named_crops(book, crop_words(crops)) or list(book.values())
    settings = settings or Settings()
    if len(chosen) <= _FEW and not settings.edge_draws:
        settings = replace(settings, edge_draws=200)
    opened = open_for_answer(site, settings, what_ifs, years, issued)
    chart = _chart(opened, _lines(opened, chosen, book, most_water, rain_fed), book)
    if years:
        whole = open_for_answer(site, settings, what_ifs, issued=issued)
        water = water_rule(whole, most_water, rain_fed)
        lines = [line for line, _ in judge_crops(whole.days(), chosen, book, water)]
        chart = replace(chart, against_whole=against_whole(whole.record, lines, chart.crops))
    return _on_water(chart, opened, most_water, rain_fed)


def sowing_week(chart: SowingChart, date: dt.date, *, ahead: int = 0) -> Week:
    """What may be raised, sown, set out, planted and picked in the week from a date on, last chances first.

    Parameters
    ----------
    chart : SowingChart
        As `sowing_chart` gives it, of the crops that are wanted.
    date : datetime.date
        First day of the week; 29 February counts as the 28th.
    ahead : int
        Weeks after it to look at too, 0 to 51.

    Raises
    ------
    InputError
        Where `ahead` is not such a number.

    Examples
    --------
    >>> chart = sowing_chart("sallowdene", ["courgette"], issued=dt.date(2026, 1, 15))
    >>> [(job.job, job.chance) for job in sowing_week(chart, dt.date(2026, 5, 4)).jobs]
    [('raise under cover', 'best'), ('sow outdoors', 'first'), ('set out', 'first')]
    """
    from sowcal.suitability.week import week_of

    if not 0 <= ahead <= 51:
        raise InputError(f"{ahead} is not a number of weeks between 0 and 51")
    month_day = (date.month, min(date.day, 28) if date.month == 2 else date.day)
    return week_of(chart, dt.date(2023, *month_day).timetuple().tm_yday - 1, ahead)


def rate_crops(
    site: Place,
    crops: str | Iterable[str] = (),
    settings: Settings | None = None,
    *,
    what_ifs: Sequence[str] = (),
    crop_files: Sequence[str] = (),
    most_remedies: int = _FEW,
    years: str = "",
    most_water: float | None = None,
    rain_fed: bool = False,
    issued: dt.date | None = None,
) -> tuple[SowingChart, list[CropVerdict]]:
    """How far each crop suits the site, best first, with the chart that says so.

    Parameters
    ----------
    site, crops, settings, what_ifs, crop_files
        As for :func:`sowing_chart`.
    most_remedies : int
        What would lift a verdict is worked out where no more crops than this are asked for; of more, for perennials.
    years, most_water, rain_fed, issued
        As for :func:`sowing_chart`.

    Raises
    ------
    InputError, NetworkError, NotJudgedError
        As for :func:`sowing_chart`.

    Examples
    --------
    >>> chart, verdicts = rate_crops("sallowdene", ["courgette", "rhubarb"], issued=dt.date(2026, 1, 15))
    >>> [(verdict.crop, verdict.word, verdict.suitability) for verdict in verdicts]
    [('courgette', 'sound', 'S1'), ('rhubarb', 'grown as a winter annual', 'S3')]
    """
    one_wish(most_water, rain_fed)
    opened = open_for_answer(site, settings, what_ifs, years, issued)
    book = open_handbook(crop_files)
    chosen = named_crops(book, crop_words(crops)) or list(book.values())
    judged = _weighed(opened, chosen, book, most_remedies, most_water, rain_fed)
    chart = _chart(opened, [line for line, _ in judged], book)
    return _on_water(chart, opened, most_water, rain_fed), best_first([verdict for _, verdict in judged])


def windows_by_water(
    site: Place,
    crops: Iterable[str],
    reliabilities: Sequence[float],
    least_yields: Sequence[float],
    most_waters: Sequence[float | None],
    told: kept_answers.Telling[Any] | None = None,
    **asked: Any,
) -> tuple[Any, ...]:
    """Windows of annuals under pairs of settings, by most stored water (litres per m2), or what is `told` of them."""
    opened = open_for_answer(site, asked["settings"], asked["what_ifs"], asked["years"], asked["issued"])
    book = open_handbook(asked["crop_files"])
    chosen = named_crops(book, crop_words(crops)) or list(book.values())

    def steps() -> tuple[SettingsSteps, ...]:
        days = opened.days()
        rules = water_rules(opened, days, chosen, least_yields, most_waters, asked["rain_fed"])
        return steps_of_settings(days, chosen, reliabilities, least_yields, rules)

    wished = (*reliabilities, "yields", *least_yields, "waters", *most_waters, asked["rain_fed"])
    return kept_answers.steps(opened.weather, opened.settings, chosen, book, steps, wished, told)


def _more_water(opened: Opened, crop: Crop, verdict: CropVerdict, book: Handbook) -> tuple[str, ...]:
    """The stored water that lifts a verdict which want of it decides, and the word that it lifts it to."""
    needs = verdict.evidence.get("litres_per_m2_in_a_dry_year")
    if verdict.limiting_factor != "want of water" or not isinstance(needs, int):
        return ()
    enough = needs + 1.0  # what it draws is told in whole litres
    ((_, lifted),) = judge_crops(opened.days(), [crop], book, water_rule(opened, enough, False), calendar=False)
    if GRADES[lifted.word] >= GRADES[verdict.word]:
        return ()
    water = phrase(
        "{water} of stored water per {m2} in a dry year",
        water=quantity(enough, "litres each m2"),
        m2=quantity(0, "m2", form="unit"),
    )
    return (phrase("{what}: {word}", what=water, word=phrase(lifted.word)),)


def site_climate(
    site: Place, *, what_ifs: Sequence[str] = (), years: str = "", issued: dt.date | None = None
) -> ClimateSummary:
    """What one place is like, in figures; under some changes, or in some years, where they are named.

    Parameters and errors as for :func:`sowing_chart`. Temperatures are in degC, rain and evapotranspiration in mm,
    days of the year from 0; `definitions` of the result tells what each figure counts.

    Examples
    --------
    >>> place = site_climate("sallowdene", issued=dt.date(2026, 1, 15))
    >>> place.hardiness_zone, place.last_spring_frost
    ('8b', Odds(p10=60, p50=88, p90=100))
    """
    from sowcal.climate.summary import as_sentences, few_years, frost_range

    name, weather = open_record(site, years, issued)
    record = record_of(weather)
    found = kept_answers.summarised(with_what_ifs(weather, what_ifs), name, record)
    ends = at_the_ends(weather, what_ifs)
    told = (
        *record_warnings(record, weather),
        *few_years(found, record.usable_years),
        *(frost_range(*ends) if ends else ()),
    )
    return replace(found, notes=(*found.notes, *as_sentences(told)))


def garden_plan(
    garden: str | Path | Garden | None = None,
    settings: Settings | None = None,
    *,
    crop_files: Sequence[str] = (),
    issued: dt.date | None = None,
) -> GardenPlan:
    """How many plants, how much bed and water, how long the store lasts: the whole plan of one garden.

    Parameters
    ----------
    garden : str, pathlib.Path or Garden, optional
        Name of a bundled garden, a garden file, or a garden made in Python; the first bundled one where left out.
    settings : Settings, optional
        Reliability, yield and time asked for.
    crop_files : sequence of str
        Files with the grower's own crops and values.
    issued : datetime.date, optional
        Day of issue: days after it lie in the future and are told; today where left out.

    Returns
    -------
    GardenPlan
        Areas in m2, water in litres, pressure in kPa, days of the year from 0 (1 January).

    Raises
    ------
    InputError, NetworkError, NotJudgedError
        Where the garden, its site or a crop is not known, or the record is too short.

    Examples
    --------
    >>> plan = garden_plan(issued=dt.date(2026, 1, 15))
    >>> [(line.crop, line.count) for line in plan.plants][:2]
    [('pea (shelling)', 232), ('onion (intermediate-day)', 142)]
    """
    from sowcal.garden.garden_file import Garden, open_garden

    found = garden if isinstance(garden, Garden) else open_garden(garden)
    name, weather = open_record(found.site, issued=issued)
    return kept_answers.planned(found, name, weather, settings, open_handbook(crop_files), day_of_issue(issued))


def perennial_record(
    site: Place,
    crop: str | Sequence[str],
    settings: Settings | None = None,
    *,
    what_ifs: Sequence[str] = (),
    crop_files: Sequence[str] = (),
    years: str = "",
) -> PerennialYears:
    """One perennial through every year of a record, by the grower's own values too: shares of a full crop, 0 to 1.

    Parameters and errors as for :func:`sowing_chart`; a crop that is no perennial raises `InputError`.

    Examples
    --------
    >>> rhubarb = perennial_record("sallowdene", "rhubarb")
    >>> len(rhubarb.years), float(rhubarb.crop.mean().round(2))
    (29, 0.29)
    """
    from sowcal.seasons.perennial_years import perennial_years

    (found,) = named_crops(open_handbook(crop_files), crop_words(crop))[:1]
    if found.perennial is None:
        raise InputError(f"{found.name} is no perennial; `sowcal chart` shows its seasons")
    return perennial_years(open_for_answer(site, settings, what_ifs, years).days(), found)
