"""A made-up sowing chart of forty crops on a made-up plot: shapes like real ones, no figure of any place."""

from __future__ import annotations

import numpy as np

from sowcal.suitability.results import (
    CropSeasons,
    FirstPicking,
    Outside,
    Record,
    SowingChart,
    WayResult,
    Window,
)

RECORD = Record("1991-01-01", "2020-12-31", 30.0, "generated")

# crop, family, hazard elsewhere, [(way, first and last recommended day, slope days, top, weeks under cover,
# days to picking, days of picking)]
ROWS = [
    ("artichoke (jerusalem)", "daisy", "heat", [("planted", 5, 80, 25, 0.97, 0, 220, 90)]),
    ("aubergine", "nightshade", "frost", [("set out", 110, 150, 20, 0.93, 8, 75, 100)]),
    (
        "basil",
        "mint",
        "frost",
        [("sown outdoors", 115, 190, 20, 0.96, 0, 50, 80), ("set out", 105, 200, 20, 0.97, 5, 30, 90)],
    ),
    (
        "beetroot",
        "goosefoot",
        "heat",
        [("sown outdoors", 32, 95, 25, 0.95, 0, 70, 40), ("sown outdoors+", 225, 285, 20, 0.98, 0, 85, 80)],
    ),
    ("broad bean", "pea", "heat", [("sown outdoors", 270, 20, 30, 0.99, 0, 150, 40)]),
    ("broccoli (sprouting)", "cabbage", "heat", [("set out", 220, 290, 20, 0.9, 5, 130, 45)]),
    (
        "cabbage (spring)",
        "cabbage",
        "heat",
        [("sown outdoors", 200, 250, 20, 0.82, 0, 190, 40), ("set out", 235, 300, 20, 0.93, 5, 150, 50)],
    ),
    (
        "carrot",
        "carrot",
        "heat",
        [("sown outdoors", 20, 80, 25, 0.92, 0, 95, 45), ("sown outdoors+", 230, 290, 25, 0.97, 0, 110, 100)],
    ),
    ("cauliflower", "cabbage", "heat", [("set out", 210, 260, 18, 0.84, 6, 110, 25)]),
    ("celery", "carrot", "heat", [("set out", 60, 85, 15, 0.55, 9, 110, 40)]),
    ("chard", "goosefoot", "heat", [("sown outdoors", 0, 364, 0, 0.93, 0, 60, 120)]),
    ("chicory (red)", "daisy", "heat", [("sown outdoors", 200, 245, 15, 0.88, 0, 100, 60)]),
    ("coriander", "carrot", "bolting", [("sown outdoors", 255, 60, 20, 0.94, 0, 50, 40)]),
    (
        "courgette",
        "gourd",
        "frost",
        [("sown outdoors", 105, 185, 20, 0.97, 0, 52, 70), ("set out", 98, 190, 18, 0.98, 3, 40, 80)],
    ),
    ("cucumber", "gourd", "frost", [("set out", 110, 180, 18, 0.9, 4, 45, 60)]),
    (
        "french bean (bush)",
        "pea",
        "frost",
        [("sown outdoors", 95, 130, 20, 0.95, 0, 60, 30), ("sown outdoors+", 205, 235, 15, 0.89, 0, 55, 40)],
    ),
    ("french bean (climbing)", "pea", "frost", [("sown outdoors", 100, 130, 20, 0.9, 0, 70, 40)]),
    ("garlic", "onion", "day length", [("planted", 280, 10, 25, 0.98, 0, 200, 15)]),
    (
        "kale",
        "cabbage",
        "heat",
        [("sown outdoors", 215, 280, 25, 0.97, 0, 80, 120), ("set out", 230, 300, 25, 0.98, 5, 60, 130)],
    ),
    ("kohlrabi", "cabbage", "heat", [("sown outdoors", 230, 50, 25, 0.95, 0, 70, 40)]),
    (
        "leek",
        "onion",
        "too slow",
        [("sown outdoors", 40, 110, 20, 0.88, 0, 190, 120), ("set out", 110, 180, 20, 0.93, 11, 120, 130)],
    ),
    (
        "lettuce (butterhead)",
        "daisy",
        "hot soil",
        [("sown outdoors", 250, 75, 20, 0.93, 0, 65, 25), ("set out", 262, 90, 20, 0.96, 4, 42, 25)],
    ),
    ("melon", "gourd", "too slow", [("set out", 112, 140, 15, 0.82, 4, 85, 40)]),
    (
        "onion (short-day)",
        "onion",
        "day length",
        [("set out", 330, 30, 20, 0.9, 10, 140, 15), ("planted", 320, 20, 20, 0.87, 0, 130, 15)],
    ),
    ("parsnip", "carrot", "hot soil", [("sown outdoors", 40, 70, 18, 0.61, 0, 180, 90)]),
    ("pea", "pea", "heat", [("sown outdoors", 290, 40, 25, 0.94, 0, 110, 25)]),
    (
        "potato (main crop)",
        "nightshade",
        "heat",
        [("planted", 38, 75, 12, 0.88, 0, 105, 20), ("planted+", 215, 238, 12, 0.83, 0, 100, 25)],
    ),
    ("pumpkin", "gourd", "frost", [("sown outdoors", 105, 150, 18, 0.92, 0, 110, 30)]),
    ("radish", "cabbage", "heat", [("sown outdoors", 245, 105, 20, 0.99, 0, 30, 12)]),
    ("rocket", "cabbage", "bolting", [("sown outdoors", 240, 95, 20, 0.98, 0, 35, 30)]),
    ("spinach", "goosefoot", "hot soil", [("sown outdoors", 260, 60, 18, 0.95, 0, 55, 40)]),
    ("spring onion", "onion", "too slow", [("sown outdoors", 0, 364, 0, 0.9, 0, 80, 30)]),
    ("swede", "cabbage", "heat", [("sown outdoors", 225, 260, 18, 0.73, 0, 110, 60)]),
    ("sweet pepper", "nightshade", "frost", [("set out", 112, 155, 18, 0.94, 9, 70, 110)]),
    ("sweetcorn", "grass", "frost", [("sown outdoors", 105, 175, 20, 0.93, 0, 80, 15)]),
    ("tomato (cherry)", "nightshade", "frost", [("set out", 100, 165, 20, 0.97, 7, 65, 120)]),
    ("turnip", "cabbage", "heat", [("sown outdoors", 232, 65, 22, 0.96, 0, 60, 30)]),
]
NOT_HERE = [("rhubarb", "knotweed", "summer kill"), ("blackcurrant", "gooseberry", "chill unmet")]
UNKNOWN = ("sea kale", "cabbage")


