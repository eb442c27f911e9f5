"""The ground of a map: edges of cells, the coast as the grid itself tells it, heights, and what an axis shows."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from sowcal.outputs.figure_style import INK, SEA

if TYPE_CHECKING:
    import xarray as xr
    from matplotlib.axes import Axes

__all__ = ["Ground", "coast_segments"]


def _edges(middles: np.ndarray, step: float) -> np.ndarray:
    """Edges half way between the middles of cells; `step` where there is but one."""
    if middles.size == 1:
        return np.array([middles[0] - step / 2, middles[0] + step / 2])
    between = 0.5 * (middles[1:] + middles[:-1])
    return np.concatenate([[2 * middles[0] - between[0]], between, [2 * middles[-1] - between[-1]]])


def coast_segments(land: np.ndarray, x: np.ndarray, y: np.ndarray) -> list[list[tuple[float, float]]]:
    """Edges of cells between land and sea.

    Parameters
    ----------
    land : numpy.ndarray of bool
        Shape (ny, nx).
    x, y : numpy.ndarray
        Edges of the cells, shape (nx + 1,) and (ny + 1,).

    Returns
    -------
    list of [(x, y), (x, y)]
    """
    out = []
    for j, i in zip(*np.nonzero(land[:, 1:] != land[:, :-1]), strict=True):
        out.append([(x[i + 1], y[j]), (x[i + 1], y[j + 1])])
    for j, i in zip(*np.nonzero(land[1:] != land[:-1]), strict=True):
        out.append([(x[i], y[j + 1]), (x[i + 1], y[j + 1])])
    return out


class Ground:
    """Where the cells of a map lie.

    Parameters
    ----------
    dataset : xarray.Dataset
        A map.
    land : numpy.ndarray of bool
        Cells with a record, shape (ny, nx); the others are taken for sea. No outline of the world comes with the
        package: those that need no network are far coarser than a region's grid.
    """

    def __init__(self, dataset: xr.Dataset, land: np.ndarray):
        def of(kind: str) -> Any:
            return next(c for c in dataset.coords.values() if c.attrs.get("standard_name") == kind)

        self.land = land
        lat, lon = of("latitude").values, of("longitude").values
        lon = np.where(lon > 180.0, lon - 360.0, lon) if lon.max(initial=0.0) > 180.0 and lon.min() > 180.0 else lon
        self.plain = lat.ndim == 1
        if self.plain:
            step = max((np.abs(np.diff(v)).min() for v in (lat, lon) if v.size > 1), default=0.1)
            self.x, self.y = _edges(lon, step), _edges(lat, step)
        else:
            self.x, self.y = lon, lat
        middle = float(np.mean(lat))
        self.aspect = 1.0 / max(np.cos(np.radians(middle)), 0.1)
        self.height = dataset["height"].values if "height" in dataset.coords else None

    @property
    def shape(self) -> float:
        """Height of the map over its width, as drawn."""
        return float(np.ptp(self.y)) * self.aspect / max(float(np.ptp(self.x)), 1e-9)

    def paint(self, axes: Axes, values: np.ndarray, **look: Any) -> Any:
        """The values of the cells, sea, coast and frame; returns what a colour bar needs."""
        axes.set_facecolor("white")
        axes.patch.set(hatch="--", edgecolor=SEA)
        shown = np.ma.masked_invalid(np.where(self.land, values, np.nan))
        drawn = axes.pcolormesh(self.x, self.y, shown, shading="flat" if self.plain else "nearest", **look)
        self._coast(axes)
        axes.set_aspect(self.aspect)
        axes.xaxis.set_major_formatter(lambda v, _: f"{abs(v):g}°{'E' if v > 0 else 'W' if v < 0 else ''}")
        axes.yaxis.set_major_formatter(lambda v, _: f"{abs(v):g}°{'N' if v > 0 else 'S' if v < 0 else ''}")
        axes.locator_params(nbins=5)
        axes.tick_params(labelsize=6.5, length=2)
        return drawn

    def hatch(self, axes: Axes, here: np.ndarray, pattern: str) -> None:
        """Hatch some cells, run by run along each row."""
        from matplotlib.collections import PolyCollection

        if not self.plain:
            return
        edge = np.diff(np.pad(here.astype(np.int8), ((0, 0), (1, 1))), axis=1)
        rows, first = np.nonzero(edge == 1)
        _, last = np.nonzero(edge == -1)
        x, y = self.x, self.y
        corners = [
            [(x[a], y[j]), (x[b], y[j]), (x[b], y[j + 1]), (x[a], y[j + 1])]
            for j, a, b in zip(rows, first, last, strict=True)
        ]
        axes.add_collection(
            PolyCollection(corners, facecolor="none", edgecolor=INK, linewidth=0.0, hatch=pattern, alpha=0.6),
            autolim=False,
        )

    def _coast(self, axes: Axes) -> None:
        from matplotlib.collections import LineCollection

        if self.plain:
            segments = coast_segments(self.land, self.x, self.y)
            axes.add_collection(LineCollection(segments, colors=INK, linewidths=0.8, capstyle="round"), autolim=False)
        elif self.land.any() and not self.land.all():
            axes.contour(self.x, self.y, self.land.astype(float), levels=[0.5], colors=INK, linewidths=0.8)

    def heights(self, axes: Axes) -> None:
        """Lines of equal height, where the grid tells heights."""
        from matplotlib.patheffects import withStroke

        if not self.plain or self.height is None or min(self.height.shape) < 4 or np.isfinite(self.height).sum() < 16:
            return
        top = float(np.nanmax(self.height))
        step = next((s for s in (50, 100, 250, 500, 1000) if top / s <= 5), 2000)
        levels = np.arange(step, top, step)
        if levels.size == 0:
            return
        x, y = (0.5 * (e[1:] + e[:-1]) for e in (self.x, self.y))
        halo: Any = [withStroke(linewidth=1.4, foreground="white")]  # legible on dark ground too
        lines = axes.contour(x, y, np.ma.masked_invalid(self.height), levels=levels, colors=INK, linewidths=0.5)
        lines.set_path_effects(halo)
        for text in axes.clabel(lines, fmt="%d m", fontsize=6, inline_spacing=1):
            text.set_path_effects(halo)
