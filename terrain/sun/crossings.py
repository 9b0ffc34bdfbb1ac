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

import math
from collections.abc import Callable
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from terrain.arrays import Floats, Numbers

Quantity = Callable[[Floats], ArrayLike]

_PARTS: Final = 16
"""Many calls with few times cost more than few calls with many."""


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
    finer = float(times[1] - times[0]) / tolerance_s
    times, values = _with_turning_points(f, times, values, _passes(2.0 * finer, _PARTS // 2))
    before = np.flatnonzero((values[:-1] >= 0.0) != (values[1:] >= 0.0))
    after = before + 1
    passes = _passes(finer, _PARTS)
    moments = _moments(f, times[[before, after]], values[[before, after]], passes)
    return [
        Crossing(float(t_s), bool(value >= 0.0))
        for t_s, value in zip(moments, values[after], strict=True)
        if np.isfinite(t_s)
    ]


def _passes(finer: float, times_a_pass: int) -> int:
    """How often a span must be cut down to be finer by a factor, once at least."""
    return max(math.ceil(math.log(finer, times_a_pass)), 1)


def _moments(f: Quantity, ends_s: Floats, values: Floats, passes: int) -> Floats:
    """The moments of the changes of sign in brackets, all at once; NaN where `f` is unknown there.

    ends_s, values: (2, n), the ends of the brackets and `f` at them. Brackets are cut into equal
    parts, the first part that holds the change is kept, and a straight line drawn through the last.
    """
    row = np.arange(ends_s.shape[1])
    for _ in range(passes if row.size else 0):
        cuts_s, cut_values = _cut(f, *ends_s)
        above = cut_values >= 0.0
        first = np.argmax(above[:, 1:] != above[:, :-1], axis=1)
        part = row, np.stack([first, first + 1])
        ends_s, values = cuts_s[part], cut_values[part]
    return np.asarray(ends_s[0] + (ends_s[1] - ends_s[0]) * values[0] / (values[0] - values[1]))


def _cut(f: Quantity, low_s: Floats, high_s: Floats) -> tuple[Floats, Floats]:
    """Times that cut spans (n,) into equal parts, and `f` at them: both (n, _PARTS + 1)."""
    cuts_s = np.linspace(low_s, high_s, _PARTS + 1, axis=-1)
    return cuts_s, np.asarray(f(cuts_s), dtype=np.float64)


def _with_turning_points(
    f: Quantity, times: Floats, values: Floats, passes: int
) -> tuple[Floats, Floats]:
    """The samples, and among them a moment beyond zero wherever `f` turns there between two.

    Round each candidate the span from neighbour to neighbour is cut into equal parts, and then
    that round the cut nearest to zero, until one is beyond it or none can be.
    """
    at = _candidates(values)
    side = np.where(values[at] >= 0.0, 1.0, -1.0)
    low_s, high_s = times[np.maximum(at - 1, 0)], times[np.minimum(at + 1, len(times) - 1)]
    found_s, found = [times], [values]
    for _ in range(passes):
        if not side.size:
            break
        cuts_s, cut_values = _cut(f, low_s, high_s)
        row, away = np.arange(side.size), side[:, np.newaxis] * cut_values
        nearest = np.argmin(np.where(np.isnan(away), np.inf, away), axis=1)
        value = cut_values[row, nearest]
        beyond = (value >= 0.0) != (side > 0.0)
        found_s.append(cuts_s[row, nearest][beyond])
        found.append(value[beyond])
        middle = np.clip(nearest, 1, _PARTS - 1)
        within_reach = away[row, nearest] <= _reach(*away[row, [middle - 1, middle, middle + 1]])
        low_s, high_s = cuts_s[row, middle - 1], cuts_s[row, middle + 1]
        on = ~beyond & within_reach
        side, low_s, high_s = side[on], low_s[on], high_s[on]
    times, values = np.concatenate(found_s), np.concatenate(found)
    order = np.argsort(times, kind="stable")
    return times[order], values[order]


def _reach(before: Floats, middle: Floats, after: Floats) -> Floats:
    """How far beyond the nearest of three samples a quantity may turn, before it comes back.

    Through the samples goes a parabola, which does so by an eighth of their second difference at
    most; four times that is allowed, for quantities that are not so smooth.
    """
    return np.asarray((before - 2.0 * middle + after) / 2.0)


def _candidates(values: Floats) -> Numbers:
    """Samples beside which a turning point may lie beyond zero.

    A sample nearer to zero than its neighbours, all on one side, and near enough. At the two ends,
    where a neighbour is wanting, nothing is ruled out.
    """
    distance = np.abs(values)
    side = values >= 0.0
    inner = (
        (side[:-2] == side[1:-1])
        & (side[2:] == side[1:-1])
        & (distance[1:-1] <= distance[:-2])
        & (distance[1:-1] <= distance[2:])
        & (distance[1:-1] <= _reach(distance[:-2], distance[1:-1], distance[2:]))
    )
    first = side[0] == side[1] and distance[0] <= distance[1]
    last = side[-1] == side[-2] and distance[-1] <= distance[-2]
    return np.flatnonzero(np.concatenate([[first], inner, [last]]))
