"""What these tests share: helpers beside them and those of the weather tests, and folders that are their own."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).parent
for folder in (HERE, HERE.parent / "weather"):
    if str(folder) not in sys.path:
        sys.path.insert(0, str(folder))


@pytest.fixture(autouse=True)
def own_folders(tmp_path_factory, monkeypatch):
    """No fetched weather and no crops of whoever runs the tests."""
    monkeypatch.setitem(os.environ, "SOWCAL_CACHE", str(tmp_path_factory.mktemp("cache")))
    monkeypatch.setitem(os.environ, "SOWCAL_CROPS", "")
