"""The public door: one place or garden, opened once and asked many things."""

from __future__ import annotations

import datetime as dt
import os
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from sowcal import answers, beside
from sowcal.crops.handbook import crop_words, find_crops
from sowcal.errors import InputError
from sowcal.languages import counted
from sowcal.microclimate import with_what_ifs
from sowcal.results import Chart, Climate, Comparison, Plan, SeasonInProgress, Verdicts, date_of
from sowcal.seasons.season import HAZARDS, missing_values, seasons
from sowcal.settings import Settings
from sowcal.site_weather import (
    Opened,
    day_of_issue,
    days_as_felt,
    open_for_answer,
    open_record,
    season_of_site,
    spec_of,
)
from sowcal.suitability.results import Record
from sowcal.weather.site_file import bundled_names

if TYPE_CHECKING:
    from pathlib import Path

    import pandas as pd
    import xarray as xr

    from sowcal.season_log import SeasonLog
    from sowcal.seasons.perennial_years import PerennialYears

__all__ = ["Garden", "OneSeason", "Site", "compare"]

_SETTINGS = ("reliability", "least_yield", "near_best", "bed_day", "longest", "every")


@dataclass(frozen=True)
class OneSeason:
    """One real season of one crop.

    Attributes
    ----------
    crop, way, start : str
        The crop's name, how and on what day (ISO date) it was started.
    yield_fraction : float or None
        What the season left of the attainable yield, 0 to 1; None where the record cannot decide it.
    first_picking, last_picking : str or None
        ISO dates; None where nothing was picked or it is not decided.
    hazards : tuple of str
        What cost most of it.
    """

    crop: str
    way: str
    start: str
    yield_fraction: float | None
    first_picking: str | None
    last_picking: str | None
    hazards: tuple[str, ...]


