"""A grower's own crops and values over the handbook."""

import pytest

from sowcal.__main__ import main
from sowcal.answers import rate_crops
from sowcal.crops.handbook import handbook
from sowcal.crops.own_values import own_crops, with_own_values
from sowcal.errors import InputError


def write(tmp_path, name, text):
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return str(path)


def test_one_value_changes_and_says_whose_it_is(tmp_path, capsys):
    file = write(tmp_path, "cold.csv", "crop,killing_young\ncourgette,-3\n")
    book = with_own_values((file,))
    assert book["courgette"].cold.killing_young == -3
    assert book["courgette"].cold.killing_grown == handbook()["courgette"].cold.killing_grown
    assert own_crops(book) == ["courgette"]
    assert handbook()["courgette"].cold.killing_young != -3
    assert main(["crops", "courgette", "--crops", file]) == 0
    assert "grower's own" in capsys.readouterr().out
    assert main(["rate", "courgette", "--crops", file]) == 0
    assert "values of your own stand behind: courgette" in capsys.readouterr().err


def test_a_new_sort_like_another(tmp_path):
    crops = write(tmp_path, "crops.csv", "crop,like\ntomato (gran's),tomato (cherry)\n")
    ways = write(
        tmp_path, "my-ways.csv", "crop,way,thermal_time_low,thermal_time_high\ntomato (gran's),set out,400,500\n"
    )
    book = with_own_values((crops, ways))
    new, old = book["tomato (gran's)"], book["tomato (cherry)"]
    assert new.growth == old.growth
    assert new.ways[0].thermal_time_low == 400
    _, (verdict,) = rate_crops("sallowdene", ["tomato (gran's)"], crop_files=(crops, ways))
    assert verdict.suitability is not None


@pytest.mark.parametrize(
    ("name", "text", "says"),
    [
        ("cold.csv", "crop,killing_young\ncourgette,-99\n", "line 2, column killing_young: -99 is outside"),
        ("cold.csv", "crop,killing_young\ncorgette,-3\n", "'corgette' is not in the handbook"),
        ("mine.csv", "crop,base_temperature\ncourgette,5\n", "not clear which table"),
        ("growth.csv", "crop,base_temprature\ncourgette,5\n", "did you mean 'base_temperature'"),
        ("crops.csv", "crop,like\nx,y\n", "there is no crop 'y' to be like"),
    ],
)
def test_a_bad_file_is_refused_whole(tmp_path, name, text, says):
    with pytest.raises(InputError) as caught:
        with_own_values((write(tmp_path, name, text),))
    assert says in str(caught.value)


def test_the_folder_of_the_user_is_read_without_asking(tmp_path, monkeypatch, capsys):
    write(tmp_path, "cold.csv", "crop,killing_young\nleek,-20\n")
    monkeypatch.setenv("SOWCAL_CROPS", str(tmp_path))
    assert main(["crops", "leek"]) == 0
    assert "-20 degC" in capsys.readouterr().out


def test_a_file_that_was_changed_is_read_again(tmp_path):
    for base in ("3.5", "4.5"):
        file = write(tmp_path, "growth.csv", f"crop,base_temperature\ncarrot,{base}\n")
        (row,) = [r for r in with_own_values((file,)).rows("growth") if r["crop"] == "carrot"]
        assert row["base_temperature"] == float(base)
