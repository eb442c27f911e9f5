"""Stored water as the fourth setting of the chart, and want of it as the reason that is told."""

import json
import re

import pytest

from sowcal.__main__ import main
from sowcal.answers import rate_crops, sowing_chart


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


def told(capsys, *words):
    assert main([*words, "--width", "200"] if words[0] != "page" else list(words)) == 0
    return capsys.readouterr().out


def test_a_crop_that_stored_water_does_not_reach_is_told_so_with_the_litres(capsys):
    """It was 'a gamble, 10 years in 10 (ripens too slowly)'."""
    text = told(capsys, "rate", "sallowdene", "tomato (large)", "--most-water", "250")
    assert "what limits it most: want of water" in text
    assert "ripens too slowly" not in text
    drawn = int(re.search(r"draws (\d+) litres per square metre in a dry year; 250 are allowed", text)[1])
    assert 250 < drawn < 2000
    assert f"with {drawn + 1} litres of stored water per m2 in a dry year: sound" in text
    enough = told(capsys, "rate", "sallowdene", "tomato (large)", "--most-water", str(drawn + 1))
    assert "SOUND" in enough


def test_chart_week_page_and_json_say_the_same(capsys, tmp_path):
    asked = ("sallowdene", "tomato (large)", "--most-water", "250")
    assert re.search(r"want of water: tomato \(large\) \(draws \d+ litres/m2\)", told(capsys, "chart", *asked))
    (line,) = json.loads(told(capsys, "chart", *asked, "--json"))["crops"]
    (start,) = line["starts"]
    assert start["windows"] == start["possible"] == []
    assert "want of water" in {o["hazard"] for o in start["outside"]}
    assert start["want_of_water"]["litres_per_m2"] > start["want_of_water"]["litres_per_m2_allowed"] == 250
    assert max(start["daily"]) < 0.5
    (verdict,) = json.loads(told(capsys, "rate", *asked, "--json"))["crops"]
    assert (verdict["class"], verdict["limiting_factor"]) == ("N", "want of water")
    assert verdict["evidence"]["litres_per_m2_in_a_dry_year"] == round(start["want_of_water"]["litres_per_m2"])
    assert "No day of the year is advised" in told(capsys, "week", *asked, "--date", "2026-05-14")
    main(["page", *asked, "--out", str(tmp_path / "page.html")])
    page = (tmp_path / "page.html").read_text(encoding="utf-8")
    (row,) = re.findall(r'<span class="when">([^<]*)</span>', page)
    assert row == "No dates as safe as asked for: want of water."


def test_on_rain_alone_too(capsys):
    asked = ("sallowdene", "melon", "--rain-fed")
    assert "want of water: melon" in told(capsys, "chart", *asked)
    assert "what limits it most: want of water" in told(capsys, "rate", *asked)


@pytest.mark.usefixtures("answers_kept_between_tests")
def test_where_the_crop_fails_anyway_the_climate_is_the_reason():
    plain = {v.crop: v for v in rate_crops("wrackhythe", most_remedies=0)[1]}
    dry = {v.crop: v for v in rate_crops("wrackhythe", most_remedies=0, most_water=50.0)[1]}
    stopped = [c for c, v in plain.items() if v.suitability == "N" and "years_lived" not in v.evidence]
    assert stopped
    for crop in stopped:
        assert dry[crop].limiting_factor == plain[crop].limiting_factor != "want of water"
    taken = [c for c, v in plain.items() if v.suitability == "S1" and dry[c].suitability == "N"]
    assert len(taken) > 10
    assert {dry[c].limiting_factor for c in taken} == {"want of water"}


def test_more_water_never_makes_it_worse():
    shares = [
        rate_crops("sallowdene", ["courgette"], most_water=litres, most_remedies=0)[1][0].reliability
        for litres in (0.0, 200.0, 400.0, 800.0, 1600.0)
    ]
    assert shares == sorted(shares)
    assert shares[0] < 0.2  # a few wet autumns ask for none
    assert shares[-1] > 0.9


def test_rain_alone_in_the_last_years_beside_all_of_them(capsys):
    """The rule of the chosen years was asked about days of the whole record."""
    assert "AGAINST THE WHOLE RECORD" in told(capsys, "chart", "sallowdene", "pea", "--rain-fed", "--years", "15")


@pytest.mark.parametrize("most", [-1.0, float("nan")])
def test_no_amount_of_water_is_refused(most):
    from sowcal.errors import InputError

    with pytest.raises(InputError, match="no amount of stored water"):
        rate_crops("sallowdene", ["pea"], most_water=most)
