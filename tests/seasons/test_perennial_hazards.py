"""What takes part of a perennial's crop: frost on some of its flowers and fruit, days too hot to grow, wet springs.

Each is tried on invented days where only one thing happens, so that the answer can be told beforehand.
"""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from sowcal.answers import open_handbook
from sowcal.seasons.perennial_years import perennial_years
from sowcal.seasons.site_days import SiteDays

YEARS = 5
DAYS = 365 * YEARS + 1  # 2001 to 2005, of which 2004 leaps


def place(low=8.0, high=20.0, *, mean=None, swing=0.0, cold=(), hot=(), rain=None, latitude=40.0):
    """Even days, or a yearly wave about a mean, with single cold nights and hot days set by their index."""
    day = np.arange(DAYS)
    wave = swing * np.sin(2 * np.pi * (day - 110) / 365.25) * (1 if latitude >= 0 else -1)
    middle = wave + (mean if mean is not None else 0.5 * (low + high))
    half = 0.5 * (high - low)
    tasmin, tasmax = middle - half, middle + half
    for at, degrees in cold:
        tasmin[at] = degrees
    for at, degrees in hot:
        tasmax[at] = degrees
    return SiteDays(tasmin, tasmax, np.datetime64("2001-01-01"), latitude, rain=rain)


@pytest.fixture(scope="module")
def book():
    return open_handbook()


def bloom_of(site, crop, year=1):
    return int(perennial_years(site, crop).growth[year])


def test_one_frost_takes_the_flowers_that_are_open_and_no_more(book):
    """A night of -4 degC kills all open flowers of a strawberry, buds by their own limit of -3 to -5.5 degC.

    Of a bloom of 120 days an eighth is open in any one night; of a bloom of some days all are.
    """
    crop = book["strawberry (day-neutral)"]
    bare = replace(
        crop.blossom, kill_10_bud=np.nan, kill_90_bud=np.nan, kill_10_fruitlet=np.nan, kill_90_fruitlet=np.nan
    )
    left = {}
    for days in (4, 120):
        plant = replace(crop, blossom=replace(bare, bloom_days=float(days)))
        site = place()
        night = bloom_of(site, plant)
        left[days] = perennial_years(place(cold=[(night, -6.0)]), plant).shares["frost on blossom"][1]
    assert left[4] == 0.0
    # seven of eight groups of flowers live, which is more than the half that carries a full crop
    assert left[120] == 1.0


def test_more_frosts_take_more_flowers(book):
    plant = book["strawberry (day-neutral)"]
    first = bloom_of(place(), plant) - 60
    nights = [(first + 7 + 15 * k, -6.0) for k in range(8)]
    shares = [perennial_years(place(cold=nights[:n]), plant).shares["frost on blossom"][1] for n in (0, 3, 5, 8)]
    assert shares[0] == 1.0
    assert all(a >= b for a, b in pairwise(shares))
    assert shares[-1] == 0.0


def test_frost_spoils_only_what_still_hangs(book):
    """The same night costs an orange less the later in its picking it comes, and nothing once the last is picked."""
    orange = book["orange"]
    years = perennial_years(place(mean=16.0, swing=7.0), orange)
    first, last = int(years.first[1]), int(years.last[1])
    left = []
    for part in (0.0, 0.35, 0.75, 1.05):
        night = first + int(part * (last - first))
        cold = place(mean=16.0, swing=7.0, cold=[(night, -6.0)])
        left.append(perennial_years(cold, orange).shares["frost"][1])
    assert left == sorted(left)
    # wood is hurt at -5.4 degC whenever the night comes, fruit only while it hangs
    bare = replace(orange, perennial=replace(orange.perennial, killing_top=np.nan, killing_growing=np.nan))
    cold = place(mean=16.0, swing=7.0, cold=[(last + 3, -6.0)])
    assert perennial_years(cold, bare).shares["frost"][1] == pytest.approx(1.0, abs=0.02)
    cold = place(mean=16.0, swing=7.0, cold=[(first - 10, -9.0)])
    assert perennial_years(cold, bare).shares["frost"][1] < 0.05


def test_frost_after_the_last_picking_costs_none_of_that_year_s_crop(book):
    apple = book["apple (low-chill)"]
    years = perennial_years(place(mean=16.0, swing=7.0), apple)
    after = int(years.last[1]) + 5
    spoilt = perennial_years(place(mean=16.0, swing=7.0, cold=[(after, -8.0)]), apple)
    assert spoilt.shares["frost"][1] == pytest.approx(years.shares["frost"][1])
    during = perennial_years(place(mean=16.0, swing=7.0, cold=[(int(years.first[1]), -8.0)]), apple)
    assert during.shares["frost"][1] < 0.6


def test_days_too_hot_to_grow_are_lost_to_the_fruit(book):
    """Above 35 degC the leaves of a hazel burn (Thompson 1981 as quoted): such days of its season bring nothing."""
    hazel = book["hazelnut"]
    site = place(mean=14.0, swing=6.0)
    years = perennial_years(site, hazel)
    start, end = int(years.growth[1]), int(years.last[1])
    days = list(range(start + 5, end - 5, 5))
    hot = perennial_years(place(mean=14.0, swing=6.0, hot=[(d, 36.0) for d in days]), hazel)
    assert years.shares["heat"][1] == 1.0
    assert hot.shares["heat"][1] == pytest.approx(1.0 - len(days) / (end - start), abs=0.005)
    assert hot.limits["heat"] == ("perennials", "heat_stops")


