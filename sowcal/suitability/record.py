"""What a weather record is that an answer rests on."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sowcal.suitability.results import Record
from sowcal.weather.findings import findings_in
from sowcal.weather.fingerprint import record_fingerprint

if TYPE_CHECKING:
    import xarray as xr

    from sowcal.weather.plain_record import PlainRecord

__all__ = ["record_of"]


def record_of(dataset: xr.Dataset | PlainRecord) -> Record:
    """What the weather record is: its days, length, what stands on filled or generated days, what was found in them.

    Findings are those that `sowcal.weather.findings.checked` or the opening of a site noted of these very days.
    """
    origin = [dataset[f"{v}_origin"].values for v in ("tasmin", "tasmax") if f"{v}_origin" in dataset]
    time = dataset["time"].values
    first, last = (str(np.datetime64(t, "D")) for t in (time[0], time[-1]))
    worst = np.maximum.reduce(origin) if origin else np.zeros(time.size)
    shares = {name: int((worst == code).sum()) for code, name in enumerate(("observed", "filled", "generated"))}
    kind = "generated" if shares["generated"] == time.size else "mixed" if shares["generated"] else "observed"
    missing = np.isnan(dataset["tasmin"].values) | np.isnan(dataset["tasmax"].values)
    fingerprint = record_fingerprint(dataset)
    return Record(
        first=first,
        last=last,
        years=round(time.size / 365.25, 1),
        kind=kind,
        filled_days=shares["filled"],
        missing_days=int(missing.sum()),
        fingerprint=fingerprint,
        findings=findings_in(dataset, first, last, fingerprint),
    )
