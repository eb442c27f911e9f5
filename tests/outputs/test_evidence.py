"""Sentences behind a verdict: dates as people write them, hazards as they befall a tree, and nothing left out."""

import re
from dataclasses import replace

import pytest

from sowcal import rate_crops
from sowcal.outputs.document import screen_text
from sowcal.outputs.verdict_document import (
    change_words,
    evidence_sentences,
    limit_words,
    picked_words,
    verdict_document,
)
from sowcal.outputs.wording import record_text
from sowcal.suitability.results import CropVerdict, Record


@pytest.fixture(scope="module")
def verdicts():
    _, found = rate_crops("sallowdene", ["olive", "rhubarb", "runner bean", "courgette"])
    return {v.crop: v for v in found}


def test_frost_takes_an_olive_s_crop_and_a_bean_s_life(verdicts):
    olive = verdicts["olive"]
    assert olive.limiting_factor == "frost"
    assert limit_words(olive) == "frost spoils crop"
    assert limit_words(replace(olive, evidence={})) == "killed by frost"


def test_no_date_of_a_file_and_no_key_of_a_program_stands_in_the_text(verdicts):
    """MM-DD and names_with_strokes are for files; people read '12 Nov' and words."""
    for verdict in verdicts.values():
        text = screen_text(verdict_document("Nook", Record("1991-01-01", "2020-12-31", 30.0, "observed"), verdict))
        assert not re.search(r"\b\d\d-\d\d\b|_", text), text
        assert "None" not in text


def test_every_piece_of_evidence_is_told(verdicts):
    """A value that is changed changes a sentence, but for those that another sentence holds."""
    told_elsewhere = {"years_that_succeed", "years_decided", "yield_fraction"}
    of_one_sentence = {"years_cropped", "share_of_years", "if_they_are_harsher"}
    for verdict in verdicts.values():
        said = evidence_sentences(verdict)
        for key in sorted(of_one_sentence & verdict.evidence.keys()):
            moved = "moved" if isinstance(verdict.evidence[key], str) else verdict.evidence[key] + 0.07
            assert evidence_sentences(replace(verdict, evidence={**verdict.evidence, key: moved})) != said, key
        for key in verdict.evidence.keys() - told_elsewhere - of_one_sentence:
            rest = {k: v for k, v in verdict.evidence.items() if k != key}
            assert evidence_sentences(replace(verdict, evidence=rest)) != said, key


@pytest.mark.parametrize(
    ("picked", "words"),
    [
        ("11-12 to 01-26", "12 Nov to 26 Jan"),
        ("01-01 to 12-31", "all year"),
        ("12-28 to 12-28", "28 Dec"),
        ("", ""),
    ],
)
def test_picking_of_a_perennial_in_words(picked, words):
    assert picked_words({"picked_in_the_middle_year": picked} if picked else {}) == words


def test_shares_never_pass_the_whole(verdicts):
    window = replace(verdicts["courgette"].evidence["window"], reliability=1 + 1e-12, yield_fraction=1.0000001)
    text = " ".join(evidence_sentences(CropVerdict("x", "S1", "sound", 1.0, None, {"window": window})))
    assert "100%" in text
    assert not re.search(r"10[1-9]%|100\.", text)


def test_one_day_is_a_day():
    words = record_text(Record("1981-01-01", "2012-09-30", 31.7, "observed", 1, 2))
    assert re.search(r"\b1 day\b.* filled", words)
    assert "1 days" not in words
    assert "2 days missing" in words


def test_a_change_is_told_with_the_word_it_lifts_to(verdicts):
    assert change_words("a cold frame: thrives") == "with a cold frame: thrives"
    for verdict in verdicts.values():
        for change in verdict.what_would_change_it:
            assert change_words(change).count(": ") == 1
