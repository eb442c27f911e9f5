"""Kept answers equal fresh ones to the byte; every change of what they rest on wants another key."""

import datetime as dt
import json
import os
from dataclasses import fields, is_dataclass, replace
from importlib.resources import files

import numpy as np
import pytest

import sowcal
from sowcal import answers, kept_answers
from sowcal.__main__ import main
from sowcal.answers import open_record, rate_crops, record_of, sowing_chart
from sowcal.climate import summary
from sowcal.climate.summary import climate_summary
from sowcal.crops.handbook import _prepared, handbook
from sowcal.kept_answers import KeptAnswers, crop_digest, record_digest, summarised
from sowcal.kept_files import keeping, make_room
from sowcal.languages import phrase, say, speaking
from sowcal.provenance import MadeBy
from sowcal.settings import Settings
from sowcal.units import measuring, quantity
from sowcal.weather.record import parts_of

CROPS = ("courgette", "leek", "rhubarb", "fig")
BOOK = handbook()


@pytest.fixture(autouse=True)
def folder(tmp_path, monkeypatch):
    monkeypatch.setenv("SOWCAL_CACHE", str(tmp_path))
    return tmp_path / "answers"


def told(capsys, *words, issued="2026-01-15"):
    assert main([*words, "--issued", issued]) == 0
    return capsys.readouterr().out


@pytest.mark.parametrize(
    "command",
    [
        ("chart", "--json"),
        ("rate", "--json"),
        ("week", "--json"),
        ("rate",),
        ("rate", "--language", "pt"),
        ("rate", "--units", "us"),
    ],
)
def test_a_kept_answer_is_a_fresh_one_to_the_byte(capsys, folder, command):
    name, *how = command
    asked = (name, "sallowdene", *CROPS, *how)
    fresh = told(capsys, *asked, "--fresh")
    assert not folder.exists()
    assert told(capsys, *asked) == fresh
    assert list(folder.iterdir())
    assert told(capsys, *asked) == fresh


def test_a_kept_plan_is_a_fresh_one_until_the_garden_or_the_day_is_another(capsys, folder, tmp_path):
    garden, plot = tmp_path / "mine.garden.toml", files("sowcal") / "plots" / "sallowdene.garden.toml"
    garden.write_text(plot.read_text(encoding="utf-8"), encoding="utf-8")
    asked = ("garden", str(garden), "--json")
    fresh = told(capsys, *asked, "--fresh")
    assert told(capsys, *asked) == fresh
    (kept,) = folder.with_name("prepared").glob("garden-*.kept")
    written = kept.stat().st_ino
    assert told(capsys, *asked) == fresh
    assert told(capsys, "garden", str(garden), "--all") == told(capsys, "garden", str(garden), "--all", "--fresh")
    assert kept.stat().st_ino == written
    garden.write_text(garden.read_text(encoding="utf-8").replace("people = ", "people = 1"), encoding="utf-8")
    assert (more := told(capsys, *asked)) != fresh
    assert more == told(capsys, *asked, "--fresh")
    later = "2031-03-04"
    assert later in told(capsys, *asked, issued=later) == told(capsys, *asked, "--fresh", issued=later)


def test_a_page_of_kept_windows_is_a_fresh_one_to_the_byte(capsys, folder, monkeypatch, tmp_path):
    target, reckoned = tmp_path / "page.html", []
    steps = answers.steps_of_settings
    monkeypatch.setattr(answers, "steps_of_settings", lambda *asked: reckoned.append(1) or steps(*asked))

    def page(*how, crop="radish"):
        reckoned.clear()
        told(capsys, "page", "sallowdene", crop, "--years", "5", "--out", str(target), *how)
        return target.read_bytes(), len(reckoned)

    fresh, july = page("--fresh")[0], page("--first-month", "7", "--fresh")[0]
    assert page() == (fresh, 2)  # with what water there is, and on less
    assert page() == (fresh, 0)
    assert page("--first-month", "7") == (july, 0)  # the windows are those of any month; the weeks are not
    assert page("--least-yield", "0.45")[1] == page(crop="rocket")[1] == 2
    for what in ("told", "packed", "steps"):
        for file in prepared_files(tmp_path, what):
            file.write_bytes(file.read_bytes()[:-1])
    assert page() == (fresh, 2)
    for file in prepared_files(tmp_path, "told"):
        file.unlink()
    assert page() == (fresh, 0)


