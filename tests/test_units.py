"""Quantities in the units of the United States: the figures are those of SI, converted, and data stay SI."""

import datetime as dt
import io
import json
import math
import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from matplotlib.text import Text

from sowcal import garden_plan, site_climate
from sowcal.__main__ import main
from sowcal.crops.handbook import handbook
from sowcal.errors import InputError
from sowcal.languages import phrase, say, speaking
from sowcal.outputs.climate_document import month_pictures
from sowcal.outputs.figure_climate import climate_figures
from sowcal.outputs.garden_document import garden_table_text, garden_text
from sowcal.outputs.shed_sheets import shed_figures
from sowcal.outputs.terminal import plain
from sowcal.saved_settings import parse_remembered, recall
from sowcal.units import UNITS, amount, converted, measuring, quantities, quantity, told, unit_word

# What pint, which xclim brings, calls each: an outside table of units.
PINT = {
    "degC": ("degC", "degF"),
    "degC apart": ("delta_degC", "delta_degF"),
    "°C": ("degC", "degF"),
    "°C apart": ("delta_degC", "delta_degF"),
    "K": ("kelvin", "delta_degF"),
    "degree days": ("delta_degC * day", "delta_degF * day"),
    "mm": ("mm", "inch"),
    "cm": ("cm", "inch"),
    "m": ("m", "foot"),
    "metres": ("m", "foot"),
    "km": ("km", "mile"),
    "m2": ("m**2", "foot**2"),
    "kg": ("kg", "pound"),
    "g": ("g", "ounce"),
    "kg/m2": ("kg/m**2", "pound/foot**2"),
    "g/m2": ("g/m**2", "ounce/foot**2"),
    "litres": ("litre", "gallon"),
    "litre": ("litre", "gallon"),
    "litres/m2": ("litre/m**2", "gallon/foot**2"),
    "l/m2": ("litre/m**2", "gallon/foot**2"),
    "litres per square metre": ("litre/m**2", "gallon/foot**2"),
    "litres per m²": ("litre/m**2", "gallon/foot**2"),
    "litres each m2": ("litre/m**2", "gallon/foot**2"),
    "l/h": ("litre/hour", "gallon/hour"),
    "l/min": ("litre/minute", "gallon/minute"),
    "kPa": ("kPa", "psi"),
    "bar": ("bar", "psi"),
    "t": ("tonne", "short_ton"),
    "g or more to the kg": ("g/kg", "ounce/pound"),
}
WORDS_ALONE = {"a square metre", "thousand litres"}  # no figure stands before them


def test_every_factor_is_that_of_an_outside_table_of_units():
    pint = pytest.importorskip("pint")
    registry = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)
    assert set(PINT) | WORDS_ALONE == set(UNITS)
    for name, (si, us) in PINT.items():
        for value in (-12.5, 0.0, 1.0, 347.25):
            if name == "K":  # a difference as tables of weather have it
                si = "delta_degC"
            with measuring("us"):
                found = converted(value, name)
            assert found == pytest.approx(registry.Quantity(value, si).to(us).magnitude, rel=1e-9, abs=1e-9), name


temperatures = st.floats(-80, 60)


@given(temperatures, temperatures)
def test_a_difference_is_never_told_as_a_temperature(one, other):
    with measuring("us"):
        apart = converted(one, "degC") - converted(other, "degC")
        assert apart == pytest.approx(converted(one - other, "degC apart"), abs=1e-9)
        assert converted(0.0, "degC apart") == 0.0
        assert converted(0.0, "degC") == 32.0


@settings(max_examples=300)
@given(
    st.floats(-50, 9000),
    st.sampled_from(sorted(set(PINT) - {"t"})),
    st.sampled_from([".0f", ".1f", ".2f", ",.0f", "+.1f"]),
    st.sampled_from([1, 10]),
)
def test_a_figure_is_rounded_to_what_si_tells_and_to_no_less(value, name, spec, step):
    """Told to a power of ten that is at most twice SI's own step, and more than a fifth of it."""
    if step == 10 and ".0f" not in spec:
        step = 1
    with measuring("us"):
        shown, exact = amount(value, name, spec, step), converted(value, name)
    assert ("+" in spec) == (shown[0] in "+-" if "+" in spec else False)
    finest = 10.0 ** -len(shown.partition(".")[2]) if "." in shown else 1.0
    own = step * 10.0 ** -int(spec[-2]) * UNITS[name].factor
    coarse = 10.0 ** math.floor(math.log10(2 * own) + 1e-9)
    assert coarse <= 2 * own * (1 + 1e-9) < 10 * coarse * (1 + 1e-9)
    assert finest == pytest.approx(min(coarse, 1.0))
    assert abs(float(shown.replace(",", "")) - exact) <= coarse / 2 * (1 + 1e-6) + 1e-9


