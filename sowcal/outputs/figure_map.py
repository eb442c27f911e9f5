"""A region on paper: where a crop fits, how sure that is, when to start it and for how long; or the winters' chill."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

import numpy as np

from sowcal.outputs.days import MONTH_STARTS, MONTHS, YEAR, date_text
from sowcal.outputs.figure_style import (
    A4,
    CLASS_LOOKS,
    INK,
    MONTH_COLOURS,
    SCALE,
    STYLE,
    new_figure,
    shown,
)
from sowcal.outputs.map_ground import Ground
from sowcal.outputs.screen import wrap
from sowcal.outputs.wording import NO_PROMISE, odds_text

if TYPE_CHECKING:
    import xarray as xr
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["map_figures"]

_HALF_MONTHS = 24


def map_figures(dataset: xr.Dataset, *, issued: dt.date | None = None) -> list[Figure]:
    """A page for each crop of a map, or one for winter chill.

    Parameters
    ----------
    dataset : xarray.Dataset
        From `crop_map` or `chill_map`.
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
    figure.text(0.05, 0.94, shown(title)[: int(size[0] * 7)], fontsize=14, weight="bold")
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
    said = f"A start is recommended where it serves in {odds_text(asked)} or more and near the best of its season."
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
    edges = np.arange(0.0, longest + step, step)
    _scaled(*panels[3], ground, values["window_length"], edges, "days of the year on which a start is recommended")
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
        share = f"{word}: {'under 1%' if part < 0.01 else f'{part:.0%}'}"
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
    key.set_xticklabels([f"{e * 10:.0f}" if tenths else f"{e:g}" for e in edges])


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
    _bare(axes, ground, ground.land & ~np.isfinite(days))


def _bare(axes: Axes, ground: Ground, here: np.ndarray) -> None:
    """Land on which no start serves: bare ground, so that it is not taken for sea."""
    from matplotlib.colors import ListedColormap

    if here.any():
        ground.paint(axes, np.where(here, 0.0, np.nan), cmap=ListedColormap([CLASS_LOOKS["not here"][0]]))
        axes.set_title(f"{axes.get_title(loc='left')} (bare: none serves)", fontsize=9, loc="left")
