"""The ground of a map: edges of cells, the coast as the grid itself tells it, heights, and what an axis shows."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

import numpy as np

from sowcal.outputs.figure_style import (
    A4,
    CLASS_LOOKS,
    INK,
    MONTH_COLOURS,
    SCALE,
    SEA,
    STYLE,
    heading,
    new_figure,
    shown,
)
from sowcal.outputs.terminal import wrap
from sowcal.outputs.wording import NO_PROMISE, odds_text
from sowcal.units import converted, measured, unit_word
from sowcal.year import MONTH_STARTS, MONTHS, YEAR, date_text

if TYPE_CHECKING:
    import xarray as xr
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = [
    "Ground",
    "coast_segments",
    "map_figures",
]


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
        height = converted(self.height, "m")
        top = float(np.nanmax(height))
        step = next(s for s in (50, 100, 250, 500, 1000, 2000, 4000) if top / s <= 5 or s == _MOST[measured()])
        levels = np.arange(step, top, step)
        if levels.size == 0:
            return
        x, y = (0.5 * (e[1:] + e[:-1]) for e in (self.x, self.y))
        halo: Any = [withStroke(linewidth=1.4, foreground="white")]  # legible on dark ground too
        lines = axes.contour(x, y, np.ma.masked_invalid(height), levels=levels, colors=INK, linewidths=0.5)
        lines.set_path_effects(halo)
        for text in axes.clabel(lines, fmt=f"%d {unit_word('m')}", fontsize=6, inline_spacing=1):
            text.set_path_effects(halo)


_MOST = {"si": 2000, "us": 4000}  # between two lines of height
_HALF_MONTHS = 24


def map_figures(dataset: xr.Dataset, *, issued: dt.date | None = None) -> list[Figure]:
    """A page for each crop of a map, or one for winter chill.

    Parameters
    ----------
    dataset : xarray.Dataset
        From `map_crop` or `chill_map`.
    issued : datetime.date, optional
        Date of issue for the foot.
    """
    import matplotlib

    with matplotlib.rc_context(STYLE):
        if "chill_portions" in dataset:
            return [_chill_page(dataset, issued)]
        return [_crop_page(dataset.isel(crop=k), issued) for k in range(dataset.sizes["crop"])]


def _page(
    dataset: xr.Dataset, title: str, said: str, panels: int, ground: Ground, issued: dt.date | None
) -> tuple[Figure, list[tuple[Axes, Axes]]]:
    """A page with its head and foot, standing or lying as the region is, and axes for each map and for its key."""
    lying = panels == 2 or ground.shape < 0.75
    size = (A4[1], A4[0]) if lying else A4
    figure = new_figure(size)
    figure.text(0.05, 0.94, **heading(title, 0.9 * size[0], 14))
    figure.text(0.05, 0.918, "\n".join(wrap(shown(said), int(size[0] * 13))), fontsize=8.5, va="top")
    source, record = (dataset.attrs.get(key, "") for key in ("source", "record"))
    tables, days = (dataset.attrs.get(key) for key in ("crop_tables", "record_fingerprint"))
    made_from = f", record {days[:8]}" if days else ""
    made_from += f", crop tables {tables[:8]}" if tables else ""
    foot = f"By {source}, {record}{made_from}. Ruled: no record (sea, or outside). {NO_PROMISE}"
    lines = wrap(shown(foot), int(size[0] * 17))
    figure.text(0.05, 0.035, "\n".join(lines), fontsize=7, va="bottom", linespacing=1.35)
    if issued:
        figure.text(0.95, 0.02, f"issued {date_text(issued)}", fontsize=7, ha="right", va="bottom")
    rows = max(panels // 2, 1)
    layout = figure.add_gridspec(
        2 * rows, 2, height_ratios=[1.0, 0.045 if not lying or rows == 1 else 0.07] * rows,
        left=0.07, right=0.96, top=0.85, bottom=0.13, wspace=0.14, hspace=0.3,
    )  # fmt: skip
    maps = [
        (figure.add_subplot(layout[2 * row, column]), figure.add_subplot(layout[2 * row + 1, column]))
        for row in range(rows)
        for column in range(2)
    ]
    return figure, maps


def _crop_page(one: xr.Dataset, issued: dt.date | None) -> Figure:
    values = {name: one[name].values for name in one.data_vars}
    ground = Ground(one, np.isfinite(values["suitability_class"]))
    asked = float(one.attrs.get("reliability_asked", np.nan))
    said = f"A start is advised where it works in {odds_text(asked)} or more and near the best of its season."
    if one.attrs.get("changes"):
        said += f" With {one.attrs['changes']}."
    where = str(one.attrs.get("title", "")).removeprefix("crop suitability over ")
    figure, panels = _page(one, f"{one['crop'].item()} over {where}", said, 4, ground, issued)
    _classes(*panels[0], ground, values["suitability_class"], one["suitability_class"].attrs)
    ground.heights(panels[0][0])
    _scaled(
        *panels[1],
        ground,
        values["reliability"],
        np.linspace(0.0, 1.0, 11),
        "years in ten that succeed" + (" (dashed: asked for)" if np.isfinite(asked) else ""),
        tenths=True,
    )
    if np.isfinite(asked):
        panels[1][1].axvline(asked, color="white", lw=2.2)
        panels[1][1].axvline(asked, color=INK, lw=1.0, ls=(0, (2, 1)))
    _days(*panels[2], ground, values["best_start_day"])
    longest = max(float(np.nanmax(np.append(values["window_length"], 0.0))), 1.0)
    step = next(s for s in (7, 14, 28, 56) if longest / s <= 9)
    edges = np.minimum(np.arange(0.0, longest + step, step), float(YEAR))
    _scaled(*panels[3], ground, values["window_length"], edges, "days of the year with an advised start")
    return figure


def _chill_page(dataset: xr.Dataset, issued: dt.date | None) -> Figure:
    low, middle = dataset["chill_portions_low"].values, dataset["chill_portions_middle"].values
    ground = Ground(dataset, np.isfinite(middle))
    where = str(dataset.attrs.get("title", "")).removeprefix("winter chill over ")
    said = "Portions of the dynamic model, gathered over the cold season."
    figure, panels = _page(dataset, f"Winter chill over {where}", said, 2, ground, issued)
    least, most = float(np.nanmin(low)), max(float(np.nanmax(middle)), 1.0)
    step = next(s for s in (1, 2, 5, 10, 20, 40) if (most - least) / s <= 11)
    edges = np.arange(np.floor(least / step) * step, most + step, step)
    _scaled(*panels[0], ground, low, edges, "chill portions had in nine winters of ten")
    _scaled(*panels[1], ground, middle, edges, "chill portions had in the middle winter")
    ground.heights(panels[0][0])
    return figure


def _bar(key: Axes, drawn: Any, **more: Any) -> None:
    bar = key.figure.colorbar(drawn, cax=key, orientation="horizontal", **more)
    bar.outline.set_linewidth(0.5)  # type: ignore[operator]
    key.tick_params(labelsize=6.5, length=2, width=0.5)


def _classes(axes: Axes, key: Axes, ground: Ground, codes: np.ndarray, attributes: dict[str, Any]) -> None:
    """The words of the scale that occur, each with its colour and hatch."""
    from matplotlib.colors import ListedColormap
    from matplotlib.patches import Patch

    axes.set_title("How far it suits (share of the land)", fontsize=9, loc="left")
    meanings = dict(zip(np.ravel(attributes["flag_values"]).tolist(), attributes["flag_meanings"].split(), strict=True))
    words = {w.replace(",", "").replace(" ", "_"): w for w in CLASS_LOOKS}
    handles = []
    for code, meaning in meanings.items():
        here = codes == code
        if not here.any():
            continue
        word = words[meaning]
        colour, hatch = CLASS_LOOKS[word]
        ground.paint(axes, np.where(here, 0.0, np.nan), cmap=ListedColormap([colour]), vmin=0, vmax=1)
        if hatch:
            ground.hatch(axes, here, hatch)
        part = here.sum() / max(ground.land.sum(), 1)
        share = f"{word}: {'under 1%' if part < 0.01 else f'{part:.0%}' if part < 1.0 else 'everywhere'}"
        handles.append(Patch(facecolor=colour, hatch=hatch, edgecolor=INK, linewidth=0.5, label=share))
    key.axis("off")
    look: dict[str, Any] = {"fontsize": 7, "frameon": False, "handlelength": 1.6, "handleheight": 1.2}
    key.legend(handles=handles, loc="upper left", ncols=2, borderaxespad=0.0, borderpad=0.0, **look)


def _scaled(
    axes: Axes, key: Axes, ground: Ground, values: np.ndarray, edges: np.ndarray, title: str, *, tenths: bool = False
) -> None:
    """Steps of a scale from little to much."""
    from matplotlib.colors import BoundaryNorm, LinearSegmentedColormap

    axes.set_title(title[0].upper() + title[1:], fontsize=9, loc="left")
    colours = LinearSegmentedColormap.from_list("little to much", SCALE, N=256)
    norm = BoundaryNorm(edges, 256)
    drawn = ground.paint(axes, np.minimum(values, edges[-1] - 1e-9), cmap=colours, norm=norm)
    _bar(key, drawn, ticks=edges)
    names = [f"{e * 10:.0f}" if tenths else f"{e:g}" for e in edges]
    key.set_xticklabels(names)
    if (k := _one_step(values, edges)) is not None:
        _everywhere(axes, f"{names[k]} to {names[k + 1]}")


def _one_step(values: np.ndarray, edges: np.ndarray) -> int | None:
    """The step of a scale that holds every value, the last edge counted in; None where there are several, or none."""
    known = values[np.isfinite(values)]
    steps = np.unique(np.clip(np.searchsorted(edges, known, side="right") - 1, 0, edges.size - 2))
    return int(steps[0]) if steps.size == 1 else None


def _everywhere(axes: Axes, words: str) -> None:
    """What one flat colour says, in words upon it."""
    axes.text(
        0.5, 0.04, f"everywhere {words}", transform=axes.transAxes, ha="center", fontsize=8,
        bbox={"facecolor": "white", "edgecolor": INK, "linewidth": 0.5, "boxstyle": "square,pad=0.35"},
    )  # fmt: skip


def _days(axes: Axes, key: Axes, ground: Ground, days: np.ndarray) -> None:
    """Start days in steps of half a month; the colours close over New Year."""
    from matplotlib.colors import BoundaryNorm, LinearSegmentedColormap

    axes.set_title("Best day to start", fontsize=9, loc="left")
    starts = np.array([*MONTH_STARTS, YEAR], dtype=float)
    edges = np.sort(np.concatenate([starts, 0.5 * (starts[1:] + starts[:-1])]))
    colours = LinearSegmentedColormap.from_list("round the year", MONTH_COLOURS, N=_HALF_MONTHS)
    drawn = ground.paint(axes, days - 1.0, cmap=colours, norm=BoundaryNorm(edges, _HALF_MONTHS))
    _bar(key, drawn, ticks=0.5 * (starts[1:] + starts[:-1]), spacing="proportional")
    key.set_xticklabels(MONTHS)
    if (k := _one_step(days - 1.0, edges)) is not None and np.isfinite(days[ground.land]).all():
        _everywhere(axes, f"{'second' if k % 2 else 'first'} half of {MONTHS[k // 2]}")
    _bare(axes, ground, ground.land & ~np.isfinite(days))


def _bare(axes: Axes, ground: Ground, here: np.ndarray) -> None:
    """Land on which no start serves: bare ground, so that it is not taken for sea."""
    from matplotlib.colors import ListedColormap

    if here.any():
        ground.paint(axes, np.where(here, 0.0, np.nan), cmap=ListedColormap([CLASS_LOOKS["not here"][0]]))
        axes.set_title(f"{axes.get_title(loc='left')} (bare: none serves)", fontsize=9, loc="left")
