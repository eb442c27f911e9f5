"""The benchmark itself: its rows in the smallest size, the form of its JSON, and that it refuses unequal dates.

No time is asserted here; the goals are looked at by people.
"""

import json
from dataclasses import replace

import crops
import measure
import naive
import numpy as np
import pytest
import record
import run

from sowcal.crops.handbook import handbook
from sowcal.seasons.season import seasons

pytest.importorskip("xclim")
KEYS = {"work", "against", "ratio", "goal", "met"}
SIZE = measure.SMALLEST


@pytest.mark.parametrize("subject", run.SUBJECTS)
def test_rows_and_their_form(subject, tmp_path, capsys):
    target = tmp_path / "rows.json"
    assert run.main(["--size", "smallest", "--only", subject, "--json", str(target)]) == 0
    rows = json.loads(target.read_text(encoding="utf-8"))
    assert len(rows) >= 3
    for row in rows:
        assert set(row) == KEYS
        assert row["ratio"] > 0
        sign, figure = row["goal"].split()
        assert sign in (">=", "<=")
        reached = row["ratio"] >= float(figure.replace(",", ""))
        if f"{row['ratio']:.3g}" != figure:  # printed figures round
            assert row["met"] is (reached if sign == ">=" else not reached)
    assert len({(row["work"], row["against"]) for row in rows}) == len(rows)
    printed = capsys.readouterr().out
    assert "numpy" in printed
    assert all(row["work"] in printed for row in rows)
    assert [path.name for path in tmp_path.iterdir()] == ["rows.json"]


def test_a_ratio_says_which_way_it_goes():
    faster = measure.Row("a", "b", here=2.0, there=10.0, least=5.0)
    cheaper = measure.Row("a", "b", here=2.0, there=10.0, most=0.1)
    assert (faster.ratio, faster.met) == (5.0, True)
    assert (cheaper.ratio, cheaper.met) == (0.2, False)


def _walked():
    days = record.days_of(SIZE.years)
    site = crops._site(days)
    crop = handbook()[crops.CROP]
    table = naive.day_table(site, crop, crop.ways[0])
    starts = range(400, 760, 15)
    walked = {s: naive.walk_one_start(table, crop, crop.ways[0], table["date"].iloc[s]) for s in starts}
    return site, crop, walked


def test_the_loop_names_the_same_dates_all_year():
    site, crop, walked = _walked()
    assert naive.differing_dates(site, crop, crop.ways[0], walked) == []
    assert sum(season.ready is not None for season in walked.values()) > 15
    met = [season.hazards for season in walked.values() if season.ready is not None]
    assert any(h["hot days filling"] > 0 for h in met)
    assert any(h["coldest young"] < 0 for h in met)


def test_one_day_off_is_seen_in_the_loop():
    site, crop, walked = _walked()
    outcome = seasons(site, crop, crop.ways[0])
    later = replace(outcome, first=outcome.first + 1)
    assert len(naive.differing_dates(site, crop, crop.ways[0], walked, later)) > 10


def test_no_ratio_where_dates_differ(monkeypatch):
    """A day later from every start: the comparison with xclim must stop the run."""
    right = crops.day_reached
    monkeypatch.setattr(crops, "day_reached", lambda *a: np.minimum(right(*a) + 1, a[0].size - 1))
    with pytest.raises(AssertionError, match="xclim"):
        crops._many_crops(record.days_of(SIZE.years), SIZE)


def test_added_memory_sees_what_is_held():
    assert measure.added_memory(lambda: np.ones(1_000_000).sum()) == pytest.approx(8e6, rel=0.01)
