"""Weather from files, stations and normals: in comes anything, out comes one form of daily dataset.

`dataset` says what that form is; `open_site` finds it for a site given in a word. Quality reports, further
file formats and a cache of fetched records belong here too, each in a module of its own.
"""
