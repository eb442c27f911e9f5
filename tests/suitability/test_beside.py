"""Two places crop by crop: which window is longer, which is safer."""

from dataclasses import replace

import numpy as np
import pytest

from sowcal import compare_sites, rate_crops
from sowcal.suitability.compare import (
    CompareResult,
    CropRecent,
    RecentYears,
    against_whole,
    compare,
    crops_beside,
    crops_recent,
)
from sowcal.suitability.results import CropSeasons, CropVerdict, Harvest, WayResult, Window


def line(*spans):
    """A crop with one way for each list of spans."""
    ways = []
    for way in spans:
        windows = tuple(Window(a, b, a, 0.9, (0.7, 1.0), 30, 0.9) for a, b in way)
        ways.append(WayResult("sown outdoors", windows, windows, (), None))
    return CropSeasons("leek", "Amaryllidaceae", tuple(ways))


@pytest.fixture(scope="module")
def chart():
    return rate_crops("sallowdene", ["leek"])[0]


def beside(chart, lines, shares):
    charts = tuple(replace(chart, crops=(one,)) for one in lines)
    verdicts = tuple([CropVerdict("leek", "S1", "sound", share, None)] for share in shares)
    (found,) = crops_beside(charts, verdicts)
    return found


def test_days_of_two_ways_count_once_and_run_over_new_year(chart):
    """350 to 9 is 25 days; 0 to 19 shares ten of them."""
    found = beside(chart, [line([(350, 9)], [(0, 19)]), line([(100, 109)])], (0.9, 0.9))
    assert found.days == (35, 10)
    assert found.longer == 0
    assert found.safer is None


@pytest.mark.parametrize(("span", "days"), [((350, 9), 25), ((0, 364), 365), ((364, 0), 2), ((100, 100), 1)])
def test_days_of_a_window_wherever_it_lies_in_the_year(chart, span, days):
    assert beside(chart, [line([span]), line([])], (0.9, 0.9)).days == (days, 0)


@pytest.mark.parametrize(
    ("days", "shares", "longer", "safer"),
    [
        ((10, 16), (0.9, 0.94), None, None),
        ((10, 17), (0.9, 0.96), 1, 1),
        ((30, 10), (0.5, 1.0), 0, 1),
        ((10, 10), (None, 1.0), None, None),
        ((10, 10), (1.0, None), None, None),
        ((10, 10), (0.5, 0.55), None, 1),  # half a year in ten
        ((10, 10), (0.5, 0.549), None, None),
        ((10, 10), (0.0, 0.06), None, 1),  # what never works is known to
        ((10, 10), (0.06, 0.0), None, 0),
    ],
)
def test_a_week_and_half_a_year_in_ten_make_the_difference(chart, days, shares, longer, safer):
    found = beside(chart, [line([(0, days[0] - 1)]), line([(0, days[1] - 1)])], shares)
    assert (found.longer, found.safer) == (longer, safer)


def test_a_place_beside_itself_is_alike_in_all():
    result = compare_sites("sallowdene", "sallowdene", ["tomato (cherry)", "olive", "carrot"])
    assert [c.crop for c in result.crops] == ["carrot", "olive", "tomato (cherry)"]
    assert all(c.longer is None and c.safer is None and c.days[0] == c.days[1] for c in result.crops)


def test_few_crops_are_told_one_by_one():
    from sowcal.outputs.document import screen_text
    from sowcal.outputs.json_form import compare_json
    from sowcal.outputs.place_document import compare_document

    result = compare_sites("wrackhythe", "sallowdene", ["carrot", "lemon"])
    text = screen_text(compare_document(result))
    rows = {line.split()[0]: line.split() for line in text.split("\n") if line[:6] in ("carrot", "lemon ")}
    for crop in compare_json(result)["crops"]:
        said = rows[crop["crop"]]
        assert said[1:3] == [str(d) for d in crop["days_to_start"]]
        assert crop["longer"] == result.sites[0]
        assert "Wrackhythe" in said


# --- drawn lines of which the answer can be read off ---


def drawn(crop, *windows, way="sown outdoors", works=None):
    """A crop that may be started in spans (first, best, last); `works` is its share of years on each day."""
    spans = tuple(Window(a, c, b, 0.9, (0.7, 1.0), 30, 0.9) for a, b, c in windows)
    reliability = None if works is None else np.broadcast_to(works, 365).astype(float)
    return CropSeasons(crop, "family", (WayResult(way, spans, spans, (), reliability),))


def verdict(crop, grade, share=0.9, litres=None):
    return CropVerdict(crop, grade, "word", share, "heat", harvest=Harvest(litres))


def compared(chart, first, second, grades=("S1", "S1")):
    charts = tuple(replace(chart, crops=(one,), site=name) for one, name in ((first, "A"), (second, "B")))
    return compare(charts, tuple([verdict(first.crop, g)] for g in grades), ({}, {}))


