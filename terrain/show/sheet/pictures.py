"""The pictures of a sheet: the same view and the same map with the mist at several heights."""

from __future__ import annotations

import io
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import geopandas as gpd
import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.patheffects import Normal, Stroke
from numpy.typing import NDArray
from PIL import Image

from terrain.errors import TerrainError
from terrain.ground.geodesy import azimuth_and_distance, wrap_deg
from terrain.ground.places import Spot
from terrain.mist.flood import flood_levels
from terrain.mist.level import level_mist
from terrain.plan.morning import FallBack, Plan
from terrain.show.map.extent import Frame, frame_about, map_places
from terrain.show.map.map import draw_map
from terrain.show.paper import palette
from terrain.show.sheet.view_window import path_of, view_window
from terrain.show.view.angles import Window
from terrain.show.view.panorama import draw_view
from terrain.show.view.scenery import Light
from terrain.sight.seen import seen_ground
from terrain.view.backlight import Backlight, backlight
from terrain.view.scene import Scene, look
from terrain.walk.walk import Walk

__all__ = ["Look", "Pictures", "draw_pictures", "elsewhere", "mist_steps", "number_of"]

VIEW_PX: Final = 1200
MAP_PX: Final = 900

_MAP_IN, _VIEW_DPI = 3.3, 300.0
_QUALITY: Final = {"view": 92, "map": 80}
_SAME_PLACE_M: Final = 100.0

Progress = Callable[[float], None]


@dataclass(frozen=True, kw_only=True)
class Look:
    """The morning with the mist at one height.

    mist_top_m: NaN without mist. backlight: as it is then. view, map: WebP files.
    """

    mist_top_m: float
    backlight: Backlight
    view: bytes
    map: bytes


@dataclass(frozen=True, kw_only=True)
class Pictures:
    """What a sheet shows, the lowest mist first.

    planned: number of the look that is the plan's. window: what every view takes in. lower,
    higher: why there is none with the mist lower or higher still, empty where none was asked for.
    view_px, map_px: width and height. paths_shown: the map has paths.
    """

    looks: tuple[Look, ...]
    planned: int
    window: Window
    view_px: tuple[int, int]
    map_px: tuple[int, int]
    paths_shown: bool = False
    lower: str = ""
    higher: str = ""


def mist_steps(mist_top_m: float, *, step_m: float = 25.0, count: int = 4) -> tuple[float, ...]:
    """Heights of the mist about a planned one, that one among them; none without mist.

    >>> mist_steps(280.0, count=1)
    (255.0, 280.0, 305.0)
    """
    if math.isnan(mist_top_m):
        return ()
    return tuple(mist_top_m + step_m * number for number in range(-count, count + 1))


def elsewhere(plan: Plan) -> tuple[FallBack, ...]:
    """The fall-backs that lead to another place than the planned spot, each place once."""
    kept: list[FallBack] = []
    for fall_back in plan.fall_backs:
        spot = fall_back.spot
        known = [plan.spot, *(other.spot for other in kept if other.spot is not None)]
        if spot is not None and all(_metres_apart(spot, place) > _SAME_PLACE_M for place in known):
            kept.append(fall_back)
    return tuple(kept)


def number_of(plan: Plan, spot: Spot | None) -> int | None:
    """The number on the map of a place: 1 for the planned spot, from 2 on for the fall-backs."""
    places = [plan.spot, *(other.spot for other in elsewhere(plan))]
    return next(
        (
            number
            for number, place in enumerate(places, start=1)
            if spot and place and _metres_apart(spot, place) <= _SAME_PLACE_M
        ),
        None,
    )


