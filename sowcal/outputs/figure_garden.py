"""The garden on paper: tank level and water drawn, and in words watering, loads, pressure, handwork and keeping."""

from __future__ import annotations

import datetime as dt
import textwrap
from typing import TYPE_CHECKING

import numpy as np

from sowcal.garden.gravity_feed import most_borne
from sowcal.garden.plan import GardenPlan
from sowcal.garden.plants import keeping_words
from sowcal.garden.quantities import CAN, CAN_MINUTES
from sowcal.garden.store import known_levels, level_spread
from sowcal.garden.watering import soaks_in
from sowcal.languages import counted, say
from sowcal.outputs.figure_style import FAINT, INK, STYLE, heading, new_figure, shown
from sowcal.outputs.verdict_document import change_words, limit_words
from sowcal.outputs.wording import NO_PROMISE, kilograms, litres, odds_text, sentence, told_litres
from sowcal.provenance import MadeBy
from sowcal.suitability.results import CropVerdict
from sowcal.units import amount, converted, told, unit_word
from sowcal.year import MONTH_STARTS, MONTHS, date_text, day_text, month_of

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from sowcal.seasons.perennial_years import PerennialYears

__all__ = [
    "between_notes",
    "garden_figures",
    "gravity_fed",
    "gravity_notes",
    "hand_notes",
    "keeping_notes",
    "load_notes",
    "minutes_text",
    "month_axis",
    "sheet_notes",
    "years_figures",
]

_DEEP, _THIN, _PALE, _EARTH = "#16324f", "#86a3c3", "#b8cbe0", "#c9682b"


def garden_figures(plan: GardenPlan) -> list[Figure]:
    """One page: tank level above, where there is a tank, water drawn by week below.

    Parameters
    ----------
    plan : GardenPlan

    Returns
    -------
    list of matplotlib.figure.Figure
    """
    import matplotlib

    with matplotlib.rc_context(STYLE):
        figure = new_figure((11.0, 7.2))
        # a southern summer lies in the middle of the picture too
        turn = 181 if plan.latitude < 0 else 0
        tank = plan.store.capacity > 0.0
        rows = figure.subplots(1 + tank, 1, sharex=True, height_ratios=(3, 2)[: 1 + tank], squeeze=False)[:, 0]
        figure.subplots_adjust(left=0.075, right=0.975, top=0.845, bottom=0.075, hspace=0.14)
        figure.text(0.02, 0.955, shown(plan.garden.name), size=15, weight="bold")
        figure.text(0.02, 0.912, shown(_story(plan)), size=9.5)
        if tank:
            _levels(rows[0], plan, turn)
        _drawn(rows[-1], plan, turn)
        figure.text(0.975, 0.012, plan.made_by.short(), size=7, ha="right")
        for axes in rows:
            month_axis(axes, turn)
        return [figure]


def _story(plan: GardenPlan) -> str:
    store = plan.store
    if store.chance_dry is None or not plan.need.draws:
        return "Nothing draws on the store."
    if store.capacity <= 0.0:
        year, dry = litres(plan.need.year(0.5)), litres(plan.need.year(0.9))
        return f"No tank: the beds draw {year} {unit_word('litres')} in the median year, {dry} in the dry year in ten"
    odds = odds_text(store.chance_dry)
    parts = [f"{told(store.capacity, 'litres', ',.0f', 10)}; dry {'in ' if '%' in odds else ''}{odds}"]
    if store.first_dry is not None:
        parts.append(f"first about {day_text(store.first_dry)}")
    if store.lasts is not None:
        parts.append(f"a full store lasts {counted(round(store.lasts), 'day')} from 1 {store.month_name}")
    if store.size_for_9_in_10:
        parts.append(f"{told(store.size_for_9_in_10, 'litres', ',.0f', 100)} would last 9 years in 10")
    return ", ".join(parts)


def _levels(axes, plan: GardenPlan, turn: int) -> None:
    axes.set_ylabel(f"water in the store, {unit_word('litres')}")
    capacity = converted(plan.store.capacity, "litres")
    top = max(capacity, 1.0)
    axes.set_ylim(0, 1.08 * top)
    axes.axhline(capacity, color=FAINT, linewidth=0.8)
    if (spread := level_spread(plan.store.levels)) is not None:
        _, low, mid, high, _ = np.roll(converted(spread, "litres"), -turn, axis=1)
        x = np.arange(365)
        for year in known_levels(plan.store.levels):
            axes.plot(x, np.roll(converted(year, "litres"), -turn), color=_THIN, linewidth=0.5, alpha=0.7, zorder=1)
        axes.fill_between(x, low, high, color=_PALE, alpha=0.75, linewidth=0, zorder=2, label="8 years in 10")
        axes.plot(x, mid, color=_DEEP, linewidth=2.0, zorder=3, label="median")
        axes.plot([], [], color=_THIN, linewidth=0.8, label="each year")
        axes.legend(loc="upper right", bbox_to_anchor=(1.0, 1.11), ncols=3, frameon=False, fontsize=8)
    axes.text(2, 1.015 * top, "full", color=INK, size=7.5, va="bottom")


