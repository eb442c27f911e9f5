"""Each figure of a place is reckoned again from the sentence that defines it, by plain loops over single days.

The limits, the comparisons, the seasons and the dates are read out of the sentences, so that words and figures can
only be right together. The record has days that lie just upon the limits.
"""

from __future__ import annotations

import datetime as dt
import math
import operator
import re

import numpy as np
import pandas as pd
import pytest

from sowcal.answers import site_climate
from sowcal.climate.hourly import hourly_temperature
from sowcal.climate.place_figures import definitions
from sowcal.outputs.climate_document import climate_document
from sowcal.outputs.document import page_parts, screen_text
from sowcal.weather.cf_dataset import dataset_of
from sowcal.weather.record import DailyRecord, daily_record

MONTHS = [f"{dt.date(2001, month, 1):%B}" for month in range(1, 13)]
PLACES = {"north": 37.5, "south": -33.0}


@pytest.fixture(scope="module", params=PLACES)
def place(request):
    """Latitude, and twelve years of rounded days: many stand just on 0, 10, 20, 30 or 35 degC, some rain is 25 mm."""
    latitude = PLACES[request.param]
    days = pd.date_range("2001-01-01", "2012-12-31")
    random = np.random.default_rng(17)
    season = np.cos(2 * np.pi * (days.day_of_year.to_numpy() - (200 if latitude > 0 else 17)) / 365.25)
    low = np.round(10.5 + 8.5 * season + 2.5 * random.standard_normal(days.size))
    high = low + np.round(11 + 3.5 * season + 2 * random.random(days.size))
    wet = random.random(days.size) < np.where(season < 0, 0.3, 0.05)
    rain = np.where(wet, np.round(random.exponential(8, days.size)), 0.0)
    rain[[i for i, d in enumerate(days) if (d.month, d.day) == ((9, 20) if latitude > 0 else (3, 20))]] = 25.0
    return daily_record(
        days.to_numpy().astype("datetime64[D]"),
        {"tasmin": low, "tasmax": high, "pr": rain},
        latitude=latitude,
        longitude=0.0,
        elevation=50.0,
        title="Small",
    )


@pytest.fixture(scope="module")
def answer(place):
    return site_climate(place).to_json()


class Days:
    """The record as plain lists, and the rule on missing days (here none is missing inside a span, or all are)."""

    def __init__(self, record: DailyRecord):
        self.dates = [dt.date.fromisoformat(str(d)[:10]) for d in record.time]
        self.low, self.high, self.rain = (record[v].tolist() for v in ("tasmin", "tasmax", "pr"))
        self.latitude = record.latitude

    def spans(self, begin, end):
        """Indices of the days of each span from a (month, day) to the one before another, where it is whole."""
        place = {d: i for i, d in enumerate(self.dates)}
        out = {}
        for year in range(self.dates[0].year - 1, self.dates[-1].year + 2):
            first = dt.date(year, *begin)
            last = dt.date(year + (end <= begin), *end) - dt.timedelta(days=1)
            if first in place and last in place:
                out[year] = range(place[first], place[last] + 1)
        return out


def date_in(sentence, before):
    """The month and day that stands after some words."""
    found = re.search(before + r" (\d+) (" + "|".join(MONTHS) + ")", sentence)
    assert found, sentence
    return MONTHS.index(found[2]) + 1, int(found[1])


def limit_in(sentence):
    """The comparison and the limit that a sentence names."""
    found = re.search(r"strictly (below|above) (-?[\d.]+) degC", sentence)
    assert found, sentence
    return {"below": operator.lt, "above": operator.gt}[found[1]], float(found[2])


def day_number(date):
    """Day of a 365-day year from 0, 29 February being the 28th."""
    date = date.replace(year=2001) if (date.month, date.day) != (2, 29) else dt.date(2001, 2, 28)
    return date.timetuple().tm_yday - 1


def as_date(number):
    return None if math.isinf(number) else f"{dt.date(2001, 1, 1) + dt.timedelta(days=int(number)):%m-%d}"


def growing_years(days, told):
    begin = date_in(told["growing_year"], "begins on")
    return days.spans(begin, begin)


def mean(values):
    return math.fsum(values) / len(values)


def ranked(values, share):
    """Order statistics at rank / (n + 1); between a date and never the nearer of the two."""
    values = sorted(values)
    rank = min(max(share * (len(values) + 1) - 1, 0), len(values) - 1)
    k, part = int(rank), rank - int(rank)
    one, two = values[k], values[min(k + 1, len(values) - 1)]
    if math.isinf(one) or math.isinf(two):
        return one if part < 0.5 else two
    return one + part * (two - one)


