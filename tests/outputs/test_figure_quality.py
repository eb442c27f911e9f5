"""The picture of a record's quality marks the months and kinds that the report tells, and no others."""

from __future__ import annotations

import numpy as np

from sowcal.outputs.figure_climate import quality_figures
from sowcal.weather.open_site import open_weather
from sowcal.weather.quality import quality_report
from sowcal.weather.record import MISSING


def marks(figure, label):
    return sorted(tuple(line.get_xydata()[0]) for line in figure.axes[0].lines if line.get_label() == label)


def test_a_sound_record_has_no_marks():
    (figure,) = quality_figures(quality_report(open_weather("wrackhythe")[1]))
    assert not figure.axes[0].lines
    assert all(not c.get_paths() for c in figure.axes[1].collections)


def test_months_and_kinds_that_are_told_are_marked():
    record = open_weather("wrackhythe")[1]
    days = record.time
    values = {name: record[name].copy() for name in ("tasmin", "tasmax")}
    origin = {name: record.origin[name].copy() for name in values}
    lost = (days >= np.datetime64("2003-05-05")) & (days <= np.datetime64("2003-06-05"))
    for name in values:
        values[name][lost] = np.nan
        origin[name][lost] = MISSING
    values["tasmax"][days == np.datetime64("2010-02-10")] = 61.0
    values["tasmin"][days >= np.datetime64("2000-01-01")] -= 2.0
    report = quality_report(record.with_values(values, origin))
    (figure,) = quality_figures(report)
    assert marks(figure, "_poor") == [(2003.5, 4.5)]  # June lacks five days only
    assert marks(figure, "_slip") == [(2010.5, 1.5)]
    (step,) = [line for line in figure.axes[0].lines if line.get_label() == "_shift"]
    assert abs(step.get_xdata()[0] - 2000.0) < 1.1
    below = figure.axes[1]
    words = [t.get_text() for t in below.get_yticklabels()]
    drawn = {w.split(" (")[0]: len(c.get_paths()) for w, c in zip(words, below.collections, strict=True)}
    assert {k for k, n in drawn.items() if n} == {p.kind for p in report.problems} == {"gap", "out of range", "shift"}
    shades = figure.axes[0].images[0].get_array()
    assert shades[4, 2003 - 1991] == np.float64(4 / 31)
