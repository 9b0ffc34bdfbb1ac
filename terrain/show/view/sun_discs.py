"""The sun as open discs of its true size, each with the clock time at which it stands there."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from typing import Any, Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Ellipse
from matplotlib.path import Path
from numpy.typing import NDArray

from terrain.ground.geodesy import wrap_deg
from terrain.show.paper import palette
from terrain.show.paper.marks import in_points
from terrain.sun.path import SunPath
from terrain.words.clocks import clock, exact

__all__ = ["draw_sun", "sun_moments"]

_LABEL_BOX: Final[dict[str, Any]] = {
    "facecolor": palette.PAPER,
    "edgecolor": "none",
    "alpha": 0.85,
    "boxstyle": "round,pad=0.18,rounding_size=0.3",
}
_LETTERS_PT: Final = 7.0

Floats = NDArray[np.float64]


def sun_moments(appears: dt.datetime, minutes: Sequence[float]) -> list[dt.datetime]:
    """The appearance itself, and the whole minutes of the clock nearest to so long after it."""
    moments = []
    for after in sorted(set(minutes)):
        moment = appears + dt.timedelta(minutes=after)
        if after > 0:
            moment = (moment + dt.timedelta(seconds=30)).replace(second=0, microsecond=0)
        moments.append(moment)
    return moments


def draw_sun(
    ax: Axes, path: SunPath, moments: Sequence[dt.datetime], skyline: tuple[Floats, Floats]
) -> Floats:
    """The sun as an open disc of its true size at each moment, with the clock time beside it.

    skyline: azimuths and altitudes, degrees, over the width of the axes; what lies below it is
    dotted. Azimuths are those of the axes, which may run past 360. Returns the discs, and after
    them the clock times as discs, (n, 3) in points, for marks to keep off.
    """
    if not moments:
        return np.empty((0, 3))
    middle = sum(ax.get_xlim()) / 2.0
    azimuth, altitude = path.at([path.seconds(moment) for moment in moments])
    places = np.stack([middle + wrap_deg(azimuth - middle), altitude], axis=1)
    _draw_discs(ax, path, moments, places, skyline)
    upper = in_points(ax, places + np.array([0.0, path.semidiameter_deg]))
    at_pt = in_points(ax, places)
    discs = np.column_stack([at_pt, upper[:, 1] - at_pt[:, 1]])
    return np.concatenate([discs, _draw_times(ax, path, moments, places, skyline)])


def _draw_discs(
    ax: Axes,
    path: SunPath,
    moments: Sequence[dt.datetime],
    places: Floats,
    skyline: tuple[Floats, Floats],
) -> None:
    above = _above(ax, *skyline)
    high = 2.0 * path.semidiameter_deg
    look: dict[str, Any] = {"facecolor": "none", "edgecolor": palette.SUN}
    dotted: dict[str, Any] = {"linewidth": 0.8, "linestyle": (0, (1, 1.6)), "alpha": 0.8}
    for moment, place in zip(moments, places, strict=True):
        wide = high / math.cos(math.radians(place[1]))
        ax.add_patch(Ellipse(place, wide, high, zorder=5.0, **dotted, **look))
        shown = Ellipse(place, wide, high, zorder=5.1, linewidth=1.5, **look)
        ax.add_patch(shown).set(gid=f"sun-{moment:%H%M}")
        shown.set_clip_path(above, ax.transData)


def _above(ax: Axes, azimuth_deg: Floats, altitude_deg: Floats) -> Path:
    """The sky over a skyline, as a region of the axes."""
    azimuth = np.asarray(azimuth_deg, dtype=float)
    low, high = ax.get_ylim()
    altitude = np.nan_to_num(np.asarray(altitude_deg, dtype=float), nan=low)
    corners = np.array([[azimuth[-1], high], [azimuth[0], high]])
    return Path(np.concatenate([np.stack([azimuth, altitude], axis=1), corners]), closed=False)


def _draw_times(
    ax: Axes,
    path: SunPath,
    moments: Sequence[dt.datetime],
    places: Floats,
    skyline: tuple[Floats, Floats],
) -> Floats:
    """The clock time of each disc on the side that the sun has come from, where there is room."""
    later = np.array([path.seconds(moment) + 300.0 for moment in moments])
    ahead = np.stack(path.at(later), axis=1) - np.stack(path.at(later - 300.0), axis=1)
    per_deg = in_points(ax, np.array([[0.0, 0.0], [1.0, 0.0]]))
    radius_pt = path.semidiameter_deg * float(per_deg[1, 0] - per_deg[0, 0])
    taken: list[Floats] = []
    last_pt: Floats | None = None
    for moment, place, way in zip(moments, places, ahead, strict=True):
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