@pytest.mark.parametrize("name", ["frost_days", "years_without_frost"])
def test_frost_days(place, answer, name):
    days, told = Days(place), answer["definitions"]
    compare, limit = limit_in(told[name])
    counts = [sum(compare(days.low[i], limit) for i in span) for span in growing_years(days, told).values()]
    if name == "frost_days":
        assert answer[name] == pytest.approx(mean(counts), abs=6e-4)
        wrong = [sum(days.low[i] <= limit for i in span) for span in growing_years(days, told).values()]
        assert abs(mean(wrong) - mean(counts)) > 0.3, "the record must tell strict from not strict"
    else:
        assert answer[name] == pytest.approx(mean([c == 0 for c in counts]), abs=6e-4)


def halves(days, told):
    """Of each half-year the days of frost, the year as it begins in midwinter."""
    compare, limit = limit_in(told["frost_by_year"])
    middle, first = date_in(told["frost_by_year"], "before"), date_in(told["growing_year"], "begins on")
    spring = {y: [i for i in s if compare(days.low[i], limit)] for y, s in days.spans(first, middle).items()}
    autumn = {y: [i for i in s if compare(days.low[i], limit)] for y, s in days.spans(middle, first).items()}
    later = int(middle < first)  # in the south the second half lies in the next calendar year
    return spring, {y - later: s for y, s in autumn.items()}


def test_frost_dates(place, answer):
    days, told = Days(place), answer["definitions"]
    spring, autumn = halves(days, told)
    last = {y: day_number(days.dates[s[-1]]) if s else -math.inf for y, s in spring.items()}
    first = {y: day_number(days.dates[s[0]]) if s else math.inf for y, s in autumn.items()}
    for name, by_year, shares in (
        ("last_spring_frost", last, (0.1, 0.5, 0.9)),
        ("first_autumn_frost", first, (0.1, 0.5, 0.9)),
    ):
        wanted = [as_date(ranked(by_year.values(), share)) for share in shares]
        assert [answer[name][k] for k in ("p10", "p50", "p90")] == wanted
    assert answer["frost_by_year"] == [
        {"year": y, "last_spring_frost": as_date(last[y]), "first_autumn_frost": as_date(first[y])}
        for y in sorted(last.keys() & first.keys())
    ]


def test_frost_free_days(place, answer):
    days, told = Days(place), answer["definitions"]
    spring, autumn = halves(days, told)
    lengths = []
    for year, span in growing_years(days, told).items():
        before = spring[year][-1] if spring[year] else span[0] - 1
        after = autumn[year][0] if autumn[year] else span[-1] + 1
        lengths.append(after - before - 1)
    lengths.sort()
    for key, share in (("p10", 0.1), ("p50", 0.5), ("p90", 0.9)):
        at = share * (len(lengths) - 1)
        k = int(at)
        value = lengths[k] + (at - k) * (lengths[min(k + 1, len(lengths) - 1)] - lengths[k])
        assert answer["frost_free_days"][key] == round(value)


def sine_degree_days(low, high, base, top, cut=True, steps=4000):
    """Warmth under a sine from minimum to maximum, added up step by step over the day."""
    total = 0.0
    for k in range(steps):
        warm = 0.5 * (low + high) + 0.5 * (high - low) * math.sin(2 * math.pi * (k + 0.5) / steps)
        total += max(min(warm, top) if cut else warm, base) - base
    return total / steps


def test_growing_degree_days(place, answer):
    days, told = Days(place), answer["definitions"]
    sentence = told["growing_degree_days"]
    assert "single sine" in sentence
    base = float(re.search(r"base (\d+) degC", sentence)[1])
    top = float(re.search(r"cut horizontally at (\d+) degC", sentence)[1])
    kept = {pair: sine_degree_days(*pair, base, top) for pair in set(zip(days.low, days.high, strict=True))}
    uncut = {pair: sine_degree_days(*pair, base, top, cut=False) for pair in kept}
    found, other = (
        mean([sum(k[days.low[i], days.high[i]] for i in span) for span in growing_years(days, told).values()])
        for k in (kept, uncut)
    )
    assert answer["growing_degree_days"] == pytest.approx(found, rel=1e-4)
    assert other > 1.005 * found, "the record must tell a cut from none"


def months(days, value):
    """Mean over the years of a month's value of its days."""
    out = []
    for month in range(1, 13):
        spans = days.spans((month, 1), (month % 12 + 1, 1))
        out.append(mean([value(span) for span in spans.values()]))
    return out


