"""What stands side by side in a picture is told apart by every kind of colour vision and on a grey copy.

Colour vision is simulated after Machado, Oliveira & Fernandes (2009, IEEE Trans. Vis. Comput. Graph. 15:1291-1298)
and distances are those of CAM02-UCS (Luo, Cui & Li 2006), both as the package colorspacious has them.
"""

from __future__ import annotations

import re
from importlib.resources import files
from itertools import combinations

import numpy as np
import pytest

from sowcal.outputs.figure_style import KINDS, LANE, Ribbon, draw_ribbon, new_figure

space = pytest.importorskip(
    "colorspacious", reason="colorspacious is not installed, so colour vision is not simulated: pip install it"
)
VISION = (None, "deuteranomaly", "protanomaly", "tritanomaly")
# About ten times the least difference that an eye sees between two patches side by side (CAM02-UCS), and a step
# of grey that a copier keeps: common practice, no source.
APART, GREY = 10.0, 10.0


def seen(rgb, vision):
    """A colour (0 to 1) as someone sees it who lacks one kind of cone altogether."""
    if vision is None:
        return rgb
    kind = {"name": "sRGB1+CVD", "cvd_type": vision, "severity": 100}
    return np.clip(space.cspace_convert(rgb, kind, "sRGB1"), 0, 1)


def distance(a, b, vision):
    return float(space.deltaE(seen(a, vision), seen(b, vision), input_space="sRGB1", uniform_space="CAM02-UCS"))


def lightness(rgb):
    """L* of CIE 1976: what is left on a grey copy."""
    return float(space.cspace_convert(rgb, "sRGB1", "CIELab")[0])


def printed(kind):
    """Mean colour of a ribbon as it is drawn, hatch and all, from its pixels."""
    figure = new_figure((2, LANE))
    axes = figure.add_axes((0, 0, 1, 1))
    axes.set(xlim=(0, 365), ylim=(0, LANE))
    axes.axis("off")
    draw_ribbon(axes, Ribbon(kind, np.ones(4), np.ones(4, bool)), np.array([0, 91, 182, 273, 365]), 0.0)
    figure.set_dpi(300)
    figure.canvas.draw()
    pixels = np.asarray(figure.canvas.buffer_rgba())[..., :3] / 255
    return pixels[10:-10, 20:-20].reshape(-1, 3).mean(axis=0)


def test_ribbons_on_paper_are_told_apart_by_every_eye_and_on_a_grey_copy():
    colours = {kind: printed(kind) for kind in KINDS if kind != "planted"}  # planted looks as set out, by its name
    for one, two in combinations(colours, 2):
        for vision in VISION:
            assert distance(colours[one], colours[two], vision) >= APART, (one, two, vision)
        assert abs(lightness(colours[one]) - lightness(colours[two])) >= GREY, (one, two)


def test_a_wrong_pair_would_be_found():
    """The measure itself: the red and green of leaflets that some eyes do not part, and two of one grey."""
    red, green = np.array([0.77, 0.31, 0.10]), np.array([0.45, 0.47, 0.10])
    assert distance(red, green, None) > 3 * distance(red, green, "deuteranomaly")
    assert distance(red, green, "deuteranomaly") < APART
    assert abs(lightness(red) - lightness(green)) < GREY


def _page_colours(dark):
    """The page's colours by name, of its light or its dark face."""
    sheet = (files("sowcal") / "outputs" / "page_assets" / "page.css").read_text(encoding="utf-8")
    blocks = re.findall(r":root \{(.*?)\}", sheet, flags=re.S)
    found = dict(re.findall(r"--([\w-]+): (#[0-9a-f]{3,6})\b", blocks[1 if dark else 0]))
    long = {k: v if len(v) == 7 else "#" + "".join(c * 2 for c in v[1:]) for k, v in found.items()}
    return {k: np.array([int(v[i : i + 2], 16) for i in (1, 3, 5)]) / 255 for k, v in long.items()}


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_lanes_of_the_page_are_told_apart_by_every_eye_and_on_a_grey_copy(dark):
    colours = _page_colours(dark)
    for one, two in combinations(("under", "sown", "set", "picked"), 2):
        for vision in VISION:
            assert distance(colours[one], colours[two], vision) >= APART, (one, two, vision)
        assert abs(lightness(colours[one]) - lightness(colours[two])) >= GREY, (one, two)
