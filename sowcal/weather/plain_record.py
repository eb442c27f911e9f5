"""A daily record as plain arrays, for answers that need no labels.

The import of xarray takes as long as a whole chart. A generated record is complete as it is made, so it is handed
on like this and becomes a dataset only where one is asked for.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    import xarray as xr

__all__ = ["PlainRecord", "labelled"]


@dataclass(frozen=True)
class _Values:
    """Values of one name, as `dataset[name]` gives them."""

    values: np.ndarray

    def __float__(self) -> float:
        return float(self.values)


@dataclass(frozen=True)
class PlainRecord:
    """One site's days, read by name like the dataset that they can be made into.

    Attributes
    ----------
    variables, coords : mapping
        Name to (dimensions, values, attributes), as `xarray.Dataset` takes them.
    attrs : dict
        Attributes of the whole.
    """

    variables: Mapping[str, tuple[Any, Any, dict[str, Any]]]
    coords: Mapping[str, tuple[Any, Any, dict[str, Any]]]
    attrs: dict[str, Any] = field(default_factory=dict)

    def __contains__(self, name: str) -> bool:
        return name in self.variables or name in self.coords

    def __getitem__(self, name: str) -> _Values:
        return _Values(np.asarray((self.variables if name in self.variables else self.coords)[name][1]))

    @property
    def sizes(self) -> dict[str, int]:
        """Days of the record."""
        return {"time": len(self.coords["time"][1])}

    def labelled(self) -> xr.Dataset:
        """The dataset."""
        import xarray as xr

        return xr.Dataset(dict(self.variables), dict(self.coords), self.attrs)


def labelled(record: xr.Dataset | PlainRecord) -> xr.Dataset:
    """The dataset of a record, whichever it is."""
    return record.labelled() if isinstance(record, PlainRecord) else record
