"""The pictures of a sheet: the same view and the same map with the mist at several heights."""

from __future__ import annotations

import datetime as dt
import io
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
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

from terrain.cores import cores
from terrain.ground.places import Spot
from terrain.plan.morning import Plan
from terrain.plan.what_if import WhatIf, WhatIfs, what_ifs
from terrain.show.map.contents import MapContents
from terrain.show.map.extent import Extent, extent_about, map_cells, map_places
from terrain.show.map.map import draw_map
from terrain.show.map.mist import draw_mist
from terrain.show.paper import palette
from terrain.show.paper.style import own_style
from terrain.show.view.moment import Moment, moment_at
from terrain.show.view.moments import at_moments, best_moment, triptych
from terrain.show.view.photograph import print_of
from terrain.show.view.scenery import Scenery, scenery
from terrain.show.view.window import Window, window_round
from terrain.walk.walk import Walk
from terrain.words.plan import frame_over_summit

VIEW_PX: Final = 1000
PASSING_PX: Final = 480
MAP_PX: Final = 900
CONTOUR_M: Final = 50.0

_MAP_IN: Final = 3.3
_MIST_ZORDER: Final = 2.5
"""Of the shore, under which the ground lies, and over which all else."""

_VIEW_QUALITY, _MAP_QUALITY = 92, 80
_EFFORT: Final = 2
"""Of the encoder, 0 to 6: with 3 a map is 2 % smaller and takes twice as long."""

Progress = Callable[[float], None]


@dataclass(frozen=True)
class Look:
    """The morning with the mist at one height, and its view and map as WebP files."""

    morning: WhatIf
    view: bytes
    map: bytes


@dataclass(frozen=True)
class Passing:
    """The view at one moment of the morning, with the mist as planned, as a WebP file."""

    words: str
    at: dt.datetime
    view: bytes


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
    paths: gpd.GeoDataFrame | None = None,
    progress: Progress = lambda share: None,
) -> Pictures:
    """The view and the map of a plan, and the same with the mist at other heights.

    mist_tops_m: those heights, as for `what_ifs`. paths: lines for the map. progress: called with
    the share done.
    """
    found = what_ifs(plan, mist_tops_m)
    progress(0.2)
    best = best_moment(plan.backlight)
    suns = at_moments(plan.backlight, [best])
    window = window_round(plan.framing.frame, suns, also=frame_over_summit(plan))
    moment = moment_at(plan.backlight, plan.backlight.sun_path.seconds(best))
    # what the views spend their time on works outside of the interpreter, beside the maps
    with ThreadPoolExecutor(cores()) as threads:
        views = [threads.submit(_view, morning, window, moment) for morning in found.mornings]
        passing = threads.submit(_passing, found.mornings[found.planned], window)
        map_ = _Map(plan, paths)
        maps = [
            threads.submit(_webp, map_.drawn(morning), _MAP_QUALITY) for morning in found.mornings
        ]
        for number, drawn in enumerate(views, start=1):
            drawn.result()
            progress(0.2 + 0.8 * number / len(views))
    return Pictures(
        looks=tuple(map(Look, found.mornings, *_done(views, maps))),
        passing=passing.result(),
        passing_px=(PASSING_PX, window.cells(PASSING_PX)[1].size),
        what_ifs=found,
        window=window,
        at=best,
        view_px=(VIEW_PX, window.cells(VIEW_PX)[1].size),
        map_px=(MAP_PX, MAP_PX),
        paths_shown=paths is not None,
    )


def _done(*works: Sequence[Future[bytes]]) -> list[list[bytes]]:
    return [[each.result() for each in work] for work in works]


def _view(morning: WhatIf, window: Window, moment: Moment) -> bytes:
    """The light alone: the marks are laid over it by the page."""
    shown = scenery(morning.scene, morning.backlight.view.spot, *window.cells(VIEW_PX))
    return _photograph(shown, moment, window)


def _photograph(shown: Scenery, moment: Moment, window: Window) -> bytes:
    toward = sum(window.azimuth_deg) / 2.0
    print_ = print_of(shown.light(moment)[::-1], moment, toward)
    return _webp(Image.fromarray(print_), _VIEW_QUALITY)


def _passing(morning: WhatIf, window: Window) -> tuple[Passing, ...]:
    """The light as it comes and grows, or goes."""
    answer, suns = morning.backlight, triptych(morning.backlight)
    shown = scenery(morning.scene, answer.view.spot, *window.cells(PASSING_PX))
    return tuple(
        Passing(words, at, _photograph(shown, moment_at(answer, suns.path.seconds(at)), window))
        for words, at in zip(suns.words, suns.moments, strict=True)
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


def _webp(image: Image.Image, quality: int) -> bytes:
    file = io.BytesIO()
    image.save(file, format="WEBP", quality=quality, method=_EFFORT)
    return file.getvalue()