@pytest.mark.parametrize("name", ["hot_days_30", "hot_days_35", "warm_nights_20"])
def test_days_and_nights_above(place, answer, name):
    days, told = Days(place), answer["definitions"]
    compare, limit = limit_in(told[name])
    values = days.high if "with a maximum" in told[name] else days.low
    assert answer[name] == pytest.approx(months(days, lambda s: sum(compare(values[i], limit) for i in s)), abs=6e-4)
    wrong = months(days, lambda s: sum(values[i] >= limit for i in s))
    assert sum(wrong) > sum(answer[name]) + 0.5, "the record must tell strict from not strict"


def test_monthly_means_and_rain(place, answer):
    days = Days(place)
    for name, values, value in (
        ("tasmin", days.low, lambda v: mean(v)),
        ("tasmax", days.high, lambda v: mean(v)),
        ("pr", days.rain, math.fsum),
    ):
        assert answer["definitions"][name].startswith("Sum" if name == "pr" else "Mean")
        assert answer[name] == pytest.approx(months(days, lambda s, v=values, f=value: f([v[i] for i in s])), abs=6e-4)


def test_reference_evapotranspiration(place, answer):
    """FAO-56 eq. 52 with Ra by eq. 21 and 23 to 25, written out."""
    days, sentence = Days(place), answer["definitions"]["reference_evapotranspiration"]
    assert "Hargreaves-Samani (FAO-56 eq. 52)" in sentence
    assert sentence.startswith("Sum of the month")

    def daily(i):
        j, phi = days.dates[i].timetuple().tm_yday, math.radians(days.latitude)
        delta = 0.409 * math.sin(2 * math.pi * j / 365 - 1.39)
        omega = math.acos(-math.tan(phi) * math.tan(delta))
        distance = 1 + 0.033 * math.cos(2 * math.pi * j / 365)
        sun = omega * math.sin(phi) * math.sin(delta) + math.cos(phi) * math.cos(delta) * math.sin(omega)
        radiation = 24 * 60 / math.pi * 0.0820 * distance * sun
        warm = 0.5 * (days.low[i] + days.high[i])
        return max(0.408 * 0.0023 * (warm + 17.8) * math.sqrt(days.high[i] - days.low[i]) * radiation, 0.0)

    wanted = months(days, lambda span: math.fsum(daily(i) for i in span))
    assert answer["reference_evapotranspiration"] == pytest.approx(wanted, abs=6e-4)


def chill_season(sentence):
    begin = date_in(sentence, "from")
    if "to the end of February" in sentence:
        return begin, (3, 1)
    month, day = date_in(sentence, " to")
    after = dt.date(2001, month, day) + dt.timedelta(days=1)
    return begin, (after.month, after.day)


def utah(t):
    for limit, unit in ((1.4, 0.0), (2.4, 0.5), (9.1, 1.0), (12.4, 0.5), (15.9, 0.0), (18.0, -0.5)):
        if t <= limit:
            return unit
    return -1.0


@pytest.mark.parametrize("name", ["chill_hours", "chill_units", "chill_portions"])
def test_chill_over_its_season(place, answer, name):
    """Hours are those of the curve that the sentence names; models by their publications, hour by hour."""
    days, sentence = Days(place), answer["definitions"][name]
    assert "(Linvill 1990)" in sentence
    number = [d.timetuple().tm_yday for d in days.dates]
    hours = hourly_temperature(np.array(days.low), np.array(days.high), days.latitude, np.array(number)).tolist()
    spans = days.spans(*chill_season(sentence)).values()
    if name == "chill_hours":
        low, high = (float(v) for v in re.search(r"from ([\d.]+) to ([\d.]+) degC, both ends", sentence).groups())
        found = [sum(low <= t <= high for i in span for t in hours[i]) for span in spans]
    elif name == "chill_units":
        assert "Richardson, Seeley & Walker 1974" in sentence
        found = [sum(utah(t) for i in span for t in hours[i]) for span in spans]
    else:
        assert "starts empty each season" in sentence
        found = [portions([t for i in span for t in hours[i]]) for span in spans]
    assert answer[name] == pytest.approx(mean(found), rel=2e-5, abs=1e-3)


def portions(hours):
    """The dynamic model as Fishman, Erez & Couvillon 1987 write it, with the constants of Erez et al. 1990."""
    state = total = 0.0
    for t in hours:
        kelvin = t + 273.0
        slope = 1.6 * 277.0 * (kelvin - 277.0) / kelvin
        fixed = math.exp(slope) / (1 + math.exp(slope))
        ratio = 1.395e5 / 2.567e18 * math.exp((12888.8 - 4153.5) / kelvin)
        rate = 2.567e18 * math.exp(-12888.8 / kelvin)
        state = ratio - (ratio - state) * math.exp(-rate)
        if state >= 1:
            total += state * fixed
            state -= state * fixed
    return total


