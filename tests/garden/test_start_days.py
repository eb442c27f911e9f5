"""Start days that a garden file names: planned so, written line by line, refused where they bring nothing."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from importlib.resources import files

import numpy as np
import pytest

from sowcal import garden_plan
from sowcal.errors import InputError
from sowcal.garden.garden_file import Start, bundled_garden, parse_garden
from sowcal.garden.garden_text import with_starts

ISSUED = dt.date(2026, 1, 15)


STARTS = (Start("carrot", "sown outdoors", 75), Start("leek", "set out", 233), Start("kale", "set out", 333))


def test_start_days_in_a_file_are_the_ones_that_are_planned():
    """A crop with days of the grower's own is started on them; all others stay, and no bed is ever overfull."""
    garden = bundled_garden()
    usual, own = garden_plan(garden, issued=ISSUED), garden_plan(replace(garden, starts=STARTS), issued=ISSUED)
    moved = {start.crop for start in STARTS}
    days = {(s.crop.name, s.way, s.start) for s in own.sowings if s.crop.name in moved}
    assert days == {(s.crop, s.way, s.day) for s in STARTS}
    rest = [
        [(s.crop.name, s.start, s.plants.count) for s in p.sowings if s.crop.name not in moved] for p in (usual, own)
    ]
    assert rest[0] == rest[1]
    for bed, daily in zip(garden.beds, own.beds.daily, strict=True):
        assert daily.max() <= bed.area + 1e-6
    stays = [(p.bed, p.begin, p.end, own.sowings[p.sowing]) for p in own.beds.placings]
    for k, (bed, begin, end, sowing) in enumerate(stays):
        for other, b, e, second in stays[:k]:
            if other == bed and b < end - 1e-6 and begin < e - 1e-6:
                assert not np.any(_days(sowing) & _days(second)), (sowing.crop.name, second.crop.name)


def _days(sowing):
    start, last = sowing.place_taken
    out = np.zeros(365, dtype=bool)
    out[(start + np.arange((last - start) % 365 + 1)) % 365] = True
    return out


def test_a_start_that_brings_nothing_is_refused_or_told():
    garden = bundled_garden()
    with pytest.raises(InputError, match="in no year"):
        garden_plan(replace(garden, starts=(Start("courgette", "set out", 330),)), issued=ISSUED)
    with pytest.raises(InputError, match="it is sown outdoors"):
        garden_plan(replace(garden, starts=(Start("carrot", "planted", 90),)), issued=ISSUED)
    with pytest.raises(InputError, match="not among the crops"):
        garden_plan(replace(garden, starts=(Start("melon", "set out", 140),)), issued=ISSUED)
    two = (Start("carrot", "sown outdoors", 75), Start("carrot", "sown outdoors", 76))
    plan = garden_plan(replace(garden, starts=two), issued=ISSUED)
    planned = [s.start for s in plan.sowings if s.crop.name == "carrot"]
    told = [line for line in plan.left_out if line.crop == "carrot" and "other sowings" in line.why]
    assert len(planned) + len(told) == 2


def test_start_days_are_written_and_taken_away_line_by_line():
    text = (files("sowcal") / "plots" / "sallowdene.garden.toml").read_text(encoding="utf-8")
    made = with_starts(text, STARTS, "g.toml")
    assert parse_garden(made, where="g.toml").starts == STARTS
    assert text.rstrip() in made  # every line of the grower's own stays
    assert with_starts(made, (), "g.toml").rstrip() == text.rstrip()
    assert with_starts(made, STARTS, "g.toml") == made
    inline = 'starts = [{crop = "leek", way = "set out", day = "05-01"}]\n'
    with pytest.raises(InputError, match="cannot be changed here"):
        with_starts(inline, STARTS, "g.toml")


@pytest.mark.parametrize("day", ["13-01", "02-30", "soon"])
def test_a_day_that_is_none_is_refused(day):
    with pytest.raises(InputError, match="starts, number 1"):
        parse_garden(f'name = "a"\nsite = "b"\n[[starts]]\ncrop = "leek"\nway = "set out"\nday = "{day}"\n', where="g")
