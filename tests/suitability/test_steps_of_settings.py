"""Windows under steps of settings are those of the chart that is asked for with these settings."""

from __future__ import annotations

import datetime as dt

import pytest

from sowcal import Settings, sowing_chart
from sowcal.answers import windows_by_water

ASKED = {"settings": None, "what_ifs": (), "years": "", "issued": dt.date(2026, 1, 15), "crop_files": ()}
CROPS = ("courgette", "broad bean", "lettuce (head)", "leek", "rhubarb")
RELIABILITIES, LEAST_YIELDS = (0.5, 0.8, 0.95), (0.3, 0.5, 0.8)


@pytest.mark.parametrize("most", [None, 150.0])
@pytest.mark.parametrize("site", ["sallowdene", "wrackhythe"])
def test_each_step_is_the_chart_of_its_settings(site, most):
    (steps,) = windows_by_water(site, CROPS, RELIABILITIES, LEAST_YIELDS, [most], **ASKED, rain_fed=False)
    assert {w.crop for w in steps.ways} == set(CROPS) - {"rhubarb"}
    told = set()
    for row, least in enumerate(LEAST_YIELDS):
        for column, share in enumerate(RELIABILITIES):
            asked = Settings(reliability=share, least_yield=least)
            chart = sowing_chart(site, CROPS, asked, issued=ASKED["issued"], most_water=most)
            ways = {(line.crop, w.way): w for line in chart.crops for w in line.starts}
            for step in steps.ways:
                way = ways[step.crop, step.way]
                assert step.windows[row][column] == tuple((w.start, w.end) for w in way.windows)
                assert step.possible[row] == tuple((w.start, w.end) for w in way.possible)
                assert step.fortnights[row][column] == tuple((a.best_start, a.best_end) for a in way.advice)
                told.add((step.crop, step.windows[row][column]))
    assert len(told) > len(CROPS)  # the steps do change something


def test_a_record_too_short_for_odds_has_no_steps(tmp_path):
    asked = ASKED | {"rain_fed": False, "years": "2"}
    (steps,) = windows_by_water("sallowdene", ["courgette"], (0.8,), (0.5,), [None], **asked)
    assert steps.ways == ()
