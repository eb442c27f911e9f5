"""Which crops a place can carry, when to sow, set out and pick them, and how sure that is.

Everything is imported when first used, so that ``import sowcal`` stays light.
"""

from __future__ import annotations

from importlib import import_module

TYPE_CHECKING = False  # type checkers know the name; loading the module that has it takes most of this one's time
if TYPE_CHECKING:
    from typing import Any

__version__ = "0.1.0"

_HOME = {
    "Settings": "sowcal.settings",
    "InputError": "sowcal.errors",
    "NetworkError": "sowcal.errors",
    "NotJudgedError": "sowcal.errors",
    "SowcalError": "sowcal.errors",
    "chart_calendar": "sowcal.outputs.calendar_file",
    "chart_figures": "sowcal.outputs.figure_chart",
    "chill_map": "sowcal.grids.maps",
    "chilling_hours": "sowcal.climate.chill",
    "chill_portions": "sowcal.climate.chill",
    "chill_units": "sowcal.climate.chill",
    "compare_sites": "sowcal.answers",
    "crop_map": "sowcal.grids.maps",
    "day_text": "sowcal.year",
    "day_length": "sowcal.climate.sun",
    "evidence_sentences": "sowcal.outputs.verdict_document",
    "extraterrestrial_radiation": "sowcal.climate.sun",
    "find_crops": "sowcal.crops.handbook",
    "first_autumn_frost": "sowcal.climate.frost",
    "frost_days": "sowcal.climate.frost",
    "frost_free_period": "sowcal.climate.frost",
    "garden_plan": "sowcal.answers",
    "growing_degree_days": "sowcal.climate.degree_days",
    "handbook": "sowcal.crops.handbook",
    "heat_stress_days": "sowcal.climate.heat",
    "hot_days": "sowcal.climate.heat",
    "hourly_temperature": "sowcal.climate.hourly",
    "last_spring_frost": "sowcal.climate.frost",
    "open_weather": "sowcal.weather.open_site",
    "open_handbook": "sowcal.answers",
    "perennial_record": "sowcal.answers",
    "plan_garden": "sowcal.garden.plan",
    "rate_crops": "sowcal.answers",
    "read_garden_file": "sowcal.garden.garden_file",
    "reference_evapotranspiration": "sowcal.climate.evapotranspiration",
    "site_climate": "sowcal.answers",
    "soil_temperature": "sowcal.climate.soil",
    "sowing_chart": "sowcal.answers",
    "sowing_week": "sowcal.answers",
    "span_text": "sowcal.year",
    "tropical_nights": "sowcal.climate.heat",
    "week_text": "sowcal.outputs.week_document",
}

__all__ = ["__version__", *sorted(_HOME)]


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module 'sowcal' has no attribute {name!r}")
    value = getattr(import_module(_HOME[name]), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return __all__
