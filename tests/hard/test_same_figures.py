"""Screen, page and JSON tell one answer: the figures that decide, from the JSON, stand in both texts."""

from __future__ import annotations

import contextlib
import html
import io
import json
import os
import re
from unittest import mock

import pytest

from sowcal.__main__ import main

SITE, OTHER = "sallowdene", "wrackhythe"
CROPS = ["carrot", "leek", "olive"]
ISSUED = ["--issued", "2026-03-15"]
CALLS = {
    "chart": ["chart", SITE, *CROPS, *ISSUED],
    "rate": ["rate", SITE, "carrot", *ISSUED],
    "rate, a perennial": ["rate", SITE, "olive", *ISSUED],
    "week": ["week", SITE, "carrot", "leek", "pea (snow)", "--date", "2026-03-15"],
    "compare": ["compare", SITE, OTHER, *CROPS, *ISSUED],
    "climate": ["climate", SITE, *ISSUED],
    "garden": ["garden", SITE, "--all", *ISSUED],
}
MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"]
DO = {"sown outdoors": "sow outdoors", "set out": "set out", "planted": "plant"}
JOBS = {"raise under cover": "sow {} under cover", "set out": "set out {}", "sow outdoors": "sow {} outdoors",
        "pick": "pick {}"}  # fmt: skip
NUMBER = r"(-?[\d,]+(?:\.\d+)?)"


def said(words):
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        assert main(words) == 0, err.getvalue()
    return out.getvalue()


def squeezed(text):
    return " ".join(text.replace("m²", "m2").replace("°C", "degC").split())


@pytest.fixture(scope="module")
def told(answers_of_this_run, tmp_path_factory):
    """What each command says as JSON and on the screen, and the text of a page of all of them."""
    page = tmp_path_factory.mktemp("page") / "p.html"
    # on fewer columns two plots are not set beside each other crop by crop
    with answers_of_this_run(), mock.patch.dict(os.environ, {"COLUMNS": "100"}):
        parts = ["page", SITE, OTHER, *CROPS, "pea (snow)", "--garden", SITE, "--week", "2026-03-15", *ISSUED]
        said([*parts, "--out", str(page)])
        three = {name: (json.loads(said([*call, "--json"])), squeezed(said(call))) for name, call in CALLS.items()}
        # the page sets the plots beside each other by their crops: of those that it was made with
        call = [*CALLS["compare"][:3], *CROPS, "pea (snow)", *ISSUED]
        three["compare"] = json.loads(said([*call, "--json"])), squeezed(said(call))
    text = re.sub(r"<(script|style)\b.*?</\1>", "", page.read_text(encoding="utf-8"), flags=re.DOTALL)
    return three, squeezed(html.unescape(re.sub(r"<[^>]+>", " ", text)))


def day(text):
    """'02-05' or '2026-02-05' as the texts write it."""
    month, number = map(int, text.split("-")[-2:])
    return rf"\b{number} {MONTHS[month - 1]}"


def tenths(share):
    return 10 * share - 0.5, 0.51  # 8 of 10 years are told from 0.80 to 0.89


def percent(share):
    return 100 * share, 0.56  # whole per cent, of a share of three digits


def whole(value, within=0.51):
    return value, within


class Claims(list):
    """What must stand in a text: a pattern, and for each of its numbers the value and how far the told may lie off."""

    def both(self, pattern, *numbers):
        self.append((pattern, numbers, ("screen", "page")))

    def on(self, where, pattern, *numbers):
        self.append((pattern, numbers, (where,)))

    def lacking(self, where, text):
        """The claims of which a text says nothing, or something else."""

        def holds(match, numbers):
            got = [float(g.replace(",", "")) for g in match.groups()]
            return all(abs(g - value) <= within for g, (value, within) in zip(got, numbers, strict=True))

        return [
            pattern
            for pattern, numbers, places in self
            if where in places and not any(holds(m, numbers) for m in re.finditer(pattern, text, re.IGNORECASE))
        ]


def _window(claims, where, crop, way, w):
    """A window as the chart tells it: dates, odds, interval, raising, pickings, yield."""
    name = re.escape(crop) + ", " if where == "screen" else ""
    raised, picked = w["raise_under_cover"], w["first_picking"]
    words = (
        rf"{name}{DO[way]} {day(w['from'])} to {day(w['to'])}: best about {day(w['best'])}\. "
        rf"Works {NUMBER} years in 10 \({w['years_decided']} years judged; give or take, {NUMBER}% to {NUMBER}%\)\."
    )
    if where == "screen":
        words += r"(?: Its edges[^.]*\.)?"
    if raised:
        words += rf" Sow under cover {day(raised['from'])} to {day(raised['to'])}\."
    if picked:
        words += (
            rf" From the best day, picking begins about {day(picked['p50'])}, {picked['days_after_start']} days on "
            rf"\({day(picked['p10'])} to {day(picked['p90'])} in 8 years of 10\)[^.]*\."
        )
    words += rf" Gives {NUMBER}% of a full crop"
    odds = [tenths(w["reliability"]), *map(percent, w["interval"]), percent(w["yield_fraction"])]
    claims.on(where, words, *odds)


