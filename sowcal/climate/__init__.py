"""Climate indices: pure functions of daily arrays, which know nothing of crops, files or printing.

==================  ==================================================================================
module              what it has
==================  ==================================================================================
degree_days         growing degree days
day_length          day length, extraterrestrial radiation, solar radiation from the daily range
hourly              hourly temperatures from daily extremes
soil                soil temperature at sowing depth
frost               frost days, dates, odds and the frost-free period
heat                hot days, degree days above, spells, warm nights
rain                opening rains, dry spells
zones               hardiness and heat zones
evapotranspiration  reference evapotranspiration
chill               chilling hours, Utah units, chill portions
growing_years       growing years of both hemispheres, reductions over them
==================  ==================================================================================

Every public function takes numpy arrays with time as the last axis (any leading axes: sites, or latitude and
longitude) or xarray DataArrays with a dimension ``time`` in any place, lazily where they are in dask blocks.
Temperatures are in degC, rain in mm day-1, radiation in MJ m-2 day-1; missing is NaN and stays NaN.
"""