class Site:
    """One place with its daily weather; it does not change, and keeps what it has worked out.

    Open one with `Site.open`, `Site.from_xarray` or `Site.from_pandas`.

    Examples
    --------
    >>> site = Site.open("sallowdene")
    >>> site.rate("broad bean")[0].word
    'sound'
    """

    def __init__(self, source: Any, changes: tuple[str, ...], years: str, issued: dt.date):
        self._source, self._changes, self._years, self._issued = source, changes, years, issued
        self._kept: dict[Any, Any] = {}

    @classmethod
    def open(cls, site: Any, *, issued: dt.date | str | None = None) -> Site:
        """A place by a bundled name, a path, (latitude, longitude), or weather handed over.

        Parameters
        ----------
        site : str, path, pair of float, xarray.Dataset or pandas.DataFrame
        issued : datetime.date or str, optional
            Day of issue: days after it lie in the future and are told; today where left out.

        Raises
        ------
        InputError, NetworkError
            For what is no site, or weather that cannot be used.

        Examples
        --------
        >>> Site.open("sallowdene")
        <Site Sallowdene (invented): 1991-01-01 to 2020-12-31, 1 note>
        """
        day = day_of_issue(None if issued is None else date_of(issued))
        word = spec_of(site)
        if word is not None and word.strip().lower() in bundled_names():
            return cls(word, (), "", day)
        name, record = open_record(site, "", day)
        return cls(replace(record, title=name), (), "", day)

    @classmethod
    def from_xarray(cls, data: xr.Dataset, *, issued: dt.date | str | None = None, **said: Any) -> Site:
        """A place by its dataset in CF names; `said` as `record_of_dataset` takes it.

        Examples
        --------
        >>> import xarray as xr
        >>> time = np.arange("2001-01-01", "2005-01-01", dtype="datetime64[D]").astype("datetime64[ns]")
        >>> low = 6.0 - 6.0 * np.cos(2 * np.pi * np.arange(time.size) / 365.25)
        >>> degrees = {"units": "degC"}
        >>> values = {"tasmin": ("time", low, degrees), "tasmax": ("time", low + 10.0, degrees)}
        >>> data = xr.Dataset(values, {"time": time})
        >>> Site.from_xarray(data.assign_coords(latitude=38.0), issued="2026-01-15").record.years
        4.0
        """
        from sowcal.weather.filling import fill_short_gaps
        from sowcal.weather.from_xarray_and_pandas import record_of_dataset

        return cls.open(fill_short_gaps(record_of_dataset(data, **said)), issued=issued)

    @classmethod
    def from_pandas(cls, frame: pd.DataFrame, *, issued: dt.date | str | None = None, **said: Any) -> Site:
        """A place by a data frame, a row a day; `said` as `record_of_frame` takes it.

        Examples
        --------
        >>> import pandas as pd
        >>> days = pd.date_range("2001-01-01", "2004-12-31")
        >>> low = 6.0 - 6.0 * np.cos(2 * np.pi * np.arange(days.size) / 365.25)
        >>> frame = pd.DataFrame({"tmin": low, "tmax": low + 10.0}, index=days)
        >>> Site.from_pandas(frame, latitude=38.0, temperature_unit="degC", issued="2026-01-15").record.years
        4.0
        """
        from sowcal.weather.filling import fill_short_gaps
        from sowcal.weather.from_xarray_and_pandas import record_of_frame

        return cls.open(fill_short_gaps(record_of_frame(frame, **said)), issued=issued)

    def with_changes(self, *changes: str) -> Site:
        """The same place under changes to what the plants feel, such as 'mulch' or 'higher=60'.

        Examples
        --------
        >>> Site.open("sallowdene").with_changes("mulch", "higher=60").name
        'Sallowdene (invented), with straw mulch; 60 m higher'
        """
        site = Site(self._source, (*self._changes, *changes), self._years, self._issued)
        _ = site._opened  # refuses what cannot be
        return site

    def years(self, first: int | str, last: int | None = None) -> Site:
        """The same place by some years of its record: `years(2006, 2020)`, or `years(15)` for the last fifteen.

        Examples
        --------
        >>> Site.open("sallowdene").years(2006, 2020).record.years
        15.0
        """
        words = str(first) if last is None else f"{first}:{last}"
        site = Site(self._source, self._changes, words, self._issued)
        _ = site._opened
        return site

    @property
    def name(self) -> str:
        """Name of the place, with the years and changes asked for."""
        return self._opened.name

    @property
    def record(self) -> Record:
        """What the weather record is that answers rest on."""
        return self._opened.record

    @property
    def notes(self) -> tuple[str, ...]:
        """What a reader of any answer must be told of the record, a sentence each."""
        return self._opened.warnings

    def to_xarray(self) -> xr.Dataset:
        """The days as the plants feel them, in CF names and units, each value with its origin.

        Examples
        --------
        >>> days = Site.open("sallowdene").to_xarray()
        >>> days["tasmin"].shape, days["tasmin"].attrs["units"]
        ((10958,), 'degC')
        """
        from sowcal.weather.cf_dataset import dataset_of

        return dataset_of(self._opened.weather)

    def to_pandas(self) -> pd.DataFrame:
        """The same, a row a day.

        Examples
        --------
        >>> Site.open("sallowdene").to_pandas()[["tasmin", "tasmax"]].shape
        (10958, 2)
        """
        data = self.to_xarray()
        return data[[str(n) for n, v in data.data_vars.items() if v.dims == ("time",)]].to_dataframe()

    def chart(self, *crops: str | Iterable[str], **asked: Any) -> Chart:
        """When each crop can be sown, set out or planted, and picked, with odds.

        Parameters
        ----------
        *crops : str or iterable of str
            Names; none means the whole handbook.
        **asked
            `reliability`, `least_yield`, `near_best`, `bed_day`, `longest` as `Settings` takes them; `own_values`,
            files with the grower's own crops and values; `most_water`, litres per m2; `rain_fed`.

        Examples
        --------
        >>> chart = Site.open("sallowdene").chart("courgette", reliability=0.9)
        >>> chart.to_pandas()[["way", "kind", "from", "to"]].head(2)
                     way     kind   from     to
        0  sown outdoors  advised  05-09  07-11
        1  sown outdoors    works  04-21  08-20
        """
        return self._answer(answers.sowing_chart, lambda found: Chart(found, self._issued), crops, asked)

    def rate(self, *crops: str | Iterable[str], **asked: Any) -> Verdicts:
        """How far each crop suits the place, best first; parameters as for `chart`.

        Examples
        --------
        >>> [(verdict.crop, verdict.word) for verdict in Site.open("sallowdene").rate("courgette", "rhubarb")]
        [('courgette', 'sound'), ('rhubarb', 'grown as a winter annual')]
        """
        return self._answer(answers.rate_crops, lambda found: Verdicts(found[0], found[1], self._issued), crops, asked)

    def climate(self) -> Climate:
        """Frost dates and odds, degree days, chill, heat, rain, reference evapotranspiration, hardiness, day length.

        Examples
        --------
        >>> Site.open("sallowdene").climate().result.hardiness_zone
        '8b'
        """
        if "climate" not in self._kept:
            found = answers.site_climate(self._source, what_ifs=self._changes, years=self._years, issued=self._issued)
            self._kept["climate"] = Climate(found, self._issued)
        return self._kept["climate"]

    def perennial(self, crop: str, *, own_values: Iterable[str] = ()) -> PerennialYears:
        """One perennial through every year of the record, by the grower's own values too.

        Examples
        --------
        >>> len(Site.open("sallowdene").perennial("rhubarb").years)
        29
        """
        files = _files(own_values)
        return answers.perennial_record(
            self._source, [crop], what_ifs=self._changes, crop_files=files, years=self._years
        )

    def one_season(
        self, crop: str, *, way: str, start: dt.date | str, own_values: Iterable[str] = (), **asked: Any
    ) -> OneSeason:
        """What came of one start on one day of the record, which may be of any length.

        Parameters
        ----------
        crop : str
            A name that means one annual.
        way : str
            'sown outdoors', 'set out' or 'planted'.
        start : datetime.date or str
            The day, such as '1995-04-16'.

        Raises
        ------
        InputError
            For a name that fits several types, a perennial, a way that the crop does not have, a day off the record.

        Examples
        --------
        >>> one = Site.open("sallowdene").one_season("courgette", way="set out", start="1995-05-16")
        >>> one.first_picking, round(one.yield_fraction, 2), one.hazards
        ('1995-06-28', 0.98, ('chilling',))
        """
        book = answers.open_handbook(_files(own_values))
        found = find_crops(book, crop)
        if len(found) > 1:
            raise InputError(f"{crop!r} may be {', '.join(c.name for c in found)}; name one of them")
        (one,) = found
        if one.perennial is not None:
            raise InputError(f"{one.name} is a perennial; Site.perennial follows its years")
        ways = {w.way: w for w in one.ways}
        if way not in ways:
            raise InputError(f"{one.name} is not {way}; it is {' or '.join(ways)}")
        if lacking := missing_values(one, ways[way]):
            raise InputError(f"the handbook lacks {', '.join(lacking)} of {one.name}; give it with own_values=")
        settings, rest = _settings(asked)
        if rest:
            raise InputError(f"{', '.join(rest)} cannot be asked of one season")
        _, record = open_record(self._source, self._years, self._issued)
        days = days_as_felt(with_what_ifs(record, self._changes), settings or Settings())
        day = date_of(start)
        at = (np.datetime64(day, "D") - days.dates[0]).astype(int)
        if not 0 <= at < days.size:
            raise InputError(f"{day} lies off the record, which runs from {days.dates[0]} to {days.dates[-1]}")
        outcome = seasons(days, one, ways[way])
        share = float(outcome.yield_fraction[at])
        if np.isnan(share):
            return OneSeason(one.name, way, str(day), None, None, None, ())
        bears = share > 0.0
        first, last = (str(days.dates[0] + np.timedelta64(int(x[at]), "D")) for x in (outcome.first, outcome.last))
        hazard = int(outcome.hazard[at])
        return OneSeason(
            one.name,
            way,
            str(day),
            share,
            first if bears else None,
            last if bears else None,
            (HAZARDS[hazard],) if hazard >= 0 else (),
        )

    def season(
        self,
        log: SeasonLog | str | os.PathLike[str],
        *,
        date: dt.date | str | None = None,
        year: int | None = None,
        own_values: Iterable[str] = (),
        **asked: Any,
    ) -> SeasonInProgress:
        """How the sowings of a log stand on a day, what comes and what is due; or a growing year afterwards.

        Parameters
        ----------
        log : sowcal.SeasonLog or path
            As `SeasonLog.open` gives it.
        date : datetime.date or str, optional
            The day; that of issue where left out. Of later days of the record nothing is known then.
        year : int, optional
            The growing year that is to be reviewed instead; in the south it begins in July.
        **asked
            `reliability` and the like as `Settings` takes them; `garden`, a garden file, whose beds, soil and tanks
            are reckoned with; `recent`, a file of days measured on the plot after the record's last; `forecast`, one
            of days to come; `offered`, crops among which what may be sown in place of a lost one is looked for.

        Examples
        --------
        >>> import tempfile
        >>> from sowcal import SeasonLog
        >>> day = dt.date(2019, 5, 20)
        >>> with tempfile.TemporaryDirectory() as folder:
        ...     log = SeasonLog.open(f"{folder}/log.csv").append("set out", "courgette", date="2019-05-10", today=day)
        ...     season = Site.open("sallowdene", issued=day).season(log)
        >>> [(s.stage, s.first_picking.p50.isoformat()) for s in season.result.sowings]
        [('young', '2019-06-20')]
        """
        settings, rest = _settings(asked)
        day = self._issued if date is None else date_of(date)
        book = answers.open_handbook(_files(own_values))
        found = season_of_site(self._source, self._years, self._changes, log, day, year, book, settings, **rest)
        return SeasonInProgress(found, self._issued)

    @property
    def _opened(self) -> Opened:
        if "opened" not in self._kept:
            self._kept["opened"] = open_for_answer(self._source, None, self._changes, self._years, self._issued)
        return self._kept["opened"]

    def _answer(
        self, ask: Callable[..., Any], shape: Callable[[Any], Any], crops: tuple[Any, ...], asked: Mapping[str, Any]
    ) -> Any:
        """The answer of one of the calls beneath, in its public shape, worked out once."""
        words, said = [w for c in crops for w in crop_words(c)], _asked(asked)
        key = (ask.__name__, tuple(words), repr(sorted(said.items())))
        if key not in self._kept:
            what = {"what_ifs": self._changes, "years": self._years, "issued": self._issued}
            self._kept[key] = shape(ask(self._source, words, **what, **said))
        return self._kept[key]

    def __repr__(self) -> str:
        record = self.record
        return f"<Site {self.name}: {record.first} to {record.last}, {counted(len(self.notes), 'note')}>"


