"""Quantiles of a few values against numpy's, to the bit."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from sowcal.suitability.windows import median, quantiles

VALUES = st.floats(-1e3, 1e3)
SHARES = [0.0, 0.025, 0.1, 0.5, 0.9, 0.975, 1.0]


@given(hnp.arrays(float, st.integers(1, 40), elements=VALUES))
def test_quantiles_are_numpys(values):
    assert quantiles(values, SHARES) == np.quantile(values, SHARES).tolist()
    assert quantiles(values, [0.1, 0.5, 0.9]) == np.percentile(values, [10, 50, 90]).tolist()


@given(hnp.arrays(float, st.integers(1, 40), elements=VALUES | st.just(np.nan)))
def test_median_is_numpys(values):
    if np.isnan(values).all():
        assert np.isnan(median(values))
    else:
        assert median(values) == np.nanmedian(values)
