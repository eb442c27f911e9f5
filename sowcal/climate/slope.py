"""Solar radiation on a slope: how its sunshine parts from that of level ground."""

from __future__ import annotations

import numpy as np

from sowcal.climate.day_length import _declination, _hour_angle

__all__ = ["beam_ratio", "radiation_ratio"]

_STEPS = 289  # hour angles over the day, five minutes apart
_ALBEDO = 0.23  # of the green ground before the slope, FAO-56


def beam_ratio(latitude: float, day_of_year: np.ndarray, slope: float, aspect: float) -> np.ndarray:
    """Direct sunshine of a day on a slope against that on level ground, outside the atmosphere.

    Parameters
    ----------
    latitude : float
        Degrees, north positive.
    day_of_year : numpy.ndarray of int
        From 1.
    slope : float
        Degrees from level.
    aspect : float
        The way the slope faces, degrees clockwise from north.

    Returns
    -------
    numpy.ndarray
        Shape of `day_of_year`.

    Notes
    -----
    Cosine of the angle between sun and slope (Allen, Trezza & Tasumi 2006, Agric. For. Meteorol. 139:55-73, eq. 2;
    Duffie & Beckman, Solar engineering of thermal processes, eq. 1.6.2; both from memory), summed over the hours in
    which the sun is up and shines on the slope. Hills around it are not counted.
    """
    phi, s = np.deg2rad(latitude), np.deg2rad(slope)
    facing = np.deg2rad(aspect - 180.0)  # from south, west positive
    days, back = np.unique(np.asarray(day_of_year, dtype=int), return_inverse=True)
    delta = _declination(days)[:, None]
    up = _hour_angle(phi, delta)
    hour = np.linspace(-1.0, 1.0, _STEPS) * up
    level = np.sin(phi) * np.sin(delta) + np.cos(phi) * np.cos(delta) * np.cos(hour)
    on_slope = (
        np.sin(delta) * np.sin(phi) * np.cos(s)
        - np.sin(delta) * np.cos(phi) * np.sin(s) * np.cos(facing)
        + np.cos(delta) * np.cos(phi) * np.cos(s) * np.cos(hour)
        + np.cos(delta) * np.sin(phi) * np.sin(s) * np.cos(facing) * np.cos(hour)
        + np.cos(delta) * np.sin(s) * np.sin(facing) * np.sin(hour)
    )
    total, share = (_sum_over_hours(np.maximum(x, 0.0)) for x in (level, on_slope))
    ratio = np.where(total > 1e-6, share / np.maximum(total, 1e-6), 1.0)
    return ratio[back].reshape(np.shape(day_of_year))


def _sum_over_hours(values: np.ndarray) -> np.ndarray:
    """Sum by the rule of trapezia over equal steps, up to a factor."""
    return values.sum(axis=1) - 0.5 * (values[:, 0] + values[:, -1])


def radiation_ratio(clearness: np.ndarray, beam: np.ndarray, slope: float) -> np.ndarray:
    """Solar radiation on a slope against that on level ground, under the sky of each day.

    Parameters
    ----------
    clearness : numpy.ndarray
        Radiation of level ground as a share of the extraterrestrial.
    beam : numpy.ndarray
        `beam_ratio` of the same days.
    slope : float
        Degrees from level.

    Returns
    -------
    numpy.ndarray

    Notes
    -----
    Direct share of the day's radiation from its clearness, diffuse light even over the sky, and what the ground
    before the slope reflects: Allen, Trezza & Tasumi 2006 (Agric. For. Meteorol. 139:55-73), from memory.
    """
    t = np.clip(clearness, 0.01, 0.8)
    direct = np.where(t >= 0.42, 1.56 * t - 0.55, 0.022 - 0.28 * t + 0.828 * t**2 + 0.765 * t**3)
    direct = np.clip(np.where(t <= 0.175, 0.016 * t, direct), 0.0, t)
    sky = 0.5 * (1.0 + np.cos(np.deg2rad(slope)))
    return beam * direct / t + sky * (1.0 - direct / t) + _ALBEDO * (1.0 - sky)