class Garden:
    """A garden file, opened.

    Attributes
    ----------
    result : sowcal.garden.garden_file.Garden
    """

    def __init__(self, result: Any):
        self.result = result

    @classmethod
    def open(cls, path: str | Path | None = None) -> Garden:
        """The garden of a file, or the bundled one.

        Examples
        --------
        >>> Garden.open()
        <Garden at sallowdene: 8 beds>
        """
        from sowcal.garden.garden_file import open_garden

        return cls(open_garden(None if path is None else os.fspath(path)))

    def plan(self, *, own_values: Iterable[str] = (), issued: dt.date | str | None = None, **asked: Any) -> Plan:
        """Plants, beds, water, store and pressure; settings as `Settings` takes them.

        Examples
        --------
        >>> plan = Garden.open().plan(issued="2026-01-15")
        >>> plan.to_pandas().shape[0]
        22
        """
        settings, rest = _settings(asked)
        if rest:
            raise InputError(f"there is no setting {next(iter(rest))!r}; known are {', '.join(_SETTINGS)}")
        day = None if issued is None else date_of(issued)
        return Plan(answers.garden_plan(self.result, settings, crop_files=_files(own_values), issued=day))

    def __repr__(self) -> str:
        return f"<Garden at {self.result.site}: {counted(len(self.result.beds), 'bed')}>"


