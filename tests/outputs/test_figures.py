"""Pictures and files: pages, the same bytes twice, whole files or none."""

import datetime as dt
import subprocess
import sys
from dataclasses import replace

import pytest

from sowcal.errors import InputError
from sowcal.outputs.figure_chart import chart_figures
from sowcal.outputs.figure_climate import climate_figures
from sowcal.outputs.figure_style import KINDS
from sowcal.outputs.files import write_output

ISSUED = dt.date(2026, 2, 1)


def _words(figure):
    drawn = [t.get_text() for t in figure.texts] + [t.get_text() for a in figure.axes for t in a.texts]
    return [text.replace("\n", " ") for text in drawn]  # long names stand in two lines


def test_forty_crops_take_two_upright_pages_each_with_head_and_foot(chart):
    pages = chart_figures(chart, issued=ISSUED)
    assert len(pages) == 2
    drawn = [w for page in pages for w in _words(page)]
    for line in chart.crops:
        named = [w for w in drawn if line.crop in w]
        assert named, f"{line.crop} is neither drawn nor listed"
    for number, page in enumerate(pages, 1):
        words = "\n".join(_words(page))
        assert tuple(page.get_size_inches()) == (8.27, 11.69)
        for needed in (
            "Made-up Nook",
            "30 years, 1991 to 2020",
            "8 years in 10",
            "no promise",
            "Jan",
            "Not judged",
        ):
            assert needed in words
        assert f"issued 1 Feb 2026   page {number} of 2" in words


@pytest.mark.parametrize("sort", ["first job", "family", "name"])
def test_lying_pages_hold_every_crop_once_in_any_order(chart, sort):
    pages = chart_figures(chart, orientation="landscape", sort=sort, start_month=9, today=ISSUED)
    bold = [t.get_text().replace("\n", " ") for p in pages for a in p.axes for t in a.texts if t.get_weight() == "bold"]
    names = [c.crop for c in chart.crops if any(s.windows for s in c.starts)]
    found = [w for w in bold if w in names]
    assert sorted(found) == sorted(names)
    assert (found == names) == (sort == "name")
    assert pages[0].get_size_inches()[0] > pages[0].get_size_inches()[1]


def test_the_foot_says_all_and_stays_below_the_crops(chart):
    long = ("pests and diseases", "wind and salt", "pollination", "want of water (watered when needed)") * 2
    for page in chart_figures(replace(chart, not_judged=long)):
        page.canvas.draw()
        foot = next(t for t in page.texts if "Rests on" in t.get_text())
        assert foot.get_text().endswith("first.")
        assert foot.get_window_extent().y1 <= page.axes[-1].get_window_extent().y0


def test_no_text_runs_off_the_page(chart, made_up):
    figures = [
        *chart_figures(chart, issued=ISSUED, today=dt.date(2024, 2, 29)),
        *chart_figures(chart, orientation="landscape"),
        *climate_figures([made_up.summary(), made_up.summary("Other Ledge (invented)", 2)], issued=ISSUED),
    ]
    for figure in figures:
        figure.canvas.draw()
        box = figure.bbox
        for text in [*figure.texts, *(t for a in figure.axes for t in a.texts)]:
            if text.get_text():
                place = text.get_window_extent()
                assert box.x0 <= place.x0, text
                assert place.x1 <= box.x1, text
                assert box.y0 <= place.y0, text


@pytest.mark.parametrize("suffix", [".png", ".svg", ".pdf"])
def test_the_same_bytes_twice(chart, made_up, tmp_path, suffix):
    few = replace(chart, crops=chart.crops[:4])
    for draw in (lambda: chart_figures(few, issued=ISSUED), lambda: climate_figures(made_up.summary())):
        files = [write_output(tmp_path / f"{k}{suffix}", figures=draw) for k in range(2)]
        first, second = (f[0].read_bytes() for f in files)
        assert first == second


def test_pages_are_numbered_from_the_second_and_pdf_holds_all(chart, tmp_path):
    written = write_output(tmp_path / "c.png", figures=lambda: chart_figures(chart))
    assert [p.name for p in written] == ["c.png", "c-2.png"]
    assert [p.name for p in write_output(tmp_path / "c.pdf", figures=lambda: chart_figures(chart))] == ["c.pdf"]
    assert b"/Count 2" in (tmp_path / "c.pdf").read_bytes()
    assert sorted(p.name for p in tmp_path.iterdir()) == ["c-2.png", "c.pdf", "c.png"]


def test_an_unknown_suffix_is_told_those_that_exist(tmp_path):
    with pytest.raises(InputError, match=r"cannot be written as \.docx; end the name in \.png, \.svg, \.pdf or \.json"):
        write_output(tmp_path / "c.docx", figures=list, answer=dict)
    with pytest.raises(InputError, match=r"end the name in \.json"):
        write_output(tmp_path / "c.png", answer={})
    with pytest.raises(InputError, match=r"has no ending .* end it in \.json"):
        write_output(tmp_path / "c", answer={})
    with pytest.raises(InputError, match="folder that exists"):
        write_output(tmp_path / "none" / "c.json", answer={})
    assert not list(tmp_path.iterdir())


def test_a_failure_leaves_the_old_file_whole(tmp_path):
    path = tmp_path / "c.json"
    write_output(path, answer={"a": 1})

    def fails():
        raise RuntimeError

    with pytest.raises(ValueError, match="not JSON compliant"):
        write_output(path, answer={"a": float("nan")})
    with pytest.raises(RuntimeError):
        write_output(path, answer=fails)
    assert path.read_text() == '{\n "a": 1\n}\n'
    assert list(tmp_path.iterdir()) == [path]


