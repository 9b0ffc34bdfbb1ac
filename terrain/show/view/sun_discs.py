"""The sun as open discs of its true size, each with the clock time at which it stands there."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.patches import Ellipse
from matplotlib.path import Path
from matplotlib.text import Annotation
from numpy.typing import NDArray

from terrain.ground.geodesy import wrap_deg
from terrain.show.paper import palette
from terrain.show.paper.marks import in_points
from terrain.sun.path import SunPath
from terrain.words.clocks import clock, exact

__all__ = ["draw_sun", "room_taken"]

_LABEL_BOX = {"facecolor": palette.PAPER, "edgecolor": "none", "alpha": 0.85,
              "boxstyle": "round,pad=0.18,rounding_size=0.3"}  # fmt: skip

Floats = NDArray[np.float64]


def draw_sun(
    ax: Axes, path: SunPath, moments: Sequence[dt.datetime], skyline: tuple[Floats, Floats]
) -> list[Artist]:
    """The sun as an open disc of its true size at each moment, with the clock time beside it.

    skyline: azimuths and altitudes, degrees, over the width of the axes; what lies below it is
    dotted. Azimuths are those of the axes, which may run past 360.
    """
    artists: list[Artist] = []
    above = _above(ax, *skyline)
    if not moments:
        return artists
    middle = sum(ax.get_xlim()) / 2.0
    seconds = np.array([path.seconds(moment) for moment in moments])
    azimuth, altitude = path.at(seconds)
    azimuth = middle + wrap_deg(azimuth - middle)
    for moment, at_az, at_alt in zip(moments, azimuth, altitude, strict=True):
        disc: dict[str, Any] = {
            "width": 2.0 * path.semidiameter_deg / math.cos(math.radians(at_alt)),
            "height": 2.0 * path.semidiameter_deg,
            "facecolor": "none",
            "edgecolor": palette.SUN,
        }
        hidden = Ellipse((at_az, at_alt), linewidth=0.8, linestyle=(0, (1, 1.6)), alpha=0.8,
                         zorder=5.0, **disc)  # fmt: skip
        shown = Ellipse(
            (at_az, at_alt), linewidth=1.5, zorder=5.1, gid=f"sun-{moment:%H%M}", **disc
        )
        for patch in (hidden, shown):
            artists.append(ax.add_patch(patch))
        shown.set_clip_path(above, ax.transData)
    return artists + _clock_times(ax, path, moments, np.stack([azimuth, altitude], axis=1), skyline)


def _above(ax: Axes, azimuth_deg: Floats, altitude_deg: Floats) -> Path:
    """The sky over a skyline, as a region of the axes."""
    azimuth = np.asarray(azimuth_deg, dtype=float)
    low, high = ax.get_ylim()
    altitude = np.nan_to_num(np.asarray(altitude_deg, dtype=float), nan=low)
    corners = np.array([[azimuth[-1], high], [azimuth[0], high]])
    return Path(np.concatenate([np.stack([azimuth, altitude], axis=1), corners]), closed=False)


def _clock_times(
    ax: Axes,
    path: SunPath,
    moments: Sequence[dt.datetime],
    places: Floats,
    skyline: tuple[Floats, Floats],
) -> list[Artist]:
    """The clock time of each disc on the side that the sun has come from, where there is room."""
    later = np.array([path.seconds(moment) + 300.0 for moment in moments])
    ahead = np.stack(path.at(later), axis=1) - np.stack(path.at(later - 300.0), axis=1)
    per_deg = in_points(ax, np.array([[0.0, 0.0], [1.0, 0.0]]))
    radius_pt = path.semidiameter_deg * float(per_deg[1, 0] - per_deg[0, 0])
    artists: list[Artist] = []
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
        artists.append(
            ax.annotate(
                exact(moment) if moment.second else clock(moment),
                place, xytext=shift, textcoords="offset points", va="center_baseline",
                ha="center" if level else "right" if side < 0 else "left",
                fontsize=8.0, fontweight="bold", zorder=6.0,
                color=palette.SUN,
                bbox=_LABEL_BOX if under else None,
            )
        )  # fmt: skip
    return artists


def room_taken(ax: Axes, suns: Sequence[Artist]) -> Floats:
    """The sun's discs and their clock times as discs, in points, that marks keep off."""
    taken: list[tuple[float, float, float]] = []
    for artist in suns:
        if isinstance(artist, Ellipse):
            low_pt, high_pt = in_points(
                ax, np.array(artist.center) + np.array([[0.0, 0.0], [0.0, artist.height / 2.0]])
            )
            taken.append((*low_pt, float(high_pt[1] - low_pt[1])))
        elif isinstance(artist, Annotation):
            shift, side = np.array(artist.xyann), {"right": -1.0, "left": 1.0, "center": 0.0}
            for along in (
                (6.0, 20.0, 34.0)[: 2 + (len(artist.get_text()) > 5)]
                if artist.get_horizontalalignment() != "center"
                else (-8.0, 8.0)
            ):
                turn = side[artist.get_horizontalalignment()] or 1.0
                at = in_points(ax, np.array([artist.xy]))[0] + shift + (turn * along, 0.0)
                taken.append((*at, 7.0))
    return np.array(taken).reshape(-1, 3)
