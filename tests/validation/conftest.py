"""The programs of this folder import one another by name, as they do when run."""

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))


@pytest.fixture(autouse=True, scope="module")
def one_chart_a_station(answers_of_this_run):
    """Guides, yardsticks, tables and perennials ask the same stations for the whole handbook."""
    with answers_of_this_run():
        yield
