"""Stored water as the fourth setting of the chart."""

from sowcal.answers import sowing_chart


def days(chart):
    return sum((w.end - w.start) % 365 + 1 for line in chart.crops for s in line.starts for w in s.windows)


def test_less_water_leaves_fewer_starts_and_the_winter_ones():
    crops = ["broad bean", "courgette"]
    plenty = sowing_chart("sallowdene", crops)
    some = sowing_chart("sallowdene", crops, most_water=300.0)
    none = sowing_chart("sallowdene", crops, most_water=0.0)
    assert days(plenty) > days(some) > days(none) == 0
    bean, courgette = some.crops
    assert any(s.windows for s in bean.starts)
    assert not any(s.windows and s.way == "sown outdoors" and 120 < s.windows[0].best < 200 for s in courgette.starts)