def chart(answer):
    claims = Claims()
    for line in answer["crops"]:
        for start in line["starts"]:
            for w in start["windows"]:
                _window(claims, "screen", line["crop"], start["way"], w)
                if start["way"] == "planted":  # the page tells the years of a perennial, and of its odds no window
                    claims.on("page", f"plant {day(w['from'])} to {day(w['to'])}")
                else:
                    _window(claims, "page", line["crop"], start["way"], w)
            for a in start["advice"]:
                best, last = a["best_fortnight"], a["last_chance"]
                claims.both(
                    rf"Best fortnight in {a['season']}: {day(best['from'])} to {day(best['to'])}, picked from about "
                    rf"{day(best['first_picking']['p50'])}"
                )
                if safe := a["earliest_safe"]:
                    claims.both(rf"Earliest safe day: {day(safe['date'])}, picked {safe['gains_days']} days before")
                if last:
                    claims.both(
                        rf"Last chance: {day(last['date'])}, for {NUMBER}% of a full crop, "
                        rf"picked from {day(last['picked'])}",
                        percent(last["yield_fraction"]),
                    )
                if a["succession"]:
                    claims.both(rf"For pickings a fortnight apart: {', '.join(map(day, a['succession']))}\.")
    return claims


def rate(answer):
    claims = Claims()
    for line in answer["crops"]:
        crop, e = re.escape(line["crop"]), line["evidence"]
        claims.on("screen", rf"{crop} at Sallowdene \(invented\): {line['word']}")
        claims.on("page", rf"{crop} {line['word']}")
        if "window" not in e:
            claims.both(
                rf"Lives through {e['years_lived']} of {e['years_decided']} years, crops in {e['years_cropped']}"
            )
            claims.both(rf"Gives {NUMBER}% of a full crop on average", percent(e["share_of_a_full_crop"]))
            low, middle, high = e["chill_here"]
            claims.both(rf"Winter chill here {middle} \({low} to {high} in 8 years of 10\)")
            begins, ends = e["picked_in_the_middle_year"].split(" to ")
            claims.both(rf"Picked {day(begins)} to {day(ends)} in the middle of the years")
            continue
        w = e["window"]
        _window(claims, "page", line["crop"], e["way"], w)
        claims.on("screen", rf"works {NUMBER} years in 10", tenths(line["reliability"]))
        claims.on("screen", rf"Best {e['way']} {day(w['from'])} to {day(w['to'])}, best of all about {day(w['best'])}")
        claims.on(
            "screen",
            rf"Works in {NUMBER}% of {w['years_decided']} years \(95 per cent interval {NUMBER}% to {NUMBER}%\)",
            *map(percent, (w["reliability"], *w["interval"])),
        )
        picked = w["first_picking"]
        claims.on("screen", rf"picking begins about {day(picked['p50'])}, {picked['days_after_start']} days on")
        claims.on("screen", rf"draws {line['litres_per_m2']} litres/m2 a season")
    return claims


def week(answer):
    claims = Claims()
    claims.both(rf"the week of {day(answer['from'])} to {day(answer['to'])}")
    for job in answer["jobs"]:
        name = JOBS[job["job"]].format(re.escape(job["crop"]))
        if job["chance"] == "best":
            claims.both(rf"{name}, best about {day(job['best'])}, till {day(job['closes'])}")
        claims.on("page", rf"{name}, till {day(job['closes'])}")
    return claims


