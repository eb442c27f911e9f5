"""Weather from files, stations and normals: in comes anything, out comes one form of daily dataset.

`dataset` says what that form is; `open_site` finds it for a site given in a word. `formats` tells files apart,
`station` fetches and `cache` keeps, `quality` judges, `filling` fills from a second station, `offset` brings a
station's record to the plot, `trend` looks at the years, `export` writes.
"""
