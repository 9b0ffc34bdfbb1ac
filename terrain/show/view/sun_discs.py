"""The sun as open discs of its true size, each with the clock time at which it stands there."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Ellipse
from matplotlib.path import Path

from terrain.arrays import Floats
from terrain.ground.geodesy import wrap_deg
from terrain.plan.frames import over_summit
from terrain.show.paper import palette
from terrain.show.paper.marks import in_points
from terrain.sun.path import SunPath
from terrain.view.backlight import Backlight
from terrain.words.clocks import clock, exact

MINUTES: Final = (0.0, 5.0, 10.0, 15.0, 20.0)
_APART_MIN: Final = 4.0
"""After the sun's appearance, in an evening before it goes, at which it is drawn."""

_LABEL_BOX: Final[dict[str, Any]] = {
    "facecolor": palette.PAPER,
    "edgecolor": "none",
    "alpha": 0.85,
    "boxstyle": "round,pad=0.18,rounding_size=0.3",
}
_LETTERS_PT: Final = 7.0


@dataclass(frozen=True, kw_only=True, eq=False)
class Suns:
    """The sun at several moments of one day."""

    path: SunPath
    moments: Sequence[dt.datetime]

    @property
    def times_s(self) -> Floats:
        """The moments as seconds of the path, (n,)."""
        return np.array([self.path.seconds(moment) for moment in self.moments])

    @property
    def at_deg(self) -> tuple[Floats, Floats]:
        """Azimuths and altitudes of its middle, (n,) each."""
        return self.path.at(self.times_s)


def suns_after(answer: Backlight, minutes: Sequence[float] | None = None) -> Suns:
    """The sun as it appears, and at the whole minutes of the clock nearest to so long after it.

    In an evening as it goes, and so long before it: in the order of its path, back in time. Unless
    minutes are given, also at the best moment, where it comes to stand over the summit then.
    """
    moments, side = [], -1 if answer.contact.evening else 1
    for after in sorted(set(_minutes_of(answer) if minutes is None else minutes)):
        moment = answer.contact.appears + side * dt.timedelta(minutes=after)
        if after > 0:
            moment = (moment + dt.timedelta(seconds=30)).replace(second=0, microsecond=0)
        moments.append(moment)
    return Suns(path=answer.sun_path, moments=moments)


def _minutes_of(answer: Backlight) -> list[float]:
    """Those drawn unless others are asked for: the best in place of what is near to it."""
    best = over_summit(answer)
    if best is None:
        return list(MINUTES)
    best_min = abs((best.at - answer.contact.appears).total_seconds()) / 60.0
    apart = [after for after in MINUTES if after == 0.0 or abs(after - best_min) >= _APART_MIN]
    return [*apart, best_min]


def draw_sun(ax: Axes, suns: Suns, skyline: tuple[Floats, Floats]) -> Floats:
    """The sun as an open disc of its true size at each moment, with the clock time beside it.

    skyline: azimuths and altitudes, degrees, over the width of the axes; what lies below it is
    dotted. Azimuths are those of the axes, which may run past 360. Returns the discs, and after
    them the clock times as discs, (n, 3) in points, for marks to keep off.
    """
    if not suns.moments:
        return np.empty((0, 3))
    middle = sum(ax.get_xlim()) / 2.0
    azimuth, altitude = suns.at_deg
    places = np.stack([middle + wrap_deg(azimuth - middle), altitude], axis=1)
    half = suns.path.semidiameter_deg
    high, above = 2.0 * half, _above(ax, *skyline)
    look: dict[str, Any] = {"facecolor": "none", "edgecolor": palette.SUN}
    dotted: dict[str, Any] = {"linewidth": 0.8, "linestyle": (0, (1, 1.6)), "alpha": 0.8}
    for moment, place in zip(suns.moments, places, strict=True):
        wide = high / math.cos(math.radians(place[1]))
        ax.add_patch(Ellipse(place, wide, high, zorder=5.0, **dotted, **look))
        shown = Ellipse(place, wide, high, zorder=5.1, linewidth=1.5, **look)
        ax.add_patch(shown).set(gid=f"sun-{moment:%H%M}")
        shown.set_clip_path(above, ax.transData)
    at_pt, upper_pt = in_points(ax, places), in_points(ax, places + np.array([0.0, half]))
    discs = np.column_stack([at_pt, upper_pt[:, 1] - at_pt[:, 1]])
    return np.concatenate([discs, _draw_times(ax, suns, places, skyline)])


def _above(ax: Axes, azimuth_deg: Floats, altitude_deg: Floats) -> Path:
    """The sky over a skyline, as a region of the axes."""
    azimuth = np.asarray(azimuth_deg, dtype=float)
    low, high = ax.get_ylim()
    altitude = np.nan_to_num(np.asarray(altitude_deg, dtype=float), nan=low)
    corners = np.array([[azimuth[-1], high], [azimuth[0], high]])
    return Path(np.concatenate([np.stack([azimuth, altitude], axis=1), corners]), closed=False)


def _draw_times(ax: Axes, suns: Suns, places: Floats, skyline: tuple[Floats, Floats]) -> Floats:
    """The clock time of each disc on the side that the sun has come from, where there is room."""
    path, later_s = suns.path, suns.times_s + 300.0
    ahead = np.stack(path.at(later_s), axis=1) - np.stack(path.at(later_s - 300.0), axis=1)
    per_deg = in_points(ax, np.array([[0.0, 0.0], [1.0, 0.0]]))
    radius_pt = path.semidiameter_deg * float(per_deg[1, 0] - per_deg[0, 0])
    taken: list[Floats] = []
    last_pt: Floats | None = None
    for moment, place, way in zip(suns.moments, places, ahead, strict=True):
        under = place[1] < float(np.interp(place[0], *skyline))
        # the sun has come from the left in the north; ground lies under where it is going
        side = (-1.0 if way[0] >= 0.0 else 1.0) * (-1.0 if under else 1.0)
        level = abs(way[1]) < 0.55 * abs(way[0]) and not under
        shift = (0.0, radius_pt + 8.0) if level else (side * (radius_pt + 5.0), 0.0)
        at_pt = in_points(ax, place[np.newaxis])[0] + shift
        if last_pt is not None and (np.abs(at_pt - last_pt) < (28.0, 9.5)).all():
            continue
        last_pt = at_pt
        words = exact(moment) if moment.second else clock(moment)
        ax.annotate(
            words,
            place,
            xytext=shift,
            textcoords="offset points",
            va="center_baseline",
            ha="center" if level else "right" if side < 0 else "left",
            fontsize=8.0,
            fontweight="bold",
            zorder=6.0,
            color=palette.SUN,
            bbox=_LABEL_BOX if under else None,
        )
        along = np.array([-8.0, 8.0]) if level else side * np.arange(6.0, 5.0 * len(words), 14.0)
        taken += [np.array([at_pt[0] + part, at_pt[1], _LETTERS_PT]) for part in along]
    return np.array(taken).reshape(-1, 3)
