"""The normal distribution on arrays, because the judge runs without scipy; knows nothing of students."""

from __future__ import annotations

import math

import numpy as np

_REACH = 9.0
# 128 nodes a unit: four Taylor terms from the nearest node are then good to 1e-13 (checked in the tests).
_NODES_PER_UNIT = 128
_GRID = np.arange(-int(_REACH * _NODES_PER_UNIT), int(_REACH * _NODES_PER_UNIT) + 1) / _NODES_PER_UNIT
_AREA = np.array([0.5 * math.erfc(-x / math.sqrt(2.0)) for x in _GRID])
_DENSITY = np.exp(-0.5 * _GRID**2) / math.sqrt(2.0 * math.pi)
_STEP = np.append(np.diff(_AREA), 0.0)
# Above this the continued fraction of the Mills ratio has converged at the depth below (to the last bit: measured).
_FAR = 5.0
_DEPTH = 30


def cdf(x: np.ndarray) -> np.ndarray:
    """Return the standard normal distribution function of `x`, element by element.

    x: any shape, infinities allowed (0 and 1). Error below 1e-13 absolute (and below 1e-9 relative down
    to x = -9, where the value is taken as that of -9: 1.1e-19). Checked against scipy.special.ndtr.

    >>> float(np.round(cdf(np.array([1.959963984540054]))[0], 12))
    0.975
    """
    bounded = np.minimum(np.maximum(x, -_REACH), _REACH)
    nearest = np.rint(bounded * _NODES_PER_UNIT)
    step = bounded - nearest / _NODES_PER_UNIT
    node = nearest.astype(np.intp) + (_GRID.size // 2)
    at = bounded - step
    square = at * at
    taylor = (square * at - 3.0 * at) * step
    taylor *= -0.25
    taylor += square
    taylor -= 1.0
    taylor *= step / 3.0
    taylor -= at
    taylor *= step * 0.5
    taylor += 1.0
    taylor *= step
    taylor *= _DENSITY[node]
    taylor += _AREA[node]
    return taylor


def near_cdf(x: np.ndarray) -> np.ndarray:
    """Return `cdf` by straight lines between the nodes: within 2e-6, in half the time, and without a jump.

    >>> float(np.round(near_cdf(np.array([1.2815515655446004]))[0], 5))
    0.9
    """
    at = np.minimum(np.maximum(x, -_REACH), _REACH - 1e-9)
    at = at * _NODES_PER_UNIT + (_GRID.size // 2)
    node = at.astype(np.int32)
    at -= node
    at *= _STEP[node]
    at += _AREA[node]
    return at


def upper_mills(a: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return (P(X > a), density(a) / P(X > a)) of the standard normal; the second is the inverse Mills ratio.

    a: any shape, finite. The tail beyond 5 is a continued fraction (Abramowitz & Stegun 26.2.14), so the
    ratio stays exact to 1e-9 where the probability itself underflows. Checked against scipy.special.

    >>> tail, ratio = upper_mills(np.array([0.0, 40.0]))
    >>> float(np.round(ratio[0], 6)), float(np.round(ratio[1], 4))
    (0.797885, 40.025)
    """
    density = np.exp(-0.5 * a * a) / math.sqrt(2.0 * math.pi)
    tail = cdf(-a)
    far = a > _FAR
    if not far.any():
        return tail, density / tail
    ratio = density / np.where(far, 1.0, tail)
    distant = a[far]
    fraction = distant
    for depth in range(_DEPTH, 0, -1):
        fraction = depth / fraction
        fraction += distant
    ratio[far] = fraction
    tail[far] = density[far] / fraction
    return tail, ratio
