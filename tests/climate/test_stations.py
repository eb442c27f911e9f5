"""Real station records against the figures their own list gives (needs SOWCAL_REFERENCE)."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from sowcal.climate.chill import chill_portions, chilling_hours
from sowcal.climate.frost import frost_days, last_spring_frost
from sowcal.climate.heat import hot_days, mean_over_years


def read(folder, station):
    table = pd.read_csv(folder / "weather" / f"{station}.csv", parse_dates=["date"])
    row = pd.read_csv(folder / "weather" / "stations.csv").set_index("station").loc[station]
    place = {"time": table["date"].to_numpy().astype("datetime64[D]"), "latitude": row.latitude}
    return table, row, place


@pytest.mark.parametrize(
    "station",
    ["palma", "algiers", "de_bilt", "dublin_airport", "fort_collins_co", "madrid", "perth", "hobart"],
)
def test_frost_and_hot_days_a_year(reference_folder, station):
    """stations.csv gives days a year of the whole record; ours are of whole growing years only."""
    table, row, place = read(reference_folder, station)
    frost = mean_over_years(frost_days(table["tmin"], **place), least_years=5)
    hot = mean_over_years(hot_days(table["tmax"], **place), least_years=5)
    assert frost == pytest.approx(row["frost_days"], rel=0.02, abs=0.5)
    assert hot == pytest.approx(row["days_over_30"], rel=0.02, abs=0.5)


def test_southern_seasons_of_a_real_record(reference_folder):
    """Perth: chill and cold nights fall in the southern season, and hardly any chill in the northern one."""
    table, _, place = read(reference_folder, "perth")
    right = np.nanmean(chilling_hours(table["tmin"], table["tmax"], **place))
    wrong = np.nanmean(chilling_hours(table["tmin"], table["tmax"], time=place["time"], latitude=31.92))
    assert right > 200.0
    assert wrong < 10.0
    assert np.nanmean(chill_portions(table["tmin"], table["tmax"], **place)) > 30.0
    day = last_spring_frost(table["tmin"], threshold=3.0, **place)
    dated = day[np.isfinite(day)]
    assert dated.size > 3
    assert ((dated >= 182) & (dated <= 300)).all()