@pytest.mark.parametrize(
    ("second", "shift"),
    [
        ((60, 80, 106), None),  # six days are no move
        ((60, 80, 107), (0, 7)),
        ((53, 80, 100), (-7, 0)),
        ((67, 80, 100), (7, 0)),
        ((60, 125, 160), (0, 60)),  # 45 days between the best starts are one season
        ((60, 126, 160), None),
        ((60, 35, 100), None),
        ((330, 80, 100), (-95, None)),  # more than three months: another season
        ((335, 80, 100), (-90, 0)),
    ],
)
def test_windows_that_moved(chart, second, shift):
    found = compared(chart, drawn("leek", (60, 80, 100)), drawn("leek", second)).moved
    if shift is None or shift[1] is None:
        assert found == ()
        return
    (entry,) = found
    assert (entry["opens_later_days"], entry["closes_later_days"]) == shift
    assert (entry["from"], entry["to"]) == ((60, second[0]), (100, second[2]))
    assert (entry["crop"], entry["way"]) == ("leek", "sown outdoors")


def test_windows_about_new_year_move_the_short_way_round(chart):
    (entry,) = compared(chart, drawn("leek", (350, 360, 5)), drawn("leek", (5, 10, 20))).moved
    assert (entry["opens_later_days"], entry["closes_later_days"]) == (20, 15)


def test_of_two_windows_the_nearest_by_its_best_start_is_meant(chart):
    (entry,) = compared(chart, drawn("leek", (60, 80, 100)), drawn("leek", (240, 250, 260), (70, 90, 100))).moved
    assert entry["from"] == (60, 70)
    another_way = drawn("leek", (70, 90, 100), way="set out")
    assert compared(chart, drawn("leek", (60, 80, 100)), another_way).moved == ()
    assert compared(chart, drawn("leek", (60, 80, 100)), drawn("leek")).moved == ()
    assert compared(chart, drawn("leek"), drawn("leek", (60, 80, 100))).moved == ()


@pytest.mark.parametrize(
    ("grades", "gained", "lost", "carried", "sound", "unsaid", "better"),
    [
        (("S1", "S2"), (), (), (1, 1), (1, 0), (0, 0), (["leek"], [])),
        (("S3", "S2"), ("leek",), (), (0, 1), (0, 0), (0, 0), ([], ["leek"])),
        (("S2", "S3"), (), ("leek",), (1, 0), (0, 0), (0, 0), (["leek"], [])),
        (("N", None), (), (), (0, 0), (0, 0), (0, 1), ([], [])),
        (("S3", "N"), (), (), (0, 0), (0, 0), (0, 0), (["leek"], [])),
    ],
)
def test_what_each_place_carries(chart, grades, gained, lost, carried, sound, unsaid, better):
    result = compared(chart, drawn("leek", (350, 0, 9), (100, 100, 100)), drawn("leek"), grades)
    assert (result.gained, result.lost) == (gained, lost)
    told = result.better
    assert (told["crops_carried"], told["crops_sound"], told["crops_cannot_say"]) == (carried, sound, unsaid)
    assert (told["crops_judged"], told["better_in"]) == (1, better)
    assert told["days_of_recommended_starts"] == (26, 0)


def test_counts_of_longer_safer_and_litres(chart):
    """Of water the middle of the crops of which it is known at both places."""
    names = ("a", "b", "c", "d")
    lines = [tuple(drawn(n, (0, 0, end)) for n, end in zip(names, ends, strict=True))
             for ends in ((20, 20, 20, 5), (5, 5, 20, 20))]  # fmt: skip
    charts = tuple(replace(chart, crops=side) for side in lines)
    shares, litres = ((0.9, 0.9, 0.9, 0.9), (0.84, 0.96, 0.9, 0.8)), ((10, 20, 90, None), (30, 50, 60, 1))
    verdicts = tuple(
        [verdict(n, "S1", s, w) for n, s, w in zip(names, of, water, strict=True)]
        for of, water in zip(shares, litres, strict=True)
    )
    result = CompareResult(("A", "B"), ({}, {}), (), (), crops=crops_beside(charts, verdicts))
    assert result.longer == (2, 1)
    assert result.safer == (2, 1)
    assert result.litres == (20.0, 50.0, 3)
    nothing = CompareResult(("A", "B"), ({}, {}), (), ()).litres
    assert np.isnan(nothing[:2]).all()
    assert nothing[2] == 0


def test_some_years_against_all_tell_every_window_and_the_crops_that_come_and_go(chart):
    whole = [drawn("a", (60, 80, 100)), drawn("b", (60, 80, 100)), drawn("c"), drawn("d")]
    chosen = [drawn("a", (60, 80, 100)), drawn("b"), drawn("c", (60, 80, 100)), drawn("d")]
    found = against_whole(chart.record, whole, chosen)
    assert [(m["crop"], m["opens_later_days"], m["closes_later_days"]) for m in found.moved] == [("a", 0, 0)]
    assert (found.gained, found.lost) == (("c",), ("b",))


