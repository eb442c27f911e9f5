"""How far an annual suits a site, from its best window (classes: FAO land evaluation framework 1976)."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sowcal.suitability.limits import best_possible, best_stopped, limiting_factor
from sowcal.suitability.results import CropSeasons, CropVerdict, WayResult, Window

__all__ = ["GRADES", "WORDS", "best_first", "rate_annual"]

WORDS = {"S1": "sound", "S2": "fair", "S3": "chancy", "N": "not here", None: "cannot say"}
# A sound crop leaves three quarters of its yield, nine years in ten, from a window of three weeks or more; a
# fair one meets the odds asked for: common practice, no source.
_SOUND_YIELD, _SOUND_RELIABILITY, _SOUND_DAYS = 0.75, 0.9, 21
_ORDER = {"S1": 0, "S2": 1, "S3": 2, "N": 3, None: 4}
# every word of the scale (DESIGN section 14) from best to worst
GRADES = {
    "sound": 0,
    "thrives": 0,
    "fair": 1,
    "crops with a check": 1,
    "chancy": 2,
    "crops, lives briefly": 2,
    "lives, crops poorly": 3,
    "grown as a winter annual": 3,
    "not here": 4,
    "cannot say": 5,
}


TOO_FEW_DAYS = "whole seasons from more than a few start days of the year"


def _length(windows: tuple[Window, ...]) -> int:
    return sum((w.end - w.start) % 365 + 1 for w in windows)


def _start(way: WayResult, day: int, reliability: float) -> dict[str, object]:
    """A start day, as MM-DD, and how often it works."""
    date = str(np.datetime64("2023-01-01") + day)[5:]
    return {"way": way.way, "date": date, "works_in_share_of_years": reliability}


def rate_annual(line: CropSeasons) -> CropVerdict:
    """Verdict on one annual crop from its line of the chart."""
    unknown = sorted({u for s in line.starts for u in s.unknown})
    judged = tuple(s for s in line.starts if s.reliability is not None)
    best = best_possible(judged, "windows")
    if not judged or (line.limiting_factor is None and not best and not best_possible(judged, "possible")):
        # nothing stops it, yet no run of days is known long enough to be called dates
        return CropVerdict(
            crop=line.crop,
            suitability=None,
            word=WORDS[None],
            reliability=None,
            limiting_factor=None,
            evidence={"unknown": unknown or [TOO_FEW_DAYS if judged else "ways of starting"]},
            cautions=line.cautions,
        )
    if best:
        way, window = best
        sound = (
            window.yield_fraction >= _SOUND_YIELD
            and window.reliability >= _SOUND_RELIABILITY
            and _length(way.windows) >= _SOUND_DAYS
        )
        grade = "S1" if sound else "S2"
        evidence = _of_window(*best)
        if not any(s.outside for s in judged) and way.best_start is not None and way.best_start.hazard:
            evidence |= {"hazard": way.best_start.hazard, "share_of_years": way.best_start.share_of_years}
    else:
        best = best_possible(judged, "possible")
        grade = "S3" if best else "N"
        evidence = {**(_of_window(*best) if best else {}), **(_thirst(judged) or _stopped(judged))}
    return CropVerdict(
        crop=line.crop,
        suitability=grade,
        word=WORDS[grade],
        reliability=_works(judged, best),
        limiting_factor=line.limiting_factor,
        evidence=evidence,
        cautions=line.cautions,
    )


def _works(starts: Sequence[WayResult], best: tuple[WayResult, Window] | None) -> float:
    """Share of years in which the best start of the year works, be it ever so small."""
    if best:
        return best[1].reliability
    return max((float(np.nan_to_num(s.reliability).max()) for s in starts if s.reliability is not None), default=0.0)


def _of_window(way: WayResult, window: Window) -> dict[str, object]:
    """What the window on which a verdict rests brings."""
    return {
        "way": way.way,
        "window": window,
        "years_decided": window.years_decided,
        "years_that_succeed": round(window.reliability * window.years_decided),
        "yield_fraction": window.yield_fraction,
        "days_recommended": _length(way.windows),
    }


def _stopped(starts: Sequence[WayResult]) -> dict[str, object]:
    """Where nothing is advised: the best start that there is, and what stops it how often."""
    best = best_stopped(starts)
    if best is None or best[1].hazard is None:
        hazard = limiting_factor(starts)
        shut = [o for s in starts for o in s.outside if o.hazard == hazard]
        days = np.array([(o.end - o.start) % 365 + 1 for o in shut])
        if not shut:
            return {}
        share = float(np.average([o.share_of_years for o in shut], weights=days))
        return {"hazard": hazard, "share_of_years": share}
    way, start = best
    return {
        "best_start": _start(way, start.day, start.reliability),
        "hazard": start.hazard,
        "share_of_years": start.share_of_years,
    }


def _thirst(starts: Sequence[WayResult]) -> dict[str, object]:
    """What the best start of those that want of water took draws, against what it may."""
    dry = [(s, s.want_of_water) for s in starts if s.want_of_water is not None]
    if not dry:
        return {}
    way, found = max(dry, key=lambda p: p[1].reliability)
    out: dict[str, object] = {
        "hazard": "want of water",
        "share_of_years": found.share_of_years,
        "with_water_enough": _start(way, found.day, found.reliability),
    }
    if found.litres is not None:
        out["litres_per_m2_in_a_dry_year"] = round(found.litres)
    if found.most is not None:
        out["litres_per_m2_allowed"] = found.most
    return out


def best_first(verdicts: list[CropVerdict]) -> list[CropVerdict]:
    """Verdicts from the best to the worst class, then by reliability and yield, then by name."""

    def worth(v: CropVerdict) -> tuple:
        fraction = v.evidence.get("yield_fraction", 0.0)
        return (
            _ORDER[v.suitability],
            -(v.reliability or 0.0),
            -(fraction if isinstance(fraction, float) else 0.0),
            v.crop,
        )

    return sorted(verdicts, key=worth)
