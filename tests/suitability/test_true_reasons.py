"""The reason that a verdict tells is the one that decides it."""

import sys
from pathlib import Path

import numpy as np
import pytest

from sowcal.answers import rate_crops
from sowcal.outputs.chart_document import chart_document
from sowcal.outputs.document import screen_text
from sowcal.outputs.evidence_words import evidence_sentences
from sowcal.seasons.season import HAZARDS
from sowcal.suitability.annuals import best_start, limiting_factor, rate_annual
from sowcal.suitability.results import CropSeasons, Outside, WayResult
from sowcal.suitability.windows import ByDay

sys.path.insert(0, str(Path(__file__).parents[1] / "validation"))
import guides


def verdict_at(folder, station, crop):
    _, (verdict,) = rate_crops(guides.station_record(folder, station), [crop], most_remedies=0)
    return verdict, " / ".join(evidence_sentences(verdict))


def test_a_winter_too_mild_is_not_told_as_chill_unmet(reference_folder):
    """1007 hours of chill where 300 to 600 are needed, and 'winter chill unmet in 29 years'.

    The mean is that of USDA Leaflet 555, 40 degF; a sum was read for no rhubarb out of doors.
    """
    verdict, text = verdict_at(reference_folder, "san_diego_ca", "rhubarb")
    assert verdict.limiting_factor == "winter too mild"
    for station in ("palma", "perth", "a_coruna"):
        verdict, text = verdict_at(reference_folder, station, "rhubarb")
        assert verdict.suitability != "N"
        assert "years_of_chill_unmet" not in verdict.evidence
        assert "chill_here" not in verdict.evidence
        assert "chill" not in text.replace("chilling", "")
        assert "winters up to 4.4 °C cost it nothing" in text


def test_the_source_told_is_that_of_the_limit_that_decides(reference_folder):
    """A lemon was denied by a recalled limit of growing wood, told as read in a published source: its fruit's."""
    verdict, text = verdict_at(reference_folder, "palma", "lemon")
    assert (verdict.word, verdict.limiting_factor) == ("crops with a check", "frost")
    assert verdict.evidence["deciding_limit_rests_on"] == "published"
    assert "LSU AgCenter" in verdict.evidence["deciding_limit"]["source"]
    assert f"{verdict.evidence['deciding_limit']['value']:g} °C" in text
    verdict, text = verdict_at(reference_folder, "de_bilt", "lemon")
    assert (verdict.limiting_factor, verdict.evidence["deciding_limit_rests_on"]) == ("winter kill", "memory")
    assert "recalled, not looked up" in text


def test_a_winter_annual_is_not_told_to_crop_in_no_year(reference_folder):
    verdict, text = verdict_at(reference_folder, "seville", "rhubarb")
    assert verdict.word == "grown as a winter annual"
    assert verdict.limiting_factor == "summer kill"
    assert verdict.reliability == verdict.evidence["as_a_winter_annual"]["years"] / verdict.evidence["years_decided"]
    lived, cropped = verdict.evidence["years_lived"], verdict.evidence["years_cropped"]
    assert cropped <= 1
    assert f"Kept as a perennial it lives through {lived} of 30 years, crops in {cropped}" in text
    assert len(verdict.answer["lives"]["summers_killed"]) == 30 - lived > 15


def test_what_thrives_in_every_year_names_no_limit(reference_folder):
    """Asparagus: 'thrives', 29 of 29 years, limit chill unmet; and part of a chill is told with what it costs."""
    _, verdicts = rate_crops(guides.station_record(reference_folder, "san_diego_ca"), most_remedies=0)
    lives = [v for v in verdicts if v.word == "thrives" and v.reliability == 1.0]
    assert lives
    for v in lives:
        spoils = [k for k in v.evidence if k.startswith("years_of_")]
        assert v.limiting_factor is None or spoils, v
        if v.evidence["share_of_a_full_crop"] < 0.9:
            assert v.evidence["takes_of_a_full_crop"]


def test_five_years_in_a_row_are_told_where_there_are_five(reference_folder):
    """Hobart's four whole years were told as 'five years in a row 10 times in 10'."""
    verdict, text = verdict_at(reference_folder, "hobart", "asparagus")
    assert "runs_of_5_years_survived" not in verdict.evidence
    assert "no five whole years in a row" in text


def test_a_short_record_is_no_lack_of_figures():
    """A perennial on two years was listed under 'handbook lacks figures'."""
    from sowcal.answers import open_record
    from sowcal.weather.years import chosen_years

    chart, _ = rate_crops(chosen_years(open_record("sallowdene")[1], "2", "--years"), ["fig"], most_remedies=0)
    text = screen_text(chart_document(chart))
    assert "record too short: fig" in text
    assert "handbook lacks figures" not in text


def test_planting_months_are_custom_where_a_perennial_fits():
    chart, verdicts = rate_crops("sallowdene", ["fig", "blackcurrant"], most_remedies=0)
    outside = {line.crop: line.starts[0].outside for line in chart.crops}
    limit = {v.crop: v.limiting_factor for v in verdicts}
    assert outside["fig"] == ()
    assert [o.hazard for o in outside["blackcurrant"]] == [limit["blackcurrant"]] != [None]


def found(reliability, lost):
    """Folded start days of ten years with losses by hazard."""
    shares = np.zeros((len(HAZARDS), 365))
    for hazard, share in lost.items():
        shares[HAZARDS.index(hazard)] = share
    none, full = np.full((10, 365), np.nan), np.ones(365)
    decided = np.full(365, 10)
    return ByDay(np.arange(10), none, none, reliability, full, full, decided, shares, none, none, None)


def test_what_stops_the_best_start_is_the_reason_not_what_closes_the_rest():
    """Frost closes ten months; heat takes six years in ten from the only starts that ever work."""
    reliability = np.zeros(365)
    reliability[100:140] = 0.4
    frost, heat = 1.0 - (reliability > 0), 0.6 * (reliability > 0)
    days = found(reliability, {"frost": frost, "heat": heat})
    best = best_start(days, (), days, False)
    assert (best.hazard, best.share_of_years, best.reliability) == ("heat", 0.6, 0.4)
    assert 100 <= best.day < 140
    way = WayResult("sown outdoors", (), (), (Outside(140, 99, "frost", 1.0),), reliability, best_start=best)
    assert limiting_factor([way]) == "heat"
    verdict = rate_annual(CropSeasons("x", "y", (way,), limiting_factor=limiting_factor([way])))
    assert (verdict.word, verdict.limiting_factor, verdict.evidence["hazard"]) == ("not here", "heat", "heat")
    assert verdict.reliability == pytest.approx(0.4)


def test_where_no_start_is_better_what_closes_most_of_the_year_is():
    nothing = np.zeros(365)
    way = WayResult("sown outdoors", (), (), (Outside(0, 9, "heat", 1.0), Outside(10, 364, "frost", 1.0)), nothing)
    assert limiting_factor([way]) == "frost"
    assert limiting_factor([]) is None
