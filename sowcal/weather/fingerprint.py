"""A short name for the days of a record: the same days have the same name, whatever file they came from."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sowcal.provenance import fingerprint_of
from sowcal.weather.record import VARIABLES

if TYPE_CHECKING:
    import xarray as xr

    from sowcal.weather.record import PlainRecord

__all__ = ["record_fingerprint", "steps_of"]

_STEPS = 1000.0  # a unit: thermometers read to 0.1 degC, and conversions of units differ far behind the third digit
_BEYOND = 4.0e15  # stands for what is no number; no value of a record comes near it


def record_fingerprint(dataset: xr.Dataset | PlainRecord) -> str:
    """Fingerprint of one site's days.

    Parameters
    ----------
    dataset : xarray.Dataset or PlainRecord
        One site, shape (time,).

    Returns
    -------
    str
        16 hexadecimal digits, over dates, latitude, elevation, every variable that is there (to three
        digits, so that float32 and float64 of the same readings agree) and whether each value was observed, filled
        or generated.
    """
    days = dataset["time"].values.astype("datetime64[D]").astype("<i8")
    parts = [b"days", days.tobytes()]
    for name in ("latitude", "elevation"):
        if name in dataset:
            parts += [name.encode(), steps_of(np.asarray(dataset[name].values))]
    for name in (*VARIABLES, "tas_hour"):
        if name in dataset:
            parts += [name.encode(), steps_of(dataset[name].values)]
            origin = f"{name}_origin"
            if origin in dataset:
                parts.append(np.asarray(dataset[origin].values).astype("<i1").tobytes())
    parts.append(b"coast" if dataset.attrs.get("coast") else b"")
    return fingerprint_of(parts)


def steps_of(values: np.ndarray) -> bytes:
    """Values as whole thousandths, so that float32 and float64 of the same readings are the same bytes."""
    scaled = np.nan_to_num(values.astype(float) * _STEPS, nan=-_BEYOND, posinf=_BEYOND, neginf=-_BEYOND - 1.0)
    return np.rint(scaled).astype("<i8").tobytes()
