"""All climate indices behind one door: ``from sowcal import indices``.

Each takes days as numpy arrays (time last, any leading axes for places), as xarray DataArrays (a dimension ``time`` in
any place, lazily where they are in dask blocks) or as pandas Series of one place, and gives the same kind back.
Temperatures are in degC, rain in mm day-1, radiation in MJ m-2 day-1; missing is NaN and stays NaN. What cannot be (a
latitude of 95 degrees, day 400 of the year, text, arrays that do not fit) is refused with `sowcal.InputError`.

===========  ==========================================================================================================
about        indices
===========  ==========================================================================================================
growth       `growing_degree_days`, `growing_degree_hours`
chill        `chilling_hours`, `chill_units`, `chill_portions`
frost        `frost_days`, `last_spring_frost`, `first_autumn_frost`, `frost_free_period`, `frost_date_odds`,
             `mean_yearly_minimum`, `hardiness_zone`
heat         `hot_days`, `tropical_nights`, `heat_stress_days`, `degree_days_above`, `longest_warm_spell`, `heat_zone`
rain         `opening_rains`, `longest_dry_spell`, `dry_spells`
sun          `day_length`, `extraterrestrial_radiation`, `solar_radiation_from_range`
air, soil    `hourly_temperature`, `soil_temperature`
water        `reference_evapotranspiration`
years        `growing_years` (the labels of yearly results), `by_growing_year`, `mean_over_years`
===========  ==========================================================================================================

Each is imported when first used.
"""

from __future__ import annotations

from importlib import import_module

TYPE_CHECKING = False  # as in `sowcal`
if TYPE_CHECKING:
    from sowcal.climate.chill import chill_portions as chill_portions
    from sowcal.climate.chill import chill_units as chill_units
    from sowcal.climate.chill import chilling_hours as chilling_hours
    from sowcal.climate.degree_days import growing_degree_days as growing_degree_days
    from sowcal.climate.degree_days import growing_degree_hours as growing_degree_hours
    from sowcal.climate.evapotranspiration import reference_evapotranspiration as reference_evapotranspiration
    from sowcal.climate.frost import first_autumn_frost as first_autumn_frost
    from sowcal.climate.frost import frost_date_odds as frost_date_odds
    from sowcal.climate.frost import frost_days as frost_days
    from sowcal.climate.frost import frost_free_period as frost_free_period
    from sowcal.climate.frost import last_spring_frost as last_spring_frost
    from sowcal.climate.growing_years import by_growing_year as by_growing_year
    from sowcal.climate.growing_years import growing_years as growing_years
    from sowcal.climate.heat import degree_days_above as degree_days_above
    from sowcal.climate.heat import hardiness_zone as hardiness_zone
    from sowcal.climate.heat import heat_stress_days as heat_stress_days
    from sowcal.climate.heat import heat_zone as heat_zone
    from sowcal.climate.heat import hot_days as hot_days
    from sowcal.climate.heat import longest_warm_spell as longest_warm_spell
    from sowcal.climate.heat import mean_over_years as mean_over_years
    from sowcal.climate.heat import mean_yearly_minimum as mean_yearly_minimum
    from sowcal.climate.heat import tropical_nights as tropical_nights
    from sowcal.climate.hourly import hourly_temperature as hourly_temperature
    from sowcal.climate.rain import dry_spells as dry_spells
    from sowcal.climate.rain import longest_dry_spell as longest_dry_spell
    from sowcal.climate.rain import opening_rains as opening_rains
    from sowcal.climate.soil import soil_temperature as soil_temperature
    from sowcal.climate.sun import day_length as day_length
    from sowcal.climate.sun import extraterrestrial_radiation as extraterrestrial_radiation
    from sowcal.climate.sun import solar_radiation_from_range as solar_radiation_from_range

_HOME = {
    "by_growing_year": "growing_years",
    "chill_portions": "chill",
    "chill_units": "chill",
    "chilling_hours": "chill",
    "day_length": "sun",
    "degree_days_above": "heat",
    "dry_spells": "rain",
    "extraterrestrial_radiation": "sun",
    "first_autumn_frost": "frost",
    "frost_date_odds": "frost",
    "frost_days": "frost",
    "frost_free_period": "frost",
    "growing_degree_days": "degree_days",
    "growing_degree_hours": "degree_days",
    "growing_years": "growing_years",
    "hardiness_zone": "heat",
    "heat_stress_days": "heat",
    "heat_zone": "heat",
    "hot_days": "heat",
    "hourly_temperature": "hourly",
    "last_spring_frost": "frost",
    "longest_dry_spell": "rain",
    "longest_warm_spell": "heat",
    "mean_over_years": "heat",
    "mean_yearly_minimum": "heat",
    "opening_rains": "rain",
    "reference_evapotranspiration": "evapotranspiration",
    "soil_temperature": "soil",
    "solar_radiation_from_range": "sun",
    "tropical_nights": "heat",
}

__all__ = sorted(_HOME)


if not TYPE_CHECKING:  # as in `sowcal`

    def __getattr__(name: str) -> object:
        if name not in _HOME:
            raise AttributeError(f"module 'sowcal.indices' has no attribute {name!r}")
        value = getattr(import_module(f"sowcal.climate.{_HOME[name]}"), name)
        globals()[name] = value
        return value


def __dir__() -> list[str]:
    return __all__
