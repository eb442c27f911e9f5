"""How far an annual suits a site, from its best window (classes: FAO land evaluation framework 1976)."""

from __future__ import annotations

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


def _length(windows: tuple[Window, ...]) -> int:
    return sum((w.end - w.start) % 365 + 1 for w in windows)


def _best(starts: tuple[WayResult, ...], which: str) -> tuple[WayResult, Window] | None:
    found = [(s, w) for s in starts for w in getattr(s, which)]
    return max(found, key=lambda p: p[1].reliability * p[1].yield_fraction, default=None)


def _limiting_factor(starts: tuple[WayResult, ...]) -> str | None:
    """The hazard that closes most of the year."""
    weight: dict[str, float] = {}
    for start in starts:
        for o in start.outside:
            weight[o.hazard] = weight.get(o.hazard, 0.0) + o.share_of_years * ((o.end - o.start) % 365 + 1)
    return max(weight, key=lambda h: weight[h], default=None)


def rate_annual(line: CropSeasons) -> CropVerdict:
    """Verdict on one annual crop from its line of the chart."""
    unknown = sorted({u for s in line.starts for u in s.unknown})
    judged = tuple(s for s in line.starts if s.reliability is not None)
    if not judged:
        return CropVerdict(
            crop=line.crop,
            suitability=None,
            word=WORDS[None],
            reliability=None,
            limiting_factor=None,
            evidence={"unknown": unknown or ["ways of starting"]},
            cautions=line.cautions,
        )
    best = _best(judged, "windows")
    if best:
        way, window = best
        sound = (
            window.yield_fraction >= _SOUND_YIELD
            and window.reliability >= _SOUND_RELIABILITY
            and _length(way.windows) >= _SOUND_DAYS
        )
        grade = "S1" if sound else "S2"
    else:
        best = _best(judged, "possible")
        grade = "S3" if best else "N"
    evidence: dict[str, object] = {}
    reliability = 0.0
    if best:
        way, window = best
        reliability = window.reliability
        evidence = {
            "way": way.way,
            "window": window,
            "years_decided": window.years_decided,
            "years_that_succeed": round(window.reliability * window.years_decided),
            "yield_fraction": window.yield_fraction,
            "days_recommended": _length(way.windows),
        }
    else:
        worst = max((o for s in judged for o in s.outside), key=lambda o: o.share_of_years, default=None)
        if worst:
            evidence = {"hazard": worst.hazard, "share_of_years": worst.share_of_years}
    return CropVerdict(
        crop=line.crop,
        suitability=grade,
        word=WORDS[grade],
        reliability=reliability,
        limiting_factor=_limiting_factor(judged),
        evidence=evidence,
        cautions=line.cautions,
    )


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