def _drawn(axes, plan: GardenPlan, turn: int) -> None:
    axes.set_ylabel(f"drawn by the beds, {unit_word('litres')} a day")
    median, dry = (np.roll(converted(plan.need.by_day(q), "litres"), -turn) for q in (0.5, 0.9))
    x = np.arange(365)
    axes.fill_between(x, 0, median, step="mid", color=_DEEP, linewidth=0, label="median year")
    axes.step(x, dry, where="mid", color=_EARTH, linewidth=1.4, linestyle="--", label="dry year in ten")
    axes.set_ylim(0, max(float(dry.max(initial=0.0)) * 1.15, 1.0))
    axes.legend(loc="upper right", frameon=False, fontsize=8)


def month_axis(axes, turn: int) -> None:
    """Months along an axis of 365 days that begins on a day of the year."""
    order = np.argsort([(s - turn) % 365 for s in MONTH_STARTS], kind="stable")
    starts = [(MONTH_STARTS[m] - turn) % 365 for m in order]
    axes.set_xlim(0, 365)
    axes.set_xticks([s + 15 for s in starts], [MONTHS[m] for m in order])
    axes.tick_params(axis="x", length=0)
    for s in starts[1:]:
        axes.axvline(s, color=FAINT, linewidth=0.4, zorder=0)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    axes.yaxis.set_major_formatter(lambda value, _: f"{value:,.0f}")


_ROWS = (
    ("chill unmet", "winter chill"),
    ("winter too mild", "cold enough a winter"),
    ("winter kill", "life through the cold"),
    ("frost on blossom", "blossom past frost"),
    ("frost", "growth and fruit past frost"),
    ("summer kill", "life through the heat"),
    ("heat", "growth in the heat"),
    ("too slow", "warmth to ripen"),
)
_FULL, _PART, _LINE = "#16324f", "#c8682b", "#9aa3a8"


def years_figures(
    site: str,
    crop: str,
    years: PerennialYears,
    verdict: CropVerdict,
    *,
    issued: dt.date | None = None,
    made_by: MadeBy | None = None,
) -> list[Figure]:
    """One A4 page: a row for each thing the crop needs, a bar for each year; a full bar lost nothing.

    Parameters
    ----------
    site, crop : str
    years : PerennialYears
    verdict : CropVerdict
    issued : datetime.date, optional
        Date of issue for the foot.
    made_by : MadeBy, optional
        For the foot.
    """
    rows = [(words, years.shares[h]) for h, words in _ROWS if h in years.shares]
    rows.append(("CROP OF THE YEAR", years.crop))
    figure = new_figure((8.27, 11.69))
    figure.text(0.08, 0.945, **heading(f"{crop} at {site}", 0.86 * figure.get_size_inches()[0], 15))
    figure.text(
        0.08,
        0.92,
        "A bar a year. A full dark bar: the year took nothing. A short orange one: less than half was left.",
        fontsize=9,
    )
    axes = figure.subplots(len(rows), 1, sharex=True, squeeze=False)[:, 0]
    figure.subplots_adjust(left=0.3, right=0.95, top=0.89, bottom=0.26, hspace=0.35)
    for ax, (words, share) in zip(axes, rows, strict=True):
        known = np.isfinite(years.crop)
        height = np.where(known, share, 0.0)
        low = known & (height < 0.5)
        ax.bar(years.years[~low], height[~low], width=0.75, color=_FULL)
        ax.bar(years.years[low], np.maximum(height[low], 0.03), width=0.75, color=_PART, hatch="///", edgecolor="white")
        ax.axhline(0.5, color=_LINE, lw=0.6)
        ax.set_ylim(0, 1.02)
        ax.set_yticks([])
        ax.set_ylabel(words, rotation=0, ha="right", va="center", fontsize=9)
        for side in ("top", "right", "left"):
            ax.spines[side].set_visible(False)
    axes[-1].yaxis.label.set_weight("bold")
    axes[-1].tick_params(labelsize=8)
    limit = f"; what limits it most: {limit_words(verdict)}" if verdict.limiting_factor else ""
    figure.text(0.08, 0.19, f"{verdict.word.upper()}{limit}", fontsize=13, weight="bold")
    lines = [change_words(t) for t in verdict.what_would_change_it] + [f"caution: {c}" for c in verdict.cautions]
    lines = [part for line in lines for part in textwrap.wrap(shown(line), 100, subsequent_indent="    ")]
    for k, line in enumerate(lines[:7]):
        figure.text(0.08, 0.168 - 0.0155 * k, line, fontsize=8)
    figure.text(0.08, 0.04, NO_PROMISE, fontsize=7.5)
    if made_by:
        figure.text(0.08, 0.025, made_by.short(), fontsize=7.5)
    if issued:
        figure.text(0.92, 0.04, f"issued {date_text(issued)}", fontsize=7.5, ha="right")
    return [figure]