@given(temperatures, st.floats(0, 40))
def test_an_interval_keeps_both_ends_in_order(low, wide):
    with measuring("us"):
        a, b = say(quantities(low, low + wide, "degC", ".1f")).removesuffix(" degF").split(" to ")
    assert float(a) == pytest.approx(low * 1.8 + 32, abs=0.051)
    assert float(b) == pytest.approx((low + wide) * 1.8 + 32, abs=0.051)
    assert float(a) <= float(b)


def test_a_phrase_keeps_si_and_is_told_by_who_shows_it():
    with measuring("us"):
        made = phrase(
            "frost hollow {deep} deep, {limit} and below", deep=quantity(2, "degC apart"), limit=quantity(0.0, "degC")
        )
        nested = phrase("{what}; mulch", what=made)
        assert nested == "frost hollow 2 degC deep, 0 degC and below; mulch"
        assert say(nested) == "frost hollow 3.6 degF deep, 32 degF and below; mulch"
    assert say(nested) == nested
    with speaking("pt"):
        assert told(1234.5, "litres", ",.1f") == "1.234,5 litros"
        with measuring("us"):
            assert told(25.4, "mm", ".1f") == "1,000 polegadas"
    with pytest.raises(InputError, match="imperial"), measuring("imperial"):
        pass
    assert unit_word("mm") == "mm"


DAY = ("--issued", "2026-03-01")
SCREENS = (
    "climate sallowdene",
    "rate sallowdene",
    "rate sallowdene rhubarb",
    "rate sallowdene fig --with frost-hollow=2 --with higher=100",
    "chart sallowdene",
    "chart sallowdene tomato",
    "compare sallowdene wrackhythe tomato leek",
    "weather trend sallowdene",
    "weather check sallowdene",
)
SI_WORDS = re.compile(
    r"degC|°C|\bmm\b|\bcm\b|[\d] m\b|\bm2\b|m²|\bkg\b|\bg\b|[Ll]itres?\b|\bl/(?:m2|h|min)\b|\bkPa\b|\bbar\b(?! a)"
    r"|\bK\b|[Mm]etres?\b|\bkm\b"
)
NUMBER = re.compile(r"(?:(?<![\w.)])[-+])?(?<![\w.])\d[\d,]*(?:\.\d+)?(?![\w°]|\.\d)")
KINDS = {  # how a figure goes on to the unit that names it, in SI
    "degC": r"(?: to [-+]?[\d.]+)? degC",
    "mm": " mm",
    "litres": " litres(?!/| for| a year for| from autumn| per| of stored)",
    "litres/m2": " litres/m2",
    "m2": " m2",
}


def without_sources(text):
    """A screen without what it quotes: sources as they are printed."""
    for source in handbook().sources.values():
        text = text.replace(" ".join(plain(source.citation).split()), " ")
    return text


def screen(capsys, call, *more):
    assert main([*call.split(), *(DAY if call.split()[0] != "weather" else ()), "--width", "140", *more]) == 0
    return without_sources(" ".join(capsys.readouterr().out.split()))


def near(si, us, name):
    """Whether a figure is the other's, as far as both are rounded."""
    si_text, us_text = si.replace(",", "").lstrip("+"), us.replace(",", "").lstrip("+")
    step = [10.0 ** -len(t.partition(".")[2]) if "." in t else 1.0 for t in (si_text, us_text)]
    value, unit_ = float(si_text), UNITS[name]
    if name == "litres" and abs(value) >= 100:
        step[0] = 10.0
    if name == "m2":
        step[1] = 10.0 if float(us_text) % 10 == 0 else 1.0
    off = abs(value * unit_.factor + unit_.zero - float(us_text))
    return off <= 0.5 * (step[0] * unit_.factor + step[1]) + 1e-6


def told_alike(si, us, *, same=False):
    """No word of SI in the second text, and each of its figures that of the first, converted where it has a unit."""
    assert SI_WORDS.findall(us) == []
    us = us.replace("250 gallons", "thousand litres")
    pairs = list(zip(NUMBER.finditer(si), NUMBER.findall(us), strict=True))  # the same figures, one by one
    differ = [(a.group(), b) for a, b in pairs if a.group() != b]
    assert differ or same
    for a, b in differ:
        assert any(near(a, b, name) for name in PINT), f"{a} in SI, {b}"
    for a, b in pairs:
        for name, goes_on in KINDS.items():
            if re.match(goes_on, si[a.end() :]):
                assert near(a.group(), b, name) or near(a.group(), b, f"{name} apart"), f"{a.group()} {name} in SI, {b}"


@pytest.mark.parametrize("call", SCREENS)
def test_every_screen_has_no_word_of_si_and_the_figures_of_si(call, capsys):
    si, us = screen(capsys, call), screen(capsys, call, "--units", "us")
    told_alike(si, us, same=call.startswith("weather check"))


