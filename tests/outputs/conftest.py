"""The made-up chart and climate that the tests of every output share."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import pytest


@pytest.fixture(scope="session")
def made_up():
    """Module with the made-up chart."""
    spec = importlib.util.spec_from_file_location("made_up", Path(__file__).with_name("made_up.py"))
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def chart(made_up):
    """Forty crops."""
    return made_up.chart()
