"""The year atlas as a picture: ground coloured by the date of the sun behind the hill or over it.

Two maps side by side, for the sun twice passes every place, once going north and once going south;
beside them a calendar ring is the key to both. Its left half belongs to the left map.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure

from terrain.arrays import Flags, Floats, Singles
from terrain.ground.dem import Dem
from terrain.mist.mist import Mist
from terrain.show.map.contents import hill_row
from terrain.show.map.extent import (
    Extent,
    MapCells,
    cell_places,
    extent_about,
    map_cells,
    map_places,
)
from terrain.show.map.mist import draw_flat_mist, mist_row
from terrain.show.map.month_lines import draw_month_lines
from terrain.show.map.relief import grey_shade, ground_colours
from terrain.show.map.surround import begin_map, draw_cells, finish_map
from terrain.show.map.year_colours import YEAR_RING, ring_place
from terrain.show.map.year_ring import RING_PT, draw_ring
from terrain.show.paper import palette
from terrain.show.paper.legend import draw_box, draw_rows
from terrain.show.paper.marks import HILL_MARK, RADIUS_PT, draw_mark, in_points
from terrain.show.paper.page import MARGIN_IN, axes_at, new_page, points_axes
from terrain.show.paper.style import own_style
from terrain.show.paper.text import notes_height_pt, write, write_notes
from terrain.year.atlas import Atlas

_GREY = "#d3d4d3"
_ASPECTS = (0.8, 1.25)  # of a map, width over height, at the least and the most
_MAP_IN, _KEY_IN, _GAP_IN = 4.75, 2.05, 0.34
_LOW_IN, _HEADS_IN, _RIGHT_IN = 0.45, 0.29, 0.35
_KEY_TOP_PT, _LINE_PT = 2.0 * RING_PT + 94.0, 11.0
"""Where the rows under the ring begin, and from one line of words to the next, points."""


def draw_atlas(
    ax: Axes, dem: Dem, atlas: Atlas, day: Singles, *, extent: Extent, mist: Mist | None
) -> None:
    """Draw a map of days on axes of a final size.

    dem: the ground of the atlas. day: (rows, cols) of the year, such as `atlas.north_day`; ground
    without one is left grey. extent: what it shows.
    """
    begin_map(ax, extent)
    cells = map_cells(dem, extent)
    place, share = _day_of_blocks(cells, day)
    colours = _colours(ground_colours(dem, cells), place, share)
    draw_cells(ax, cells, colours, "days", "nearest")
    if mist is not None:
        draw_flat_mist(ax, dem, mist, cells, 0.85)
    summit = map_places(dem.grid, atlas.hill.lon_deg, atlas.hill.lat_deg)
    draw_mark(ax, summit[0], HILL_MARK, zorder=8.5)
    scale_pt = finish_map(ax, dem.grid, np.concatenate([summit, _some_of(cells, share > 0.0)]))
    (at_pt,) = in_points(ax, summit)
    kept = np.stack([np.ravel(scale_pt), [*(at_pt - RADIUS_PT), *(at_pt + RADIUS_PT)]])
    draw_month_lines(ax, cells, np.where(share > 0.0, place, np.nan), atlas.year, kept)


@own_style()
def atlas_figure(
    dem: Dem,
    atlas: Atlas,
    *,
    title: str,
    subtitle: str = "",
    notes: Sequence[str] = (),
    mist: Mist | None = None,
    reach_m: float = 12_000.0,
    within_m: tuple[float, float] = (0.0, math.inf),
) -> Figure:
    """A page with both maps of a year atlas and the ring that is their key.

    Parameters
    ----------
    dem : Dem
        The ground of the atlas.
    atlas : Atlas
        As `backlight_atlas` gives it.
    title : str
        What it shows, one line.
    subtitle : str, optional
        The same.
    notes : sequence of str, optional
        Lines under the ring.
    mist : Mist, optional
        That of the atlas.
    reach_m : float, optional
        How far from the hill the maps reach, metres, on ground that is there.
    within_m : (float, float), optional
        The least and the greatest distance to the summit at which places are shown, metres.

    Returns
    -------
    matplotlib.figure.Figure
        For `save_picture`, or as a notebook shows it.

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
    >>> atlas = terrain.backlight_atlas(cone, hill, 2025)
    >>> page = terrain.atlas_figure(cone, atlas, title="The cone in 2025")
    >>> len(page.axes) > 2
    True
    """
    far_enough = (atlas.distance_m >= within_m[0]) & (atlas.distance_m <= within_m[1])
    extent = _extent(dem, atlas, min(reach_m, within_m[1]))
    map_in = _MAP_IN / extent.aspect
    rows = [hill_row(atlas.hill), *([] if mist is None else [mist_row(mist)])]
    key_in = max(_KEY_IN, (rows[0].width_pt + 2.0) / 72.0)
    rest = _rest(within_m)
    key_pt = _KEY_TOP_PT + sum(row.height_pt for row in rows) + _LINE_PT * len(rest)
    high_in = max(map_in, (key_pt + notes_height_pt(notes, 72.0 * key_in)) / 72.0)
    width_in = MARGIN_IN + 2.0 * (_MAP_IN + _GAP_IN) + key_in + _RIGHT_IN
    page = new_page(width_in, _HEADS_IN + high_in + _LOW_IN, title, [subtitle])
    heads = ("as the sun goes north, December to June", "as it goes south, June to December")
    for number, (day, head) in enumerate(
        zip((atlas.north_day, atlas.south_day), heads, strict=True)
    ):
        left_in = MARGIN_IN + number * (_MAP_IN + _GAP_IN)
        ax = axes_at(page, left_in, _LOW_IN + high_in - map_in, _MAP_IN, map_in)
        shown = np.where(far_enough, day, np.float32(np.nan))
        draw_atlas(ax, dem, atlas, shown, extent=extent, mist=mist)
        ax.set_title(head, loc="left", fontsize=9.0, color=palette.INK, pad=5.0)
        ax.tick_params(axis="y", labelleft=number == 0)
    side = points_axes(page, width_in - key_in - _RIGHT_IN, _LOW_IN, key_in, high_in)
    draw_ring(side, (key_in * 36.0, RING_PT + 18.0), year=atlas.year, event=atlas.event)
    _draw_swatches(side, _KEY_TOP_PT - 36.0, atlas)
    _draw_grey(side, draw_rows(side, _KEY_TOP_PT, rows), rest)
    write_notes(side, notes)
    return page


def _extent(dem: Dem, atlas: Atlas, reach_m: float) -> Extent:
    """About the hill and all ground near it that has a day."""
    if atlas.has_days.any():
        # a hill may be seen from afar alone
        reach_m = max(reach_m, float(np.median(atlas.distance_m[atlas.has_days])))
    near = np.nonzero(atlas.has_days & (atlas.distance_m <= reach_m))
    summit = map_places(dem.grid, atlas.hill.lon_deg, atlas.hill.lat_deg)
    places = np.concatenate([summit, cell_places(dem.grid, *near)])
    across, up = np.maximum(np.ptp(places, axis=0), 1.0)
    return extent_about(dem.grid, places, aspect=float(np.clip(across / up, *_ASPECTS)))


def _colours(ground: Floats, place: Floats, share: Floats) -> Floats:
    """(rows, cols, 4) RGBA: the colour of the date where there is one, else grey relief."""
    shade = np.nan_to_num(grey_shade(ground), nan=1.0)[..., np.newaxis]
    plain = np.clip(np.array(to_rgb(_GREY)) * (0.4 + 0.6 * shade), 0.0, 1.0)
    dated = np.clip(YEAR_RING(place)[..., :3] * (0.7 + 0.3 * shade), 0.0, 1.0)
    cover = np.clip(2.0 * share, 0.0, 1.0)[..., np.newaxis]
    return np.concatenate([plain + cover * (dated - plain), ground[..., 3:]], axis=2)


def _day_of_blocks(cells: MapCells, day: Singles) -> tuple[Floats, Floats]:
    """Where on the ring the cells of the picture lie, and the share of each that has a day.

    The mean of days is taken round the ring, so that of late December and early January is not
    in July.
    """
    turn = 2.0 * np.pi * ring_place(cells.blocks(day))
    known = ~np.isnan(turn)
    east = np.where(known, np.sin(turn), 0.0).sum(axis=(1, 3))
    north = np.where(known, np.cos(turn), 0.0).sum(axis=(1, 3))
    return np.mod(np.arctan2(east, north) / (2.0 * np.pi), 1.0), known.mean(axis=(1, 3))


def _some_of(cells: MapCells, dated: Flags) -> Floats:
    """Places (n, 2) of some of the dated cells of the picture, in map coordinates."""
    easting, northing = cells.centres()
    row, col = np.nonzero(dated)
    return np.column_stack([easting[col], northing[row]])[:: max(row.size // 2000, 1)]


def _rest(within_m: tuple[float, float]) -> list[str]:
    """Why the rest of the ground is grey."""
    low_km, high_km = (round(metres / 1000.0, 1) for metres in within_m)
    lines = ["not seen from there, or no sun", "that near to it on any day"]
    if low_km or math.isfinite(high_km):
        lines.append(f"or not {low_km:g} to {high_km:g} km away")
    return lines


def _draw_grey(side: Axes, top_pt: float, lines: Sequence[str]) -> None:
    draw_box(side, (0.5, top_pt - 5.0), (16.0, 10.0), {"facecolor": _GREY})
    for number, words in enumerate(lines):
        write(side, (22.0, top_pt + _LINE_PT * number), words)


def _draw_swatches(side: Axes, top_pt: float, atlas: Atlas) -> None:
    """What the colour and the grey mean."""
    for left, place in ((0.5, 0.25), (8.5, 0.75)):
        draw_box(side, (left, top_pt - 5.0), (8.0, 10.0), {"facecolor": YEAR_RING(place)})
    verb = "sinks" if atlas.evening else "climbs"
    write(side, (22.0, top_pt), f"the sun {verb} past the summit,")
    write(side, (22.0, top_pt + _LINE_PT), f"within {atlas.tolerance_deg:g}°, about this date")
