"""Radiation on slopes, against closed forms that are published apart from the sum over the hours."""

from __future__ import annotations

import numpy as np
import pytest

from sowcal.climate.sun import beam_ratio, radiation_ratio

DAYS = np.arange(1, 366, 15)


def closed_form(latitude, slope, day):
    """A slope that faces the equator, northern half: Liu & Jordan 1963 (Duffie & Beckman eq. 2.19.3a), from memory."""
    delta = 0.409 * np.sin(2 * np.pi / 365 * day - 1.39)
    phi, tilted = np.deg2rad(latitude), np.deg2rad(latitude - slope)
    sunset = np.arccos(-np.tan(phi) * np.tan(delta))
    on_slope = np.minimum(sunset, np.arccos(-np.tan(tilted) * np.tan(delta)))
    top = np.cos(tilted) * np.cos(delta) * np.sin(on_slope) + on_slope * np.sin(tilted) * np.sin(delta)
    return top / (np.cos(phi) * np.cos(delta) * np.sin(sunset) + sunset * np.sin(phi) * np.sin(delta))


@pytest.mark.parametrize("latitude", [20.0, 38.0, 52.0])
@pytest.mark.parametrize("slope", [5.0, 20.0, 40.0])
def test_slopes_that_face_the_equator(latitude, slope):
    np.testing.assert_allclose(beam_ratio(latitude, DAYS, slope, 180.0), closed_form(latitude, slope, DAYS), rtol=2e-3)
    half_a_year_on = (DAYS + 182) % 365 + 1  # the southern summer; the declination's year is not quite even
    south = beam_ratio(-latitude, half_a_year_on, slope, 0.0)
    np.testing.assert_allclose(south, closed_form(latitude, slope, DAYS), rtol=0.06)


def test_level_ground_east_and_west_and_the_shaded_side():
    np.testing.assert_allclose(beam_ratio(38.0, DAYS, 0.0, 77.0), 1.0)
    np.testing.assert_allclose(beam_ratio(38.0, DAYS, 25.0, 90.0), beam_ratio(38.0, DAYS, 25.0, 270.0), rtol=1e-9)
    north, south = (beam_ratio(38.0, np.array([355]), 35.0, a)[0] for a in (0.0, 180.0))
    # on 21 December at 38 degrees the noon sun stands 28.6 degrees high: a slope of 35 degrees to the north has none
    assert north == pytest.approx(0.0, abs=1e-9)
    assert south > 1.8


def test_under_a_dull_sky_the_way_it_faces_hardly_counts():
    """All light diffuse: the share of the sky that a slope sees (1 + cos s) / 2, and the ground's reflection."""
    sees = 0.5 * (1 + np.cos(np.deg2rad(30.0)))
    for beam in (0.3, 1.7):
        got = radiation_ratio(np.array([0.05]), np.array([beam]), 30.0)[0]
        assert got == pytest.approx(sees + 0.23 * (1 - sees), abs=0.02)
    clear = radiation_ratio(np.array([0.75]), np.array([1.7]), 30.0)[0]
    assert 1.4 < clear < 1.7


def test_level_ground_changes_nothing_under_any_sky():
    np.testing.assert_allclose(radiation_ratio(np.linspace(0, 0.8, 30), np.ones(30), 0.0), 1.0)