def compare(first: Any, second: Any, *crops: str | Iterable[str], **asked: Any) -> Comparison:
    """Two places side by side: climates, crops gained and lost, windows moved.

    Parameters
    ----------
    first, second : Site, or what `Site.open` takes
    *crops, **asked
        As for `Site.chart`.

    Returns
    -------
    Comparison

    Raises
    ------
    InputError, NetworkError, NotJudgedError
        As `Site.open` and `Site.chart`.

    Examples
    --------
    >>> compare("sallowdene", "wrackhythe", "fig").result.crops[0].crop
    'fig'
    """
    sites = [s if isinstance(s, Site) else Site.open(s) for s in (first, second)]
    found = beside.compare_sites(
        sites[0]._source,
        sites[1]._source,
        [w for c in crops for w in crop_words(c)],
        what_ifs=(sites[0]._changes, sites[1]._changes),
        years=(sites[0]._years, sites[1]._years),
        issued=sites[0]._issued,
        **_asked(asked),
    )
    return Comparison(found, sites[0]._issued)


def _settings(asked: Mapping[str, Any]) -> tuple[Settings | None, dict[str, Any]]:
    """Settings among what is asked for, None where none is, and the rest."""
    chosen = {k: v for k, v in asked.items() if k in _SETTINGS}
    rest = {k: v for k, v in asked.items() if k not in _SETTINGS}
    return (Settings(**chosen) if chosen else None), rest


def _asked(asked: Mapping[str, Any]) -> dict[str, Any]:
    """What is asked of a place, as the calls beneath take it; `InputError` for what none of them knows."""
    settings, rest = _settings(asked)
    said = {"settings": settings, "crop_files": _files(rest.pop("own_values", ()))}
    said |= {name: rest.pop(name) for name in ("most_water", "rain_fed") if name in rest}
    if rest:
        known = ", ".join((*_SETTINGS, "own_values", "most_water", "rain_fed"))
        raise InputError(f"there is no setting {next(iter(rest))!r}; known are {known}")
    return said


def _files(own_values: str | os.PathLike[str] | Iterable[str]) -> tuple[str, ...]:
    if isinstance(own_values, str | os.PathLike):
        return (os.fspath(own_values),)
    return tuple(os.fspath(f) for f in own_values)
