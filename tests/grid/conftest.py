"""What the tests of grids share; without dask they are skipped and say so."""

import pytest

pytest.importorskip("dask", reason="dask is not installed: pip install 'sowcal[grid]'")
