"""No evidence contradicts its verdict: every crop on every record at hand, the cases that do named one by one.

    python tests/hard/test_contradictions.py            print what is found and not listed, and what is listed no more
    python tests/hard/test_contradictions.py --write    keep the list as it is found now, only where it has shrunk

`contradictions.csv` may only shrink: a case that is not listed fails, and so does a listed one that is mended and still
listed. Each waits for the part it belongs to: how perennials are judged, or how windows are made.
"""

from __future__ import annotations

import csv
import os
import sys
from functools import cache
from pathlib import Path

import numpy as np
import pytest

HERE = Path(__file__).parent
for folder in (HERE, HERE.parent / "validation"):
    if str(folder) not in sys.path:
        sys.path.insert(0, str(folder))

import guides  # noqa: E402
from contradictions import CLASS_OF, RANK, contradictions  # noqa: E402
from test_extremes import CASES, made  # noqa: E402

from sowcal.answers import open_handbook, open_record, rate_crops  # noqa: E402
from sowcal.outputs.document import screen_text  # noqa: E402
from sowcal.outputs.json_form import chart_json, rate_json  # noqa: E402
from sowcal.outputs.verdict_document import (  # noqa: E402
    evidence_sentences,
    limit_words,
    verdict_document,
)
from sowcal.seasons.site_days import SiteDays  # noqa: E402
from sowcal.settings import Settings  # noqa: E402
from sowcal.suitability.verdicts import hangs_on_its_numbers, judge_crops  # noqa: E402

LIST = HERE / "contradictions.csv"
PLOTS = ("wrackhythe", "sallowdene")
WATERS = {"250 litres": {"most_water": 250.0}, "700 litres": {"most_water": 700.0}, "rain": {"rain_fed": True}}
# less water for each plot: the rules are the same on either, and a chart on stored water is long to reckon
HERE_ALWAYS = [*PLOTS, *CASES, "sallowdene, 250 litres", "wrackhythe, 700 litres"]
HERE_ALWAYS += [f"{plot}, {more}" for plot in PLOTS for more in ("rain", "ends")]
# records that are not part of the project, each by the name of its file
STATIONS = (
    "a_coruna", "albany_wa", "algiers", "alice_springs", "athens_hellinikon", "cordoba_es", "de_bilt",
    "dublin_airport", "five_points_ca", "fort_collins_co", "hobart", "irkutsk", "madrid", "nuriootpa_sa", "palma",
    "perth", "san_diego_ca", "seville", "valencia",
)  # fmt: skip


