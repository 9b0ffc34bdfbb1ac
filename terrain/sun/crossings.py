"""The one finder of moments: when does a quantity that changes with time pass through zero?

Every event of the sky is such a moment: the sun at -6 degrees, the sun on the meridian, the edge
of its disc on a skyline. The quantity is sampled, each change of sign is refined to its moment,
and where it turns back towards zero between two samples the turning point is looked up, so that
a brief passage through zero and back is not missed::

       f   o                                 o
            '\\                             /
              o                           o        the samples show no change of sign;
    0 --------- \\ ---------------------- / -------  the turning point does
                  ' .                 . '
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq, minimize_scalar

__all__ = ["Crossing", "crossings"]

Floats = NDArray[np.float64]
Quantity = Callable[[Floats], ArrayLike]


class Crossing(NamedTuple):
    """One passage through zero: when, and whether upwards."""

    t_s: float
    rising: bool


def crossings(
    f: Quantity, t0_s: float, t1_s: float, step_s: float, tolerance_s: float = 0.5
) -> list[Crossing]:
    """The moments at which `f` changes sign between two times, in order.

    f: takes an array of times (seconds) and gives an array of the same shape; it need not be
    smooth. t0_s, t1_s: the first and the last time. step_s: between samples, at most; a hump or a
    hollow wider than about two steps is not missed. tolerance_s: how close a returned time is to
    the crossing. Zero counts as positive, so that a mere touch from above is no crossing. Where
    `f` is NaN it is unknown: nothing is found there or across it. Raises ValueError for a step or
    tolerance that is not positive, or for times that do not follow each other.

    >>> [(round(t, 1), up) for t, up in crossings(lambda t: np.sin(t / 10.0), 1.0, 70.0, 5.0, 1e-3)]
    [(31.4, False), (62.8, True)]
    """
    if not (step_s > 0.0 and tolerance_s > 0.0 and t1_s > t0_s):
        raise ValueError(
            f"from {t0_s:g} to {t1_s:g} s in steps of {step_s:g} s to within {tolerance_s:g} s "
            "is not a search: times must follow each other, step and tolerance be positive"
        )
    times = np.linspace(t0_s, t1_s, 1 + max(2, int(np.ceil((t1_s - t0_s) / step_s))))
    values = np.asarray(f(times), dtype=np.float64)
    times, values = _with_turning_points(f, times, values, tolerance_s)
    changes = np.flatnonzero((values[:-1] >= 0.0) != (values[1:] >= 0.0))
    moments = ((_moment(f, times[i], times[i + 1], tolerance_s), values[i + 1]) for i in changes)
    return [Crossing(t_s, bool(after >= 0.0)) for t_s, after in moments if np.isfinite(t_s)]


def _moment(f: Quantity, before_s: float, after_s: float, tolerance_s: float) -> float:
    """The moment of the change of sign in a bracket; NaN where `f` is unknown inside it."""

    def signed(t_s: float) -> float:
        value = _at(f, t_s)
        if np.isnan(value):
            raise _UnknownError
        return value

    try:
        return float(brentq(signed, before_s, after_s, xtol=tolerance_s / 2.0))
    except _UnknownError:
        return float("nan")


class _UnknownError(Exception):
    """The search came upon a time at which the quantity is unknown."""


def _at(f: Quantity, t_s: float) -> float:
    return float(np.asarray(f(np.array([t_s], dtype=np.float64)))[0])


def _with_turning_points(
    f: Quantity, times: Floats, values: Floats, tolerance_s: float
) -> tuple[Floats, Floats]:
    """The samples, and among them the turning points that lie on the other side of zero."""
    found = []
    for i in _candidates(values):
        low, high = times[max(i - 1, 0)], times[min(i + 1, len(times) - 1)]
        side = 1.0 if values[i] >= 0.0 else -1.0
        turn_s = _nearest_to_zero(f, side, low, high, tolerance_s)
        found.append((turn_s, _at(f, turn_s)))
    crossed = [(t, value) for t, value in found if np.isfinite(value)]
    if not crossed:
        return times, values
    times = np.concatenate([times, [t for t, _ in crossed]])
    values = np.concatenate([values, [value for _, value in crossed]])
    order = np.argsort(times, kind="stable")
    return times[order], values[order]


def _nearest_to_zero(
    f: Quantity, side: float, low_s: float, high_s: float, tolerance_s: float
) -> float:
    """The time of the smallest value of side × f between two times."""

    def height(t_s: float) -> float:
        return side * _at(f, t_s)

    found = minimize_scalar(
        height, bounds=(low_s, high_s), method="bounded", options={"xatol": tolerance_s / 2.0}
    )
    return float(found.x)


def _candidates(values: Floats) -> NDArray[np.int64]:
    """Samples beside which a turning point may lie beyond zero.

    A sample nearer to zero than its neighbours, all on one side. Through three samples goes a
    parabola whose turning point lies at most an eighth of their second difference beyond the
    middle one; four times that is allowed, for quantities that are not so smooth. At the two ends,
    where a neighbour is wanting, nothing is ruled out.
    """
    distance = np.abs(values)
    side = values >= 0.0
    inner = (
        (side[:-2] == side[1:-1])
        & (side[2:] == side[1:-1])
        & (distance[1:-1] <= distance[:-2])
        & (distance[1:-1] <= distance[2:])
        & (distance[1:-1] <= (distance[:-2] - 2.0 * distance[1:-1] + distance[2:]) / 2.0)
    )
    first = side[0] == side[1] and distance[0] <= distance[1]
    last = side[-1] == side[-2] and distance[-1] <= distance[-2]
    return np.flatnonzero(np.concatenate([[first], inner, [last]]))
