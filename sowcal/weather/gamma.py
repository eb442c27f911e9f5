"""Quantiles of the gamma distribution by its series, so that making weather need not load a library of functions.

Importing `scipy.special` took a sixth of the time of a whole chart; its `gammaincinv` is the same function, and what
this one is tested against.
"""

from __future__ import annotations

from math import gamma

import numpy as np

__all__ = ["gamma_quantile"]

_FAR = 40.0  # beyond it lies less than a double can tell from nothing, for shapes up to 1
_TERMS = 160  # of the series; enough for the last digit up to _FAR
_NODES = 400
_STEPS = 6


def gamma_quantile(shape: float, chance: np.ndarray) -> np.ndarray:
    """Value that a gamma variable of scale 1 stays below with a chance.

    Parameters
    ----------
    shape : float
        Of the distribution, above 0 and up to 1.
    chance : numpy.ndarray
        From 0 to less than 1, any shape.

    Returns
    -------
    numpy.ndarray
        Of the shape of `chance`.

    Notes
    -----
    P(a, x) = x^a e^-x (1 / G(a + 1) + x / G(a + 2) + ...), Abramowitz & Stegun 1964, 6.5.29 (from memory). Its slope
    falls with x for such shapes, so that Newton's steps from the left never pass the root; they begin at the nearest
    node below it, or higher where x^a / G(a + 1), which is never less than P, gives a better beginning.
    """
    node = np.linspace(0.0, np.sqrt(_FAR), _NODES) ** 2
    above = np.searchsorted(_share(shape, node[:-1]), chance, side="right")
    x = np.maximum(node[above - 1], (chance * gamma(shape + 1.0)) ** (1.0 / shape))
    for _ in range(_STEPS):
        density = np.maximum(x, 1e-300) ** (shape - 1.0) * np.exp(-x) / gamma(shape)
        # where almost all is below, the share's last digit would send a step far away
        x = np.clip(x + (chance - _share(shape, x)) / density, node[above - 1], node[above])
    return x


def _share(shape: float, x: np.ndarray) -> np.ndarray:
    """P(a, x), the chance of less than x."""
    term = np.full(np.shape(x), 1.0 / gamma(shape + 1.0))
    total = term.copy()
    for n in range(1, _TERMS):
        term = term * x / (shape + n)
        total += term
    return np.minimum(x**shape * np.exp(-x) * total, 1.0)