def test_zones(place, answer):
    days, told = Days(place), answer["definitions"]
    begin = date_in(told["hardiness_zone"], "begin on")
    lowest = mean([min(days.low[i] for i in span) for span in days.spans(begin, begin).values()])
    half = int((lowest * 1.8 + 32 + 60) // 5)
    assert answer["hardiness_zone"] == f"{half // 2 + 1}{'ab'[half % 2]}"
    compare, limit = limit_in(told["heat_zone"])
    hot = mean([sum(compare(days.high[i], limit) for i in s) for s in growing_years(days, told).values()])
    limits = (1, 7, 14, 30, 45, 60, 90, 120, 150, 180, 210)  # AHS 1997; zone 12 has more than the last
    assert answer["heat_zone"] == str(1 + sum(hot > one if one > 1 else hot >= one for one in limits))


def test_day_length(place, answer):
    phi = math.radians(place.latitude)
    light = []
    for j in range(1, 366):
        delta = 0.409 * math.sin(2 * math.pi * j / 365 - 1.39)
        light.append(24 / math.pi * math.acos(-math.tan(phi) * math.tan(delta)))
    assert (answer["shortest_day"], answer["longest_day"]) == pytest.approx((min(light), max(light)), abs=6e-4)
    assert "FAO-56 eq. 24, 25 and 34" in answer["definitions"]["longest_day"]


def test_opening_rains(place, answer):
    days, sentence = Days(place), answer["definitions"]["opening_rains_by_year"]
    amount, within = (int(v) for v in re.search(r"(\d+) mm have fallen within (\d+) days", sentence).groups())
    month, day = date_in(sentence, "counted from")
    ends = ((month + 5) % 12 + 1, day)
    found = {}
    for year, span in days.spans((month, day), ends).items():
        found[year] = next(
            (
                day_number(days.dates[i]) + 365 * (days.dates[i].year - year)
                for i in span
                if math.fsum(days.rain[k] for k in range(max(i - within + 1, span[0]), i + 1)) >= amount
            ),
            math.inf,
        )

    def shown(number):
        return None if math.isinf(number) else as_date(number % 365)

    assert [y["day"] for y in answer["opening_rains_by_year"]["years"]] == [shown(found[y]) for y in sorted(found)]
    ordered = sorted(found.values())
    for key, share in (("p10", 0.1), ("p50", 0.5), ("p90", 0.9)):
        assert answer["opening_rains_by_year"][key] == shown(ordered[math.ceil(share * len(ordered)) - 1])
    assert answer["opening_rains"] == answer["opening_rains_by_year"]["p50"]


NOT_FIGURES = {"site", "latitude", "elevation", "evapotranspiration_method", "notes", "made_by", "definitions"}


def test_every_figure_has_its_definition(place, answer):
    """And nothing is defined that is not there; what is not known has no definition."""
    figures = {
        k for k in answer if k not in NOT_FIGURES and not k.startswith("record_") and answer[k] not in (None, [])
    }
    assert set(answer["definitions"]) == figures | {"growing_year", "left_out"}
    bare = site_climate(dataset_of(place)[["tasmin", "tasmax", "tasmin_origin", "tasmax_origin"]]).to_json()
    assert "pr" not in bare["definitions"]
    assert all(s.endswith(".") and s.count(". ") <= 3 for s in answer["definitions"].values())


def test_text_and_page_take_the_words_from_the_table(place, answer):
    summary = site_climate(place)
    text = " ".join(screen_text(climate_document(summary), width=200).split())
    short = {name: d.short for name, d in definitions(summary.latitude).items()}
    for name in ("frost_days", "growing_degree_days", "chill_portions", "chill_hours", "chill_units", "longest_day"):
        assert short[name] in text, name
    assert f"{answer['growing_degree_days']:.0f} a year (single sine, 10 to 30 degC)" in text
    assert "a year (minimum below 0 degC)" in text
    assert "heat zone" not in text  # days above 30 and 35 degC stand in its place
    page = page_parts(climate_document(summary).parts)
    for sentence in answer["definitions"].values():
        assert sentence.replace("degC", "°C").replace("&", "&amp;").replace("'", "&#x27;") in page
    assert len(screen_text(climate_document(summary)).splitlines()) <= 40
