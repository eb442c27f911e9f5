"""What a reading can be at all: the physical range of each variable, for readers and for quality control."""

from __future__ import annotations

__all__ = ["POSSIBLE"]

# Values that no thermometer, gauge or sensor on a farm has shown. Temperature: wider than the world's records
# (-89.2 and 56.7 degC); rain: above the world's record day (1825 mm); both from memory. The others are common
# practice, no source.
POSSIBLE: dict[str, tuple[float, float]] = {
    **dict.fromkeys(("tasmin", "tasmax", "tas"), (-90.0, 60.0)),
    "pr": (0.0, 2000.0),
    "hurs": (0.0, 101.0),
    "sfcWind": (0.0, 100.0),
    "rsds": (0.0, 50.0),
}