def test_leaf_curl_comes_of_rain_on_cool_days(book):
    """More than 3 mm below 16 degC (61 degF, Rutgers Plant & Pest Advisory); dry or warm springs cost nothing."""
    peach = book["peach (low-chill)"]
    wet, dry = np.full(DAYS, 8.0), np.zeros(DAYS)

    def left(mean, rain):
        return perennial_years(place(mean=mean, rain=rain), peach).shares.get("wet spring")

    assert left(12.0, wet)[1] == pytest.approx(1.0 - peach.blossom.wet_spring_loss)
    assert left(12.0, dry)[1] == left(18.0, wet)[1] == left(12.0, np.full(DAYS, 2.0))[1] == 1.0
    assert left(12.0, None) is None
    some = np.where(np.arange(DAYS) % 5 == 0, 8.0, 0.0)  # a day in five
    assert 1.0 - peach.blossom.wet_spring_loss < left(12.0, some)[1] < 1.0


@pytest.mark.parametrize("latitude", [40.0, -40.0])
def test_saffron_flowers_when_a_fortnight_falls_below_17_degrees(book, latitude):
    """Molina et al. 2005, Scientia Horticulturae 103:361-379: flowers come up as it falls to 15 to 17 degC."""
    site = place(mean=15.0, swing=10.0, latitude=latitude)
    years = perennial_years(site, book["saffron"])
    for first in years.first[:-1].astype(int):
        assert site.tas[first - 13 : first + 1].mean() < 17.0 <= site.tas[first - 14 : first].mean()
        assert site.tas[first] < site.tas[first - 14]  # it is autumn
    warm = perennial_years(place(mean=17.0, swing=10.0, latitude=latitude), book["saffron"])
    assert (warm.first[:-1] > years.first[:-1]).all()  # a long hot summer delays it


def test_chayote_waits_for_short_days(book):
    """Flowers form below 13 hours of daylight (a grower's diary): not before September at 40 degrees north."""
    site = place(mean=20.0, swing=5.0)
    years = perennial_years(site, book["chayote"])
    dates = site.dates[years.first[:-1].astype(int)]
    assert {str(d)[5:7] for d in dates} <= {"09", "10", "11"}


def test_warmth_of_autumn_opens_no_blossom(book):
    """Wood rests until winter begins (common practice): a warm November moves no bloom of a sort that has its chill."""
    peach = book["peach (low-chill)"]
    cool = perennial_years(place(mean=9.0, swing=4.0), peach)
    november = [(d, 22.0) for d in range(304 + 365, 334 + 365)]  # of 2002
    warm = perennial_years(place(mean=9.0, swing=4.0, hot=november), peach)
    assert warm.growth[1] == cool.growth[1] > 334 + 365
    south = perennial_years(place(mean=9.0, swing=4.0, latitude=-40.0), peach)
    assert (abs((south.growth[:4] - cool.growth[:4]) % 365 - 184) <= 4).all()


@pytest.mark.parametrize(("mean", "left"), [(13.0, 0.0), (14.6, 0.51), (15.3, 1.0)])
@pytest.mark.parametrize("latitude", [40.0, -40.0])
def test_heat_sums_of_vineyards(book, mean, left, latitude):
    """Below 850 degree days above 10 degC from April to October too cool, to 1111 only the earliest sorts (Oxford
    Companion to Wine, California heat summation): 214 days (212 in the south) of 4.6 degC above it are 984 (975)."""
    years = perennial_years(place(mean - 5.0, mean + 5.0, latitude=latitude), book["vine"])
    assert years.shares["too slow"][1] == pytest.approx(left, abs=0.04)
    assert years.limits["too slow"] == ("perennials", "heat_sum_best")


def test_mild_winters_thin_the_flowers_of_kiwis(book):
    """King flowers a bud: 2.4 at a mean of 7.6 degC, 0.2 at 14.1, best up to 11 (two abstracts, NZ J. Crop Hort.)."""
    kiwi = replace(book["kiwi"], chill=())
    left = [
        perennial_years(place(m - 5.0, m + 5.0), kiwi).shares["winter too mild"][1] for m in (7.6, 10.3, 12.0, 14.1)
    ]
    assert left == pytest.approx([1.0, 1.0, 1.0 - 0.3 * 1.7 / 3.1, 0.7])


def test_a_frost_on_bare_flowering_wood_costs_no_leaves(book):
    """Hazels flower in June or July and break bud in September in Tasmania (Kerslake, fact sheet)."""
    hazel = book["hazelnut"]
    years = perennial_years(place(mean=10.0, swing=5.0), hazel)
    bloom, leaves = int(years.growth[1]), int(years.leaves[1])
    assert 30 < leaves - bloom < 100

    def left(night):
        return perennial_years(place(mean=10.0, swing=5.0, cold=[(night, -6.0)]), hazel).shares["frost"][1]

    assert left((bloom + leaves) // 2) == years.shares["frost"][1]
    assert left(leaves + 5) < 0.6


def test_a_degree_less_ripens_peaches_some_five_days_later(book):
    """22 low-chill peaches at 13 Australian places: 5 days a degree (J. Am. Pomol. Soc. 43(4):155, abstract)."""
    peach = replace(book["peach (low-chill)"], chill=())
    years = [perennial_years(place(m - 6.0, m + 6.0), peach) for m in (14.0, 19.0)]
    days = [float((y.first - y.growth)[1]) for y in years]
    assert 3.0 <= (days[0] - days[1]) / 5.0 <= 7.0


def test_early_sorts_are_picked_where_late_ones_do_not_ripen(book):
    """Apples of cool maritime summers are picked from September to November (practice), not at the turn of the year."""
    apple = book["apple (high-chill)"]
    cool, warm = (perennial_years(place(mean=m, swing=5.5), apple) for m in (9.5, 14.0))
    assert {str(d)[5:7] for d in cool.first_date + cool.first[:4].astype(int)} <= {"09", "10"}
    # nor does a warmer place pick later
    assert (warm.first[:4] < cool.first[:4]).all()
