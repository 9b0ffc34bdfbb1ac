"""What the pictures of a morning's light have in common: its ground, its valleys, its hatching."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from numpy.typing import NDArray
from scipy import ndimage

from terrain.ground.dem import Dem
from terrain.light.arrival import Arrival
from terrain.light.valleys import Valley
from terrain.mist.mist import Mist
from terrain.show.map.extent import Frame, frame_about, map_places
from terrain.show.map.relief import Part, part_of, relief
from terrain.show.paper import palette
from terrain.show.paper.marks import draw_marks
from terrain.show.paper.page import MARGIN_IN, axes_at, head_in, new_page, points_axes, wrapped

__all__ = [
    "NEVER_HATCH",
    "UNKNOWN_HATCH",
    "LitPart",
    "cells_in",
    "draw_mist_veil",
    "draw_unlit",
    "draw_valleys",
    "frame_of",
    "hour_minute",
    "lit_page",
    "lit_part",
    "notes_pt",
    "zone_words",
]

NEVER_HATCH: Final = "\\" * 2
"""Leans the other way than that of unknown ground."""

UNKNOWN_HATCH: Final = "////"

_ASPECTS: Final = (0.8, 1.6)  # of a map, width over height, at the least and the most

_WORTH_A_LINE: Final = 0.002
_MAP_IN: Final = (7.2, 6.4)
_KEY_IN, _GAP_IN, _RIGHT_IN, _LOW_IN = 2.5, 0.3, 0.35, 0.45

Floats = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, eq=False)
class LitPart:
    """The light on a part of a raster, at the fineness of a picture; arrays (rows, cols).

    shade: light and dark of the relief, 1 in the middle; NaN where the ground is unknown.
    arrives_s: mean of the cells that the sun comes to, NaN where it comes to few. never, unknown:
    share of the cells to which it does not come that day, or of which it is not known when.
    all_night: share of those where it is up all night.
    """

    part: Part
    shade: Floats
    arrives_s: Floats
    never: Floats
    unknown: Floats
    all_night: Floats

    @property
    def has_never(self) -> bool:
        """Whether so much of the picture is without sun that a reader asks what that is."""
        return bool((self.never > 0.5).mean() > _WORTH_A_LINE)

    @property
    def has_unknown(self) -> bool:
        """Whether of so much of it it is not known when that a reader asks what that is."""
        return bool((self.unknown > 0.5).mean() > _WORTH_A_LINE)

    @property
    def has_all_night(self) -> bool:
        """Whether the sun is up all night on so much of the picture."""
        return bool((self.all_night > 0.5).mean() > _WORTH_A_LINE)

    def lit(self, arrival: Arrival, moment: dt.datetime) -> Floats:
        """Share of each cell of the picture that the sun has reached by a moment."""
        return self.part.thinned(arrival.lit(moment).astype(np.float32))


def frame_of(dem: Dem, valleys: Sequence[Valley]) -> Frame:
    """What a map must show: the valleys with a margin, or without any the whole raster."""
    rows, cols = dem.shape
    if not valleys:
        return frame_about(dem.grid, np.empty((0, 2)), aspect=cols / rows)
    row, col = np.nonzero(np.logical_or.reduce([valley.cells for valley in valleys]))
    turn = dem.transform
    ends = np.array([[col.min(), row.min()], [col.max() + 1, row.max() + 1]])
    corners = np.column_stack([turn.c + turn.a * ends[:, 0], turn.f + turn.e * ends[:, 1]])
    across, up = np.maximum(np.ptp(corners, axis=0), 1.0)
    return frame_about(dem.grid, corners, aspect=float(np.clip(across / up, *_ASPECTS)))


def cells_in(dem: Dem, frame_m: Frame) -> NDArray[np.bool_]:
    """The cells of a raster, (rows, cols), that a map's frame shows."""
    part = part_of(dem, frame_m)
    inside = np.zeros(dem.shape, dtype=bool)
    inside[part.rows, part.cols] = True
    return inside


def lit_page(
    frame_m: Frame,
    title: str,
    lines: Sequence[str],
    *,
    key_pt: float,
    high_pt: float,
    notes: Sequence[str],
) -> tuple[Figure, Axes, Axes]:
    """A page with the axes of a map of a frame, and beside it axes in points for its key.

    title, lines: over the map. key_pt, high_pt: how wide and high the key is, at the least.
    notes: for which it has room under the key.
    """
    across, up = frame_m[1] - frame_m[0], frame_m[3] - frame_m[2]
    width_in = min(_MAP_IN[0], _MAP_IN[1] * across / up)
    map_in = width_in * up / across
    key_in = max(_KEY_IN, key_pt / 72.0)
    height_in = max(map_in, (high_pt + notes_pt(notes, 72.0 * key_in)) / 72.0)
    page_in = MARGIN_IN + width_in + _GAP_IN + key_in + _RIGHT_IN
    top_in = head_in(title, lines, page_in)
    page = new_page((page_in, top_in + height_in + _LOW_IN), title, lines)
    ax = axes_at(page, MARGIN_IN, _LOW_IN + height_in - map_in, width_in, map_in)
    return page, ax, points_axes(page, MARGIN_IN + width_in + _GAP_IN, _LOW_IN, key_in, height_in)


def notes_pt(notes: Sequence[str], width_pt: float) -> float:
    """How high the notes at the foot of a key are, points."""
    return sum(10.5 * len(wrapped(note, width_pt, 7.5)) + 6.0 for note in notes)


