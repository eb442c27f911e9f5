"""What one plant gives week by week after its start, in the site's own seasons, and what it wants while it stands."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from sowcal.crops.tables import Crop, Way, known
from sowcal.crops.tables import Garden as GardenRow
from sowcal.garden.garden_file import Household
from sowcal.languages import phrase
from sowcal.seasons.flowering import daily_setting
from sowcal.seasons.season import Seasons, seasons
from sowcal.seasons.site_days import SiteDays
from sowcal.seasons.sums import day_reached, ramp
from sowcal.suitability.annuals import told_windows
from sowcal.suitability.results import Window
from sowcal.suitability.windows import ByDay, Fold, by_day
from sowcal.units import quantity

__all__ = [
    "Care",
    "PlantCount",
    "WayOutcome",
    "area_of",
    "brought_by_week",
    "cares_of",
    "cut_words",
    "eaten_shares",
    "keeping_words",
    "picking_weeks",
    "plants_for",
    "season_lengths",
    "surplus_share",
    "wanted_by_week",
    "way_outcome",
    "weekly_use",
    "weeks_for_table",
]

WEEKS = 104  # after the start


@dataclass(frozen=True, slots=True)
class WayOutcome:
    """One way of starting one crop, from every start day, and its windows."""

    crop: Crop
    way: Way
    found: ByDay
    windows: tuple[Window, ...]
    possible: tuple[Window, ...]
    ripening: np.ndarray | None  # weight of each day of the record as picking day of cohorts, or None
    succession: tuple[int, ...] = ()  # advised start days whose pickings begin a fortnight apart, of all seasons


def _ripening(site: SiteDays, crop: Crop) -> np.ndarray | None:
    """What set one thermal time earlier comes to be picked: weight by day of the record."""
    f, growth = crop.flowering, crop.growth
    if growth.habit != "flowering" or f is None or not known(f.fruit_thermal_time, growth.base_temperature):
        return None
    total = site.thermal_time(growth.base_temperature, growth.upper_threshold, growth.light_need)
    sets = daily_setting(site, f, crop.cold.killing_flower).share * np.diff(total)
    if known(growth.range_minimum):
        sets = sets * ramp(site.month_mean, growth.range_minimum - 3.0, growth.range_minimum)
    ripe = day_reached(total, site.start, f.fruit_thermal_time)
    inside = ripe < site.size
    weight = np.zeros(site.size)
    np.add.at(weight, ripe[inside], sets[inside])
    return weight


def way_outcome(
    site: SiteDays,
    fold: Fold,
    crop: Crop,
    way: Way,
    changed: Callable[[Crop, Way, Seasons], Seasons] | None = None,
) -> WayOutcome:
    """Outcome of every start day, with recommended and possible windows; `changed` as on the chart."""
    outcome = seasons(site, crop, way)
    found = by_day(site, fold, outcome if changed is None else changed(crop, way, outcome))
    windows, possible, advice = told_windows(found, site, crop, None)
    succession = tuple(sorted({day for season in advice for day in season.succession}))
    return WayOutcome(crop, way, found, windows, possible, _ripening(site, crop), succession)


def season_lengths(found: ByDay, start: int) -> tuple[np.ndarray, np.ndarray]:
    """Days from a start day of the year to first and last picking, by year; the median where undecided."""
    first, last = found.first[:, start], found.last[:, start]
    good = np.isfinite(found.yield_fraction[:, start]) & np.isfinite(first) & np.isfinite(last)
    if not good.any():
        return np.full(first.shape, 60.0), np.full(first.shape, 90.0)
    a = np.where(good, first, np.median(first[good]))
    b = np.where(good, last, np.median(last[good]))
    return a, np.maximum(b, a)


def picking_weeks(fold: Fold, outcome: WayOutcome, start: int) -> np.ndarray:
    """Share of the attainable yield picked in each week after the start, shape (decided years, WEEKS).

    Crops that keep flowering follow their daily cohorts; the others are picked evenly from first to last.
    """
    first, last = season_lengths(outcome.found, start)
    out = []
    for y in range(fold.years.size):
        fraction, origin = outcome.found.yield_fraction[y, start], fold.index[y, start]
        if not np.isfinite(fraction) or origin < 0:
            continue
        days = np.arange(int(first[y]), int(last[y]) + 1)
        weight = np.ones(days.size)
        if outcome.ripening is not None:
            weight = outcome.ripening[np.minimum(origin + days, outcome.ripening.size - 1)]
            if weight.sum() <= 0.0:
                weight = np.ones(days.size)
        week = np.minimum(days // 7, WEEKS - 1)
        out.append(np.bincount(week, fraction * weight / weight.sum(), WEEKS))
    return np.array(out) if out else np.zeros((0, WEEKS))


_LEFT_OVER = 0.10  # of the picking may be left over before a plant is one too many: common practice
_YEAR = 52  # weeks
_MOST = 20_000  # plants of one crop
_SOON = 2.0  # weeks; what keeps longer is a store and may be more than the weeks of picking ask for: common practice
_LARGE = 0.75  # m2 a plant
_FEW = 4  # plants; of so few the last one counts: common practice
_FED = 0.6  # of what is eaten in the weeks of full picking, for nobody eats the same all summer long: common practice
_STILL_WANTED = 0.5  # of a week's food, mean of the weeks of a picking; a sowing for less is not worth its while: ours
# Where the handbook has no spacing: 30 cm both ways, common practice
_SPACING = (30.0, 30.0)


@dataclass(frozen=True, slots=True)
class PlantCount:
    """Plants of one sowing.

    Attributes
    ----------
    count, will_do : int
        Plants grown, and plants that the household can use.
    picked : float
        kg in a mean year of `count` plants.
    surplus : float
        Share of the picking that is neither eaten nor keeps, 0 to 1.
    times_eaten : float
        Picking in the best week over what is eaten in a week.
    """

    count: int
    will_do: int
    picked: float
    surplus: float
    times_eaten: float


def weekly_use(row: GardenRow, household: Household, crop: str) -> float:
    """kg that the household eats in a week in season, by its taste.

    'less' is the lower figure of the handbook, 'more' the upper, 'usual' their geometric mean.
    """
    taste = household.tastes.get(crop, household.tastes.get(crop.split(" (")[0], "usual"))
    if taste == "none" or not known(row.use_low, row.use_high):
        return 0.0
    usual = float(np.sqrt(row.use_low * row.use_high))
    each = {"less": row.use_low, "usual": usual, "more": row.use_high}[taste]
    return each * household.people


def yield_per_plant(row: GardenRow) -> float:
    """kg of one plant in a full season: middle of the handbook's range."""
    if known(row.yield_per_plant_low, row.yield_per_plant_high):
        return 0.5 * (row.yield_per_plant_low + row.yield_per_plant_high)
    return float("nan")