def test_odd_names_are_drawn_harmlessly(made_up, tmp_path):
    chart = made_up.chart(site="$x^$ \x1b[0m 北 " + "long " * 40)
    write_output(tmp_path / "c.png", figures=lambda: chart_figures(replace(chart, crops=chart.crops[:2])))


def test_wrong_wishes_are_refused(chart, made_up):
    for wish in ({"orientation": "round"}, {"sort": "colour"}, {"start_month": 13}):
        with pytest.raises(InputError):
            chart_figures(chart, **wish)
    with pytest.raises(InputError):
        climate_figures([made_up.summary()] * 3)


def test_matplotlib_is_not_loaded_before_a_picture_is_asked_for():
    code = (
        "import sys, sowcal.outputs.figure_chart, sowcal.outputs.figure_climate, sowcal.outputs.files;"
        "sys.exit('matplotlib' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_families_stand_over_their_crops_and_again_on_the_next_page(made_up):
    rows = [(f"crop {k}", "Fabaceae" if k < 30 else "Apiaceae", "heat", made_up.ROWS[0][3]) for k in range(40)]
    pages = chart_figures(made_up.chart(rows=rows), sort="family")
    heads = [[w for w in _words(page) if "family (" in w] for page in pages]
    assert heads[0] == ["carrot family (Apiaceae)", "pea family (Fabaceae)"]
    assert heads[1] == ["pea family (Fabaceae), continued"]
    assert not [w for page in chart_figures(made_up.chart(rows=rows)) for w in _words(page) if "family (" in w]


def test_a_warning_goes_with_the_chart(chart):
    feet = [t.get_text().replace("\n", " ") for p in chart_figures(chart) for t in p.texts]
    assert any("Mind: the weather is generated from monthly normals." in foot for foot in feet)


def test_no_name_is_smaller_than_can_be_read(made_up):
    """6.5 points, about the least of printed seed packets: common practice, no source."""
    names = ["lettuce (bolting-resistant)", "a" * 90, "purple sprouting broccoli of the early sort"]
    rows = [(name, "Asteraceae", "heat", made_up.ROWS[0][3]) for name in names]
    for page in chart_figures(made_up.chart(rows=rows)):
        page.canvas.draw()
        bold = [t for a in page.axes for t in a.texts if t.get_weight() == "bold" and t.get_text()[0] in "lap"]
        assert len(bold) == 3
        lanes = [t for a in page.axes for t in a.texts if t.get_text() in KINDS]
        for name in bold:
            assert name.get_fontsize() >= 6.5
            box = name.get_window_extent()
            assert not any(box.overlaps(lane.get_window_extent()) for lane in lanes), name.get_text()


def test_crop_by_crop_names_every_crop_and_the_place_ahead(made_up):
    from sowcal.outputs.figure_climate import beside_figures
    from sowcal.suitability.compare import CompareResult, CropBeside

    crops = [CropBeside(f"crop {k:03d}", ("sound", "fair"), (k, 150), (1.0, None), 1, None) for k in range(130)]
    crops.append(CropBeside("last", ("sound", "sound"), (200, 100), (0.5, 0.9), 0, 1))
    result = CompareResult(("One (invented)", "Two (invented)"), ({}, {}), (), (), crops=tuple(crops))
    pages = beside_figures(result, issued=ISSUED)
    assert len(pages) == 3
    drawn = [w for page in pages for w in _words(page)]
    assert {c.crop for c in crops} <= set(drawn)
    for number, page in enumerate(pages, 1):
        words = _words(page)
        assert {"A  One (invented)", "B  Two (invented)", f"issued 1 Feb 2026   page {number} of 3"} <= set(words)
        page.canvas.draw()
        for text in [*page.texts, *(t for a in page.axes for t in a.texts)]:
            assert page.bbox.x0 <= text.get_window_extent().x0
            assert text.get_window_extent().x1 <= page.bbox.x1 - 30
    row = [t.get_text() for t in pages[-1].axes[0].texts][-5:]
    assert row == ["last", "5 in 10", "9 in 10", "A", "B"]


def test_climate_shows_a_bar_for_each_year_free_of_frost(made_up):
    from sowcal.climate.frost import FrostYear

    years = tuple(FrostYear(1991 + k, 60 + k, 320 if k % 7 else None) for k in range(30))
    (figure,) = climate_figures(replace(made_up.summary(), frost_by_year=years), issued=ISSUED)
    axes = next(
        a for a in figure.axes if "Free of frost (no minimum below 0 °C), year by year" in a.get_title(loc="left")
    )
    bars = [path.get_extents() for bar in axes.collections for path in bar.get_paths()]
    assert len(bars) == 30
    for box, year in zip(bars, years, strict=True):
        assert (box.x0, box.x1) == (year.last_spring_frost + 1, year.first_autumn_frost or 365)
    assert any("58 portions" in w and "2810 °C days" in w for w in _words(figure))


def test_gambles_are_drawn_where_asked_for_and_listed_else(chart):
    def drawn(**wish):
        pages = chart_figures(chart, sort="name", **wish)
        bold = [t.get_text().replace("\n", " ") for p in pages for a in p.axes for t in a.texts]
        return "parsnip" in bold, any(w.startswith("parsnip: ") for w in bold)

    assert drawn() == (False, True)
    assert drawn(gambles=True) == (True, False)
