"""What tests of every part share."""

from __future__ import annotations

import os
from pathlib import Path

import pytest


@pytest.fixture(scope="session")
def reference_folder() -> Path:
    """Folder of published values (`reference`) and station records (`weather`) that are not part of "
    "the project."""
    named = os.environ.get("SOWCAL_REFERENCE")
    if not named:
        pytest.skip("SOWCAL_REFERENCE is not set: it names the folder of published values and station records")
    folder = Path(named)
    if not folder.is_dir():
        pytest.skip(f"SOWCAL_REFERENCE names {named}, which is not a folder")
    return folder


@pytest.fixture(autouse=True, scope="session")
def no_files_of_the_user() -> None:
    """Crops and fetched weather of whoever runs the tests must not decide them."""
    os.environ["SOWCAL_CROPS"] = ""