def test_what_the_last_years_move_is_asked_of_the_best_day_of_all_years():
    works = np.full(365, 0.5)
    works[80] = 0.7
    first = drawn("a", (60, 80, 100), works=0.9)
    (moved,) = crops_recent([first], [drawn("a", (60, 70, 90), works=works)])
    assert (moved.days, moved.odds) == (-10, pytest.approx(-0.2))
    works[80] = np.nan
    assert crops_recent([first], [drawn("a", (60, 70, 90), works=works)])[0].odds is None
    assert crops_recent([first], [drawn("a", way="set out", works=0.9)])[0].odds is None
    assert crops_recent([first], [drawn("a", works=0.9)])[0].days == -41
    assert crops_recent([drawn("a", works=0.9)], [drawn("a", works=0.9)]) == ()
    assert crops_recent([drawn("a", (60, 80, 100))], [first]) == ()  # months by custom: odds by day are not known


def test_a_crop_of_which_one_way_has_odds_by_day_is_told_by_that_way():
    """The months in which its stock is planted are custom, and take no part in the best day."""
    custom, sown = drawn("a", (300, 310, 320), way="planted").starts, drawn("a", (60, 80, 100), works=0.9).starts
    works = np.full(365, 0.4)
    later = replace(drawn("a", works=works), starts=(*custom, *drawn("a", (60, 80, 90), works=works).starts))
    for starts in ((*custom, *sown), (*sown, *custom)):
        (moved,) = crops_recent([replace(drawn("a"), starts=starts)], [later])
        assert (moved.days, moved.odds) == (-10, pytest.approx(-0.5))


def test_middle_days_and_mean_odds_of_the_last_years():
    found = RecentYears(15, 30.0, (CropRecent("a", 2, 0.1), CropRecent("b", 10, None), CropRecent("c", 3, -0.3)))
    assert (found.days, found.odds) == (3.0, pytest.approx(-0.1))
    assert (RecentYears(15, 30.0).days, RecentYears(15, 30.0).odds) == (0.0, None)


def test_only_crops_of_both_places_stand_beside_each_other(chart):
    """In the order of their names; what one place alone has a line or a verdict of is left out."""
    names = (("d", "b", "a"), ("b", "c", "d"))
    charts = tuple(replace(chart, crops=tuple(drawn(n) for n in some)) for some in names)
    verdicts = tuple([verdict(n, "S1") for n in some] for some in (("a", "b", "c", "d"), ("a", "b", "c", "d")))
    assert [c.crop for c in crops_beside(charts, verdicts)] == ["b", "d"]
    fewer = (verdicts[0][:2], verdicts[1])
    assert [c.crop for c in crops_beside(charts, fewer)] == ["b"]
    assert [c.crop for c in crops_beside(charts, fewer[::-1])] == ["b"]


def test_the_best_day_of_several_windows_is_the_one_that_works_in_most_years():
    """Odds now of the second window's best day, which worked in 95 years of 100, and not of the first's."""
    first = drawn("a", (60, 80, 100), (240, 250, 260), works=0.9)
    windows = tuple(replace(w, reliability=r) for w, r in zip(first.starts[0].windows, (0.9, 0.95), strict=True))
    first = replace(first, starts=(replace(first.starts[0], windows=windows),))
    works = np.full(365, 0.9)
    works[250] = 0.85
    assert crops_recent([first], [drawn("a", works=works)])[0].odds == pytest.approx(-0.1)


def test_lines_that_do_not_belong_together_are_no_pair(chart):
    two, one = [drawn("a"), drawn("b")], [drawn("a")]
    with pytest.raises(ValueError, match=r"shorter|longer"):
        against_whole(chart.record, two, one)
    with pytest.raises(ValueError, match=r"shorter|longer"):
        crops_recent(one, two)
    charts = (replace(chart, crops=tuple(two)), replace(chart, crops=tuple(one)))
    with pytest.raises(ValueError, match=r"shorter|longer"):
        compare(charts, ([verdict("a", "S1")], [verdict("a", "S1")]), ({}, {}))


def test_a_crop_has_dates_where_one_of_its_ways_has(chart):
    """Of two ways one has dates: the crop neither comes nor goes with it, and does where that loses them."""
    dated, bare = drawn("a", (60, 80, 100)), drawn("a", way="set out")
    both = replace(dated, starts=(*dated.starts, *bare.starts))
    none = replace(bare, starts=(*drawn("a").starts, *bare.starts))
    assert against_whole(chart.record, [dated], [both]).gained == ()
    assert against_whole(chart.record, [both], [dated]).lost == ()
    assert against_whole(chart.record, [both], [none]).lost == ("a",)
    assert against_whole(chart.record, [none], [both]).gained == ("a",)