def _bump(first: int, last: int, slope: int, top: float) -> np.ndarray:
    """A plateau over [first, last], over New Year where it must, sloping down to nothing on both sides."""
    if (last - first) % 365 == 364:
        return np.full(365, top)
    day = np.arange(365)
    inside = (day - first) % 365 <= (last - first) % 365
    off = np.minimum((first - day) % 365, (day - last) % 365)
    return np.where(inside, top, np.clip(top * (1 - off / (2.0 * max(slope, 1))), 0, 1))


def _window(first: int, last: int, top: float, cover: int, wait: int, pick: int) -> Window:
    best = (first + ((last - first) % 365) // 2) % 365
    p50 = (best + wait) % 365
    return Window(
        start=first,
        end=last,
        best=best,
        reliability=top,
        interval=(max(0.0, top - 0.15), min(1.0, top + 0.06)),
        years_decided=29,
        yield_fraction=round(0.95 * top, 3),
        raise_under_cover=((first - 7 * cover) % 365, (last - 7 * cover) % 365) if cover else None,
        first_picking=FirstPicking((p50 - 9) % 365, p50, (p50 + 12) % 365, wait),
        last_picking=(p50 + pick) % 365,
    )


def way(name, rows, hazard):
    """One way of starting, of one or two seasons."""
    daily = np.maximum.reduce([_bump(*row[1:5]) for row in rows])
    picking = np.zeros(365)
    windows, possible = [], []
    for _, first, last, slope, top, cover, wait, pick in rows:
        wide = round(2 * slope * (1 - 0.5 / top)) if top > 0.5 else 0
        a, b = (0, 364) if (last - first) % 365 == 364 else ((first - wide) % 365, (last + wide) % 365)
        possible.append(_window(a, b, top, cover, wait, pick))
        if top >= 0.8:
            windows.append(_window(first, last, top, cover, wait, pick))
            picking = np.maximum(picking, _bump((first + wait) % 365, (last + wait + pick) % 365, 8, top))
    open_ = daily >= 0.5
    outside = []
    if not open_.all():
        a = (possible[-1].end + 1) % 365
        b = (possible[0].start - 1) % 365
        outside.append(Outside(a, b, hazard, 0.72))
    return WayResult(name, tuple(windows), tuple(possible), tuple(outside), daily, daily * 0.9, picking)


def crop(name, family, hazard, rows):
    """One crop's line; a way written with + is a second season of the way before it."""
    ways: dict[str, list] = {}
    for row in rows:
        ways.setdefault(row[0].rstrip("+"), []).append(row)
    return CropSeasons(name, family, tuple(way(w, r, hazard) for w, r in ways.items()), limiting_factor=hazard)


def chart(site="Made-up Nook (invented)", rows=ROWS) -> SowingChart:
    """Forty crops: most with windows, some gambles, two that do not fit, one that cannot be judged."""
    lines = [crop(*row) for row in rows]
    none = np.zeros(365)
    for name, family, hazard in NOT_HERE:
        shut = WayResult("planted", (), (), (Outside(0, 364, hazard, 0.97),), none)
        lines.append(CropSeasons(name, family, (shut,), ("leaf blades are poisonous",), limiting_factor=hazard))
    blank = WayResult("sown outdoors", (), (), (), None, unknown=("growth.base_temperature",))
    lines.append(CropSeasons(*UNKNOWN, (blank,)))
    return SowingChart(
        site=site,
        latitude=38.4,
        record=RECORD,
        reliability_asked=0.8,
        crops=tuple(sorted(lines, key=lambda c: c.crop)),
        not_judged=("pests and diseases", "wind and salt", "pollination", "water quality", "variety"),
        warnings=("the weather is generated from monthly normals",),
    )


def summary(site="Made-up Nook (invented)", shift=0.0):
    """A made-up climate, warmer by so many degrees."""
    from sowcal.climate.place_figures import ClimateSummary, Odds

    low = (2, 2, 4, 6, 10, 14, 17, 17, 14, 10, 5, 3)
    high = (13, 15, 18, 20, 25, 31, 35, 35, 30, 23, 17, 13)
    late = round(10 * shift)
    return ClimateSummary(
        site=site,
        latitude=38.4,
        elevation=210.0,
        record_first="1991-01-01",
        record_last="2020-12-31",
        record_years=30.0,
        record_kind="generated",
        last_spring_frost=Odds(60 - late, 84 - late, 104 - late),
        first_autumn_frost=Odds(300 + late, 318 + late, 335 + late),
        frost_free_days=Odds(200 + late, 233 + late, 270 + late),
        years_without_frost=0.0,
        frost_days=28.4 - 4 * shift,
        growing_degree_days=2810.0 + 200 * shift,
        tasmin=tuple(v + shift for v in low),
        tasmax=tuple(v + shift for v in high),
        pr=(72, 62, 54, 44, 30, 10, 2, 4, 26, 62, 78, 76),
        reference_evapotranspiration=(31, 42, 78, 104, 148, 186, 212, 190, 130, 80, 42, 29),
        evapotranspiration_method="Hargreaves-Samani from temperatures",
        hot_days_30=(0, 0, 0, 0.3, 4, 17, 28, 28, 15, 1, 0, 0),
        hot_days_35=(0, 0, 0, 0, 0.4, 5, 15, 14, 2, 0, 0, 0),
        warm_nights_20=(0, 0, 0, 0, 0, 1, 4, 4, 0.5, 0, 0, 0),
        chill_portions=58.2,
        hardiness_zone="9b",
        shortest_day=9.4,
        longest_day=14.9,
        opening_rains=268,
    )
