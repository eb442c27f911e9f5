"""Two places crop by crop: which window is longer, which is safer."""

from dataclasses import replace

import pytest

from sowcal import compare_sites, rate_crops
from sowcal.suitability.compare import crops_beside
from sowcal.suitability.results import CropSeasons, CropVerdict, WayResult, Window


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


@pytest.mark.parametrize(
    ("days", "shares", "longer", "safer"),
    [
        ((10, 16), (0.9, 0.94), None, None),
        ((10, 17), (0.9, 0.96), 1, 1),
        ((30, 10), (0.5, 1.0), 0, 1),
        ((10, 10), (None, 1.0), None, None),
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
