"""Climate indices: pure functions of daily arrays, which know nothing of crops, files or printing.

==================  ==================================================================================
module              what it has
==================  ==================================================================================
degree_days         growing degree days
sun                 day length, extraterrestrial radiation, solar radiation, slopes
hourly              hourly temperatures from daily extremes
soil                soil temperature at sowing depth
frost               frost days, dates, odds and the frost-free period
heat                hot days, degree days above, spells, warm nights; hardiness and heat zones
rain                opening rains, dry spells
evapotranspiration  reference evapotranspiration
chill               chilling hours, Utah units, chill portions
growing_years       growing years of both hemispheres, reductions over them
==================  ==================================================================================

Every public function takes numpy arrays with time as the last axis (any leading axes: sites, or latitude and
longitude) or xarray DataArrays with a dimension ``time`` in any place, lazily where they are in dask blocks.
Temperatures are in degC, rain in mm day-1, radiation in MJ m-2 day-1; missing is NaN and stays NaN.
"""
