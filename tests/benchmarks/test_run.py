"""The benchmark itself: its rows in the smallest size, the form of its JSON, and that it refuses unequal dates.

No time is asserted here; the goals are looked at by people.
"""

import json
from dataclasses import replace

import crops
import measure
import numpy as np
import pytest
import record
import run
import scalar_loop

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
    assert len(rows) >= (1 if subject == "evapotranspiration" else 3)  # pyet may not be installed
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
    way = crop.ways[0]
    found = scalar_loop.walk(scalar_loop.daily_table(site, crop, way), site.size)
    return site, seasons(site, crop, way), found


def test_the_scalar_loop_tells_the_same_yields_and_dates_from_every_day():
    site, outcome, found = _walked()
    assert scalar_loop.differing(outcome, found, site.size) == []
    known = found[0][np.isfinite(found[0])]
    assert known.size > 1000
    assert known.min() < 0.1 < 0.9 < known.max()  # it meets years' worst and best


def test_one_day_and_one_part_in_a_million_are_seen():
    site, outcome, found = _walked()
    later = replace(outcome, first=outcome.first + 1)
    assert len(scalar_loop.differing(later, found, site.size)) > 1000
    less = replace(outcome, yield_fraction=outcome.yield_fraction * (1.0 - 1e-6))
    assert len(scalar_loop.differing(less, found, site.size)) > 1000


def test_no_ratio_where_values_differ(monkeypatch):
    """A day later from every start: each comparison must stop the run."""
    days = record.days_of(SIZE.years)
    right = crops.day_reached
    monkeypatch.setattr(crops, "day_reached", lambda *a: np.minimum(right(*a) + 1, a[0].size - 1))
    with pytest.raises(AssertionError, match="dates of"):
        crops._many_crops(days, SIZE)
    walked = crops.seasons
    later = lambda *a: replace(found := walked(*a), first=found.first + 1)  # noqa: E731
    monkeypatch.setattr(crops, "seasons", later)
    with pytest.raises(AssertionError, match="start days differ"):
        crops._walk(days, SIZE)


def test_added_memory_sees_what_is_held():
    assert measure.added_memory(lambda: np.ones(1_000_000).sum()) == pytest.approx(8e6, rel=0.01)