def test_figures_of_a_place_are_kept_by_its_days_and_made_by_this_version(folder, tmp_path, monkeypatch):
    name, days = open_record("sallowdene")
    record = record_of(days)
    fresh = climate_summary(days, name, record)
    with keeping():
        assert repr(summarised(days, name, record)) == repr(summarised(days, name, record)) == repr(fresh)
        (file,) = prepared_files(tmp_path, "climate")
        monkeypatch.setattr(summary, "climate_summary", lambda *asked: "anew")
        monkeypatch.setattr(sowcal, "__version__", "9.9.9")
        assert summarised(days, name, record) == replace(fresh, made_by=MadeBy(records=fresh.made_by.records))
        monkeypatch.setattr(summary, "climate_summary", lambda *asked: replace(fresh, site="anew"))
        warmer = days.with_values({"tasmax": days["tasmax"] + (np.arange(days.time.size) == 700)})
        assert summarised(warmer, name, record).site == summarised(days, "mine", record).site == "anew"
        file.write_bytes(file.read_bytes()[:-1])
        assert summarised(days, name, record).site == "anew"


def test_a_sentence_is_kept_with_its_template_and_told_again(folder):
    chart, verdicts = rate_crops("sallowdene", ["fig"])
    said = phrase("{count} of {what}", count=2.5, what=phrase("want of water"))
    deep = phrase("a frost hollow {amount} deep", amount=quantity(2, "degC apart"))
    pair = chart.crops[0], replace(verdicts[0], cautions=(said, deep))
    KeptAnswers("key").judged([BOOK["fig"]], BOOK, lambda _: [pair])
    ((_, again),) = KeptAnswers("key").judged([BOOK["fig"]], BOOK, lambda _: pytest.fail("it was kept"))
    assert again.cautions == (said, deep)
    with speaking("pt"):
        assert say(again.cautions[0]) == "2,5 of falta de água"
    with measuring("us"):
        assert say(again.cautions[1]) == "a frost hollow 3.6 degF deep"


def test_python_keeps_nothing_unless_asked(folder):
    sowing_chart("sallowdene", CROPS)
    assert not folder.exists()


def test_kept_answers_are_read_and_an_edited_crop_costs_one_crop(capsys, folder, monkeypatch, tmp_path):
    judged = []
    fresh = kept_answers.KeptAnswers.judged

    def counted(self, crops, book, judge):
        return fresh(self, crops, book, lambda some: judged.append([c.name for c in some]) or judge(some))

    monkeypatch.setattr(kept_answers.KeptAnswers, "judged", counted)
    told(capsys, "chart", "sallowdene", *CROPS)
    told(capsys, "chart", "sallowdene", *CROPS)
    assert judged == [list(CROPS)]
    own = tmp_path / "growth.csv"
    own.write_text("crop,base_temperature\nleek,2\n", encoding="utf-8")
    changed = told(capsys, "chart", "sallowdene", *CROPS, "--crops", str(own))
    assert judged[1:] == [["leek"]]
    assert changed == told(capsys, "chart", "sallowdene", *CROPS, "--crops", str(own), "--fresh")


