"""The map: ground, mist with its shoreline, the hill, and numbered places keyed to a table."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import geopandas as gpd
import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure
from shapely import LineString, get_parts, line_merge

from terrain.arrays import Floats
from terrain.ground.dem import Dem
from terrain.ground.grid import Grid
from terrain.show.map.contents import HIDDEN_HATCH, PATH_LOOK, TOWARD_LOOK, MapContents
from terrain.show.map.extent import Extent, MapCells, extent_about, map_cells, shape_places
from terrain.show.map.mist import draw_mist, draw_passes, draw_ways
from terrain.show.map.names import draw_names
from terrain.show.map.relief import ground_colours
from terrain.show.map.surround import begin_map, draw_cells, finish_map, hatch_cells
from terrain.show.map.water import draw_water, shows_water
from terrain.show.paper import palette
from terrain.show.paper.key import Key
from terrain.show.paper.legend import Column, Room
from terrain.show.paper.marks import (
    HILL_MARK,
    RADIUS_PT,
    draw_mark,
    draw_marks,
    from_points,
    in_points,
)
from terrain.show.paper.page import BESIDE_IN, LOW_IN, head_in, map_page
from terrain.show.paper.style import own_style
from terrain.show.paper.vignette import Vignette
from terrain.words.figures import credit_note

_SIZE_IN: Final = (11.0, 8.0)

_VIEWS_IN: Final = 1.6
"""How much wider a page is that has small views beside its map."""

_BROADER_IN: Final = 2.0
"""By how much a page may be wider for all of a ground, so that a broad table leaves it room."""

_SHORT_OF_HILL_PT: Final = 9.0
_BESIDE_PT = 8.5


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
    mist = contents.mist
    draw_water(ax, dem, cells, None if mist is None else mist.covers)
    if mist is not None:
        draw_mist(ax, dem, mist, cells)
        if tops := contents.tree_tops(dem):
            tops.draw(ax, cells)
    if contents.hidden is not None:
        share = cells.thinned(contents.hidden)
        hatch_cells(ax, cells, share, HIDDEN_HATCH, zorder=3.0, gid="hidden")
    if contents.paths is not None:
        _draw_paths(ax, grid, contents.paths)
    if contents.ways is not None:
        draw_ways(ax, grid, contents.ways)
    if contents.shows_directions:
        _draw_directions(ax, grid, contents)
    discs = _draw_places(ax, grid, contents)
    if contents.passes is not None:
        draw_passes(ax, grid, contents.passes, keep_out=discs)
    shown = np.concatenate([contents.marked_places(grid), from_points(ax, discs[:, :2])])
    scale_pt = finish_map(ax, grid, shown)
    draw_names(ax, grid, contents.named, discs, scale_pt)


@own_style()
def map_figure(
    dem: Dem,
    contents: MapContents,
    *,
    title: str,
    subtitle: str = "",
    key: Key | None = None,
    notes: Sequence[str] = (),
    room: Room | None = None,
    views: Sequence[Vignette] = (),
) -> Figure:
    """A page with a map and, beside it, the key to its numbers.

    Parameters
    ----------
    dem : Dem
        The ground.
    contents : MapContents
        What the map shows on it.
    title : str
        What it shows, one line.
    subtitle : str, optional
        The same.
    key : Key, optional
        The table; unless given, that of the vantages or of the summits.
    notes : sequence of str, optional
        Lines under the key.
    room : Room, optional
        What the page keeps free, for one of a series.
    views : sequence of Vignette, optional
        Small pictures beside the legend, as `small_views` gives them.

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
    >>> page = terrain.map_figure(cone, terrain.MapContents(hill=hill), title="The cone")
    >>> len(page.axes) > 0
    True
    """
    column = Column(
        key=key or contents.key(),
        legend=contents.legend(
            unknown=_has_unknown(dem, contents),
            tree_tops=_has_tree_tops(dem, contents),
            water=shows_water(dem, cells_about(dem, contents)),
        ),
        passes=contents.passes_key(),
        notes=[*notes, *credit_note(dem.credit)],
        room=room or Room(),
        views=views,
    )
    column_in = column.size_in
    page_in = _SIZE_IN[0] + (_VIEWS_IN if views else 0.0)
    width_in = page_in - (BESIDE_IN + column_in[0])
    height_in = _SIZE_IN[1] - head_in(title, [subtitle], page_in) - LOW_IN
    if not len(contents.wanted_places(dem.grid)):
        # all of the ground is shown: a map of its shape, on a page no wider than it takes
        rows, cols = dem.shape
        width_in = min(width_in + _BROADER_IN, height_in * cols / rows)
        height_in = min(height_in, width_in * rows / cols)
    page, ax, side = map_page(title, subtitle, (width_in, height_in), column_in)
    draw_map(ax, dem, contents)
    column.draw(side)
    return page


def _has_unknown(dem: Dem, contents: MapContents) -> bool:
    """Whether the map shows unknown ground; its shape is not settled yet."""
    return bool(np.isnan(cells_about(dem, contents).thinned(dem.heights_m)).any())


def cells_about(dem: Dem, contents: MapContents) -> MapCells:
    """What cells a map shows while its shape is not settled yet."""
    extent = extent_about(dem.grid, contents.wanted_places(dem.grid), aspect=1.0)
    return map_cells(dem, extent)


def _has_tree_tops(dem: Dem, contents: MapContents) -> bool:
    """Whether the map has room for any, by about its size."""
    extent = extent_about(dem.grid, contents.wanted_places(dem.grid), aspect=1.0)
    per_m = 72.0 * (_SIZE_IN[1] - 1.2) / (extent.north - extent.south)
    tops = contents.tree_tops(dem)
    return tops is not None and len(tops.places(map_cells(dem, extent), per_m)) > 0


def _draw_ground(ax: Axes, dem: Dem, cells: MapCells, contour_m: float | None) -> None:
    draw_cells(ax, cells, ground_colours(dem, cells), "ground")
    if contour_m:
        heights = cells.thinned(dem.heights_m)
        levels = np.arange(np.nanmin(heights) // contour_m + 1, np.nanmax(heights) / contour_m)
        style: dict[str, Any] = {"colors": palette.INK, "linewidths": 0.4, "alpha": 0.32}
        ax.contour(
            *cells.centres(), heights, levels=levels * contour_m, zorder=1.5, **style
        ).set_gid("contours")


def _draw_paths(ax: Axes, grid: Grid, paths: gpd.GeoDataFrame) -> None:
    # paths that share a stretch must not fill each other's gaps
    lines = get_parts(line_merge(paths.geometry.union_all()))
    places = [shape_places(grid, line) for line in lines if isinstance(line, LineString)]
    look: dict[str, Any] = {
        "colors": PATH_LOOK["color"],
        "linewidths": PATH_LOOK["linewidth"],
        "linestyles": [(0, PATH_LOOK["dashes"])],
    }
    ax.add_collection(LineCollection(places, zorder=4.0, **look), autolim=False)


def _draw_directions(ax: Axes, grid: Grid, contents: MapContents) -> None:
    """A line from each vantage to the edge of the hill's mark."""
    vantages = in_points(ax, MapContents(vantages=contents.vantages).marked_places(grid))
    way = in_points(ax, contents.summit(grid)) - vantages
    long_pt = np.maximum(np.hypot(*way.T), 1e-9)[:, np.newaxis]
    toward = vantages + way * np.maximum(1.0 - _SHORT_OF_HILL_PT / long_pt, 0.0)
    for ends_pt in np.stack([vantages, toward], axis=1):
        ax.plot(*from_points(ax, ends_pt).T, zorder=5.0, gid="toward", **TOWARD_LOOK)


def _draw_places(ax: Axes, grid: Grid, contents: MapContents) -> Floats:
    """The marks; where they lie and how large they are, (n, 3) in points.

    Over mist those of summits stand beside their places, so that they hide no small islands.
    """
    summit = contents.summit(grid)
    for place in summit:
        draw_mark(ax, place, HILL_MARK, zorder=8.5)
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