def lit_part(arrival: Arrival, frame_m: Frame) -> LitPart:
    """The light on the ground, or on ground and mist, that a map's frame shows."""
    surface = arrival.surface
    part = part_of(surface, frame_m)
    known, arrives = arrival.is_known, arrival.arrives_s
    comes = known & ~np.isnan(arrives)
    share = part.thinned(comes.astype(np.float32))
    # where the sun is up all night the day begins with it
    total = part.thinned(np.where(comes, np.maximum(arrives, 0.0), 0.0))
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = np.where(share >= 0.5, total / share, np.nan)
    unasked = ~known & ~np.isnan(surface.heights_m)
    return LitPart(
        part=part,
        shade=_shade(part.thinned(surface.heights_m), surface.cell_m * part.step),
        arrives_s=mean,
        never=part.thinned((known & np.isnan(arrives)).astype(np.float32)),
        unknown=part.thinned(unasked.astype(np.float32)),
        all_night=part.thinned(np.isneginf(arrives).astype(np.float32)),
    )


def draw_unlit(ax: Axes, light: LitPart, *, never: bool = True) -> list[Artist]:
    """Hatching where it is not known when the sun comes and, with `never`, where it does not."""
    (west, east), (south, north) = ax.get_xlim(), ax.get_ylim()
    sheet = Rectangle((west, south), east - west, north - south, facecolor=palette.PAPER,
                      edgecolor=palette.FAINT, hatch=UNKNOWN_HATCH, linewidth=0.0, zorder=0.5,
                      gid="unknown")  # fmt: skip
    artists: list[Artist] = [ax.add_patch(sheet)]
    for share, hatch, name in (
        (light.never, NEVER_HATCH, "never"),
        (light.unknown, UNKNOWN_HATCH, "not-known"),
    ):
        wanted = never or name != "never"
        if wanted and share.max(initial=0.0) > 0.5 and min(share.shape) > 1:
            filled = ax.contourf(*light.part.centres(), share, levels=[0.5, 1.5], colors="none",
                                 hatches=[hatch], zorder=2.2)  # fmt: skip
            filled.set(edgecolor=palette.RIDGE_FAR if name == "never" else palette.HIDDEN,
                       linewidth=0.0, gid=name)  # fmt: skip
            artists.append(filled)
    return artists


def draw_mist_veil(ax: Axes, dem: Dem, mist: Mist, part: Part, alpha: float) -> list[Artist]:
    """The mist as a thin veil over its light, with its shore."""
    over = part.thinned(mist.height_over(dem))
    if min(over.shape) < 2:
        return []
    veil = ax.contourf(*part.centres(), over, levels=[-1e9, 0.0], colors=palette.MIST,
                       alpha=alpha, antialiased=False, zorder=2.0)  # fmt: skip
    shore = ax.contour(*part.centres(), over, levels=[0.0], colors=palette.SHORE, linewidths=0.9,
                       zorder=2.5)  # fmt: skip
    veil.set_gid("mist")
    shore.set_gid("shore")
    return [veil, shore]


def draw_valleys(ax: Axes, dem: Dem, part: Part, valleys: Sequence[Valley]) -> list[Artist]:
    """The outline of each valley, and its number in the midst of it."""
    artists: list[Artist] = []
    places = [_midst(dem, valley) for valley in valleys]
    for valley in valleys:
        share = part.thinned(valley.cells.astype(np.float32))
        if min(share.shape) > 1 and share.max() > 0.5 > share.min():
            line = ax.contour(*part.centres(), share, levels=[0.5], colors=palette.INK,
                              linewidths=1.3, linestyles="dashed", zorder=4.0)  # fmt: skip
            line.set_gid("valley")
            artists.append(line)
    labels = [str(number) for number in range(1, len(valleys) + 1)]
    return artists + draw_marks(ax, np.array(places).reshape(-1, 2), labels)


def hour_minute(moment: dt.datetime) -> str:
    """A moment to the nearest minute as the clock of its zone shows it.

    >>> hour_minute(dt.datetime(2026, 10, 13, 6, 9, 50, tzinfo=dt.UTC))
    '06:10'
    """
    nearest = moment.astimezone(dt.UTC) + dt.timedelta(seconds=30)
    return f"{nearest.astimezone(moment.tzinfo):%H:%M}"


def zone_words(moment: dt.datetime) -> str:
    """The zone of a moment's clock: its letters, or how far it is from UTC.

    >>> zone_words(dt.datetime(2026, 1, 5, tzinfo=dt.timezone(dt.timedelta(hours=-2))))
    'UTC-2'
    """
    name = moment.tzname() or ""
    hours = (moment.utcoffset() or dt.timedelta()).total_seconds() / 3600.0
    return name if name.isalpha() else f"UTC{hours:+g}"


def _midst(dem: Dem, valley: Valley) -> tuple[float, float]:
    """A place well inside a valley, in map coordinates."""
    inside = np.pad(valley.cells, 1)
    row, col = np.unravel_index(np.argmax(ndimage.distance_transform_edt(inside)), inside.shape)
    lon, lat = dem.grid.lonlat(int(row) - 1, int(col) - 1)
    place = map_places(dem.grid, lon, lat)[0]
    return float(place[0]), float(place[1])


def _shade(heights_m: Floats, cell_m: float) -> Floats:
    colours = relief(heights_m, cell_m)
    grey: Any = colours[..., :3] @ np.array([0.2126, 0.7152, 0.0722])
    known = colours[..., 3] > 0.0
    middle = float(np.median(grey[known])) if known.any() else 1.0
    return np.where(known, np.clip(grey / middle, 0.0, 1.3), np.nan)