def minutes_text(minutes: float | None) -> str:
    return "no water" if minutes is None else f"{minutes:.0f}"


def sheet_notes(plan: GardenPlan) -> list[str]:
    """When to begin and to stop, programs of the timer, lines, and the soil under them."""
    out = []
    if plan.season is not None and plan.season != (0, 364):
        rest = " What is told for other months is for dry spells." if _months_beside(plan) else ""
        out.append(f"Begin watering about {day_text(plan.season[0])}, stop about {day_text(plan.season[1])}.{rest}")
    if plan.garden.water.timer != "none":
        for p in plan.programs:
            months = MONTHS[p.months[0] - 1] + (f" to {MONTHS[p.months[-1] - 1]}" if len(p.months) > 1 else "")
            every = "every day" if p.days_between == 1 else f"every {p.days_between} days"
            more = f"; {told_litres(p.too_much)} a year more than month by month" if p.too_much >= 100.0 else ""
            out.append(f"Program of {p.zone}, {months}: {p.minutes:.0f} minutes {every}{more}.")
    if plan.gravity is not None and plan.sheet:
        out.append("Lines over empty soil are clamped or plugged; the minutes are for those over what grows.")
        emitters = plan.garden.water.emitters
        if not plan.garden.water.stored:
            out.append(
                f"There is no store: the minutes are for lines on the mains behind a reducer, "
                f"{told(emitters.flow, 'l/h')} an emitter at {told(emitters.pressure, 'kPa')}."
            )
        flow = plan.gravity.emitter_flow if plan.garden.water.stored else emitters.flow
        rate, intake, texture = soaks_in(plan.garden, flow)
        if rate > intake:
            out.append(
                f"The lines bring {told(rate, 'mm', '.0f')} an hour, wet {texture} takes in about "
                f"{amount(intake, 'mm', '.0f')}: on a "
                "slope water in two halves, an hour apart."
            )
    return out


def _months_beside(plan: GardenPlan) -> bool:
    """Whether the sheet has months that lie wholly outside the season of watering."""
    if plan.season is None:
        return False
    begin, end = (month_of(day) for day in plan.season)
    return any((r.month - 1 - begin) % 12 > (end - begin) % 12 for r in plan.sheet)


def load_notes(plan: GardenPlan) -> list[str]:
    """Water that is brought: how often, how much, when first."""
    if not plan.loads:
        return []
    capacity = plan.garden.water.capacity
    total = sum(load.litres for load in plan.loads)
    dry = len(plan.dry_year_loads)
    how = f"{len(plan.loads)} deliveries" if len(plan.loads) > 1 else "one delivery"
    when, begin = date_text(plan.loads[0].date), date_text(plan.begin)
    said = (
        f"Wanted in the year from {begin}: {how} of up to {told_litres(capacity)}, {litres(total)} in all ({dry} in "
        f"a dry year), the first about {when}."
    )
    later = plan.choices[0] if plan.choices else None
    if later is not None and later.loads > len(plan.loads):
        said += f" Later years, with all standing over New Year, want {later.loads} ({later.dry_year_loads})."
    return [said]


def gravity_fed(plan: GardenPlan) -> bool:
    """Whether there are drip lines and a store that could feed them."""
    return plan.gravity is not None and bool(plan.garden.beds) and plan.garden.water.stored


