"""The week as a plain dict for programs; a span over New Year has `to` before `from`, what is not known is null."""

from __future__ import annotations

from typing import Any

from sowcal.outputs.days import month_day, span_month_days
from sowcal.suitability.week import Week, WeekJob

__all__ = ["week_json"]


def _job(job: WeekJob) -> dict[str, Any]:
    first, last = span_month_days(job.start, job.end)
    return {
        "crop": job.crop,
        "job": job.job,
        "way": job.way,
        "from": first,
        "to": last,
        "best": None if job.best is None else month_day(job.best),
        "reliability": round(job.reliability, 3),
        "chance": job.chance,
        "beyond": job.beyond,
        "hazard": job.hazard,
        "again": None if job.again is None else month_day(job.again),
    }


def week_json(week: Week) -> dict[str, Any]:
    """Keys `site`, `record`, `reliability_asked`, `from`, `to`, `jobs`, `coming`, `not_judged`, `made_by`."""
    return {
        "site": week.site,
        "record": week.record.to_json(),
        "reliability_asked": week.reliability_asked,
        "from": month_day(week.start),
        "to": month_day(week.end),
        "jobs": [_job(j) for j in week.jobs],
        "coming": [_job(j) for j in week.coming],
        "not_judged": list(week.not_judged),
        "made_by": week.made_by.to_json(),
    }