@pytest.mark.parametrize(
    "damage",
    [
        lambda raw: b"",
        lambda raw: raw[: len(raw) // 2],
        lambda raw: raw[:2000] + bytes([raw[2000] ^ 255]) + raw[2001:],
        lambda raw: b"not an archive at all",
    ],
)
def test_damage_is_reckoned_anew(capsys, folder, damage):
    before = told(capsys, "chart", "sallowdene", "courgette")
    (file,) = folder.iterdir()
    file.write_bytes(damage(file.read_bytes()))
    assert told(capsys, "chart", "sallowdene", "courgette") == before


def prepared_files(tmp_path, what):
    return list((tmp_path / "prepared").glob(f"{what}-*.kept"))


def test_the_prepared_handbook_is_that_of_the_files(folder, tmp_path):
    with keeping():
        fresh, kept = _prepared(), _prepared()
    (file,) = prepared_files(tmp_path, "handbook")
    assert list(kept) == list(fresh) == list(BOOK)
    assert repr(dict(kept)) == repr(dict(BOOK))
    assert [json.dumps(kept.rows(t)) for t in kept.tables] == [json.dumps(BOOK.rows(t)) for t in BOOK.tables]
    assert (dict(kept.sources), kept.fingerprint, kept.words) == (BOOK.sources, BOOK.fingerprint, BOOK.words)
    file.write_bytes(file.read_bytes()[:-1])
    with keeping():
        assert repr(dict(_prepared())) == repr(dict(BOOK))


def test_days_of_a_file_are_kept_until_a_byte_of_it_changes(folder, tmp_path):
    record = open_record("sallowdene")[1]
    lines = [f"{d},{a:.1f},{b:.1f}" for d, a, b in zip(record.time, record["tasmin"], record["tasmax"], strict=True)]
    lines[40] = f"{record.time[40]},31.0,30.0"  # a minimum above the maximum is told in notes and findings
    path = tmp_path / "days.csv"

    def asked(day="2026-01-15"):
        found = open_record(path, issued=dt.date.fromisoformat(day))[1]
        return [part for part in parts_of(found) if b"issued" not in part], found

    path.write_text("# latitude: 38.4\ndate,tmin_degC,tmax_degC\n" + "\n".join(lines) + "\n", encoding="utf-8")
    fresh, _ = asked()
    with keeping():
        assert asked()[0] == fresh
        (file,) = prepared_files(tmp_path, "days")
        assert asked()[0] == fresh
        assert len(prepared_files(tmp_path, "findings")) == 1
        asked("2027-03-04")  # another day of issue after the last day finds the same
        assert len(prepared_files(tmp_path, "findings")) == 1
        asked("2010-03-04")  # days after it lie in the future
        assert len(prepared_files(tmp_path, "findings")) == 2
        file.write_bytes(file.read_bytes()[:3000])
        assert asked()[0] == fresh
        path.write_text(path.read_text(encoding="utf-8").replace("31.0,30.0", "3.0,30.0"), encoding="utf-8")
        assert asked()[1]["tasmin"][40] == 3.0
    assert not list(prepared_files(tmp_path, "generated"))


def test_a_folder_that_cannot_be_made_costs_nothing(capsys, folder):
    folder.write_text("a file stands where the folder would", encoding="utf-8")
    assert told(capsys, "chart", "sallowdene", "courgette")


def other(value):
    """Something else of the same kind."""
    if isinstance(value, bool):
        return not value
    if isinstance(value, str):
        return f"{value}x"
    return value + 1 if value == value else 1.0


def test_every_setting_and_every_day_wants_another_key():
    _, record = open_record("sallowdene")
    usual = Settings()
    changed = {
        "reliability": 0.7, "least_yield": 0.4, "near_best": 0.8, "longest": 2.0, "bed_day": 0.001, "seedbed": "bare",
        "edge_draws": 10, "tissue_offset_most": 1.0, "every": 3,
    }  # fmt: skip
    assert set(changed) == {f.name for f in fields(Settings)}
    keys = [record_digest(record, usual), record_digest(record, usual, (100.0, False))]
    keys += [record_digest(record, replace(usual, **{name: value})) for name, value in changed.items()]
    for name, values in record.values.items():
        moved = np.array(values)
        moved[1234] += 0.1
        keys.append(record_digest(record.with_values({name: moved}), usual))
    keys += [record_digest(replace(record, latitude=record.latitude + 0.001), usual)]
    assert len(set(keys)) == len(keys)
    assert record_digest(open_record("sallowdene")[1], Settings()) == keys[0]


def variants(thing):
    """The same thing with one plain field changed, at any depth."""
    for field in fields(thing):
        value = getattr(thing, field.name)
        if is_dataclass(value):
            changed = variants(value)
        elif isinstance(value, tuple) and value and is_dataclass(value[0]):
            changed = ((new, *value[1:]) for new in variants(value[0]))
        elif isinstance(value, str | int | float):
            changed = iter([other(value)])
        else:
            continue
        for new in changed:
            yield replace(thing, **{field.name: new})


@pytest.mark.parametrize("name", ["courgette", "rhubarb", "apple (low-chill)"])
def test_every_field_of_a_crop_wants_another_digest(name):
    crop = BOOK[name]
    found = [crop_digest(one, BOOK) for one in variants(crop)]
    assert len(found) > 60
    assert len(set(found)) == len(found)
    assert crop_digest(crop, BOOK) not in found


def test_the_longest_unused_go_out_first(folder):
    folder.mkdir(parents=True)
    for k in range(4):
        (folder / f"answers-{k}.kept").write_bytes(bytes(1000))
        os.utime(folder / f"answers-{k}.kept", (k, k))
    make_room(folder, 2500)
    assert sorted(p.name for p in folder.iterdir()) == ["answers-2.kept", "answers-3.kept"]


def test_two_at_once_lose_nothing(folder):
    def judge(some):
        return [(name_line(c.name), verdict(c.name)) for c in some]

    first, second = KeptAnswers("k"), KeptAnswers("k")
    first.judged([BOOK["leek"]], BOOK, judge)
    second.judged([BOOK["courgette"]], BOOK, judge)
    calls = []
    KeptAnswers("k").judged([BOOK["leek"], BOOK["courgette"]], BOOK, lambda some: calls.append(some) or judge(some))
    assert not calls


def name_line(name):
    from sowcal.suitability.results import CropSeasons

    return CropSeasons(name, "family", ())


def verdict(name):
    from sowcal.suitability.results import CropVerdict

    return CropVerdict(name, "S1", "sound", 0.9, None, {"a": np.float64(1.5), "b": (1, [2.0, None])})
