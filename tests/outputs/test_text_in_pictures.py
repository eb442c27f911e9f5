"""No picture has text outside its page or over other text, with long names and much to tell too."""

import datetime as dt
import sys
from dataclasses import replace
from pathlib import Path

import pytest

import sowcal
from sowcal.outputs.figure_chart import chart_figures
from sowcal.outputs.figure_climate import beside_figures, climate_figures, quality_figures
from sowcal.outputs.figure_garden import garden_figures, years_figures
from sowcal.outputs.figure_overview import LARGEST, SMALLEST, overview_figures
from sowcal.outputs.figure_style import new_figure
from sowcal.outputs.leaflet_document import leaflet_figures
from sowcal.outputs.shed_sheets import shed_figures
from sowcal.weather.open_site import open_weather
from sowcal.weather.quality import quality_report

sys.path.insert(0, str(Path(__file__).parent))
from picture_text import drawn, faults

ISSUED = dt.date(2026, 2, 1)
LONG = "A plot with a long name above the old mill at the bend of the river, second terrace (invented)"


def test_the_measure_itself_finds_both():
    figure = new_figure((4, 4))
    figure.text(0.5, 0.5, "here", fontsize=10)
    assert faults(figure) == []
    figure.text(0.52, 0.505, "and there", fontsize=10)
    assert "over each other" in faults(figure)[0]
    figure.text(0.97, 0.1, "beyond", fontsize=10)
    assert any("outside" in f for f in faults(figure))


@pytest.fixture(scope="module")
def named(made_up):
    """Forty crops at a place with a long name, some with the longest names that the handbook has."""
    chart = made_up.chart()
    names = sorted(sowcal.open_handbook(), key=len)[-12:]
    crops = [replace(c, crop=n) for c, n in zip(chart.crops, names, strict=False)]
    return replace(chart, site=LONG, crops=(*crops, *chart.crops[12:]))


@pytest.mark.parametrize(("orientation", "sort"), [("portrait", "first job"), ("landscape", "family")])
def test_the_chart_in_full(named, orientation, sort):
    for figure in chart_figures(named, orientation=orientation, sort=sort, issued=ISSUED, today=ISSUED, start_month=7):
        assert faults(figure) == []


@pytest.mark.parametrize("orientation", ["portrait", "landscape"])
def test_the_year_on_one_sheet(named, orientation):
    for figure in overview_figures(named, orientation=orientation, issued=ISSUED, today=ISSUED):
        assert faults(figure) == []


def test_thirty_crops_stand_on_one_sheet_in_letters_read_from_afar(named):
    some = replace(named, crops=tuple(c for c in named.crops if any(s.windows for s in c.starts))[:30])
    assert len(some.crops) == 30
    (figure,) = overview_figures(some, issued=ISSUED)
    sizes = {t.get_text(): t.get_fontsize() for t, _ in drawn(figure)}
    names = [c.crop if c.crop in sizes else c.crop.partition(" (")[0] for c in some.crops]
    assert set(names) <= set(sizes)
    assert min(sizes[n] for n in names) >= SMALLEST
    assert sum(sizes[n] == LARGEST for n in names) >= 15
    assert tuple(figure.get_size_inches()) == (8.27, 11.69)


def test_no_name_is_torn_within_a_word(named):
    """A name in two lines has all its words, and no part of one stands alone."""
    some = replace(named, crops=tuple(replace(named.crops[k], crop="lettuce (bolting-resistant)") for k in (2, 4)))
    told = [t.get_text() for p in chart_figures(some) for t, _ in drawn(p)]
    assert "lettuce\n(bolting-resistant)" in told
    whole = {c.crop for c in named.crops}
    for page in chart_figures(named):
        for text, _ in drawn(page):
            if text.get_weight() == "bold" and text.get_text().startswith(tuple(n[:8] for n in whole)):
                assert text.get_text().replace("\n", " ").rstrip("…") in " | ".join(whole)


def test_places_and_two_of_them(made_up):
    one, two = made_up.summary(), made_up.summary(LONG, 2)
    for places in ([one], [two], [one, two], [two, two]):
        for figure in climate_figures(places, issued=ISSUED):
            assert faults(figure) == []


def test_crop_by_crop():
    result = sowcal.compare_sites("sallowdene", "wrackhythe", ["carrot", "leek"], issued=ISSUED)
    for sites in (result.sites, (LONG, LONG)):
        for figure in beside_figures(replace(result, sites=sites, crops=result.crops * 30), issued=ISSUED):
            assert faults(figure) == []


def test_the_leaflet(tmp_path):
    path = tmp_path / "m.csv"
    path.write_text("crop,way,months\nsweet corn,,3-11\ncarrot,sow,1-12\nleek,indoors,5\nfig,,2\n", encoding="utf-8")
    answer = sowcal.compare_leaflet("sallowdene", path, issued=ISSUED)
    for figure in leaflet_figures(replace(answer, site=LONG, lines=answer.lines * 9), issued=ISSUED):
        assert faults(figure) == []


def test_years_of_a_perennial():
    chart, verdicts = sowcal.rate_crops("sallowdene", ["fig"], issued=ISSUED)
    years = sowcal.perennial_record("sallowdene", "fig")
    for figure in years_figures(LONG, "fig", years, verdicts[0], issued=ISSUED, made_by=chart.made_by):
        assert faults(figure) == []


def test_a_garden_and_its_sheets_for_the_shed():
    plan = sowcal.garden_plan(issued=ISSUED)
    for figure in [*garden_figures(plan), *shed_figures(plan)[::4]]:
        assert faults(figure) == []


def test_the_quality_of_a_record():
    report = quality_report(open_weather("wrackhythe")[1])
    for figure in quality_figures(report):
        assert faults(figure) == []
