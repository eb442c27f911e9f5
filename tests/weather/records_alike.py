"""When two daily records are the same, for tests only."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sowcal.weather.cf_dataset import attributes_of


def assert_alike(got, wanted, *, facts=True):
    """Days, values to the last bit, origins, place, hours and, where asked for, every fact beside them."""
    np.testing.assert_array_equal(got.time, wanted.time)
    assert got.time.dtype == wanted.time.dtype
    assert list(got.values) == list(wanted.values)
    assert list(got.origin) == list(wanted.origin)
    for name, array in wanted.values.items():
        np.testing.assert_array_equal(got[name], array, err_msg=name)
        assert got[name].dtype == array.dtype
        np.testing.assert_array_equal(got.origin[name], wanted.origin[name], err_msg=name)
        assert got.origin[name].dtype == wanted.origin[name].dtype
    for name in ("latitude", "longitude", "elevation"):
        np.testing.assert_array_equal(getattr(got, name), getattr(wanted, name), err_msg=name)
    for name in ("open_range", "hours"):
        one, other = getattr(got, name), getattr(wanted, name)
        assert (one is None) == (other is None)
        if other is not None:
            np.testing.assert_array_equal(one, other, err_msg=name)
    if facts:
        assert attributes_of(got) == attributes_of(wanted)
        assert got.felt == wanted.felt


def unlocked(record):
    """A copy whose arrays can be written to, to plant a fault in."""
    out = replace(record)
    for name in ("values", "origin"):
        object.__setattr__(out, name, {k: v.copy() for k, v in getattr(record, name).items()})
    return out