def climate(answer):
    claims = Claims()
    for name, key in (("last spring frost", "last_spring_frost"), ("first autumn frost", "first_autumn_frost")):
        f = answer[key]
        claims.both(
            rf"{name} {day(f['p50'])} in the middle year; 1 year in 10 by {day(f['p10'])}, 9 in 10 by {day(f['p90'])}"
        )
    free = answer["frost_free_days"]
    claims.both(
        rf"frost-free {free['p50']} days in the middle year; 1 year in 10 under {free['p10']}, "
        rf"1 in 10 over {free['p90']}"
    )
    claims.both(rf"frost days {NUMBER} a year", whole(answer["frost_days"]))
    claims.both(rf"growing degree days {NUMBER} a year", whole(answer["growing_degree_days"]))
    claims.both(
        rf"rain {NUMBER} mm a year", whole(answer["pr_year"] if "pr_year" in answer else sum(answer["pr"]), 6.0)
    )
    for variable, words in (("tasmin", "mean minimum, degC"), ("tasmax", "mean maximum, degC"), ("pr", "rain, mm")):
        months = [whole(v) for v in answer[variable]]
        claims.both(rf"{words}(?:: sallowdene \(invented\))? {' '.join([NUMBER] * 12)}", *months)
    return claims


def compare(answer):
    claims = Claims()
    for name in ("carrot", "leek", "pea (snow)"):
        row = next(r for r in answer["crops"] if r["crop"] == name)
        days, odds = (row[key] for key in ("days_to_start", "reliability"))
        claims.both(
            rf"{re.escape(name)}(?: \w+ \w+)? {days[0]} {days[1]} {NUMBER} in 10 {NUMBER} in 10 "
            rf"{NUMBER} {NUMBER}",
            *map(tenths, odds),
            *map(whole, row["litres_per_m2"]),
        )
    one = answer["climates"][0]
    claims.both(rf"last spring frost, middle year {day(one['last_spring_frost']['p50'])}")
    claims.both(rf"rain, mm a year {NUMBER} {NUMBER}", *(whole(sum(c["pr"]), 6.0) for c in answer["climates"]))
    return claims


def garden(answer):
    claims = Claims()
    most = max(map(sum, zip(*(bed["weekly_litres"] for bed in answer["beds"]), strict=True))) / 7
    claims.both(rf"the beds draw {NUMBER} litres a day", whole(most, 0.05 * most))
    for plant in answer["plants"]:
        claims.both(rf"{re.escape(plant['crop'])} (?:{plant['count']} )?{plant['count']}\b")
    for bed in answer["beds"]:
        for c in bed["crops"]:
            claims.both(rf"{c['count']} {re.escape(c['crop'])} {day(c['from'])} to {day(c['to'])}")
    store = answer["store"]
    claims.both(rf"full store of {store['capacity_litres']:,.0f} litres")
    dry = sorted(year["days_dry"] for year in store["years"])
    claims.both(rf"in the median year on {NUMBER} days", whole((dry[14] + dry[15]) / 2, 1.0))
    claims.both(rf"{NUMBER} litres would last 9 years in 10", whole(store["size_for_9_in_10"], 6.0))
    claims.both(rf"the last emitter then has {NUMBER} kPa", whole(answer["gravity"]["pressure_kpa"]))
    return claims


DECIDES = {
    "chart": chart,
    "rate": rate,
    "rate, a perennial": rate,
    "week": week,
    "compare": compare,
    "climate": climate,
    "garden": garden,
}


@pytest.mark.parametrize("command", CALLS)
def test_screen_page_and_json_tell_the_same_figures(told, command):
    three, page = told
    answer, screen = three[command]
    claims = DECIDES[command](answer)
    assert len(claims) >= 5
    assert claims.lacking("screen", screen) == []
    assert claims.lacking("page", page) == []


@pytest.mark.parametrize("command", CALLS)
@pytest.mark.parametrize("altered", ["the JSON", "screen", "page"])
def test_a_figure_that_is_altered_is_missed(told, command, altered):
    """Each figure of one of the three put one up: hardly a claim holds then, where another figure takes its place."""
    three, page = told
    answer, screen = three[command]

    def up(text):
        return re.sub(r"\d", lambda digit: str((int(digit[0]) + 1) % 10), text)

    def month_on(value):
        if isinstance(value, dict):
            return {k: month_on(v) for k, v in value.items()}
        if isinstance(value, list):
            return [month_on(v) for v in value]
        if isinstance(value, str):
            return re.sub(r"\b(\d\d)(?=-\d\d\b)", lambda month: f"{int(month[0]) % 12 + 1:02}", value)
        return value * 1.2 + 2 if type(value) in (int, float) else value

    whole = DECIDES[command](answer)
    claims = DECIDES[command](month_on(answer)) if altered == "the JSON" else whole
    texts = {"screen": screen, "page": page}
    for where in ("screen", "page") if altered == "the JSON" else (altered,):
        text = texts[where] if altered == "the JSON" else up(texts[where])
        figures = [c for c, numbers, places in claims if where in places and (numbers or re.search(r"\d", c))]
        assert figures
        assert len(set(claims.lacking(where, text)) & set(figures)) >= 0.9 * len(set(figures))
