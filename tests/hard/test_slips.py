"""A few slips that tests have noticed before are shown to them again, others on each day."""

from __future__ import annotations

import datetime as dt
import subprocess
import sys
from collections import Counter
from pathlib import Path
from types import SimpleNamespace

import pytest
import slips

HERE = Path(__file__).parent
FEW = 4


@pytest.mark.skipif(sys.platform == "win32", reason="slips are tried in forks")
def test_slips_of_the_day_are_still_noticed():
    """Each by the one test that is kept as having noticed it; the seed is the date, and is told."""
    seed = dt.date.today().toordinal()
    done = subprocess.run(
        [sys.executable, str(HERE / "slips.py"), "--again", str(FEW), "--seed", str(seed)],
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert done.returncode == 0, f"seed {seed}: {done.stdout}{done.stderr}"
    assert f"{FEW} of " in done.stdout


def test_what_is_named_as_changing_nothing_is_a_slip_that_there_is_and_few_are():
    there = {slip.name for subject in slips.SUBJECTS for m in slips.SUBJECTS[subject][0] for slip in slips.slips(m)}
    named = slips.equals()
    assert set(named) - there == set(), "no such slip any more: the line can go"
    assert all(len(why) > 20 for why in named.values())
    rows = slips.kept()
    tried = Counter(row["subject"] for row in rows)
    equal = Counter(row["subject"] for row in rows if slips.name_of(row) in named and row["word"] == "survived")
    assert equal.total() <= tried.total() / 20
    assert set(tried) == set(slips.SUBJECTS)


def test_a_slip_is_one_change_and_drawn_by_its_seed():
    some, of = slips.drawn("store", 5, 1)
    assert (len(some), len({s.name for s in some})) == (5, 5)
    assert of > 100
    assert [s.name for s in some] == [s.name for s in slips.drawn("store", 5, 1)[0]]
    assert [s.name for s in some] != [s.name for s in slips.drawn("store", 5, 2)[0]]
    for slip in some:
        compile(slip.source, "slip", "exec")
        assert slip.was != slip.now


def test_what_was_left_out_is_counted_and_told(request):
    """Of tests skipped for want of the reference folder only, by file, with its first line."""
    told = next(
        plugin.not_checked for plugin in request.config.pluginmanager.get_plugins() if hasattr(plugin, "not_checked")
    )

    def skipped(name, why):
        return SimpleNamespace(nodeid=f"tests/hard/{name}::test_x", longrepr=("x", 1, why))

    reports = [skipped("test_slips.py", "SOWCAL_REFERENCE is not set")] * 2 + [skipped("test_laws.py", "no browser")]
    first, second = told(reports)
    assert first.startswith("2 tests were left out")
    assert second.split(": ")[1].startswith("A few slips that tests have noticed before")
    assert told(reports[2:]) == []
