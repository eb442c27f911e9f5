"""The JSON form: keys and forms that programs rely on."""

import json
from dataclasses import replace

import numpy as np
import pytest

from sowcal.outputs.json_form import chart_json, json_text, plain_value, rate_json
from sowcal.suitability.annuals import rate_annual
from sowcal.suitability.results import CropVerdict, Record

WINDOW = {
    "from", "to", "best", "reliability", "interval", "years_decided", "yield_fraction", "raise_under_cover",
    "first_picking",
}  # fmt: skip


def crop(answer, name):
    return next(c for c in answer["crops"] if c["crop"] == name)


HARVEST = {"litres_per_m2", "yield_here", "weeks_of_picking"}


def test_chart_has_these_keys_and_no_others(chart):
    answer = chart_json(chart)
    assert set(answer) == {"site", "record", "reliability_asked", "not_judged", "crops", "made_by"}
    assert set(answer["record"]) == {"first", "last", "years", "findings"}
    assert len(answer["crops"]) == len(chart.crops) == 40
    for line in answer["crops"]:
        assert set(line) == {"crop", "starts", "cautions"}
        for start in line["starts"]:
            assert set(start) == {
                "way",
                "windows",
                "possible",
                "outside",
                "daily",
                "daily_yield",
                "daily_days_to_picking",
                "advice",
                *HARVEST,
            }
            for window in start["windows"] + start["possible"]:
                assert set(window) == WINDOW
                assert window["raise_under_cover"] is None or set(window["raise_under_cover"]) == {
                    "from",
                    "to",
                }
                assert set(window["first_picking"]) == {"p10", "p50", "p90", "days_after_start"}
            for outside in start["outside"]:
                assert set(outside) == {"from", "to", "hazard", "share_of_years"}
            assert start["daily"] is None or len(start["daily"]) == 365


def test_dates_over_new_year_and_all_year(chart):
    answer = chart_json(chart)
    bean = crop(answer, "broad bean")["starts"][0]["windows"][0]
    assert (bean["from"], bean["to"]) == ("09-28", "01-21")
    chard = crop(answer, "chard")["starts"][0]["windows"][0]
    assert (chard["from"], chard["to"]) == ("01-01", "12-31")
    assert crop(answer, "sea kale")["starts"][0]["daily"] is None


def test_what_is_not_known_is_null_and_text_is_the_same_each_time(chart):
    line = chart.crops[1]
    way = replace(line.starts[0], reliability=np.full(365, np.nan))
    odd = replace(chart, crops=(replace(line, starts=(way,)),))
    assert chart_json(odd)["crops"][0]["starts"][0]["daily"] == [None] * 365
    assert json_text(chart_json(chart)) == json_text(chart_json(chart))
    assert json.loads(json_text(chart_json(chart))) == chart_json(chart)


def test_rate_has_these_keys_and_null_class_where_it_cannot_say(chart):
    verdicts = [rate_annual(line) for line in chart.crops]
    answer = rate_json(chart.site, chart.record, verdicts)
    assert set(answer) == {"site", "record", "crops", "made_by"}
    for line in answer["crops"]:
        assert set(line) == {
            "crop", "class", "word", "reliability", "limiting_factor", "evidence", "what_would_change_it",
            "cautions", *HARVEST,
        }  # fmt: skip
    assert crop(answer, "sea kale")["class"] is None
    assert crop(answer, "tomato (cherry)")["evidence"]["window"]["from"] == "04-11"
    json_text(answer)


@pytest.mark.parametrize(
    ("value", "plain"),
    [
        (np.float64(0.12345), 0.123),
        (float("nan"), None),
        (np.int64(4), 4),
        (np.array([1.0, np.nan]), [1.0, None]),
        ({"a": (1, {2})}, {"a": [1, [2]]}),
        (np.datetime64("2020-01-02"), "2020-01-02"),
        (True, True),
    ],
)
def test_evidence_of_any_kind_becomes_plain(value, plain):
    assert plain_value(value) == plain
    verdict = CropVerdict("x", None, "cannot say", None, None, {"value": value})
    json_text(rate_json("s", Record("2001-01-01", "2001-12-31", 1.0, "observed"), [verdict]))