@cache
def listed() -> dict[str, set[tuple[str, str]]]:
    """Crop and contradiction of each listed case, by record."""
    out: dict[str, set[tuple[str, str]]] = {}
    with open(LIST, newline="", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            out.setdefault(row["record"], set()).add((row["crop"], row["contradiction"]))
    return out


def ends_of(plot: str) -> set[tuple[str, str]]:
    """Crops that are told to fare worse at the kind end of what is known of their numbers."""
    book = open_handbook()
    site = SiteDays.from_record(open_record(plot)[1], Settings())
    out = set()
    for crop in book.values():
        ((_, verdict),) = judge_crops(site, [crop], book, calendar=False)
        e = hangs_on_its_numbers(site, crop, verdict, book).evidence
        if (kinder := e.get("if_its_limits_are_kinder")) is not None:
            grades = [RANK[CLASS_OF[w]] for w in (kinder, verdict.word, e["if_they_are_harsher"])]
            if grades != sorted(grades):
                out.add((crop.name, "kinder numbers make it worse"))
    return out


def found(name: str, folder: Path | None = None) -> set[tuple[str, str]]:
    """Every contradiction of one record."""
    plot, _, water = name.partition(", ")
    if water == "ends":
        return ends_of(plot)
    if name in CASES:
        dataset = made(name)
    elif folder is not None:
        dataset = guides.station_record(folder, name)
    else:
        dataset = open_record(plot)[1]
    # perennials do not hear of these waters: their cases stand under the plot itself
    crops = [c.name for c in open_handbook().values() if c.perennial is None] if water else ()
    return set(contradictions(*rate_crops(dataset, crops, most_remedies=0, **WATERS.get(water, {}))))


def compare(name: str, now: set[tuple[str, str]]) -> None:
    kept = listed().get(name, set())
    assert not now - kept, f"{name}: contradictions that are not listed: {sorted(now - kept)}"
    assert not kept - now, f"{name}: mended and still listed, take them off {LIST.name}: {sorted(kept - now)}"


# the same charts are made by test_extremes.py, whose check it is that nothing warns: whoever is first makes them
@pytest.mark.filterwarnings("error")
@pytest.mark.usefixtures("answers_kept_between_tests")
@pytest.mark.parametrize("name", HERE_ALWAYS)
def test_no_evidence_contradicts_its_verdict(name):
    compare(name, found(name))


@pytest.mark.usefixtures("answers_kept_between_tests")
@pytest.mark.parametrize("station", STATIONS)
def test_no_evidence_contradicts_its_verdict_on_a_real_record(station, reference_folder):
    compare(station, found(station, reference_folder))


def test_every_record_at_hand_is_tried(reference_folder):
    assert set(STATIONS) == {p.stem for p in (reference_folder / "weather").glob("*.csv")} - {"stations"}
    assert set(listed()) <= {*HERE_ALWAYS, *STATIONS}


def test_the_checks_see_what_they_are_for():
    """Each of these was told once, of a crop on a real record."""
    from dataclasses import replace

    chart, verdicts = rate_crops("sallowdene", ["rhubarb", "olive", "tomato (large)"], most_remedies=0)
    by_crop = {v.crop: v for v in verdicts}

    def broken(verdict, **changes):
        evidence = {**verdict.evidence, **changes.pop("evidence", {})}
        changed = replace(verdict, evidence=evidence, **changes)
        lines = [replace(x, limiting_factor=changed.limiting_factor) for x in chart.crops if x.crop == changed.crop]
        return {rule for _, rule in contradictions(replace(chart, crops=tuple(lines)), [changed])}

    rhubarb, olive, tomato = (by_crop[c] for c in ("rhubarb", "olive", "tomato (large)"))
    assert not broken(tomato)
    met = {"years_short_of_chill": 0, "years_of_chill_unmet": 29}
    assert "chill met and told as unmet" in broken(olive, evidence=met)
    assert "chill unmet and no chill asked for" in broken(
        olive, limiting_factor="chill unmet", evidence={"chill_here": None}
    )
    killed = {**olive.answer, "lives": {**olive.answer["lives"], "winters_killed": [2000]}}
    assert "years killed and years lived" in broken(olive, answer=killed)
    assert "the strip and the years" in broken(olive, strip=olive.strip[1:])
    assert "a sort on the wrong side of nine years in ten" in broken(
        olive, sorts_that_fit=({"sort": "x", "portions": [300, 300], "source": ""},)
    )
    assert "odds and years cropped" in broken(olive, reliability=0.01)
    assert "a winter annual without its winters" in broken(
        rhubarb,
        word="grown as a winter annual",
        suitability="S3",
        reliability=0.0,
        evidence={"as_a_winter_annual": {"years": 0, "growth_left": 0.1}},
    )
    assert "want of water where water is had for the asking" in broken(tomato, limiting_factor="want of water")
    assert "word and class" in broken(tomato, word="chancy")
    assert "odds of the verdict and of its window" in broken(tomato, reliability=0.3)
    assert "thrives and its limit fails in most years" in broken(
        olive, word="thrives", suitability="S1", limiting_factor="frost", evidence={"years_of_frost": 29}
    )


@pytest.mark.usefixtures("answers_kept_between_tests")
@pytest.mark.parametrize("asked", [{}, {"most_water": 250.0}, {"rain_fed": True}])
def test_python_json_and_text_agree(asked):
    chart, verdicts = rate_crops("sallowdene", most_remedies=0, **asked)
    rated = {c["crop"]: c for c in rate_json(chart.site, chart.record, verdicts)["crops"]}
    charted = {c["crop"]: c for c in chart_json(chart)["crops"]}
    for v in verdicts:
        told = rated[v.crop]
        assert (told["class"], told["word"], told["limiting_factor"]) == (v.suitability, v.word, v.limiting_factor)
        assert told["reliability"] == (None if v.reliability is None else pytest.approx(v.reliability, abs=6e-4))
        text = screen_text(verdict_document(chart.site, chart.record, v), width=10_000)
        assert v.word.upper() in text
        assert v.limiting_factor is None or limit_words(v) in text
        for sentence in evidence_sentences(v):
            assert sentence.replace("°C", "degC") in text
        advised = [w["reliability"] for s in charted[v.crop]["starts"] for w in s["windows"]]
        if advised and v.suitability:
            assert any(r == pytest.approx(told["reliability"], abs=2e-3) for r in advised)
        for start in charted[v.crop]["starts"]:
            for outside in start["outside"]:
                assert 0 < outside["share_of_years"] <= 1
                assert np.isfinite(outside["share_of_years"])


def main(words: list[str]) -> int:
    """Print how the list and what is found differ; keep the list with --write."""
    folder = Path(os.environ["SOWCAL_REFERENCE"])
    cases = {name: found(name) for name in HERE_ALWAYS} | {name: found(name, folder) for name in STATIONS}
    kept = listed() if LIST.is_file() else {}
    for name, now in cases.items():
        for sign, some in (("+", now - kept.get(name, set())), ("-", kept.get(name, set()) - now)):
            for crop, rule in sorted(some):
                print(f"{sign} {name}: {crop}: {rule}")
    if words == ["--write"]:
        if kept and any(now - kept.get(name, set()) for name, now in cases.items()):
            print("the list may only shrink: mend what is new")
            return 1
        of_windows = {"an advised day below the odds asked for", "chancy and works as often as asked"}
        annuals = {c.name for c in open_handbook().values() if c.perennial is None}
        with open(LIST, "w", newline="", encoding="utf-8") as file:
            rows = csv.writer(file, lineterminator="\n")
            rows.writerow(("record", "crop", "contradiction", "belongs_to"))
            for name, now in cases.items():
                for crop, rule in sorted(now):
                    part = "windows" if rule in of_windows or crop in annuals else "perennials"
                    rows.writerow((name, crop, rule, part))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
