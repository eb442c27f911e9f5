"""One site's days as the engine needs them.

Plain arrays, and sums over them made once and kept. Days that are missing are stepped over with the day's
long-term mean so that sums stay finite; every season that touches one is undecided, so no answer rests on them.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from copy import copy
from dataclasses import replace
from functools import cached_property
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np

from sowcal.climate.chill import chill_portions, chill_units, chilling_hours
from sowcal.climate.degree_days import growing_degree_hours, single_sine_horizontal
from sowcal.climate.soil import soil_temperature
from sowcal.climate.sun import day_length, extraterrestrial_radiation, solar_radiation_from_range
from sowcal.crops.tables import known
from sowcal.errors import NotJudgedError
from sowcal.seasons.sums import RangeMinimum, next_day_where, prefix, ramp
from sowcal.settings import Settings

if TYPE_CHECKING:
    from sowcal.weather.record import DailyRecord

__all__ = [
    "CHILL_MODELS",
    "REACH",
    "SiteDays",
    "days_as_felt",
    "share_chill_portions",
]

_T = TypeVar("_T")
_NOT_KEPT: Any = object()
_OF_A_CROP = ("gathered", "setting", "bolting")  # kinds of sums that hardly any two crops share
CHILL_MODELS = {
    "hours below 7.2": lambda *a, **k: chilling_hours(*a, form="below_7.2", **k),
    "hours 0 to 7.2": lambda *a, **k: chilling_hours(*a, form="0_to_7.2", **k),
    "Utah units": chill_units,
    "portions": chill_portions,
}
_OF_ONE_CROP = {"hours below 10": lambda *a, **k: chilling_hours(*a, form="below_10", **k)}
REACH = 15  # days to either side at which the widest running mean looks

# Readings are tenths, so that a mean of some days often is a limit to the last digit: a rounding of the machine, or a
# record kept in single precision, must not decide on which side of it a day lies.
_MEAN_DECIMALS = 4
_DAY_MAKES_GOOD = (28.0, 18.0)  # degC: the chill of the night before is undone, and is not
# A day's soil temperature is a sine, so half a cycle holds all its values; six points of equal weight.
_HALF_CYCLE = np.cos(np.pi * (np.arange(6) + 0.5) / 6.0)


def _running_mean(x: np.ndarray, width: int) -> np.ndarray:
    """Centred mean over `width` days, over fewer at the ends."""
    total = prefix(x)
    i = np.maximum(np.arange(x.size) - width // 2, 0)
    j = np.minimum(np.arange(x.size) + width // 2 + 1, x.size)
    return (total[j] - total[i]) / (j - i)


def _by_day_of_year(x: np.ndarray, day: np.ndarray) -> np.ndarray:
    """Long-term mean of each day of the year, spread back over the days (a 15-day window smooths it)."""
    good = np.isfinite(x)
    sums = np.bincount(day[good], x[good], 365)
    counts = np.bincount(day[good], minlength=365).astype(float)
    window = np.ones(15)
    wide = np.convolve(np.concatenate([sums[-7:], sums, sums[:7]]), window, "valid")
    number = np.convolve(np.concatenate([counts[-7:], counts, counts[:7]]), window, "valid")
    with np.errstate(invalid="ignore"):
        return (wide / number)[day]


def _bytes_of(found: Any) -> int:
    """Bytes of an array or of some."""
    return sum(map(_bytes_of, found)) if isinstance(found, tuple) else getattr(found, "nbytes", 0)


class SiteDays:
    """Days of one site.

    Parameters
    ----------
    tasmin, tasmax : numpy.ndarray
        Daily minimum and maximum air temperature, shape (N,), degC; NaN is missing.
    first_day : numpy.datetime64
        Date of the first value.
    latitude : float
        Degrees, north positive.
    settings : Settings, optional
        How the answer is asked for.
    light_share, sky_share : float, optional
        Shares of open light by day and of open sky by night that the plants are left with.
    crown_relief : float, optional
        Degrees taken off the heat that reaches crown and roots (mulch, shade, wet soil).
    open_range : numpy.ndarray, optional
        Daily range of the open site, degC, where shade or cover has changed that of the plants.
    measured_light : numpy.ndarray, optional
        Daily solar radiation of the open site as measured, MJ m-2 d-1; where it is NaN, or not given, radiation is
        estimated from the daily range.
    coast : bool, optional
        Whether air from the sea nearby rules the days: their range is narrow under clear skies too (FAO-56 eq. 50).
    dates : numpy.ndarray of datetime64[D], optional
        Dates of the days, shape (N,), where they do not follow one another: stretches of days with a missing one
        between them, over which nothing is decided.
    rain : numpy.ndarray, optional
        Daily rain, mm, shape (N,), NaN where it is not known.
    """

    def __init__(
        self,
        tasmin: np.ndarray,
        tasmax: np.ndarray,
        first_day: np.datetime64,
        latitude: float,
        settings: Settings | None = None,
        *,
        light_share: float = 1.0,
        sky_share: float = 1.0,
        crown_relief: float = 0.0,
        open_range: np.ndarray | None = None,
        measured_light: np.ndarray | None = None,
        coast: bool = False,
        dates: np.ndarray | None = None,
        rain: np.ndarray | None = None,
    ):
        self.open_light = light_share
        self.sky_share = sky_share
        self.crown_relief = crown_relief
        self.settings = settings or Settings()
        self.latitude = float(latitude)
        self.size = int(tasmin.size)
        self.dates = first_day.astype("datetime64[D]") + np.arange(self.size) if dates is None else dates
        years = self.dates.astype("datetime64[Y]")
        self.year = years.astype(int) + 1970
        day = (self.dates - years.astype("datetime64[D]")).astype(int)
        leap = (self.year % 4 == 0) & ((self.year % 100 != 0) | (self.year % 400 == 0))
        self.leap_day = leap & (day == 59)
        # day of a 365-day year: 29 February counts as 28 February
        self.day_of_year = np.where(leap & (day >= 59), day - 1, day)
        self.missing = ~(np.isfinite(tasmin) & np.isfinite(tasmax))
        if self.missing.all():
            raise NotJudgedError("the record holds no day with both a minimum and a maximum temperature")
        self.missing_before = prefix(self.missing.astype(float))
        self.tasmin = np.where(self.missing, _by_day_of_year(tasmin, self.day_of_year), tasmin)
        self.tasmax = np.where(self.missing, _by_day_of_year(tasmax, self.day_of_year), tasmax)
        for x in (self.tasmin, self.tasmax):
            if not np.isfinite(x).all():  # a stretch of the year that no year of the record covers
                x[~np.isfinite(x)] = np.nanmean(x)
        self.start = np.arange(self.size)
        own_range = self.tasmax - self.tasmin
        self.open_range = own_range if open_range is None else np.where(self.missing, own_range, open_range)
        self.measured_light = measured_light
        self.coast = coast
        self.rain = rain
        self._kept: dict[tuple, Any] = {}

    @classmethod
    def from_record(cls, record: DailyRecord, settings: Settings | None = None) -> SiteDays:
        """Days of one site, with what changes to the plot make of them."""
        return cls(
            record["tasmin"],
            record["tasmax"],
            record.time[0],
            record.latitude,
            settings,
            light_share=record.felt.light_share,
            sky_share=record.felt.sky_share,
            crown_relief=record.felt.crown_relief,
            open_range=record.open_range,
            measured_light=record.values.get("rsds"),
            coast=record.coast,
            dates=record.time,
            rain=record.values.get("pr"),
        )

    @cached_property
    def starts(self) -> np.ndarray:
        """Days from which seasons are walked, shape (S,): every one, or the same days of each year."""
        every = self.settings.every
        return self.start if every == 1 else np.flatnonzero(self.day_of_year % every == every // 2)

    def of_nearest(self, found: np.ndarray) -> np.ndarray:
        """What was found for the starts, shape (S,), for every day: that of the start nearest to it, shape (N,)."""
        if self.starts is self.start:
            return found
        between = 0.5 * (self.starts[1:] + self.starts[:-1])
        return found[self.keep(("nearest",), lambda: np.searchsorted(between, self.start))]

    @cached_property
    def every_day(self) -> SiteDays:
        """The same days, walked from each of them."""
        if self.settings.every == 1:
            return self
        out = copy(self)
        out.settings, out._kept, out.__dict__["starts"] = replace(self.settings, every=1), {}, self.start
        return out

    def keep(self, key: tuple, make: Callable[[], _T]) -> _T:
        """What stands under that key, made once: an array or some."""
        found = self._kept.pop(key, _NOT_KEPT)  # a crop in a key takes some microseconds each time it is looked up
        if found is _NOT_KEPT:
            found = make()
        self._kept[key] = found  # the last asked for stands last
        return found

    def let_go(self, most: int) -> None:
        """Take out what no other crop asks for, then what was not asked for the longest, until what is kept holds no
        more than `most` bytes."""
        for key in [key for key in self._kept if key[0] in _OF_A_CROP]:
            del self._kept[key]
        sizes = list(map(_bytes_of, self._kept.values()))
        total = sum(sizes)
        for key, size in zip(list(self._kept), sizes, strict=True):
            if total <= most:
                return
            if size:
                del self._kept[key]
                total -= size

    @cached_property
    def tas(self) -> np.ndarray:
        """Daily mean temperature, degC."""
        return 0.5 * (self.tasmin + self.tasmax)

    @cached_property
    def month_mean(self) -> np.ndarray:
        """Running 31-day mean temperature, degC: what the published monthly ranges speak of."""
        return np.round(_running_mean(self.tas, 2 * REACH + 1), _MEAN_DECIMALS)

    @cached_property
    def fortnight_mean(self) -> np.ndarray:
        """Running 15-day mean temperature, degC."""
        return np.round(_running_mean(self.tas, 15), _MEAN_DECIMALS)

    @cached_property
    def day_length(self) -> np.ndarray:
        """Sunrise to sunset, h."""
        return day_length(self.latitude, self.day_of_year + 1)

    @cached_property
    def solar_radiation(self) -> np.ndarray:
        """As measured, else estimated from the daily range (FAO-56 eq. 50), smoothed over 15 days, MJ m-2 d-1."""
        top = extraterrestrial_radiation(self.latitude, self.day_of_year + 1)
        situation = "coast" if self.coast else "inland"
        light = solar_radiation_from_range(self.tasmin, self.tasmin + self.open_range, top, situation=situation)
        if self.measured_light is not None:
            light = np.where(np.isfinite(self.measured_light), self.measured_light, light)
        return self.open_light * _running_mean(light, 15)

    @cached_property
    def growing_light(self) -> np.ndarray:
        """Solar radiation by which the light of seasons is weighed, MJ m-2 d-1: measured, else half the sun's course.

        What is estimated from the daily range is out by a fifth and more where the sea keeps that narrow; the course
        of the sun is known. Where nothing is measured the estimate and half the extraterrestrial radiation, which
        is about what reaches the ground of farmed lands, count alike (common practice, no source).
        """
        top = extraterrestrial_radiation(self.latitude, self.day_of_year + 1)
        light = 0.5 * (self.solar_radiation + 0.5 * self.open_light * top)
        if self.measured_light is None:
            return light
        return np.where(np.isfinite(self.measured_light), self.solar_radiation, light)

    def light_share(self, need: float) -> np.ndarray:
        """Prefix of the share of a light need (MJ m-2 d-1) that each day meets, shape (N + 1,)."""
        return self.keep(("light", need), lambda: prefix(np.minimum(self.solar_radiation / need, 1.0)))

    @property
    def coldest_soil(self) -> RangeMinimum:
        """Lowest temperature 3 cm down in wet soil over any span of days: what roots and tubers feel."""
        return self.keep(("coldest soil",), lambda: RangeMinimum(self.soil_tenths(3.0, "wet").min(axis=1) / 10.0))

    @cached_property
    def tissue_minimum(self) -> np.ndarray:
        """Lowest temperature of exposed leaves, degC.

        On clear, dry nights leaves radiate to the sky and are colder than the screen; the wide daily range of
        such days tells them. Nothing at a range of 6 degC, the full offset at 16 degC and more: common
        practice, no source.
        """
        share = np.clip((self.open_range - 6.0) / 10.0, 0.0, 1.0)
        return self.tasmin - self.settings.tissue_offset_most * self.sky_share * share

    @property
    def coldest_air(self) -> RangeMinimum:
        """Lowest minimum air temperature over any span of days."""
        return self.keep(("coldest air",), lambda: RangeMinimum(self.tasmin))

    @cached_property
    def hardened_minimum(self) -> np.ndarray:
        """The same as felt by plants that harden: up to 2.5 degC milder after a cool fortnight, degC.

        Cool weather hardens leaves and stems of hardy and half-hardy plants (not flowers, pods, curds or
        fruit); nothing at a fortnight's mean of 14 degC, in full at 6 degC. The size is recalled from Levitt
        1980, Responses of plants to environmental stresses (memory); the ramp is common practice.
        """
        return self.tissue_minimum + 2.5 * ramp(self.fortnight_mean, 14.0, 6.0)

    @property
    def coldest_tissue(self) -> RangeMinimum:
        """Coldest tissue temperature over any span of days."""
        return self.keep(("coldest tissue",), lambda: RangeMinimum(self.tissue_minimum))

    @property
    def coldest_hardened(self) -> RangeMinimum:
        """Coldest tissue temperature as felt by plants that harden, over any span of days."""
        return self.keep(("coldest hardened",), lambda: RangeMinimum(self.hardened_minimum))

    def thermal_time(
        self, base: float, upper: float, light_need: float, best: float = np.nan, most: float = np.nan
    ) -> np.ndarray:
        """Prefix of effective degree days, shape (N + 1,).

        Degree days (single sine, horizontal cut-off), less where light falls short of the need, and less
        where the month's mean lies above the best for growth: half at the greatest mean, never less than
        three tenths (common practice, no source).
        """

        def make() -> np.ndarray:
            daily = single_sine_horizontal(self.tasmin, self.tasmax, base, upper)
            if known(light_need):
                daily = daily * np.minimum(self.solar_radiation / light_need, 1.0)
            if known(best, most):
                daily = daily * np.maximum(ramp(self.month_mean, 2.0 * most - best, best), 0.3)
            return prefix(daily)

        return self.keep(("thermal", base, upper, light_need, best, most), make)

    def chill(self, model: str) -> np.ndarray:
        """Prefix of each day's chill by a model of `CHILL_MODELS` or 'hours below 10', shape (N + 1,)."""

        def make() -> np.ndarray:
            daily = (CHILL_MODELS | _OF_ONE_CROP)[model](
                self.tasmin, self.tasmax, by="day", time=self.dates, latitude=self.latitude
            )
            return prefix(np.nan_to_num(daily))

        return self.keep(("chill", model), make)

    @cached_property
    def growing_degree_hours(self) -> np.ndarray:
        """Prefix of growing degree hours, which bloom waits for, shape (N + 1,)."""
        daily = growing_degree_hours(self.tasmin, self.tasmax, time=self.dates, latitude=self.latitude)
        return prefix(np.nan_to_num(daily))

    def days_above(self, what: str, limit: float) -> np.ndarray:
        """Prefix of the number of days with `what` ('tasmax' or 'tasmin') above a limit."""
        return self.keep(("above", what, limit), lambda: prefix(getattr(self, what) > limit))

    def days_below(self, what: str, limit: float) -> np.ndarray:
        """Prefix of the number of days with `what` ('tasmin', 'tas') below a limit."""
        return self.keep(("below", what, limit), lambda: prefix(getattr(self, what) < limit))

    def hot_run(self, limit: float) -> np.ndarray:
        """Days in a row with a maximum above a limit that end on each day, shape (N + 1,)."""

        def make() -> np.ndarray:
            hot, position = self.tasmax > limit, np.arange(self.size)
            last_cool = np.maximum.accumulate(np.where(hot, -1, position))
            return np.append((position - last_cool) * hot, 0)

        return self.keep(("hot run", limit), make)

    def next_hot_week(self, limit: float) -> np.ndarray:
        """For every day the next from which a week's mean maximum lies above a limit, shape (N + 1,)."""

        def make() -> np.ndarray:
            total, week = prefix(self.tasmax), np.full(self.size, -np.inf)
            week[:-6] = (total[7:] - total[:-7]) / 7.0
            return next_day_where(week > limit)

        return self.keep(("hot week", limit), make)

    def chilled_nights(self, limit: float) -> np.ndarray:
        """Prefix of the number of nights below a limit, each less what the day after it makes good.

        Warmth undoes chilling that has not gone on for long: fruit of cucumber warmed now and then pits less than
        fruit held cold (R. M. Cabrera & M. E. Saltveit, abstract, journals.ashs.org). A night counts whole before
        a day under 18 degC, not at all before one of 28 (judgement).
        """

        def make() -> np.ndarray:
            return prefix((self.tasmin < limit) * ramp(self.tasmax, *_DAY_MAKES_GOOD))

        return self.keep(("chilled", limit), make)

    def next_tissue_below(self, limit: float, hardens: bool) -> np.ndarray:
        """For every day the next day on which tissue falls below a limit, shape (N + 1,)."""
        felt = self.hardened_minimum if hardens else self.tissue_minimum
        return self.keep(("killed", limit, hardens), lambda: next_day_where(felt < limit))

    def soil_tenths(self, depth: float, surface: str) -> np.ndarray:
        """Soil temperature at a depth (cm) at six equal shares of each day, tenths of degC, (N, 6)."""

        def make() -> np.ndarray:
            mean, amplitude = soil_temperature(self.tasmin, self.tasmax, depth=depth, surface=surface)
            steps = np.asarray(amplitude)[:, None] * _HALF_CYCLE
            steps += np.asarray(mean)[:, None]
            np.clip(steps, -49.0, 69.0, out=steps)
            steps *= 10.0
            return np.rint(steps, out=steps).astype(np.int16)

        return self.keep(("soil", depth, surface), make)

    def whole_between(self, i: np.ndarray, j: np.ndarray) -> np.ndarray:
        """Whether all is known that an answer resting on days i to j looks at: they and the running means over them."""
        a, b = i - REACH, j + REACH + 1
        inside = (a >= 0) & (b <= self.size)
        a, b = np.maximum(a, 0), np.minimum(b, self.size)
        return inside & (self.missing_before[b] - self.missing_before[a] == 0)

    def touches_missing(self, i: np.ndarray, j: np.ndarray) -> np.ndarray:
        """Whether any day of i to j - 1 is missing."""
        return self.missing_before[j] - self.missing_before[i] > 0


def days_as_felt(weather: DailyRecord, settings: Settings) -> SiteDays:
    """Days of one site, with the seed bed that changes to what the plant feels have left it."""
    seedbed = weather.felt.seedbed or settings.seedbed
    return SiteDays.from_record(weather, replace(settings, seedbed=seedbed))


def share_chill_portions(sites: Sequence[SiteDays]) -> None:
    """Reckon the chill portions of several sites of the same dates and place side by side, for each to keep: of eight
    it takes a quarter of the time that they take one after another, and the same is found to the bit."""
    one = sites[0]
    cold, warm = (np.stack([getattr(site, what) for site in sites]) for what in ("tasmin", "tasmax"))
    daily = chill_portions(cold, warm, by="day", time=one.dates, latitude=np.full(len(sites), one.latitude))
    for site, row in zip(sites, daily, strict=True):
        total = prefix(np.nan_to_num(row))
        site.keep(("chill", "portions"), lambda total=total: total)  # type: ignore[misc]
