"""The pictures of a sheet: the same view and the same map with the mist at several heights."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Final, cast

import geopandas as gpd
import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.patheffects import Normal, Stroke
from PIL import Image

from terrain.ground.places import Spot
from terrain.plan.morning import Plan
from terrain.plan.what_if import WhatIf, WhatIfs
from terrain.show.map.contents import MapContents
from terrain.show.map.extent import Extent, extent_about, map_cells, map_places
from terrain.show.map.map import draw_map
from terrain.show.map.mist import draw_mist
from terrain.show.paper import palette
from terrain.show.paper.style import own_style
from terrain.show.sheet.views import PASSING_PX, VIEW_PX, Passing, Views, as_webp, begin_views
from terrain.show.view.window import Window
from terrain.walk.walk import Walk

MAP_PX: Final = 900
CONTOUR_M: Final = 50.0

_MAP_IN: Final = 3.3
_MIST_ZORDER: Final = 2.5
"""Of the shore, under which the ground lies, and over which all else."""

_QUALITY: Final = 80

Progress = Callable[[float], None]


@dataclass(frozen=True)
class Look:
    """The morning with the mist at one height, and its view and map as WebP files."""

    morning: WhatIf
    view: bytes
    map: bytes


@dataclass(frozen=True, kw_only=True)
class Pictures:
    """What a sheet shows, the lowest mist first.

    what_ifs: the mornings that are drawn. passing: before the colour, at the best moment, and
    ten minutes on. window: what every view takes in; at: when, which is the best moment of the
    plan. view_px, passing_px, map_px: width and height. paths_shown: the map has paths.
    """

    looks: tuple[Look, ...]
    passing: tuple[Passing, ...]
    passing_px: tuple[int, int]
    what_ifs: WhatIfs
    window: Window
    at: dt.datetime
    view_px: tuple[int, int]
    map_px: tuple[int, int]
    paths_shown: bool = False


@own_style()
def draw_pictures(
    plan: Plan,
    *,
    mist_tops_m: Sequence[float] | None = None,
    views: Views | None = None,
    paths: gpd.GeoDataFrame | None = None,
    progress: Progress = lambda share: None,
) -> Pictures:
    """The view and the map of a plan, and the same with the mist at other heights.

    mist_tops_m: those heights, as for `what_ifs`. views: of this plan, where they are begun
    already, with their heights; they are closed. paths: lines for the map. progress: called with
    the share done.
    """
    views = begin_views(plan, mist_tops_m) if views is None else views
    try:
        progress(0.2)
        map_, mornings = _Map(plan, paths), views.what_ifs.mornings
        maps = [
            views.threads.submit(as_webp, map_.drawn(morning), _QUALITY) for morning in mornings
        ]
        for number, drawn in enumerate(views.drawn, start=1):
            drawn.result()
            progress(0.2 + 0.8 * number / len(views.drawn))
        parts = [[each.result() for each in done] for done in (views.drawn, maps)]
        passing = views.passing.result()
    finally:
        views.close()
    return Pictures(
        looks=tuple(map(Look, mornings, *parts)),
        passing=passing,
        passing_px=(PASSING_PX, views.window.cells(PASSING_PX)[1].size),
        what_ifs=views.what_ifs,
        window=views.window,
        at=views.at,
        view_px=(VIEW_PX, views.window.cells(VIEW_PX)[1].size),
        map_px=(MAP_PX, MAP_PX),
        paths_shown=paths is not None,
    )


class _Map:
    """The ground, the walks and the marks, drawn once, with one mist after another between."""

    def __init__(self, plan: Plan, paths: gpd.GeoDataFrame | None) -> None:
        page = Figure(figsize=(_MAP_IN, _MAP_IN), dpi=MAP_PX / _MAP_IN, facecolor=palette.PAPER)
        self._canvas = cast("Any", FigureCanvasAgg(page))  # of which the types are not told
        self._ax = page.add_axes((0.0, 0.0, 1.0, 1.0))
        _draw_places(self._ax, plan, paths)
        extent = Extent(*self._ax.get_xlim(), *self._ax.get_ylim())
        self._cells = map_cells(plan.scene.dem, extent)
        over = [part for part in self._ax.get_children() if part.get_zorder() > _MIST_ZORDER]
        for part in over:
            part.set_animated(True)
        # without what is animated
        self._canvas.draw()
        self._ground = self._canvas.copy_from_bbox(page.bbox)
        self._over = self._alone(over)
        # the canvas knows what it clips by from where that lies in memory: no other may come there
        self._covers: list[Artist] = []

    def drawn(self, morning: WhatIf) -> Image.Image:
        scene, before = morning.scene, self._ax.get_children()
        if scene.mist is not None:
            draw_mist(self._ax, scene.dem, scene.mist, self._cells)
        cover = [part for part in self._ax.get_children() if part not in before]
        self._covers += cover
        self._canvas.restore_region(self._ground)
        self._draw(cover)
        for part in cover:
            part.remove()
        return Image.alpha_composite(self._image(), self._over).convert("RGB")

    def _alone(self, parts: Sequence[Artist]) -> Image.Image:
        """Parts of the map on nothing."""
        self._canvas.get_renderer().clear()
        self._draw(parts)
        return self._image()

    def _draw(self, parts: Sequence[Artist]) -> None:
        for part in sorted(parts, key=Artist.get_zorder):
            self._ax.draw_artist(part)

    def _image(self) -> Image.Image:
        return Image.fromarray(np.array(self._canvas.buffer_rgba()))


def _draw_places(ax: Axes, plan: Plan, paths: gpd.GeoDataFrame | None) -> None:
    """The map without its mist, about the walk, the hill, and the other places and their walks."""
    grid = plan.scene.dem.grid
    others = [(other.spot, other.walk) for other in plan.elsewhere if other.spot and other.walk]
    walks = [plan.walk, *(walk for _, walk in others)]
    lon = np.concatenate([[plan.hill.lon_deg], *(walk.lon_deg for walk in walks)])
    lat = np.concatenate([[plan.hill.lat_deg], *(walk.lat_deg for walk in walks)])
    contents = MapContents(
        hill=plan.hill,
        starts=[plan.start],
        vantages=_points([plan.spot, *(spot for spot, _ in others)]),
        paths=paths,
        contour_m=CONTOUR_M,
    )
    extent = extent_about(grid, map_places(grid, lon, lat), aspect=1.0)
    draw_map(ax, plan.scene.dem, contents, extent=extent)
    for _, walk in others:
        _draw_walk(ax, plan, walk, width_pt=1.1)
    _draw_walk(ax, plan, plan.walk, width_pt=1.9)
    ax.tick_params(which="both", length=0, labelbottom=False, labelleft=False)
    ax.spines[:].set_visible(False)


def _draw_walk(ax: Axes, plan: Plan, walk: Walk, *, width_pt: float) -> None:
    """A solid line in a pale casing: paths are dashed, shores thin."""
    places = map_places(plan.scene.dem.grid, walk.lon_deg, walk.lat_deg)
    casing = Stroke(linewidth=width_pt + 1.6, foreground=palette.PAPER)
    ax.plot(
        *places.T,
        color=palette.SUN,
        linewidth=width_pt,
        solid_joinstyle="round",
        path_effects=[casing, Normal()],
        zorder=6.0,
        gid="walk",
    )


def _points(spots: Sequence[Spot]) -> gpd.GeoDataFrame:
    places = gpd.points_from_xy([s.lon_deg for s in spots], [s.lat_deg for s in spots])
    return gpd.GeoDataFrame(geometry=places, crs="EPSG:4326")
