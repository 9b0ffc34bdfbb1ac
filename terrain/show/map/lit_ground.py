"""What the pictures of a day's first or last light share: its ground, its valleys, its page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from scipy import ndimage

from terrain.arrays import Floats
from terrain.ground.dem import Dem
from terrain.light.arrival import Arrival
from terrain.light.valleys import Valley
from terrain.mist.mist import Mist
from terrain.show.map.extent import (
    Extent,
    MapCells,
    cell_places,
    extent_about,
    map_cells,
    whole_extent,
)
from terrain.show.map.mist import draw_flat_mist
from terrain.show.map.relief import grey_shade, relief
from terrain.show.map.surround import (
    UNKNOWN_HATCH,
    Interpolation,
    begin_map,
    draw_cells,
    hatch_cells,
)
from terrain.show.paper import palette
from terrain.show.paper.key import numbers_to
from terrain.show.paper.legend import Hatch, Row, hatch_row
from terrain.show.paper.marks import draw_marks
from terrain.show.paper.page import map_page
from terrain.show.paper.text import notes_height_pt

NEVER_HATCH: Final = Hatch("\\" * 2, palette.RIDGE_FAR)
"""Leans the other way than that of unknown ground."""

_UNKNOWN: Final = UNKNOWN_HATCH._replace(colour=palette.HIDDEN)
_ASPECTS: Final = (0.8, 1.6)  # of a map, width over height, at the least and the most

_WORTH_A_LINE: Final = 0.002
_MAP_IN: Final = (7.2, 6.4)
_KEY_IN: Final = 2.5


@dataclass(frozen=True, kw_only=True, eq=False)
class LitGround:
    """The light of a morning or an evening on the ground that a map shows, as fine as the picture.

    What is worked out is (rows, cols) of the picture's cells.

    Parameters
    ----------
    dem : Dem
        The ground.
    arrival : Arrival
        The light on it, or on it and the mist.
    mist : Mist, optional
        That of the arrival.
    valleys : sequence of Valley, optional
        Numbered in their order.
    extent : Extent, optional
        What the map shows; unless given, the valleys, or else the whole raster.

    Examples
    --------
    >>> import datetime as dt
    >>> import numpy as np
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(100, 0, 5e5, 0, -100, 6e6), shape=(61, 81))
    >>> row, col = np.mgrid[-30:31, -40:41]
    >>> cone = terrain.Dem(np.maximum(300.0 - 40.0 * np.hypot(row, col), 0.0), grid)
    >>> hill = terrain.hill_at(cone, *map(float, grid.lonlat(30, 40)), name="Cone")
    >>> lon, lat = (float(part) for part in grid.lonlat(30, 10))
    >>> spot = terrain.Spot(lon_deg=lon, lat_deg=lat, name="the stile")
    >>> arrival = terrain.light_arrival(cone, dt.date(2025, 3, 30))
    >>> terrain.LitGround(dem=cone, arrival=arrival).arrives_s.ndim
    2
    """

    dem: Dem
    arrival: Arrival
    mist: Mist | None = None
    valleys: Sequence[Valley] = ()
    extent: Extent | None = None

    @cached_property
    def shown(self) -> Extent:
        """What the map shows."""
        return self.extent or extent_of(self.dem, self.valleys)

    @cached_property
    def cells(self) -> MapCells:
        """The cells of the picture."""
        return map_cells(self.arrival.surface, self.shown)

    @cached_property
    def shade(self) -> Floats:
        """Light and dark of the relief, 1 in the middle; NaN where the ground is unknown."""
        surface = self.arrival.surface
        heights = self.cells.thinned(surface.heights_m)
        return grey_shade(relief(heights, surface.cell_m * self.cells.step))

    @cached_property
    def arrives_s(self) -> Floats:
        """Mean of the cells that the sun comes to, NaN where it comes to few."""
        arrives = self.arrival.arrives_s
        comes = self.arrival.is_known & ~np.isnan(arrives)
        share = self.cells.thinned(comes)
        # where the sun is up all night the day begins or ends with it
        within = np.clip(arrives, 0.0, np.float32(self.arrival.length_s))
        total = self.cells.thinned(np.where(comes, within, 0.0))
        with np.errstate(invalid="ignore", divide="ignore"):
            return np.where(share >= 0.5, total / share, np.nan)

    @cached_property
    def never(self) -> Floats:
        """Share of the cells to which the sun does not come that day."""
        return self.cells.thinned(self.arrival.is_known & np.isnan(self.arrival.arrives_s))

    @cached_property
    def unknown(self) -> Floats:
        """Share of the cells of which it is not known when it comes."""
        ground = ~np.isnan(self.arrival.surface.heights_m)
        return self.cells.thinned(~self.arrival.is_known & ground)

    @cached_property
    def all_night(self) -> Floats:
        """Share of the cells where it is up all night, or still when the day ends."""
        return self.cells.thinned(np.isinf(self.arrival.arrives_s))

    @cached_property
    def opacity(self) -> Floats:
        """1 where a colour says what the light does, (rows, cols, 1)."""
        told = ~np.isnan(self.shade) & (self.unknown <= 0.5)
        return told[..., np.newaxis].astype(float)


def extent_of(dem: Dem, valleys: Sequence[Valley]) -> Extent:
    """What a map must show: the valleys with a margin, or without any the whole raster."""
    if not valleys:
        return whole_extent(dem.grid)
    row, col = np.nonzero(np.logical_or.reduce([valley.cells for valley in valleys]))
    ends = (np.array([part.min() - 0.5, part.max() + 0.5]) for part in (row, col))
    corners = cell_places(dem.grid, *ends)
    across, up = np.maximum(np.ptp(corners, axis=0), 1.0)
    return extent_about(dem.grid, corners, aspect=float(np.clip(across / up, *_ASPECTS)))


def worth_a_row(share: Floats) -> bool:
    """Whether so much of a picture has something that a reader asks what that is."""
    return bool((share > 0.5).mean() > _WORTH_A_LINE)


def unknown_rows(lit: LitGround) -> list[Row]:
    """What the hatching of ground is of which it is not known when the sun comes, if it shows."""
    return [hatch_row("not known when", _UNKNOWN)] if worth_a_row(lit.unknown) else []


def light_page(
    extent: Extent, title: str, line: str, key_pt: tuple[float, float], notes: Sequence[str]
) -> tuple[Figure, Axes, Axes]:
    """A page with the axes of a map of an extent, and beside it axes in points for its key.

    title, line: over the map. key_pt: how wide and high the key is, at the least. notes: for
    which it has room under the key.
    """
    width_in = min(_MAP_IN[0], _MAP_IN[1] * extent.aspect)
    key_in = max(_KEY_IN, key_pt[0] / 72.0)
    high_in = (key_pt[1] + notes_height_pt(notes, 72.0 * key_in)) / 72.0
    return map_page(title, line, (width_in, width_in / extent.aspect), (key_in, high_in))


def draw_lit_ground(
    ax: Axes, lit: LitGround, colours: Floats, interpolation: Interpolation, mist_alpha: float
) -> Floats:
    """The ground in some colours (rows, cols, 4), hatched where it is not known when the sun comes.

    Over it the mist as a tint of that density, and the valleys. Returns where the numbers of the
    valleys lie, (n, 2) in points.
    """
    begin_map(ax, lit.shown)
    draw_cells(ax, lit.cells, colours, "light", interpolation)
    hatch_cells(ax, lit.cells, lit.unknown, _UNKNOWN, zorder=2.2, gid="not-known")
    if lit.mist is not None:
        draw_flat_mist(ax, lit.dem, lit.mist, lit.cells, mist_alpha)
    return _draw_valleys(ax, lit)


def _draw_valleys(ax: Axes, lit: LitGround) -> Floats:
    """The outline of each valley, and its number in the midst of it."""
    look: dict[str, Any] = {"colors": palette.INK, "linewidths": 1.3, "linestyles": "dashed"}
    for valley in lit.valleys:
        share = lit.cells.thinned(valley.cells)
        if min(share.shape) > 1 and share.max() > 0.5 > share.min():
            line = ax.contour(*lit.cells.centres(), share, levels=[0.5], zorder=4.0, **look)
            line.set_gid("valley")
    places = [_midst(lit.dem, valley) for valley in lit.valleys]
    return draw_marks(ax, np.reshape(places, (-1, 2)), numbers_to(len(places)))


def _midst(dem: Dem, valley: Valley) -> Floats:
    """A place well inside a valley, (2,) in map coordinates."""
    depth = ndimage.distance_transform_edt(np.pad(valley.cells, 1))[1:-1, 1:-1]
    return cell_places(dem.grid, *np.unravel_index(np.argmax(depth), depth.shape))