def weeks_for_table(row: GardenRow) -> float:
    """Weeks for which a picking is kept and eaten as in its season.

    What keeps fresh, in store or in the ground, or is always eaten dried or salted. Jars and frosts of a fruit that is
    eaten fresh are no such store: nobody eats it all year as in its season (common practice).
    """
    ways = [w for w in row.keeps.split("|") if w]
    fresh = "fresh in store" in ways or "in the ground" in ways
    always = bool(ways) and (ways[0] == "salted" or (ways[0] == "dried" and "bottled" not in ways))
    return row.keeps_weeks if known(row.keeps_weeks) and (fresh or always) else 0.0


def area_of(row: GardenRow, count: float) -> float:
    """Bed of so many plants at the handbook's spacing, m2."""
    rows = row.row_spacing if known(row.row_spacing) else _SPACING[0]
    plants = row.plant_spacing if known(row.plant_spacing) else _SPACING[1]
    return count * rows * plants / 1e4


def eaten_shares(curve: np.ndarray, use: float | np.ndarray, keeps_weeks: float) -> tuple[np.ndarray, np.ndarray]:
    """kg eaten and kg lost of a picking, by year.

    What is not eaten in its week is kept as long as it keeps; of a stock that is drawn on evenly, what is
    more than the household eats in that time goes to waste.

    Parameters
    ----------
    curve : numpy.ndarray
        kg picked a week, shape (years, weeks).
    use : float or numpy.ndarray
        kg eaten a week, or in each of the weeks, shape (weeks,).
    keeps_weeks : float
    """
    by_week = np.broadcast_to(np.asarray(use, dtype=float), curve.shape[1:])
    stock = np.zeros(curve.shape[0])
    eaten = np.zeros(curve.shape[0])
    lost = np.zeros(curve.shape[0])
    for week in range(curve.shape[1]):
        stock = stock + curve[:, week]
        now = np.minimum(stock, by_week[week])
        stock = stock - now
        eaten += now
        over = np.maximum(stock - by_week[week] * keeps_weeks, 0.0)
        stock = stock - over
        lost += over
    return eaten + stock, lost


