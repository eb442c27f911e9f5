"""A site's days as water sees them: reference evapotranspiration, rain, wind and humidity, without gaps."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sowcal.climate.evapotranspiration import (
    reference_evapotranspiration,
    saturation_vapour_pressure,
    wind_at_2m,
)
from sowcal.climate.sun import day_length, extraterrestrial_radiation, solar_radiation_from_sunshine
from sowcal.languages import counted

if TYPE_CHECKING:
    from sowcal.weather.record import DailyRecord

__all__ = ["GardenWeather", "garden_weather"]

_WIND_HEIGHT = 10.0  # m, of `sfcWind`
_USUAL_WIND = 2.0  # m s-1 at 2 m, FAO-56 chapter 4


@dataclass(frozen=True, slots=True)
class GardenWeather:
    """Daily arrays of shape (days,).

    Attributes
    ----------
    reference : numpy.ndarray
        Reference evapotranspiration, mm day-1.
    rain : numpy.ndarray
        mm day-1; days without a reading count as dry.
    wind : numpy.ndarray
        At 2 m, m s-1.
    humidity : numpy.ndarray
        Least of the day, per cent.
    year : numpy.ndarray
        Calendar year.
    day_of_year : numpy.ndarray
        0 to 364; 29 February counts as 28 February.
    known : numpy.ndarray
        Whether both temperatures of the day were known.
    method : str
        'Penman-Monteith', 'Hargreaves-Samani' or both.
    notes : tuple of str
        What stood in for what was missing.
    rain_known : numpy.ndarray or None
        Whether the day has a reading of rain; None is not asked for.
    """

    reference: np.ndarray
    rain: np.ndarray
    wind: np.ndarray
    humidity: np.ndarray
    year: np.ndarray
    day_of_year: np.ndarray
    known: np.ndarray
    method: str
    notes: tuple[str, ...]
    rain_known: np.ndarray | None = None

    @property
    def size(self) -> int:
        """Days."""
        return int(self.reference.size)

    def years(self, least: float = 0.9) -> np.ndarray:
        """Calendar years of which at least that share of days is known."""
        return self.years_from(0, least)[1]

    def years_from(self, begins: int, least: float = 0.9) -> tuple[np.ndarray, np.ndarray]:
        """The year that each day is in where years begin on a day of the year, shape (days,), and those years of
        which at least that share of days is known."""
        year = self.year - (self.day_of_year < begins)
        found, inverse = np.unique(year, return_inverse=True)
        days = np.bincount(inverse, weights=self.known.astype(float))
        return year, found[days >= least * 365.0]


def _filled(values: np.ndarray, day: np.ndarray, usual: float) -> np.ndarray:
    """Missing days at the mean of their day of the year over a fortnight, else at a usual value."""
    good = np.isfinite(values)
    if good.all():
        return values
    total = np.bincount(day[good], values[good], 365)
    count = np.bincount(day[good], minlength=365).astype(float)
    window = np.ones(15)
    total = np.convolve(np.concatenate([total[-7:], total, total[:7]]), window, "valid")
    count = np.convolve(np.concatenate([count[-7:], count, count[:7]]), window, "valid")
    mean = np.where(count > 0, total / np.maximum(count, 1.0), usual)
    return np.where(good, values, mean[day])


def garden_weather(record: DailyRecord) -> GardenWeather:
    """Penman-Monteith on the days that have humidity and wind, Hargreaves-Samani on the others.

    Parameters
    ----------
    record : DailyRecord
    """
    low, high, dates = record["tasmin"], record["tasmax"], record.time
    years = dates.astype("datetime64[Y]")
    year = years.astype(int) + 1970
    number = (dates - years.astype("datetime64[D]")).astype(int)
    leap = (year % 4 == 0) & ((year % 100 != 0) | (year % 400 == 0))
    day = np.where(leap & (number >= 59), number - 1, number)
    latitude = record.latitude
    notes: list[str] = []
    simple = np.asarray(reference_evapotranspiration(low, high, latitude=latitude, day_of_year=day + 1), dtype=float)
    reference, method = _with_penman_monteith(record, low, high, day, latitude, simple, notes)
    known = np.isfinite(low) & np.isfinite(high)
    if not known.all():
        notes.append(
            f"the usual evapotranspiration stands for {counted(int((~known).sum()), 'day')} without temperatures"
        )
    wind = np.full(low.size, _USUAL_WIND)
    if "sfcWind" in record:
        wind = wind_at_2m(record["sfcWind"], _WIND_HEIGHT)
    rain = record["pr"] if "pr" in record else np.full(low.size, np.nan)
    dry = int(np.isnan(rain).sum())
    if dry == rain.size:
        notes.append("the record has no rain: all water needed is counted as watering, the roof gives none")
    elif dry:
        notes.append(f"taken as dry: {counted(dry, 'day')} without a reading of rain")
    return GardenWeather(
        reference=_filled(reference, day, 0.0),
        rain=np.where(np.isnan(rain), 0.0, rain),
        wind=_filled(wind, day, _USUAL_WIND),
        humidity=_filled(_least_humidity(record, low, high), day, 45.0),
        year=year,
        day_of_year=day,
        known=known,
        method=method,
        notes=tuple(notes),
        rain_known=~np.isnan(rain),
    )


def _with_penman_monteith(
    record: DailyRecord,
    low: np.ndarray,
    high: np.ndarray,
    day: np.ndarray,
    latitude: float,
    simple: np.ndarray,
    notes: list[str],
) -> tuple[np.ndarray, str]:
    if not ("hurs" in record and "sfcWind" in record and np.isfinite(record.elevation)):
        return simple, "Hargreaves-Samani"
    humid, wind = record["hurs"], record["sfcWind"]

    def full_form(solar: np.ndarray | None) -> np.ndarray:
        found = reference_evapotranspiration(
            low,
            high,
            method="penman_monteith",
            latitude=latitude,
            day_of_year=day + 1,
            elevation=record.elevation,
            hurs=humid,
            wind=wind,
            rsds=solar,
            situation="coast" if record.coast else "inland",
        )
        return np.asarray(found, dtype=float)

    full = full_form(None)
    if "sunshine" in record and np.isfinite(record["sunshine"]).any():
        top = np.asarray(extraterrestrial_radiation(record.latitude, day + 1))
        light = solar_radiation_from_sunshine(record["sunshine"], top, np.asarray(day_length(record.latitude, day + 1)))
        from_hours = full_form(light)
        full = np.where(np.isfinite(from_hours), from_hours, full)
    if "rsds" in record:
        measured = full_form(record["rsds"])
        full = np.where(np.isfinite(measured), measured, full)
    share = float(np.isfinite(full).mean())
    if share < 0.5:
        return simple, "Hargreaves-Samani"
    if share < 1.0:
        notes.append(f"{1.0 - share:.0%} of days without humidity or wind by Hargreaves-Samani")
    return np.where(np.isfinite(full), full, simple), "Penman-Monteith"


def _least_humidity(record: DailyRecord, low: np.ndarray, high: np.ndarray) -> np.ndarray:
    """From the mean humidity where there is one, else with the minimum for the dew point (eq. 64)."""
    top = saturation_vapour_pressure(high)
    least = 100.0 * saturation_vapour_pressure(low) / top
    if "hurs" in record:
        mean = record["hurs"]
        vapour = mean / 100.0 * 0.5 * (saturation_vapour_pressure(low) + top)
        given = 100.0 * vapour / top
        least = np.where(np.isfinite(given), given, least)
    return np.clip(least, 5.0, 100.0)
