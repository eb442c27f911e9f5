"""Code under one licence, tables under another: the project says so, and what is installed carries both texts."""

from __future__ import annotations

import json
import os
import re
import tomllib
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
TABLES = ROOT / "crop_data"


def test_the_licence_of_code_and_of_tables_are_named_and_their_texts_listed():
    of_tables = json.loads((TABLES / "datapackage.json").read_text(encoding="utf-8"))["licenses"][0]["name"]
    assert PROJECT["license"] == f"BSD-3-Clause AND {of_tables}"
    assert PROJECT["license-files"] == ["LICENSE", "crop_data/LICENSE"]
    assert all((ROOT / name).is_file() for name in PROJECT["license-files"])


def test_the_text_of_the_tables_licence_is_whole():
    text = (TABLES / "LICENSE").read_text(encoding="utf-8")
    assert text.startswith("Creative Commons Attribution 4.0 International")
    headings = re.findall(r"^Section (\d) – (.+)\.$", text, flags=re.MULTILINE)
    assert headings == [
        ("1", "Definitions"),
        ("2", "Scope"),
        ("3", "License Conditions"),
        ("4", "Sui Generis Database Rights"),
        ("5", "Disclaimer of Warranties and Limitation of Liability"),
        ("6", "Term and Termination"),
        ("7", "Other Terms and Conditions"),
        ("8", "Interpretation"),
    ]
    assert 2500 < len(text.split()) < 2600  # the legal code with what Creative Commons sets before and after it


def test_readme_names_both_licences_and_where_they_stand():
    part = (ROOT / "README.md").read_text(encoding="utf-8").partition("## Licence")[2]
    assert all(word in part for word in ("BSD 3-Clause (`LICENSE`)", "CC BY 4.0 (`crop_data/LICENSE`)"))


def test_the_pythons_claimed_are_those_named():
    named = [c.rpartition(" ")[2] for c in PROJECT["classifiers"] if re.search(r":: 3\.\d+$", c)]
    assert named == ["3.11", "3.12", "3.13"]
    assert PROJECT["requires-python"] == f">={named[0]}"


def test_the_wheel_carries_both_texts(tmp_path):
    build = pytest.importorskip("hatchling.build", reason="builds a wheel: pip install hatchling")
    here = os.getcwd()
    os.chdir(ROOT)
    try:
        name = build.build_wheel(str(tmp_path))
    finally:
        os.chdir(here)
    with zipfile.ZipFile(tmp_path / name) as wheel:
        about = next(n.partition("/")[0] for n in wheel.namelist() if ".dist-info/" in n)
        for file in PROJECT["license-files"]:
            assert wheel.read(f"{about}/licenses/{file}") == (ROOT / file).read_bytes()
        assert wheel.read("sowcal/crop_data/LICENSE") == (TABLES / "LICENSE").read_bytes()
        assert f"License-Expression: {PROJECT['license']}" in wheel.read(f"{about}/METADATA").decode().splitlines()