def gravity_notes(plan: GardenPlan) -> list[str]:
    """Head, pressure and what would help; empty where water is carried, or there is no store or bed."""
    feed = plan.gravity
    if feed is None or not gravity_fed(plan):
        return []
    out = [
        f"The tank outlet stands {told(feed.static_head, 'm')} above the beds: "
        f"{told(feed.static_head * 0.0980665, 'bar', '.2f')} with nothing flowing ({told(10, 'm')} of water are "
        f"{told(0.98, 'bar', '.2f')}).",
        f"It {'works' if feed.works else 'does not work'}: {say(feed.why)}.",
        f"Pipe, filter and valve stand under {told(feed.static_pressure, 'kPa', '.0f')} with all shut, a line that "
        f"runs alone under {amount(feed.most_pressure, 'kPa', '.0f')}; it bears about "
        f"{amount(most_borne(plan.garden.water.emitters), 'kPa', '.0f')}.",
    ]
    if feed.works:
        out.append(
            f"The main takes {told(feed.main_loss, 'm', '.2f')} of head "
            f"({amount(feed.hazen_williams, 'm', '.2f')} by Hazen-Williams); an emitter gives "
            f"{told(feed.emitter_flow, 'l/h', '.2f')} against {amount(plan.garden.water.emitters.flow, 'l/h')} at its "
            "rated pressure."
        )
    return out + [sentence(text) for text in feed.would_help]


def hand_notes(plan: GardenPlan) -> list[str]:
    """Minutes by can, hose and drip line, and when carrying stops being reasonable."""
    hand = plan.hand
    week = int(hand.can.argmax())
    if hand.can.max(initial=0.0) <= 0:
        return ["There is nothing to water."]
    out = [
        f"In the thirstiest week a {told(10, 'litre')} can takes {counted(round(hand.can[week]), 'minute')} a "
        "day, a hose of "
        f"{told(plan.garden.water.hose, 'l/min')} {hand.hose[week]:.0f}."
    ]
    for tool, stops in (("the can", hand.can_stops), ("the hose", hand.hose_stops)):
        if stops is not None:
            out.append(f"More than half an hour a day with {tool} from about {day_text((stops - 1) * 7)} on.")
        else:
            out.append(f"With {tool} it never takes more than half an hour a day.")
    if plan.minutes is not None and gravity_fed(plan):
        out.append(f"The drip lines run {counted(round(plan.minutes), 'minute')} a day in that week.")
    low, high = (per * plan.thirst.used / 60.0 for per in _CARE) if plan.thirst else (0.0, 0.0)
    if high >= 0.1:
        out.append(f"Sowing, weeding and picking take some {low:.1f} to {high:.1f} hours a week then.")
        out.append(_hours_by_month(plan))
    return out + pump_notes(plan)


_CARE = (2.0, 5.0)  # minutes a m2 and week in the growing season, without watering: common practice, no source


def _hours_by_month(plan: GardenPlan) -> str:
    """Hours a week of work in the beds and of watering by can, month by month."""
    said = []
    for month, (used, drawn) in enumerate(zip(plan.beds.used_in_all, plan.need.by_month(0.5), strict=True)):
        low, high = (per * used / 60.0 for per in _CARE)
        can = 7.0 / 60.0 * CAN_MINUTES * drawn / CAN
        said.append(f"{MONTHS[month]} {low:.1f} to {high:.1f} and {can:.1f}")
    return f"Hours a week by month, of such work and of watering all by can: {', '.join(said)}."


def pump_notes(plan: GardenPlan) -> list[str]:
    """Hours and head of the pump, and how long the pond lasts; empty without a pump."""
    pump, work = plan.garden.water.pump, plan.pump
    if pump is None or work is None:
        return []
    if not work.lifts:
        return [
            f"The pump makes {told(pump.head, 'm')} of head and the lift is {amount(pump.lift, 'm')}: "
            "it brings no water."
        ]
    out = [
        f"The pump runs {work.hours:.1f} hours a day in that week at {told(pump.flow, 'l/h', ',.0f')}; ask its "
        "sheet for the flow "
        f"at {told(pump.lift, 'm')}, and let a licensed person fit it with a residual-current device of 30 mA."
    ]
    if work.pond_days is not None:
        out.append(f"At that draw, evaporation and seepage told, the pond lasts {work.pond_days:.0f} days.")
    return out


def keeping_notes(plan: GardenPlan) -> list[str]:
    """What comes all at once or is left over, and how it is kept."""
    out = []
    for line in plan.plants:
        crop = next(s.crop for s in plan.sowings if s.crop.name == line.crop)
        ways = keeping_words(crop)
        spare = line.surplus_share * line.picked
        if spare >= 3.0 and ways:
            out.append(
                f"{line.crop}: some {kilograms(spare)} {unit_word('kg')} more than is eaten; keep it {say(ways[-1])}"
            )
    return [sentence(text) for text in out]


def between_notes(plan: GardenPlan) -> list[str]:
    """Where a quick crop stands between the rows of a slow one."""
    return [
        f"Between the rows of {b.beside} in {b.bed}: {told(b.metres, 'm')} of {b.crop}, sown {day_text(b.sown)} "
        "and pulled by "
        f"{day_text(b.pulled)}, before the leaves close about {day_text(b.closes)}; water it by can."
        for b in plan.between
    ]
