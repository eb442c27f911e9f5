"""What the tests of weather share: the real cache of fetched records is never touched."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
from local_service import running, write_station_list


@pytest.fixture(autouse=True)
def own_cache(tmp_path_factory, monkeypatch):
    """A folder of the test's own in place of the user's."""
    folder = tmp_path_factory.mktemp("cache")
    monkeypatch.setitem(os.environ, "SOWCAL_CACHE", str(folder))
    return folder


@pytest.fixture(scope="module")
def address():
    """Address of a local server in the place of the real service."""
    with running() as where:
        yield where


@pytest.fixture(scope="module")
def station_list(tmp_path_factory):
    """File with the list of stations."""
    return write_station_list(tmp_path_factory.mktemp("stations") / "stations.db")
