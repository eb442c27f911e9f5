"""A printed leaflet beside a plot: where they part and why."""

import itertools
import json
import os
import re

import jsonschema
import numpy as np
import pytest

import sowcal
from sowcal.__main__ import main
from sowcal.errors import InputError
from sowcal.outputs.leaflet_document import leaflet_figures, leaflet_json, leaflet_tables
from sowcal.suitability.leaflet import leaflet_lines
from sowcal.year import MONTH_LENGTHS, MONTH_STARTS, span_days

HEAD = ["crop", "way", "months"]
LEAFLET = "crop,way,months\ncourgette,sow,Mar-May\ntomato,,4 5 6\nleek,under cover,Jan-Mar\nfig,plant,Nov to Feb\n"


@pytest.fixture(scope="module")
def leaflet(tmp_path_factory):
    path = tmp_path_factory.mktemp("leaflet") / "months.csv"
    path.write_text(LEAFLET, encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def answer(leaflet):
    return sowcal.compare_leaflet("sallowdene", leaflet)


@pytest.mark.parametrize(
    ("cell", "months"),
    [
        ("3-5", [3, 4, 5]),
        ("Mar–May, Sep", [3, 4, 5, 9]),
        ("3 4 5", [3, 4, 5]),
        ("Oct to Feb", [1, 2, 10, 11, 12]),
        ("março-maio", [3, 4, 5]),
        ("all year", list(range(1, 13))),
        ("Sept.", [9]),
    ],
)
def test_months_are_read_as_leaflets_print_them(cell, months):
    (line,) = leaflet_lines([HEAD, ["leek", "", cell]], "x.csv")
    assert list(line.months) == months


@pytest.mark.parametrize(
    ("rows", "line", "says"),
    [
        ([HEAD, ["leek", "", "3"], ["leek", "", "mid-Mar"]], 3, "'mid' is no month"),
        ([HEAD, ["leek", "", "13"]], 2, "'13' is no month"),
        ([HEAD, ["leek", "", ""]], 2, "is no month"),
        ([HEAD, ["leek", "thrown", "3"]], 2, "'thrown' is no way"),
        ([HEAD, ["", "", "3"]], 2, "names no crop"),
        ([HEAD, ["leek", "", "3", "4"]], 2, "between quotation marks"),
        ([["crop", "when"], ["leek", "3"]], 1, "'when' is none of them"),
        ([HEAD], None, "no lines"),
        ([], None, "no lines"),
    ],
)
def test_a_bad_line_is_named_by_its_number(rows, line, says):
    with pytest.raises(InputError, match=re.escape(says)) as found:
        leaflet_lines(rows, "x.csv")
    assert found.value.line == line


def test_a_crop_that_is_none_is_told_by_its_line(tmp_path, capsys):
    path = tmp_path / "m.csv"
    path.write_text("crop,months\n\nleek,3\nunobtainium,4\n", encoding="utf-8")
    assert main(["compare", "sallowdene", "--leaflet", str(path)]) == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert "line 4" in said
    assert main(["compare", "sallowdene", "--leaflet", str(tmp_path / "none.csv")]) == 2
    assert main(["compare", "sallowdene", "wrackhythe", "--leaflet", str(path)]) == 2


def test_months_are_those_of_the_chart(answer):
    """Reckoned again from the chart's own windows and odds, in plain loops."""
    chart = sowcal.sowing_chart("sallowdene", ["courgette"])
    (way,) = [s for s in chart.crops[0].starts if s.way == "sown outdoors"]
    days = set(itertools.chain.from_iterable(span_days(w.start, w.end) for w in way.windows))
    spans = [range(a, a + n) for a, n in zip(MONTH_STARTS, MONTH_LENGTHS, strict=True)]
    mine = [m for m, span in enumerate(spans, 1) if len(days & set(span)) >= 10]
    line = answer.lines[0]
    assert list(line.plot) == mine
    assert [m.month for m in line.less] == [m for m in (3, 4, 5) if m not in mine]
    assert [m.month for m in line.more] == [m for m in mine if m not in (3, 4, 5)]
    for less in line.less:
        span = list(spans[less.month - 1])
        assert less.works == pytest.approx(np.nanmean(way.reliability[span]))
        # what fails is lost to some hazard, and to this one most
        assert 0.5 * (1 - less.works) <= less.share_of_years <= 1 - less.works + 0.01
        closing = [o.hazard for o in way.outside if set(span) & set(span_days(o.start, o.end))]
        assert less.hazard in closing
    for more in line.more:
        span = [d for d in spans[more.month - 1] if d in days]
        assert more.yield_fraction == pytest.approx(np.nanmean(way.yield_fraction[span]))


def test_sowing_under_cover_is_a_nursery_before_setting_out(answer):
    (way,) = [s for s in sowcal.sowing_chart("sallowdene", ["leek"]).crops[0].starts if s.way == "set out"]
    sown = set()
    for w in way.windows:
        early = (w.start - w.raise_under_cover[0]) % 365
        sown |= {(d - early) % 365 for d in span_days(w.start, w.end)}
    (line,) = [x for x in answer.lines if x.way == "under cover"]
    whole = [m for m in range(12) if set(range(MONTH_STARTS[m], MONTH_STARTS[m] + MONTH_LENGTHS[m])) <= sown]
    assert whole
    assert {m + 1 for m in whole} <= set(line.plot)


def test_a_leaflet_copied_from_the_plot_agrees_in_every_month(answer, tmp_path):
    rows = [f"{x.crop},{x.way},{' '.join(map(str, x.plot))}" for x in answer.lines if x.plot]
    path = tmp_path / "own.csv"
    path.write_text("crop,way,months\n" + "\n".join(rows), encoding="utf-8")
    own = sowcal.compare_leaflet("sallowdene", path)
    assert own.agreed[0] == own.agreed[1] == 12 * len(rows)
    assert not own.hazards


def test_a_harsher_plot_loses_months_to_cold(leaflet, answer):
    cold = sowcal.compare_leaflet("sallowdene", leaflet, what_ifs=["warmer=-4"])
    lost = dict(cold.hazards)
    assert lost.get("frost", 0) + lost.get("cold soil", 0) > sum(
        dict(answer.hazards).get(h, 0) for h in ("frost", "cold soil")
    )


def test_json_table_and_picture_tell_the_same(answer, leaflet, tmp_path):
    told = leaflet_json(answer)
    jsonschema.validate(json.loads(json.dumps(told)), sowcal.schema("compare --leaflet"))
    for key in ("only_leaflet", "months_alike"):
        broken = json.loads(json.dumps(told))
        holder = broken if key in broken else broken["lines"][0]
        holder[f"{key}_"] = holder.pop(key)
        with pytest.raises(jsonschema.ValidationError):
            jsonschema.validate(broken, sowcal.schema("compare --leaflet"))
    (sheet,) = leaflet_tables(answer)
    pairs = [(row[0], row[2], row[3], row[4]) for row in sheet.rows]
    for line in answer.lines:
        for m in range(1, 13):
            here = ("yes" if m in line.leaflet else "no", "yes" if m in line.plot else "no")
            assert ((line.crop, m, *here) in pairs) == ("yes" in here)
    (figure,) = leaflet_figures(answer)
    words = {t.get_text() for t in figure.axes[0].texts}
    assert {x.crop for x in answer.lines} <= words
    bars = [p for p in figure.axes[0].patches if abs(p.get_height() - 0.105) < 1e-9]
    assert len(bars) == 2 + sum(len(x.leaflet) + len(x.plot) for x in answer.lines)
    assert main(["compare", "sallowdene", "--leaflet", str(leaflet), "--out", str(tmp_path / "x.pdf")]) == 0


def test_a_guide_of_the_south_coast_agrees_with_a_record_of_it(tmp_path):
    """UC Master Gardener Program, South Coast column of ANR 3382 (source beside each line of the table)."""
    if not (folder := os.environ.get("SOWCAL_REFERENCE")):
        pytest.skip("SOWCAL_REFERENCE is not set: it names the folder of station records")
    rows = ["crop,months"]
    for crop, months in (("carrot", "1-9"), ("tomato", "3-7"), ("garlic", "10-12"), ("cucumber", "4-6")):
        rows.append(f"{crop},{months}")
    path = tmp_path / "guide.csv"
    path.write_text("\n".join(rows), encoding="utf-8")
    site = tmp_path / "sd.toml"
    site.write_text(
        'name = "San Diego"\nlatitude = 32.73\nlongitude = -117.18\nelevation = 4\n[weather]\nsource = "file"\n'
        f'file = "{folder}/weather/san_diego_ca.csv"\ntemperature_unit = "degC"\n',
        encoding="utf-8",
    )
    found = sowcal.compare_leaflet(str(site), path)
    assert found.agreed[0] >= 0.75 * found.agreed[1]