def draw_pictures(
    plan: Plan,
    *,
    mist_tops_m: Sequence[float] | None = None,
    paths: gpd.GeoDataFrame | None = None,
    progress: Progress = lambda share: None,
) -> Pictures:
    """The view and the map of a plan, and the same with the mist at other heights.

    mist_tops_m: those heights, metres; 100 m down and up by steps of 25 m unless given. Heights
    at which nothing can be seen, because the spot or the hill lies under the mist or no ground
    does, are left out with the reason. paths: lines for the map. progress: called with the share
    done.
    """
    asked = mist_steps(plan.mist_top_m) if mist_tops_m is None else mist_tops_m
    others = [] if math.isnan(plan.mist_top_m) else sorted(set(asked) - {plan.mist_top_m})
    stand = _Stand(
        plan=plan,
        window=view_window(plan),
        frame_m=_map_frame(plan),
        paths=paths,
        levels=flood_levels(plan.scene.dem) if others else None,
    )
    planned = stand.drawn(plan.mist_top_m, plan.scene, plan.backlight)
    share = 1.0 / (1.0 + len(others))
    progress(share)
    below = [top_m for top_m in reversed(others) if top_m < plan.mist_top_m]
    lower, why_lower = stand.outward(below, lambda part: progress(share + part * share))
    done = (1 + len(below)) * share
    above = [top_m for top_m in others if top_m > plan.mist_top_m]
    higher, why_higher = stand.outward(above, lambda part: progress(done + part * share))
    progress(1.0)
    return Pictures(
        looks=(*reversed(lower), planned, *higher),
        planned=len(lower),
        window=stand.window,
        view_px=_view_px(stand.window),
        map_px=(MAP_PX, MAP_PX),
        paths_shown=paths is not None,
        lower=why_lower,
        higher=why_higher,
    )


@dataclass(frozen=True, kw_only=True)
class _Stand:
    """What every look of a plan has in common; levels: as `flood_levels` gives them."""

    plan: Plan
    window: Window
    frame_m: Frame
    paths: gpd.GeoDataFrame | None
    levels: NDArray[np.float32] | None

    def outward(self, tops_m: Sequence[float], progress: Progress) -> tuple[list[Look], str]:
        """Looks with the mist ever farther from the planned height, and why they end early.

        progress: called with the number of looks done.
        """
        looks: list[Look] = []
        for top_m in tops_m:
            try:
                looks.append(self.drawn(top_m, *self._morning(top_m)))
            except TerrainError as error:
                return looks, str(error)
            progress(float(len(looks)))
        return looks, ""

    def drawn(self, top_m: float, scene: Scene, answer: Backlight) -> Look:
        """Both pictures with the mist of a scene."""
        view = _view_image(self.plan, scene, answer, self.window)
        return Look(
            mist_top_m=top_m,
            backlight=answer,
            view=_webp(view, _QUALITY["view"]),
            map=_webp(_map_image(self.plan, scene, self.frame_m, self.paths), _QUALITY["map"]),
        )

    def _morning(self, top_m: float) -> tuple[Scene, Backlight]:
        dem, plan = self.plan.scene.dem, self.plan
        mist = level_mist(dem, top_m, levels=self.levels)
        scene = Scene(plan.scene.country.under(mist), plan.hill)
        return scene, backlight(scene, look(scene, plan.spot), plan.day)


def _view_px(window: Window) -> tuple[int, int]:
    return VIEW_PX, round(VIEW_PX * window.height_deg / window.width_deg)


def _view_image(plan: Plan, scene: Scene, answer: Backlight, window: Window) -> Image.Image:
    """Sky, ground and mist alone: the marks are laid over it by the page."""
    across, up = _view_px(window)
    seen = seen_ground(
        scene.dem,
        plan.spot,
        azimuths_deg=np.linspace(*window.azimuth_deg, across),
        altitudes_deg=np.linspace(*window.altitude_deg, up),
        lid_m=None if scene.mist is None else scene.mist.lid_m,
        refraction=scene.refraction,
    )
    figure, ax = _full_page(across / _VIEW_DPI, up / _VIEW_DPI, _VIEW_DPI)
    draw_view(ax, seen, scene.dem, _light(plan, answer, window), mist=scene.mist)
    return _image(figure)


