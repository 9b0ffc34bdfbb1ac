"""The map: ground, mist with its shoreline, the hill, and numbered places keyed to a table."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import geopandas as gpd
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray
from shapely import LineString, get_parts, line_merge

from terrain.ground.dem import Dem
from terrain.ground.grid import Grid
from terrain.ground.places import Hill, Spot
from terrain.mist.mist import Mist
from terrain.show.map.contents import HIDDEN_HATCH, PATH_LOOK, TOWARD_LOOK, MapContents
from terrain.show.map.extent import Extent, MapCells, extent_about, line_places, map_cells
from terrain.show.map.keys import pour_key
from terrain.show.map.mist_cover import draw_mist
from terrain.show.map.pouring_marks import Pours, draw_passes, draw_ways
from terrain.show.map.relief import ground_colours
from terrain.show.map.surround import begin_map, draw_cells, finish_map, hatch_cells
from terrain.show.paper import palette
from terrain.show.paper.column import Column, Room
from terrain.show.paper.key import Key
from terrain.show.paper.marks import HILL_MARK, RADIUS_PT, draw_mark, draw_marks, in_points
from terrain.show.paper.page import MARGIN_IN, axes_at, head_in, new_page, points_axes

__all__ = ["draw_map", "map_figure"]

SIZE_IN: Final = (11.0, 8.0)

_LEFT_IN, _RIGHT_IN, _LOW_IN, _GAP_IN = MARGIN_IN, 0.35, 0.45, 0.3
_STROKE_SHARE = 0.15
_BESIDE_PT = 8.5

Floats = NDArray[np.float64]


def draw_map(ax: Axes, dem: Dem, contents: MapContents, *, extent: Extent | None = None) -> None:
    """Draw a map on axes of a final size.

    extent: what it shows; unless given, the hill with its vantages and starts, or else all of
    the raster.
    """
    grid = dem.grid
    if extent is None:
        box = ax.get_window_extent()
        aspect = box.width / box.height
        extent = extent_about(grid, contents.wanted_places(grid), aspect=aspect)
    begin_map(ax, extent)
    cells = map_cells(dem, extent)
    _draw_ground(ax, dem, cells, contents.contour_m)
    if contents.mist is not None:
        draw_mist(ax, dem, contents.mist, cells)
    if contents.hidden is not None:
        share = cells.thinned(contents.hidden)
        hatch_cells(ax, cells, share, HIDDEN_HATCH, palette.HIDDEN, zorder=3.0)
    if contents.paths is not None:
        _draw_paths(ax, grid, contents.paths)
    if contents.pours is not None:
        draw_ways(ax, dem, contents.pours.ways)
    if contents.shows_directions:
        _draw_directions(ax, grid, contents)
    discs = _draw_places(ax, grid, contents)
    if contents.pours is not None and contents.pours.passes is not None:
        draw_passes(ax, dem, contents.pours.passes, keep_out=discs)
    shown = np.concatenate([contents.summit(grid), contents.marked_places(grid)])
    finish_map(ax, grid, shown)


def map_figure(
    dem: Dem,
    *,
    title: str,
    subtitle: str = "",
    key: Key | None = None,
    notes: Sequence[str] = (),
    mist: Mist | None = None,
    hill: Hill | None = None,
    vantages: gpd.GeoDataFrame | None = None,
    summits: gpd.GeoDataFrame | None = None,
    starts: Sequence[Spot] = (),
    paths: gpd.GeoDataFrame | None = None,
    hidden: NDArray[np.bool_] | None = None,
    pours: Pours | None = None,
    room: Room | None = None,
) -> Figure:
    """A page with a map and, beside it, the key to its numbers.

    Parameters
    ----------
    dem : Dem
        The ground.
    title : str
        What it shows, one line.
    subtitle : str, optional
        The same.
    key : Key, optional
        The table; unless given, that of the vantages or of the summits.
    notes : sequence of str, optional
        Lines under the key.
    mist : Mist, optional
        Lies over the ground; none unless given.
    hill : Hill, optional
        The hill that is looked at.
    vantages : geopandas.GeoDataFrame, optional
        Points, numbered in their order, or as a column `mark` says.
    summits : geopandas.GeoDataFrame, optional
        The same, at most 20; they have no numbers beside vantages.
    starts : sequence of Spot, optional
        Lettered.
    paths : geopandas.GeoDataFrame, optional
        Lines.
    hidden : (rows, cols) bool array, optional
        Ground to hatch.
    pours : Pours, optional
        Where mist pours over passes.
    room : Room, optional
        What the page keeps free, for one of a series.

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
    >>> page = terrain.map_figure(cone, title="The cone", hill=hill)
    >>> len(page.axes) > 0
    True
    """
    contents = MapContents(
        mist=mist,
        hill=hill,
        vantages=vantages,
        summits=summits,
        starts=starts,
        paths=paths,
        hidden=hidden,
        pours=pours,
    )
    column = Column(
        key=contents.key() if key is None else key,
        legend=contents.legend(unknown=_has_unknown(dem, contents)),
        passes=_passes_key(pours),
        notes=notes,
        room=room or Room(),
    )
    head = title, [subtitle]
    width_in, height_in, across_in = _map_in(dem, contents, column, head_in(*head, SIZE_IN[0]))
    body_in = max(height_in, column.height_in)
    page = new_page(across_in, body_in + _LOW_IN, *head)
    ax = axes_at(page, _LEFT_IN, _LOW_IN + body_in - height_in, width_in, height_in)
    draw_map(ax, dem, contents)
    left_in = _LEFT_IN + width_in + _GAP_IN
    column.draw(points_axes(page, left_in, _LOW_IN, column.width_in, body_in))
    return page


def _passes_key(pours: Pours | None) -> Key | None:
    passes = None if pours is None else pours.passes
    return None if passes is None or passes.empty else pour_key(passes)


def _has_unknown(dem: Dem, contents: MapContents) -> bool:
    """Whether the map shows unknown ground; its shape is not settled yet."""
    extent = extent_about(dem.grid, contents.wanted_places(dem.grid), aspect=1.0)
    return bool(np.isnan(map_cells(dem, extent).thinned(dem.heights_m)).any())


def _map_in(
    dem: Dem, contents: MapContents, column: Column, top_in: float
) -> tuple[float, float, float]:
    """Width and height of the map, and width of its page, inches.

    Where nothing must be shown but the ground, all of it is: a map of the raster's own shape, on
    a page no wider than it takes.
    """
    height_in = SIZE_IN[1] - top_in - _LOW_IN
    beside_in = _LEFT_IN + _RIGHT_IN + _GAP_IN + column.width_in
    width_in = SIZE_IN[0] - beside_in
    if len(contents.wanted_places(dem.grid)):
        return width_in, height_in, SIZE_IN[0]
    rows, cols = dem.shape
    width_in = min(width_in, height_in * cols / rows)
    return width_in, min(height_in, width_in * rows / cols), beside_in + width_in


def _draw_ground(ax: Axes, dem: Dem, cells: MapCells, contour_m: float | None) -> None:
    draw_cells(ax, cells, ground_colours(dem, cells), "ground")
    if contour_m:
        heights = cells.thinned(dem.heights_m)
        levels = np.arange(np.nanmin(heights) // contour_m + 1, np.nanmax(heights) / contour_m)
        style: dict[str, Any] = {"colors": palette.INK, "linewidths": 0.35, "alpha": 0.28}
        ax.contour(*cells.centres(), heights, levels=levels * contour_m, zorder=1.5, **style)


def _draw_paths(ax: Axes, grid: Grid, paths: gpd.GeoDataFrame) -> None:
    # paths that share a stretch must not fill each other's gaps
    for line in get_parts(line_merge(paths.geometry.union_all())):
        if isinstance(line, LineString):
            ax.plot(*line_places(grid, line).T, zorder=4.0, **PATH_LOOK)


def _draw_directions(ax: Axes, grid: Grid, contents: MapContents) -> None:
    """A short stroke from each vantage toward the hill."""
    vantages = MapContents(vantages=contents.vantages).marked_places(grid)
    toward = vantages + _STROKE_SHARE * (contents.summit(grid) - vantages)
    for ends in np.stack([vantages, toward], axis=1):
        ax.plot(*ends.T, zorder=5.0, **TOWARD_LOOK)


def _draw_places(ax: Axes, grid: Grid, contents: MapContents) -> Floats:
    """The marks; where they lie and how large they are, (n, 3) in points.

    Over mist those of summits stand beside their places, so that they hide no small islands.
    """
    summit = contents.summit(grid)
    for easting, northing in summit:
        draw_mark(ax, (float(easting), float(northing)), HILL_MARK, zorder=8.5)
    beside = contents.mist is not None and contents.vantages is None
    marks = draw_marks(
        ax,
        contents.marked_places(grid),
        contents.marks,
        offset_pt=_BESIDE_PT if beside else 0.0,
        keep_out=_discs(in_points(ax, summit)),
    )
    return _discs(np.concatenate([in_points(ax, summit), marks]))


def _discs(places_pt: Floats) -> Floats:
    return np.column_stack([places_pt, np.full(len(places_pt), RADIUS_PT)])