def test_a_plan_made_once_is_told_in_either():
    plan = garden_plan("sallowdene", issued=dt.date(2026, 3, 1))
    for shown in (
        lambda: garden_text(plan, width=140),
        lambda: garden_text(plan, width=140, everything=True),
        lambda: garden_table_text(plan, "diary", width=200),
        lambda: garden_table_text(plan, "plants", width=140),
        lambda: "\n".join(t.get_text() for page in shed_figures(plan) for t in page.findobj(Text)),
    ):
        si = " ".join(shown().split())
        with measuring("us"):
            us = " ".join(shown().split())
        told_alike(si, us)
    with measuring("us"):
        assert plan.to_json()["gravity"]["why"] == plan.gravity.why
        assert "psi" not in json.dumps(plan.to_json())


def test_programs_and_data_files_get_si(capsys, tmp_path):
    texts = []
    for more in ((), ("--units", "us")):
        out = tmp_path / f"{len(texts)}.csv"
        assert main(["climate", "sallowdene", *DAY, "--json", *more]) == 0
        texts.append(capsys.readouterr().out)
        assert main(["climate", "sallowdene", *DAY, "--out", str(out), *more]) == 0
        texts.append(out.read_text(encoding="utf-8"))
        capsys.readouterr()
    assert texts[:2] == texts[2:]
    json.loads(texts[0])


def test_options_stay_si_and_that_is_said_once(capsys):
    assert main(["chart", "sallowdene", "chard", *DAY, "--most-water", "50", "--units", "us"]) == 0
    shown = capsys.readouterr()
    assert shown.err.count("stay in degC, metres, kilograms and litres per m2") == 1
    assert "on 1.23 gallons of stored water per sq ft at most" in " ".join(shown.out.split())
    assert main(["climate", "sallowdene", *DAY, "--units", "us"]) == 0
    assert "litres per m2" not in capsys.readouterr().err


def test_units_are_remembered_like_the_language(capsys, tmp_path, monkeypatch):
    monkeypatch.setenv("SOWCAL_HOME", str(tmp_path))
    assert main(["here", "--units", "us"]) == 0
    assert recall().units == "us"
    assert main(["climate", "sallowdene", *DAY]) == 0
    assert "degF" in capsys.readouterr().out
    assert main(["climate", "sallowdene", *DAY, "--units", "si"]) == 0
    assert "degF" not in capsys.readouterr().out
    answers = "Quinta\n38.5, -8\n150\n2\n" + f"{' '.join(['5'] * 12)}\n{' '.join(['15'] * 12)}\n"
    monkeypatch.setattr("sys.stdin", io.StringIO(answers + f"{' '.join(['40'] * 12)}\n{' '.join(['6'] * 12)}\n\n"))
    assert main(["start", str(tmp_path / "q.toml"), "--units", "si"]) == 0
    assert recall().units == "si"
    assert "40, 40" in (tmp_path / "q.toml").read_text(encoding="utf-8")
    with pytest.raises(InputError, match="units is 'imperial'"):
        parse_remembered('units = "imperial"\n', tmp_path / "settings.toml")


def test_pictures_have_us_axes_and_the_same_months():
    climate = site_climate("sallowdene", issued=dt.date(2026, 3, 1))
    (si,) = climate_figures(climate)
    with measuring("us"):
        (us,) = climate_figures(climate)
    labels = [axes.get_ylabel() for axes in us.axes]
    assert labels[:2] == ["°F", "inches a month"]
    warm, wet = us.axes[0], us.axes[1]
    for line, other in zip(si.axes[0].lines, warm.lines, strict=True):
        if len(line.get_ydata()) == 14:  # a month each, and one more on both sides
            np.testing.assert_allclose(np.asarray(line.get_ydata()) * 1.8 + 32, other.get_ydata())
    high = [bar.get_height() for bar in wet.patches[:12]]
    np.testing.assert_allclose(np.array(high) * 25.4, np.array(climate.pr, dtype=float))
    bottom, top = warm.get_ylim()
    assert bottom < 32 < 86 < top
    shown = " ".join(t.get_text() for axes in us.axes for t in (*axes.texts, axes.title)) + us.axes[2].get_title("left")
    assert "86 °F" in shown
    assert "°C" not in shown
    months = {name: getattr(climate, name) for name in ("tasmin", "tasmax", "pr", "reference_evapotranspiration")}
    with measuring("us"):
        drawn, rain = (picture.draw() for picture in month_pictures([climate.site], [months], 1))
    rules = [int(n) for n in re.findall(r'class="end">(-?\d+)<', str(drawn))]
    assert set(np.diff(rules)) == {20}
    assert min(rules) < 32 < 86 < max(rules)
    assert [int(n) for n in re.findall(r'class="end">(-?\d+)<', str(rain))][:3] == [0, 2, 4]