def surplus_share(curve: np.ndarray, use: float | np.ndarray, keeps_weeks: float) -> float:
    """Share of the picking of all years that is neither eaten nor keeps."""
    total = float(curve.sum())
    if total <= 0.0:
        return 0.0
    return float(eaten_shares(curve, use, keeps_weeks)[1].sum()) / total


def _most_used(curve: np.ndarray, use: float | np.ndarray, keeps: float) -> int:
    """Most plants of which no more than one part in ten is left over; at least one."""
    low, high = 1, 2
    while low < _MOST and surplus_share(high * curve, use, keeps) <= _LEFT_OVER:
        low, high = high, 2 * high
    while high - low > max(1, low // 50):
        middle = (low + high) // 2
        if surplus_share(middle * curve, use, keeps) <= _LEFT_OVER:
            low = middle
        else:
            high = middle
    return min(low, _MOST)


def _no_more_than_feed(curve: np.ndarray, use: float | np.ndarray, most: int) -> int:
    """The fewest of a few large plants that feed the house: the last of them is not grown for a week or two."""
    mean = curve.mean(axis=0)
    picked = np.flatnonzero(mean >= 0.5 * mean.max())
    wanted = float(np.broadcast_to(np.asarray(use, dtype=float), curve.shape[1:])[picked].sum())
    for count in range(1, most):
        if float(eaten_shares(count * curve, use, 0.0)[0].mean()) >= _FED * wanted:
            return count
    return most


def wanted_by_week(use: float, start: int, met: np.ndarray, weeks: int) -> np.ndarray:
    """kg that are still wanted in each week after a start day, where other sowings bring `met` in each week of the
    year, shape (weeks,)."""
    return np.maximum(use - met[(start // 7 + np.arange(weeks)) % _YEAR], 0.0)


def brought_by_week(share: np.ndarray, row: GardenRow, count: int, start: int) -> np.ndarray:
    """kg that so many plants bring in each week of the year, mean of the years, what keeps shared out over the weeks
    for which it keeps, shape (52,)."""
    each = yield_per_plant(row)
    out = np.zeros(_YEAR)
    if not known(each) or share.size == 0:
        return out
    picked = count * each * share.mean(axis=0)
    spread = int(weeks_for_table(row)) + 1
    for week in np.flatnonzero(picked):
        np.add.at(out, (start // 7 + week + np.arange(spread)) % _YEAR, picked[week] / spread)
    return out


def plants_for(
    share: np.ndarray,
    row: GardenRow,
    household: Household,
    crop: str,
    wished: int | None = None,
    *,
    start: int = 0,
    met: np.ndarray | None = None,
) -> PlantCount:
    """Plants of one sowing from its picking curve.

    Parameters
    ----------
    share : numpy.ndarray
        Share of the attainable yield picked each week, shape (years, weeks).
    row : Garden
        The handbook's yields, use and keeping.
    household : Household
    crop : str
    wished : int, optional
        Plants that the grower has in mind; what serves is told beside it.
    start : int
        Day of the year of the start.
    met : numpy.ndarray, optional
        kg that other sowings bring in each week of the year, shape (52,).

    Returns
    -------
    PlantCount
        None at all where other sowings leave less than half of what is eaten to be wished for.
    """
    each, use = yield_per_plant(row), weekly_use(row, household, crop)
    if not known(each) or share.size == 0 or share.sum() <= 0.0:
        return PlantCount(wished or 0, 0, 0.0, 0.0, 0.0)
    weeks = np.flatnonzero(share.any(axis=0))
    curve = each * share[:, : weeks[-1] + 1]
    keeps = min(weeks_for_table(row), max(float(_YEAR - (weeks[-1] - weeks[0])), 0.0))  # till it is picked again
    wanted: float | np.ndarray = use
    if met is not None and met.any():
        wanted = wanted_by_week(use, start, met, curve.shape[1])
        picked = share[:, : curve.shape[1]].any(axis=0)
        if wanted[picked].mean() < _STILL_WANTED * use:
            return PlantCount(0, 0, 0.0, 0.0, 0.0)
    will_do = _most_used(curve, wanted, keeps) if use > 0.0 else 0
    if 1 < will_do <= _FEW and keeps <= _SOON and area_of(row, 1) >= _LARGE:
        will_do = _no_more_than_feed(curve, wanted, will_do)
    count = will_do if wished is None else wished
    grown = count * curve
    best = float(grown.mean(axis=0).max())
    return PlantCount(
        count=count,
        will_do=will_do,
        picked=float(grown.sum() / curve.shape[0]),
        surplus=surplus_share(grown, wanted, keeps) if count else 0.0,
        times_eaten=best / use if use > 0.0 else float("inf") if best else 0.0,
    )


@dataclass(frozen=True, slots=True)
class Care:
    """What a crop wants done so many days after it takes to its bed; `waits` is whether it may wait for the next
    fortnightly round of the bed, `litres` compost for each m2."""

    day: int
    job: str
    note: str = ""
    waits: bool = True
    litres: float = 0.0


_THINNED_PARTS, _THIN = ("root", "leaf", "bulb"), 21  # days after sowing, two true leaves: common practice
_EARTHED = {"potato": (30, 50), "leek": (45, 75)}  # days after it takes to its bed, by kind: common practice
# When hungry crops are fed: days after the start, or after the first picking. Tomato, and maize at 20 to 25 cm and once
# its tassels stand: Honig 2023 (Kansas State University, Wild West District Extension); pepper when its first fruit has
# set: Polk County, University of Georgia Extension, 2021; potato, maize and cabbages want most, beans and peas least:
# Colorado State University Extension, GardenNotes 711 (read as reprinted). The days for these stages, and the rest:
# common practice, no source.
_HUNGRY: dict[str, tuple[tuple[str, int], ...]] = {
    "tomato": (("picking", -10), ("picking", 14), ("picking", 44)),
    **dict.fromkeys(("sweet corn", "dry maize"), (("start", 28), ("picking", -14))),
    **dict.fromkeys(("sweet pepper", "chilli", "aubergine"), (("picking", -21),)),
    **dict.fromkeys(("courgette", "cucumber", "gherkin", "winter squash", "pumpkin", "melon"), (("start", 28),)),
    "potato": (("start", 30),),
    **dict.fromkeys(
        ("cabbage", "cauliflower", "broccoli", "romanesco", "kale", "collard", "chinese cabbage"), (("start", 21),)
    ),
    **dict.fromkeys(("celery", "celeriac", "brussels sprout"), (("start", 21), ("start", 63))),
    **dict.fromkeys(("onion", "leek"), (("start", 42),)),
    "chard": (("picking", 21),),
}
_FEED = 2.0  # litres of ripe compost a m2, a handful a plant: common practice
_TIED = {"stakes": ("tie in", 21), "poles": ("lead up", 14), "net": ("lead up", 14)}
_SLUGS = "slugs and snails: gather them by lamplight, for a fortnight"
_FLY = "carrot fly: lay fine net over the row till it is pulled"
_BEETLES = "flea beetles: lay fine net over the row"
_TAKEN = "mice and birds: lay a net over it for a month"
# What usually comes at the start and later, and what is done about it: by kind, else by family; common practice, no
# source
_PESTS_AT_START = {
    **dict.fromkeys(("carrot", "parsnip"), _FLY),
    **dict.fromkeys(("pea", "broad bean"), _TAKEN),
    **dict.fromkeys(("lettuce", "endive", "chicory", "french bean", "runner bean", "basil"), _SLUGS),
    **dict.fromkeys(("Cucurbitaceae", "Brassicaceae", "Amaranthaceae"), _SLUGS),
}
_PESTS_LATER = {
    "tomato": "moths and blight: take off mined or blotched leaves and holed fruit",
    "potato": "beetles and blight: crush eggs under the leaves; cut off tops that turn black, lift a fortnight later",
    **dict.fromkeys(("sweet pepper", "chilli", "aubergine"), "aphids and mites: hose them off from under the leaves"),
    **dict.fromkeys(("sweet corn", "dry maize"), "borers: cut out what is holed"),
    "broad bean": "black aphids: pinch out the tips",
    **dict.fromkeys(("french bean", "runner bean"), "aphids and mites: hose them off from under the leaves"),
    "pea": "moths and mildew: pick early, pull what turns white",
    "Cucurbitaceae": "mildew and mites: take off white leaves, keep the soil moist",
    "Brassicaceae": "caterpillars and aphids: crush eggs under the leaves, once a week",
    "Amaryllidaceae": "moth and rust: squash grubs in the leaves, take off rusty ones",
    "Amaranthaceae": "leaf miners: pick off blistered leaves",
}
# days of the year north of the equator, half a year later south of it: common practice
_NO_MOTHS, _NO_GROWTH = (288, 105), (305, 45)
_LOOKED = (28, 0.5)  # days after the start, and share of the time to the first picking
_LEFT = {"feed": 14, "tie in": 14, "look for pests": 7}  # days before the last picking after which none is worth it


def _after(rest: tuple[int, int], start: int, day: int, south: bool) -> int:
    """A day after a start, put off by weeks till a time of rest of the year is over."""
    first, end = rest
    while (start + day - first - (182 if south else 0)) % 365 < (end - first) % 365:
        day += 7
    return day


def _pests_of(crop: Crop, table: dict[str, str]) -> str:
    return table.get(crop.kind, table.get(crop.family, ""))


def cares_of(crop: Crop, way: str, start: int, first: int, last: int, *, fed: bool, south: bool) -> list[Care]:
    """What is done to an annual between its start and its last picking, in the order of days.

    Parameters
    ----------
    crop : Crop
    way : str
        How it is started.
    start : int
        Day of the year.
    first, last : int
        Days from the start to first and last picking.
    fed : bool
        Whether hungry crops are fed; what lives on rain alone is not.
    south : bool
        South of the equator, where moths rest half a year later.
    """
    spacing = crop.garden.plant_spacing
    out = []
    sown = way == "sown outdoors"
    if sown and crop.part in _THINNED_PARTS and known(spacing):
        note = phrase("to {far}, with two true leaves; water after it", far=quantity(spacing, "cm"))
        out.append(Care(round(min(_THIN, first / 2.0)), "thin", note, waits=False))
    out += [Care(day, "earth up", "to half its height", waits=False) for day in _EARTHED.get(crop.kind, ())]
    for stage, days in _HUNGRY.get(crop.kind, ()) if fed else ():
        day = _after(_NO_GROWTH, start, days + (first if stage == "picking" else 0), south)
        out.append(Care(day, "feed", litres=_FEED))
    if crop.garden.support in _TIED:
        job, day = _TIED[crop.garden.support]
        shoots = ", side shoots out" if crop.kind == "tomato" else ""
        out.append(Care(day, "tie in", f"{job}{shoots}, again each fortnight"))
    if pests := _pests_of(crop, _PESTS_AT_START):
        beetles = sown and crop.family == "Brassicaceae"
        out.append(Care(0, "look for pests", _BEETLES if beetles else pests, waits=False))
    if pests := _pests_of(crop, _PESTS_LATER):
        look = _after(_NO_MOTHS, start, max(_LOOKED[0], round(_LOOKED[1] * first)), south)
        out.append(Care(look, "look for pests", pests))
    ends = {job: last - days for job, days in _LEFT.items()}
    return sorted((c for c in out if 0 <= c.day < ends.get(c.job, first)), key=lambda c: c.day)


# What is cut of crops that stand for years, each year: common practice, no source
_CUT = {
    **dict.fromkeys(
        ("peach", "apricot", "plum", "cherry", "sour cherry", "almond"), "prune it in dry weather after picking"
    ),
    **dict.fromkeys(
        ("apple", "pear", "quince", "medlar", "fig", "pomegranate", "persimmon", "vine", "kiwi", "blackcurrant",
         "redcurrant", "gooseberry", "raspberry"), "prune it while it is leafless"
    ),
    **dict.fromkeys(("lemon", "orange", "mandarin", "lime", "olive", "avocado"), "thin it lightly once frost is over"),
    "strawberry": "cut runners and old leaves off after picking",
    "asparagus": "cut the ferns down when they are yellow",
}  # fmt: skip


def cut_words(crop: Crop) -> str:
    """What is cut of a crop that stands for years; nothing where nothing is known."""
    return _CUT.get(crop.kind, "")


_KEPT = {
    "bottled": "in jars (acid food in a boiling bath only; what is not acid wants a pressure canner, a tested recipe "
    "and its full time: botulism cannot be smelt)",
    "frozen": "frozen (blanched first)",
    "dried": "dried till brittle, in closed jars",
    "salted": phrase("salted, {salt}, under its brine", salt=quantity(20, "g or more to the kg")),
    "fresh in store": "fresh in a cool dark store",
    "in the ground": "in the ground till it is wanted",
}  # common practice, no source


def keeping_words(crop: Crop) -> list[str]:
    """Ways in which a surplus is kept, with what makes them safe."""
    return [_KEPT[w] for w in crop.garden.keeps.split("|") if w in _KEPT]
