"""What the tests of weather share: the real cache of fetched records is never touched."""

from __future__ import annotations

import os

import pytest


@pytest.fixture(autouse=True)
def own_cache(tmp_path_factory, monkeypatch):
    """A folder of the test's own in place of the user's."""
    folder = tmp_path_factory.mktemp("cache")
    monkeypatch.setitem(os.environ, "SOWCAL_CACHE", str(folder))
    return folder
