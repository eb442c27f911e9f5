"""The sheet of a crop, its JSON and BibTeX, names in other languages, and files of growers made for older tables."""

import json
import re
from dataclasses import replace

import pytest

from sowcal.__main__ import main
from sowcal.crops.handbook import LANGUAGES, find_crops, handbook, is_given, named_crops
from sowcal.crops.own_values import with_own_values
from sowcal.crops.sheet import bibtex, cited, sheet, unknown_values
from sowcal.crops.tables import crop_data, table_descriptions
from sowcal.errors import InputError

BOOK = handbook()


def printed(capsys, *words):
    assert main(["crops", *words]) == 0
    return capsys.readouterr().out


def test_json_gives_every_value_with_its_source(capsys):
    answer = json.loads(printed(capsys, "chickpea", "--json"))
    (crop,) = answer["crops"]
    keys = {s["key"] for s in answer["sources"]}
    assert all(v["source"] in keys for v in crop["values"] if v["basis"])
    (base,) = [v for v in crop["values"] if (v["table"], v["quantity"]) == ("growth", "base_temperature")]
    assert (base["value"], base["unit"], base["basis"]) == (4, "degC", "published")
    assert {a["source"] for a in base["alternatives"]} == {"chickpea-iran-2006", "anwar-2003"}
    given = sum(
        is_given(r.get(c.name, ""))
        for name in ("growth", "cold", "heat", "water", "garden", "flowering")
        for r in BOOK.rows(name, "chickpea")
        for c in table_descriptions()[name].value_columns
    )
    of_these = ("growth", "cold", "heat", "water", "garden", "flowering")
    assert sum(v["table"] in of_these for v in crop["values"]) == given


def test_the_list_of_all_crops_stays_short(capsys):
    answer = json.loads(printed(capsys, "--json"))
    assert len(answer["crops"]) == len(BOOK)
    assert all("values" not in crop for crop in answer["crops"])


def test_bibtex_is_well_formed_and_names_each_source_once(capsys):
    text = printed(capsys, "lentil", "--bibtex")
    keys = re.findall(r"^@(?:article|misc)\{([\w-]+),$", text, flags=re.MULTILINE)
    assert keys == [s.key for s in cited(sheet(BOOK, "lentil"))]
    assert len(keys) == len(set(keys)) > 3
    assert {BOOK.sources[key].basis for key in keys} <= {"published", "derived"}  # what was not read is not cited
    assert text.count("{") == text.count("}")
    assert "author = {McKenzie, B.A.; Hill, G.D.}" not in text  # BibTeX parts authors by 'and'
    assert "author = {McKenzie, B.A. and Hill, G.D.}" in text
    for line in text.splitlines():
        assert re.fullmatch(r"@\w+\{[\w-]+,|  \w+ = \{.*\},|\}|", line), line


def test_signs_of_tex_are_escaped():
    source = BOOK.sources["uc-ipm-corn-2017"]
    assert r"5\% \& more" in bibtex([replace(source, title="5% & more")])


def test_the_sheet_tells_where_it_was_read_and_what_was_not_taken(capsys):
    text = printed(capsys, "chickpea")
    assert "not taken: 1 (published)" in text
    flat = " ".join(text.split())
    assert "discovery.researcher.life/article/0da287a51ba2376097306b49cd9aee21" in flat
    assert "flowering to mature pod 761" in flat


def test_what_is_not_applicable_is_not_called_unknown():
    unknown = unknown_values(BOOK, "courgette")
    assert "ways.nursery_weeks_least" not in unknown  # sown outdoors
    assert "germination.thermal_time" not in unknown  # it has a row of days
    assert "heat.night_limit" in unknown  # nobody knows


def test_every_name_of_another_language_finds_its_crop():
    for row in BOOK.rows("names"):
        kinds = {c.kind for c in BOOK.values()} | set(BOOK)
        assert row["crop"] in kinds, row
        assert row["language"] in LANGUAGES
        try:
            answer = " ".join(c.name for c in find_crops(BOOK, row["name"]))
        except InputError as asked:
            answer = str(asked)
            told = row["crop"] in answer or "no longer taken" in answer
        else:
            told = bool(answer)
        assert told, row


@pytest.mark.parametrize(("word", "crop"), [("beringela", "aubergine"), ("ROMERO", "rosemary"), ("فول", "broad bean")])
def test_a_name_of_another_language(word, crop):
    assert [c.name for c in find_crops(BOOK, word)] == [crop]


def test_names_of_two_words_need_no_quotes():
    assert next(c.name for c in named_crops(BOOK, ["grão", "de", "bico", "ajo"])) == "chickpea"


def test_a_name_that_stands_for_two_crops_is_asked_back(capsys):
    assert main(["crops", "batata"]) == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert "sweet potato in Spanish" in said
    assert "potato in Portuguese" in said


def write(tmp_path, name, text):
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return str(path)


@pytest.mark.parametrize("row", [r for r in BOOK.rows("renamed") if r["kind"] == "column"], ids=lambda r: str(r["old"]))
def test_files_with_columns_of_the_first_tables_are_read(row, tmp_path):
    columns = table_descriptions()[row["table"]].columns
    assert all(new in columns for new in row["new"].split("|"))
    keys = {"crop": "leek", "way": "set out", "model": "portions"}
    value = next(c for c in columns.values() if (c.number and c.greatest == c.greatest) or c.name == "family")
    cells = {k: keys[k] for k in table_descriptions()[row["table"]].key} | {
        value.name: "Alliaceae" if value.name == "family" else f"{value.greatest:g}",
        row["old"]: "mine",
    }
    text = ",".join(cells) + "\n" + ",".join(cells.values()) + "\n"
    assert with_own_values((write(tmp_path, f"{row['table']}.csv", text),))["leek"]


def test_a_file_with_a_crop_that_was_renamed_is_refused_with_the_new_word(tmp_path, monkeypatch):
    """No crop of the bundled tables need have been renamed; one is made up."""
    from sowcal.crops import own_values

    rows = own_values.read_tables()
    rows["renamed"].append(
        {"kind": "crop", "table": "crops", "old": "old leek", "new": "leek (a)|leek (b)", "since": "9", "why": "parted"}
    )
    monkeypatch.setattr(own_values, "read_tables", lambda: rows)
    with pytest.raises(InputError, match=r"'old leek' is now leek \(a\) or leek \(b\)"):
        with_own_values((write(tmp_path, "cold.csv", "crop,killing_grown\nold leek,-7\n"),))


def test_a_grower_s_killing_temperature_is_of_tissue(tmp_path):
    book = with_own_values((write(tmp_path, "cold.csv", "crop,killing_grown\nleek,-7\n"),))
    assert BOOK.rows("cold", "leek")[0]["killing_grown_measure"] == "dead, air"
    assert book["leek"].cold.killing_grown == -7


def test_the_folder_alone_tells_who_made_it_and_how_to_cite_it():
    package = json.loads((crop_data() / "datapackage.json").read_text(encoding="utf-8"))
    readme = (crop_data() / "README.md").read_text(encoding="utf-8")
    assert package["licenses"][0]["path"] == "LICENSE"
    assert package["contributors"][0]["title"] in readme
    assert package["version"] in readme
    assert package["keywords"]
    assert package["sources"]
    for resource in package["resources"]:
        assert f"`{resource['path']}`" in readme, resource["path"]
        assert "n/a" in resource["schema"]["missingValues"]
    assert {r["version"] for r in BOOK.rows("changes")} == {package["version"]}
