"""Changes that are laid on one another: each once, and no more of all together than days of a real place carry."""

from __future__ import annotations

import json
from itertools import combinations

import numpy as np
import pytest

from sowcal.__main__ import main
from sowcal.answers import rate_crops, site_climate
from sowcal.errors import InputError
from sowcal.microclimate import WHAT_IFS, check_together, with_what_ifs
from sowcal.site_weather import open_record
from sowcal.weather.record import daily_record

SITE = """\
name = "Ness"
latitude = 38.0
[weather]
source = "normals"
years = 4
tasmin = [4, 4, 5, 6, 9, 12, 14, 14, 13, 10, 7, 5]
tasmax = [12, 13, 15, 16, 20, 24, 27, 27, 24, 20, 15, 12]
pr = [60, 50, 40, 40, 30, 10, 2, 2, 20, 50, 60, 60]
wet_days = [9, 8, 7, 7, 5, 2, 1, 1, 3, 7, 9, 9]
"""
COLD = SITE.replace("[4, 4, 5, 6, 9, 12, 14, 14, 13, 10, 7, 5]", "[0, 0, 1, 3, 6, 9, 11, 11, 8, 5, 2, 0]").replace(
    "[12, 13, 15, 16, 20, 24, 27, 27, 24, 20, 15, 12]", "[6, 7, 9, 12, 16, 19, 21, 21, 17, 13, 9, 6]"
)
TWICE = [
    ["warmer=8", "warmer=8"],
    ["warmer=2", "warmer=3"],
    ["fleece", "fleece"],
    ["fleece", " fleece "],
    ["mulch", "warmer=1", "mulch"],
    ["slope@S=10", "slope@SW=5"],
    ["shade-cloth=40", "shade-cloth=30"],
    ["warmer@6-8=2", "warmer@8-10=2"],
    ["warmer@6-8=2", "warmer=1"],
]


def days(low=0.0, wide=6.0, count=400):
    """The same dull, cold day again and again: every cover keeps as much as it can."""
    dates = np.arange("2001-01-01", "2005-01-01", dtype="datetime64[D]")[:count]
    values = {"tasmin": np.full(count, low), "tasmax": np.full(count, low + wide)}
    return daily_record(dates, values, latitude=38.0, title="Ness")


@pytest.mark.parametrize("changes", TWICE)
def test_the_same_change_twice_is_refused(changes, capsys, tmp_path):
    place = tmp_path / "ness.toml"
    place.write_text(SITE)
    given = [word for change in changes for word in ("--with", change)]
    for command in ("rate", "chart", "week", "compare"):
        assert main([command, str(place), "radish", *given]) == 2
        shown, said = capsys.readouterr()
        assert shown == ""
        assert said.startswith("sowcal: --with: ")
        assert " is there twice (" in said
        assert said.count("\n") == 1
    for call in (rate_crops, site_climate):
        with pytest.raises(InputError, match="is there twice"):
            call(str(place), what_ifs=changes)


@pytest.mark.parametrize("changes", [c for c in TWICE if len(c) == 2])
def test_nor_once_in_the_site_file_and_once_in_the_call(changes, capsys, tmp_path):
    place, both = tmp_path / "ness.toml", tmp_path / "both.toml"
    place.write_text(f"{SITE}[plot]\nchanges = {json.dumps(changes[:1])}\n")
    both.write_text(f"{SITE}[plot]\nchanges = {json.dumps(changes)}\n")
    assert main(["rate", str(place), "radish", "--with", changes[1]]) == 2
    assert "the first of which the plot is under already" in capsys.readouterr().err
    with pytest.raises(InputError, match="is there twice"):
        site_climate(str(place), what_ifs=changes[1:])
    with pytest.raises(InputError, match=r"^changes under \[plot\]: .* is there twice"):
        open_record(str(both))


def test_other_months_are_another_change():
    """Warmer summers and, by another figure, warmer winters: what a scenario of the climate says."""
    changed = with_what_ifs(days(count=1461), ["warmer@6-8=2", "warmer@12-2=1"])
    month = changed.time.astype("datetime64[M]").astype(int) % 12 + 1
    want = np.where(np.isin(month, (6, 7, 8)), 2.0, np.where(np.isin(month, (12, 1, 2)), 1.0, 0.0))
    np.testing.assert_allclose(changed["tasmin"], want)


@pytest.mark.parametrize(
    ("changes", "degrees"),
    [
        (["warmer=8", "tunnel"], 10.75),  # 8 + (1.3 + 4.2) / 2
        (["warmer=8", "warm-wall", "fleece"], 11.0),  # 8 + 1.5 + (1 + 2) / 2
        (["higher=-1500", "warmer=2"], 11.75),
        (["higher=1500", "frost-hollow=6"], 12.75),
        (["warmer@6-8=8", "warmer@12-2=7", "tunnel"], 10.75),
    ],
)
def test_too_much_in_all_is_refused_and_told(changes, degrees):
    with pytest.raises(InputError, match=rf"come to {degrees:.4g} degC .* 10 degC at most"):
        with_what_ifs(days(), changes)
    with pytest.raises(InputError, match="at most"):
        with_what_ifs(with_what_ifs(days(), changes[:-1]), changes[-1:])


@pytest.mark.parametrize(
    "changes", [["warmer=8", "fleece"], ["warmer=8", "higher=1500", "tunnel"], ["fleece", "tunnel", "cold-frame"]]
)
def test_what_makes_up_for_each_other_is_not_too_much(changes):
    check_together(changes)


def test_what_is_allowed_moves_no_dull_day_by_more():
    """The figures that are added up are those of the effects: seen in the days themselves."""
    for low, wide in ((0.0, 6.0), (0.0, 16.0), (20.0, 16.0), (-10.0, 4.0)):
        open_site = days(low, wide)
        for what in WHAT_IFS.values():
            if what.name in ("sea-air", "slope"):
                continue
            for amount in (what.least, what.most):
                text = f"{what.name}={amount:g}"
                changed = with_what_ifs(open_site, [text])
                for k, name in enumerate(("tasmin", "tasmax")):
                    moved = float((changed[name] - open_site[name])[0])
                    most = what.air[k] * amount
                    assert min(0.0, most) - 1e-9 <= moved <= max(0.0, most) + 1e-9, (text, name)


def test_what_a_grower_can_do_may_be_done_together():
    """Else a verdict could not name the pair as its remedy."""
    for chosen in combinations([w.name for w in WHAT_IFS.values() if w.lifts], 2):
        check_together(chosen)
    for text in (
        f"{w.name}={amount:g}" for w in WHAT_IFS.values() for amount in (w.least, w.most) if w.name != "slope"
    ):
        check_together([text])  # and each by itself may be as large as its own limits say


def test_no_remedy_is_what_the_plot_has(tmp_path):
    """A second fleece over the first was named as what would lift a courgette; and what was not tried is not denied."""
    place = tmp_path / "cold.toml"
    place.write_text(COLD)
    _, (covered,) = rate_crops(str(place), ["courgette"], what_ifs=["fleece"])
    assert covered.what_would_change_it
    assert not [text for text in covered.what_would_change_it if text.startswith("fleece")]
    _, (bare,) = rate_crops(str(place), ["okra"], what_ifs=["warmer=-5"])
    assert bare.what_would_change_it == ("none of the known changes, alone or in pairs",)
    _, (fleeced,) = rate_crops(str(place), ["okra"], what_ifs=["warmer=-5", "fleece"])
    assert fleeced.what_would_change_it == ("none of the changes that may be added, alone or in pairs",)
