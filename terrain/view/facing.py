"""The sun's disc against a hill's outline: whether it is over it, cut by it, or wholly behind it.

::

       left                   right      the disc is cut where its lower rim stands under the
         |    _..-o-.._         |        outline, and shows where its upper rim stands over the
         |_.-'    A    '-._     |        skyline; the hill's sides are the ends of its outline,
     ____-'    summit      '-.__|___     or of what is seen of it where that is no skyline
"""

from __future__ import annotations

import math
from contextlib import suppress
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from terrain.arrays import Flags, Floats
from terrain.errors import NoAnswer
from terrain.ground.geodesy import wrap_deg
from terrain.sun.path import SunPath
from terrain.sun.refraction import refract
from terrain.view.look import View
from terrain.view.rims import Rims, rims_over
from terrain.view.scene import Scene
from terrain.view.shown import Outline, hill_outline, seen_outline

WITHIN_DEG: Final = 1.0
"""How far behind a hill's outline the rim of a sun may be that is just hidden (common practice, no
source)."""

_EDGE_S: Final = np.array([0.0, 1.0, -1.0])
"""Seconds about a moment: no part of the sun need show at the very edge of a showing."""

_ACROSS: Final = np.sin(np.linspace(-0.5 * np.pi, 0.5 * np.pi, 61))


class SunPose(StrEnum):
    """How the sun's disc stands to a hill.

    Examples
    --------
    >>> import terrain
    >>> [str(each) for each in terrain.SunPose]
    ['elsewhere', 'over', 'on the rim', 'just hidden']
    """

    ELSEWHERE = "elsewhere"
    OVER = "over"
    RIM = "on the rim"
    HIDDEN = "just hidden"


_STATES: Final = np.array(list(SunPose))


class Stands(NamedTuple):
    """Moments (n,) of a path, and how the sun stands at each."""

    times_s: Floats
    state: NDArray[np.str_]
    aside_deg: Floats
    above_deg: Floats


@dataclass(frozen=True, kw_only=True)
class Facing:
    """A path of the sun against a view of a hill."""

    scene: Scene
    view: View
    path: SunPath
    within_deg: float = WITHIN_DEG

    def poses(self, times_s: list[float] | Floats) -> list[SunPose]:
        """How the sun stands at each moment; at the edge of a showing, as it does within it."""
        about = np.add.outer(_EDGE_S, np.asarray(times_s, dtype=float))
        state = self.at(np.clip(about, 0.0, self.path.length_s).ravel()).state.reshape(about.shape)
        shows = np.isin(state, [SunPose.OVER, SunPose.RIM])
        first = np.argmax(shows, axis=0)
        return [SunPose(str(state[at, n])) for n, at in enumerate(first)]

    def at(self, times_s: list[float] | Floats) -> Stands:
        """How the sun stands at moments (n,) of the path."""
        times = np.asarray(times_s, dtype=float)
        azimuth, altitude = self.path.at(times)
        aside, wide = wrap_deg(azimuth - self.view.azimuth_deg), self._wide(altitude)
        left, right = self._sides
        # a hill narrower than the sun is under it where its summit is
        over = (aside >= np.minimum(left, -wide)) & (aside <= np.maximum(right, wide))
        behind = (aside - wide >= left) & (aside + wide <= right)
        state = np.full(times.shape, SunPose.ELSEWHERE, dtype=_STATES.dtype)
        about = (aside >= left - 2.0 * wide) & (aside <= right + 2.0 * wide)
        shows = self._rims.upper(times[about]) >= 0.0
        cut = self._is_cut(times[about], aside[about], wide[about])
        near = self._is_near(aside[about], altitude[about])
        state[about] = np.select(
            [shows & cut, shows & over[about], ~shows & behind[about] & near],
            [SunPose.RIM, SunPose.OVER, SunPose.HIDDEN],
            SunPose.ELSEWHERE,
        )
        level = np.cos(np.radians(altitude))
        return Stands(times, state, aside * level, altitude - self.view.altitude_deg)

    def _wide(self, altitude_deg: Floats) -> Floats:
        """Half of the azimuths that the disc spans."""
        return np.asarray(self.path.semidiameter_deg / np.cos(np.radians(altitude_deg)))

    def _is_cut(self, times_s: Floats, aside_deg: Floats, wide_deg: Floats) -> Flags:
        """Whether the hill's own outline hides any of the disc."""
        path, half = self.path, self.path.semidiameter_deg
        true = path.true_at(times_s)[1][:, np.newaxis] - half * np.sqrt(1.0 - _ACROSS**2)
        lower = refract(true, pressure_hpa=path.pressure_hpa, temperature_c=path.temperature_c)
        at = aside_deg[:, np.newaxis] + _ACROSS * wide_deg[:, np.newaxis]
        outline = np.interp(at, *self._outline, left=-np.inf, right=-np.inf)
        return np.asarray((lower < outline).any(axis=1))

    def _is_near(self, aside_deg: Floats, altitude_deg: Floats) -> Flags:
        """Whether the disc's rim is no farther than `within_deg` from the hill's outline."""
        along, up = self._outline
        far_deg = self.within_deg + self.path.semidiameter_deg
        level = np.cos(np.radians(altitude_deg))
        near = (
            np.hypot((along - aside) * flat, up - altitude).min(initial=np.inf) <= far_deg
            for aside, altitude, flat in zip(aside_deg, altitude_deg, level, strict=True)
        )
        return np.fromiter(near, dtype=bool, count=aside_deg.size)

    @cached_property
    def _rims(self) -> Rims:
        return rims_over(self.view.skyline, self.path)

    @cached_property
    def _outline(self) -> tuple[Floats, Floats]:
        """Azimuths (n,) from the summit's and altitudes of the hill's part of the skyline."""
        with suppress(NoAnswer):
            return _from_summit(hill_outline(self.scene, self.view), self.view)
        return np.array([0.0]), np.array([-np.inf])

    @cached_property
    def _sides(self) -> tuple[float, float]:
        """Azimuths of the hill's left and right end from the summit's, NaN where it is hidden."""
        if not self.view.visible:
            return math.nan, math.nan
        along, up = self._outline
        if np.isfinite(up).all():
            return float(along[0]), float(along[-1])
        return _seen_sides(self.scene, self.view)


def _from_summit(outline: Outline, view: View) -> tuple[Floats, Floats]:
    aside = wrap_deg(outline.azimuth_deg - view.azimuth_deg)
    summit = int(np.argmin(np.abs(aside)))
    along = outline.azimuth_deg - outline.azimuth_deg[summit] + aside[summit]
    return along, outline.altitude_deg


def _seen_sides(scene: Scene, view: View) -> tuple[float, float]:
    """How far a hill is seen to the left and to the right of its summit, without a gap."""
    along, _ = _from_summit(seen_outline(scene, view), view)
    half_deg = 0.5 * float(np.diff(along).min(initial=0.0))
    return min(float(along[0]), 0.0) - half_deg, max(float(along[-1]), 0.0) + half_deg