def _light(plan: Plan, answer: Backlight, window: Window) -> Light:
    contact = answer.contact
    path = path_of(plan)
    start = path.seconds(contact.appears)
    before, after = path.at(np.array([start, start + 600.0]))[0]
    return Light(
        azimuth_deg=float(window.turned(contact.azimuth_deg)),
        altitude_deg=contact.altitude_deg,
        to_right=bool(wrap_deg(after - before) > 0.0),
    )


def _map_frame(plan: Plan) -> Frame:
    """About the walk, the hill, and the other places with their walks."""
    grid = plan.scene.dem.grid
    walks = [plan.walk, *(other.walk for other in elsewhere(plan) if other.walk is not None)]
    lon = np.concatenate([[plan.hill.lon_deg], *(walk.lon_deg for walk in walks)])
    lat = np.concatenate([[plan.hill.lat_deg], *(walk.lat_deg for walk in walks)])
    return frame_about(grid, map_places(grid, lon, lat), aspect=1.0)


def _map_image(
    plan: Plan, scene: Scene, frame_m: Frame, paths: gpd.GeoDataFrame | None
) -> Image.Image:
    figure, ax = _full_page(_MAP_IN, _MAP_IN, MAP_PX / _MAP_IN)
    others = [other.spot for other in elsewhere(plan) if other.spot is not None]
    draw_map(
        ax, scene.dem, frame_m=frame_m, mist=scene.mist, hill=plan.hill, starts=[plan.start],
        vantages=_points([plan.spot, *others]), paths=paths, contour_m=50.0,
    )  # fmt: skip
    for other in elsewhere(plan):
        if other.walk is not None:
            _draw_walk(ax, scene, other.walk, width_pt=1.1)
    _draw_walk(ax, scene, plan.walk, width_pt=1.9)
    return _image(figure)


def _draw_walk(ax: Axes, scene: Scene, walk: Walk, *, width_pt: float) -> None:
    """A solid line in a pale casing: paths are dashed, shores thin."""
    places = map_places(scene.dem.grid, walk.lon_deg, walk.lat_deg)
    casing = Stroke(linewidth=width_pt + 1.6, foreground=palette.PAPER)
    ax.plot(*places.T, color=palette.SUN, linewidth=width_pt, solid_joinstyle="round",
            path_effects=[casing, Normal()], zorder=6.0, gid="walk")  # fmt: skip


def _points(spots: Sequence[Spot]) -> gpd.GeoDataFrame:
    places = gpd.points_from_xy([s.lon_deg for s in spots], [s.lat_deg for s in spots])
    return gpd.GeoDataFrame(geometry=places, crs="EPSG:4326")


def _metres_apart(first: Spot, second: Spot) -> float:
    _, apart_m = azimuth_and_distance(first.lon_deg, first.lat_deg, second.lon_deg, second.lat_deg)
    return float(apart_m)


def _full_page(width_in: float, height_in: float, dpi: float) -> tuple[Figure, Axes]:
    """Axes that fill a figure from edge to edge."""
    figure = Figure(figsize=(width_in, height_in), dpi=dpi, facecolor=palette.PAPER)
    FigureCanvasAgg(figure)
    return figure, figure.add_axes((0.0, 0.0, 1.0, 1.0))


def _image(figure: Figure) -> Image.Image:
    for ax in figure.axes:
        ax.tick_params(which="both", length=0, labelbottom=False, labelleft=False)
        for spine in ax.spines.values():
            spine.set_visible(False)
    file = io.BytesIO()
    figure.savefig(file, format="rgba")
    size_px = figure.canvas.get_width_height()
    return Image.frombytes("RGBA", size_px, file.getvalue()).convert("RGB")


def _webp(image: Image.Image, quality: int) -> bytes:
    file = io.BytesIO()
    image.save(file, format="WEBP", quality=quality, method=6)
    return file.getvalue()
