"""Which crops a place can carry, when to sow, set out and pick them, and how sure that is.

Everything is imported when first used, so that ``import sowcal`` stays light; type checkers and editors read the same
names from the imports under ``TYPE_CHECKING`` (`tests/test_public_names.py` holds both lists together).
"""

from __future__ import annotations

from importlib import import_module

TYPE_CHECKING = False  # type checkers know the name; loading the module that has it takes most of this one's time
if TYPE_CHECKING:
    import sowcal.indices as indices
    from sowcal.answers import garden_plan as garden_plan
    from sowcal.answers import open_handbook as open_handbook
    from sowcal.answers import perennial_record as perennial_record
    from sowcal.answers import rate_crops as rate_crops
    from sowcal.answers import site_climate as site_climate
    from sowcal.answers import sowing_chart as sowing_chart
    from sowcal.answers import sowing_week as sowing_week
    from sowcal.beside import compare_leaflet as compare_leaflet
    from sowcal.beside import compare_sites as compare_sites
    from sowcal.climate.chill import chill_portions as chill_portions
    from sowcal.climate.chill import chill_units as chill_units
    from sowcal.climate.chill import chilling_hours as chilling_hours
    from sowcal.climate.degree_days import growing_degree_days as growing_degree_days
    from sowcal.climate.evapotranspiration import reference_evapotranspiration as reference_evapotranspiration
    from sowcal.climate.frost import first_autumn_frost as first_autumn_frost
    from sowcal.climate.frost import frost_days as frost_days
    from sowcal.climate.frost import frost_free_period as frost_free_period
    from sowcal.climate.frost import last_spring_frost as last_spring_frost
    from sowcal.climate.heat import heat_stress_days as heat_stress_days
    from sowcal.climate.heat import hot_days as hot_days
    from sowcal.climate.heat import tropical_nights as tropical_nights
    from sowcal.climate.hourly import hourly_temperature as hourly_temperature
    from sowcal.climate.soil import soil_temperature as soil_temperature
    from sowcal.climate.sun import day_length as day_length
    from sowcal.climate.sun import extraterrestrial_radiation as extraterrestrial_radiation
    from sowcal.crops.handbook import find_crops as find_crops
    from sowcal.crops.handbook import handbook as handbook
    from sowcal.errors import InputError as InputError
    from sowcal.errors import NetworkError as NetworkError
    from sowcal.errors import NotJudgedError as NotJudgedError
    from sowcal.errors import SowcalError as SowcalError
    from sowcal.garden.garden_file import read_garden_file as read_garden_file
    from sowcal.garden.plan import plan_garden as plan_garden
    from sowcal.grids.maps import chill_map as chill_map
    from sowcal.grids.maps import map_crop as map_crop
    from sowcal.outputs.calendar_file import chart_calendar as chart_calendar
    from sowcal.outputs.evidence_words import evidence_sentences as evidence_sentences
    from sowcal.outputs.figure_chart import chart_figures as chart_figures
    from sowcal.outputs.json_form import schema as schema
    from sowcal.outputs.reports import week_text as week_text
    from sowcal.results import Chart as Chart
    from sowcal.results import Verdicts as Verdicts
    from sowcal.saved_settings import recall as recall
    from sowcal.season_log import SeasonLog as SeasonLog
    from sowcal.settings import Settings as Settings
    from sowcal.site import Garden as Garden
    from sowcal.site import Site as Site
    from sowcal.site import compare as compare
    from sowcal.weather.open_site import open_weather as open_weather
    from sowcal.year import day_text as day_text
    from sowcal.year import span_text as span_text

__version__ = "0.2.0"

_HOME = {
    "Chart": "sowcal.results",
    "Garden": "sowcal.site",
    "SeasonLog": "sowcal.season_log",
    "Settings": "sowcal.settings",
    "Site": "sowcal.site",
    "Verdicts": "sowcal.results",
    "compare": "sowcal.site",
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
    "compare_leaflet": "sowcal.beside",
    "compare_sites": "sowcal.beside",
    "map_crop": "sowcal.grids.maps",
    "day_text": "sowcal.year",
    "day_length": "sowcal.climate.sun",
    "evidence_sentences": "sowcal.outputs.evidence_words",
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
    "recall": "sowcal.saved_settings",
    "reference_evapotranspiration": "sowcal.climate.evapotranspiration",
    "schema": "sowcal.outputs.json_form",
    "site_climate": "sowcal.answers",
    "soil_temperature": "sowcal.climate.soil",
    "sowing_chart": "sowcal.answers",
    "sowing_week": "sowcal.answers",
    "span_text": "sowcal.year",
    "tropical_nights": "sowcal.climate.heat",
    "week_text": "sowcal.outputs.reports",
}

__all__ = ["__version__", "indices", *sorted(_HOME)]


if not TYPE_CHECKING:  # hidden from type checkers, which would take any name for one that it knows

    def __getattr__(name: str) -> object:
        if name == "indices":
            return import_module("sowcal.indices")
        if name not in _HOME:
            raise AttributeError(f"module 'sowcal' has no attribute {name!r}")
        value = getattr(import_module(_HOME[name]), name)
        globals()[name] = value
        return value


def __dir__() -> list[str]:
    return __all__
