"""A record without labels reads like the dataset it can be made into, and a chart of a bundled plot needs no more."""

import datetime as dt
import subprocess
import sys

import numpy as np
import pytest

from sowcal.weather.open_site import open_plain, open_weather
from sowcal.weather.site_file import bundled_names


@pytest.mark.parametrize("name", bundled_names())
def test_it_is_the_dataset_without_labels(name):
    site, plain = open_plain(name.upper(), dt.date(2026, 1, 15))
    _, dataset = open_weather(name)
    assert site.name == dataset.attrs["title"]
    assert plain.labelled().identical(dataset)
    assert plain.attrs == dataset.attrs
    assert plain.sizes["time"] == dataset.sizes["time"]
    for variable in [*dataset.variables]:
        assert variable in plain
        np.testing.assert_array_equal(plain[variable].values, dataset[variable].values)
    assert float(plain["latitude"]) == float(dataset["latitude"])
    assert "hurs" not in plain


def test_other_words_have_none():
    assert open_plain("courgette", dt.date(2026, 1, 15)) is None
    assert open_plain("-31.9,115.9", dt.date(2026, 1, 15)) is None


def test_a_chart_of_a_bundled_plot_imports_no_tables_and_no_pictures():
    code = (
        "import sys, sowcal; sowcal.sowing_chart('wrackhythe', ['pea']);"
        "print(sorted({'xarray', 'pandas', 'matplotlib', 'meteostat'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
