"""The skyline all round a spot, in two halves: ridges by distance, and where ground is unknown."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, Final

import geopandas as gpd
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from terrain.arrays import Floats
from terrain.constants import TERRESTRIAL_REFRACTION
from terrain.errors import NoGround
from terrain.ground.dem import Dem
from terrain.ground.places import Spot
from terrain.show.paper import palette
from terrain.show.paper.key import draw_keys
from terrain.show.paper.legend import draw_box
from terrain.show.paper.marks import RADIUS_PT, draw_marks
from terrain.show.paper.page import MARGIN_IN, axes_at, new_page, points_axes
from terrain.show.paper.style import own_style
from terrain.show.paper.text import text_width_pt, write
from terrain.show.view.summits_in_view import sight_key, striking_summits
from terrain.show.view.window import Window, draw_angles
from terrain.sight.skyline import Skyline, layers, skyline

WIDTH_IN: Final = 11.0
EDGES_M: Final = (500.0, 1000.0, 2000.0, 4000.0, 8000.0, 16_000.0, 32_000.0, math.inf)
MOST_SUMMITS: Final = 20

_UNKNOWN: Final[dict[str, Any]] = {"facecolor": palette.PAPER, "edgecolor": palette.FAINT}
_HALF_IN = 2.0
_BETWEEN_IN, _LOW_IN = 0.62, 0.3


def draw_skyline(ax: Axes, sky: Skyline, bands_deg: Floats, *, known_m: float = 10_000.0) -> None:
    """Ridges by distance over part of a turn, on axes whose limits say which.

    bands_deg: (bands, azimuths of `sky`), altitudes of the skyline of the ground up to each of
    several distances, as `terrain.sight.skyline.layers` gives them. known_m: where the ground is
    known less far than that, the sky is hatched, for an unknown hill may stand in it. So is what
    lies between the known ground and the horizon of the sea, where that is the skyline.
    """
    (low, high), azimuth = ax.get_ylim(), sky.azimuth_deg
    ax.set_facecolor(palette.SKY_LOW)
    unknown = sky.known_to_m < known_m
    if unknown.any():
        floor = np.nan_to_num(sky.altitude_deg, nan=low)
        hatch = ax.fill_between(azimuth, floor, high, where=unknown, hatch="////", **_UNKNOWN)
        hatch.set(linewidth=0.0, zorder=0.5, gid="unknown")
    over_sea = sky.distance_m > sky.known_to_m
    if over_sea.any():
        ground = np.nan_to_num(bands_deg[-1], nan=low)
        unseen = np.where(over_sea, sky.altitude_deg, ground)
        sea = ax.fill_between(azimuth, ground, unseen, hatch="////", **_UNKNOWN)
        sea.set(linewidth=0.0, zorder=0.6, gid="hidden")
    colours = _paleness(len(bands_deg))
    for number, (band, colour) in enumerate(zip(bands_deg, colours, strict=True)):
        tops = np.nan_to_num(band, nan=low)
        nearer = 2.0 - 0.05 * number
        ax.fill_between(azimuth, low, tops, facecolor=colour, linewidth=0.0, zorder=nearer)
        ax.plot(azimuth, tops, color=palette.INK, linewidth=0.35, alpha=0.5, zorder=nearer)
    outline: dict[str, Any] = {"color": palette.INK, "linewidth": 0.8, "gid": "skyline"}
    ax.plot(azimuth, sky.altitude_deg, zorder=3.0, **outline)
    draw_angles(ax)


@own_style()
def skyline_figure(
    dem: Dem,
    spot: Spot,
    *,
    sky: Skyline | None = None,
    summits: gpd.GeoDataFrame | None = None,
    edges_m: Sequence[float] = EDGES_M,
    known_m: float = 10_000.0,
    title: str = "",
    refraction: float = TERRESTRIAL_REFRACTION,
    width_in: float = WIDTH_IN,
) -> Figure:
    """A page with the skyline all round a spot, and the key to the summits on it.

    Parameters
    ----------
    dem : Dem
        The ground, with mist on it where there is some.
    spot : Spot
        Where the camera stands, and its height over the ground.
    sky : Skyline, optional
        Its skyline from the spot, computed where it is not given.
    summits : geopandas.GeoDataFrame, optional
        A table from `find_summits`; the most striking ones that are seen are numbered.
    edges_m : sequence of float, optional
        Distances between two layers of ridges, metres.
    known_m : float, optional
        Where the ground is known less far than that, metres, the sky is hatched, for an unknown
        hill may stand in it.
    title : str, optional
        What it shows, one line.
    refraction : float, optional
        Coefficient k of terrestrial refraction, dimensionless; 0.13 unless given.
    width_in : float, optional
        Of the page, inches.

    Returns
    -------
    matplotlib.figure.Figure
        For `save_picture`, or as a notebook shows it.

    Raises
    ------
    NoGround
        Where the spot has no known ground, or nothing round it.

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
    >>> page = terrain.skyline_figure(cone, spot, title="All round")
    >>> len(page.axes) > 0
    True
    """
    sky = skyline(dem, spot, refraction=refraction) if sky is None else sky
    if np.isnan(sky.altitude_deg).all():
        raise NoGround(f"no ground is known round {spot.lat_deg:.4f}, {spot.lon_deg:.4f}")
    bands = layers(
        dem, spot, edges_m=edges_m, azimuths_deg=sky.azimuth_deg, refraction=sky.refraction
    )
    round_it = Window(azimuth_deg=(0.0, 360.0), altitude_deg=(-90.0, 90.0))
    table = striking_summits(dem, sky, summits, round_it, count=MOST_SUMMITS)
    keys = sight_key(table).parts(5) if len(table) else []
    across_in = width_in - 2.0 * MARGIN_IN
    low, high, steeper = _heights(sky, across_in)
    half_in = (high - low) * steeper * across_in / 180.0
    foot_in = _LOW_IN + 1.05 + max((key.height_pt for key in keys), default=0.0) / 72.0
    title = title or f"Skyline from {spot.label}"
    lines = _lines(sky, steeper, known_m)
    page = new_page(width_in, 2.0 * half_in + _BETWEEN_IN + foot_in, title, lines)
    for half in (0, 1):
        up_in = foot_in + (1 - half) * (half_in + _BETWEEN_IN)
        ax = axes_at(page, MARGIN_IN, up_in, across_in, half_in)
        window = Window(azimuth_deg=(180.0 * half, 180.0 * half + 180.0), altitude_deg=(low, high))
        ax.set(xlim=window.azimuth_deg, ylim=window.altitude_deg)
        draw_skyline(ax, sky, bands, known_m=known_m)
        _draw_numbers(ax, table, window)
    sheet = points_axes(page, MARGIN_IN, _LOW_IN, across_in, foot_in - _LOW_IN - 0.6)
    _draw_distances(sheet, edges_m)
    draw_keys(sheet, [[key] for key in keys], top_pt=28.0)
    return page


def _heights(sky: Skyline, across_in: float) -> tuple[float, float, int]:
    """Lowest and highest altitude to show, and how many times as steep, in whole numbers."""
    low, high = min(float(np.nanmin(sky.altitude_deg)), 0.0), float(np.nanmax(sky.altitude_deg))
    room = 0.12 * (high - low) + 0.3
    true_in = (high - low + 3.0 * room) * across_in / 180.0
    return low - 2.0 * room, high + room, max(round(_HALF_IN / true_in), 1)


def _lines(sky: Skyline, steeper: int, known_m: float) -> list[str]:
    scale = f"{steeper} times as steep as they are" if steeper > 1 else "to scale"
    over_sea = sky.distance_m > sky.known_to_m
    far_km = float(np.nanmax(np.where(over_sea, sky.known_to_m, sky.distance_m))) / 1000.0
    lines = [f"All round from north, up to {far_km:.0f} km away; heights are drawn {scale}"]
    if (sky.known_to_m < known_m).any():
        lines.append(
            f"Hatched: the ground is known for less than {known_m / 1000.0:g} km that way (the "
            f"least is {sky.known_to_m.min() / 1000.0:.1f} km), and a hill beyond could stand there"
        )
    if over_sea.any():
        lines.append(
            "Hatched below the skyline: unknown ground, which shows at least to the sea's horizon"
        )
    return lines


def _draw_numbers(ax: Axes, summits: gpd.GeoDataFrame, window: Window) -> None:
    azimuth, altitude = summits["azimuth_deg"].to_numpy(), summits["altitude_deg"].to_numpy()
    within = (azimuth >= window.azimuth_deg[0]) & (azimuth < window.azimuth_deg[1])
    labels = [str(number + 1) for number in np.flatnonzero(within)]
    places = np.stack([azimuth, altitude], axis=1)[within]
    draw_marks(ax, places, labels, offset_pt=(0.0, -RADIUS_PT - 4.0))


def _draw_distances(sheet: Axes, edges_m: Sequence[float]) -> None:
    """What each paleness means: one row of swatches from near to far."""
    left = 0.0
    for edge, colour in zip(edges_m, _paleness(len(edges_m)), strict=True):
        words = f"up to {edge / 1000.0:g} km" if math.isfinite(edge) else "beyond"
        look = {"facecolor": colour, "linewidth": 0.4, "edgecolor": palette.INK}
        draw_box(sheet, (left, 0.0), (14.0, 9.0), look)
        write(sheet, (left + 19.0, 4.5), words)
        left += 19.0 + text_width_pt(words) + 16.0


def _paleness(count: int) -> list[tuple[float, float, float]]:
    """Colours of the layers from near to far."""
    share = np.linspace(0.0, 1.0, count)
    return [tuple(colour) for colour in palette.mixed(palette.RIDGE_NEAR, palette.RIDGE_FAR, share)]
