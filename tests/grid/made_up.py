"""An invented grid of daily weather: a coast in the west, hills in the east, sea beyond the coast."""

import numpy as np
import xarray as xr

from sowcal.microclimate import LAPSE_RATE
from sowcal.weather.generator import generate_daily

_LAND = {
    "tasmin": [3.0, 3.4, 4.8, 6.6, 9.6, 13.0, 15.6, 15.8, 13.4, 10.0, 6.2, 3.8],
    "tasmax": [12.8, 14.2, 17.0, 19.4, 24.2, 29.2, 33.2, 33.0, 28.8, 22.8, 16.8, 13.2],
    "pr": [72, 58, 46, 48, 34, 12, 3, 5, 26, 70, 86, 88],
    "wet_days": [9, 8, 7, 8, 5, 2, 1, 1, 3, 7, 9, 9],
}
_COAST = {
    **_LAND,
    "tasmin": [7.8, 8.0, 9.2, 10.4, 12.8, 15.6, 17.4, 17.8, 16.6, 13.8, 10.6, 8.6],
    "tasmax": [14.6, 15.0, 16.6, 17.8, 20.4, 23.4, 25.6, 26.0, 24.4, 21.2, 17.6, 15.2],
}


def made_up_grid(ny=5, nx=6, years=6, *, seed=11, sea=1, latitude=37.0, dtype="float64"):
    """Daily `tasmin` and `tasmax` (time, lat, lon) in degC and `orog`; the `sea` westernmost columns hold nothing.

    The two ends, coast and inland, come from the weather generator with one seed, so that neighbours share their
    weather; between them lies a straight mixture, less the standard lapse rate times the height.
    """
    ends = [generate_daily(n, years=years, seed=seed, latitude=latitude) for n in (_COAST, _LAND)]
    inland = np.clip((np.arange(nx) - sea) / max(nx - 1 - sea, 1), 0.0, 1.0)
    height = 900.0 * inland**2 * np.linspace(0.3, 1.0, ny)[:, None]
    water = np.broadcast_to(np.arange(nx) < sea, (ny, nx))
    fields = {}
    for name in ("tasmin", "tasmax"):
        coast, land = (e[name][:, None, None] for e in ends)
        values = (1.0 - inland) * coast + inland * land - LAPSE_RATE / 1000.0 * height
        values = np.where(water, np.nan, values).astype(dtype)
        method = {"tasmin": "time: minimum", "tasmax": "time: maximum"}[name]
        attributes = {"units": "degC", "standard_name": "air_temperature", "cell_methods": method}
        fields[name] = (("time", "lat", "lon"), values, attributes)
    fields["orog"] = (
        ("lat", "lon"),
        np.where(water, np.nan, height),
        {"units": "m", "standard_name": "surface_altitude"},
    )
    coords = {
        "time": ends[0].time.astype("datetime64[ns]"),
        "lat": ("lat", latitude + 0.1 * np.arange(ny), {"units": "degrees_north", "standard_name": "latitude"}),
        "lon": ("lon", -9.0 + 0.1 * np.arange(nx), {"units": "degrees_east", "standard_name": "longitude"}),
    }
    return xr.Dataset(fields, coords, {"title": "an invented coast", "source": "generated from monthly normals"})
