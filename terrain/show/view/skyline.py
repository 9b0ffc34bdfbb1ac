"""The skyline all round a spot, as a ring: ground by distance, mist, and what is not known."""

from __future__ import annotations

from typing import Any, Final

import geopandas as gpd
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import PathPatch

from terrain.arrays import Floats
from terrain.constants import TERRESTRIAL_REFRACTION
from terrain.errors import NoGround
from terrain.ground.dem import Dem
from terrain.ground.places import Spot
from terrain.mist.mist import Mist
from terrain.show.paper import palette
from terrain.show.paper.key import draw_key
from terrain.show.paper.legend import Hatch, Row, draw_rows, hatch_row, line_row, swatch_row
from terrain.show.paper.marks import RADIUS_PT, draw_marks
from terrain.show.paper.page import MARGIN_IN, axes_at, new_page, points_axes
from terrain.show.paper.style import own_style
from terrain.show.paper.text import SMALL_PT, notes_height_pt, write, write_notes
from terrain.show.view.all_round import AllRound, by_distance
from terrain.show.view.ring import at_radius, bounded, draw_circle, runs
from terrain.show.view.summits_in_view import sight_key, striking_summits
from terrain.show.view.window import Window
from terrain.sight.skyline import Skyline, skyline

WIDTH_IN: Final = 11.0
MOST_SUMMITS: Final = 18

_UNKNOWN: Final = Hatch("////", palette.QUIET)
_HIDDEN_LOOK: Final[dict[str, Any]] = {"color": palette.INK, "linewidth": 0.7, "dashes": (2, 2)}
_LEVEL_LOOK: Final[dict[str, Any]] = {"color": palette.SUN, "linewidth": 0.8, "dashes": (5, 3)}
_DISTANCES_KM: Final = (0.2, 1.0, 3.0, 10.0, 30.0)
_PIXELS: Final = 1500
_SKY: Final[dict[str, Any]] = {"facecolor": "#fbf3e6", "linewidth": 0.0}
_RIM: Final = (1.015, 1.055)
_EDGE: Final = 1.2
_LOW_IN: Final = 0.35
_SIDE_IN: Final = 3.3
_GAP_PT: Final = 22.0
_NUMBERS_APART_DEG: Final = 4.5
"""So many degrees of the ring have room for a number, so that few are moved from their tops."""


def draw_ring(ax: Axes, view: AllRound) -> None:
    """Draw what a spot sees all round on square axes about (0, 0), the outer edge at 1."""
    ring, sky = view.ring, view.sky
    ax.set(xlim=(-_EDGE, _EDGE), ylim=(-_EDGE, _EDGE))
    ax.set_axis_off()
    ax.add_patch(PathPatch(bounded(np.linspace(0.0, 360.0, 361), ring.radius(-90.0), 1.0), **_SKY))
    for radius in (float(ring.radius(-90.0)), 1.0):
        draw_circle(ax, radius, color=palette.QUIET, linewidth=0.7, zorder=1.5)
    picture = np.clip(ring.picture(view.colours, _PIXELS), 0.0, 1.0)
    look: dict[str, Any] = {"extent": (-1, 1, -1, 1), "origin": "lower", "aspect": "auto"}
    ax.imshow(picture, interpolation="antialiased", zorder=1.0, gid="ground", **look)
    _draw_unknown(ax, view)
    for part in runs(~view.over_sea & np.isfinite(sky.altitude_deg)):
        line = ring.places(sky.azimuth_deg[part], sky.altitude_deg[part])
        ax.plot(*line.T, color=palette.INK, linewidth=1.0, zorder=3.0, gid="skyline")
    _draw_rings_and_points(ax, view)


@own_style()
def skyline_figure(
    dem: Dem,
    spot: Spot,
    *,
    sky: Skyline | None = None,
    mist: Mist | None = None,
    summits: gpd.GeoDataFrame | None = None,
    known_m: float = 10_000.0,
    title: str = "",
    refraction: float = TERRESTRIAL_REFRACTION,
    width_in: float = WIDTH_IN,
) -> Figure:
    """A page with all that a spot sees round it as a ring, and the key to the summits on it.

    Parameters
    ----------
    dem : Dem
        The ground.
    spot : Spot
        Where the camera stands, and its height over the ground.
    sky : Skyline, optional
        Its skyline from the spot, over the mist if there is some; computed where it is not given.
    mist : Mist, optional
        Lies over the ground; none unless given.
    summits : geopandas.GeoDataFrame, optional
        A table from `find_summits`; the most striking ones that are seen are numbered.
    known_m : float, optional
        Where the ground is known less far than that, metres, the rim is hatched, for an unknown
        hill may stand there.
    title : str, optional
        What it shows, one line.
    refraction : float, optional
        Coefficient k of terrestrial refraction, dimensionless; 0.13 unless given.
    width_in : float, optional
        Of the page, inches; it becomes wider where the names in its key are long.

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
    over = dem if mist is None else mist.surface(dem)
    sky = skyline(over, spot, refraction=refraction) if sky is None else sky
    if np.isnan(sky.altitude_deg).all():
        raise NoGround(f"no ground is known round {spot.lat_deg:.4f}, {spot.lon_deg:.4f}")
    view = AllRound(dem=dem, mist=mist, sky=sky, known_m=known_m)
    within = Window(azimuth_deg=(0.0, 360.0), altitude_deg=(-90.0, 90.0))
    table = striking_summits(
        over, sky, summits, within, count=MOST_SUMMITS, apart_deg=_NUMBERS_APART_DEG
    )
    key = sight_key(table) if len(table) else None
    ring_in = width_in - 2.0 * MARGIN_IN - _SIDE_IN + 0.3
    # long names ask for a wider page rather than a smaller ring
    side_in = max(_SIDE_IN - 0.3, key.width_pt / 72.0 if key else 0.0)
    width_in += side_in - (_SIDE_IN - 0.3)
    rows, notes = _legend(view), _notes(view)
    key_pt = key.height_pt if key else 0.0
    body_in = max(ring_in, _side_pt(key_pt, rows, notes, 72.0 * side_in) / 72.0)
    page = new_page(
        width_in, body_in + _LOW_IN, title or f"Skyline from {spot.label}", [_line(view)]
    )
    ax = axes_at(page, MARGIN_IN - 0.3, _LOW_IN + body_in - ring_in, ring_in, ring_in)
    draw_ring(ax, view)
    _draw_numbers(ax, view, table)
    _write_middle(ax, view)
    side = points_axes(page, width_in - MARGIN_IN - side_in, _LOW_IN, side_in, body_in)
    if key:
        draw_key(side, key)
    draw_rows(side, key_pt + _GAP_PT, rows)
    write_notes(side, notes)
    return page


def _side_pt(key_pt: float, rows: list[Row], notes: list[str], wide_pt: float) -> float:
    """How high the key, the legend and the notes are together, points."""
    foot_pt = key_pt + _GAP_PT + sum(row.height_pt for row in rows)
    return foot_pt + notes_height_pt(notes, wide_pt) if notes else foot_pt


def _draw_unknown(ax: Axes, view: AllRound) -> None:
    """Hatching on the rim, and between the known ground and the horizon of the sea."""
    ring, sky = view.ring, view.sky
    pattern, colour = _UNKNOWN
    hatch: dict[str, Any] = {"facecolor": palette.PAPER, "edgecolor": colour, "hatch": pattern}
    for part in runs(view.unknown):
        rim = bounded(_wide(sky.azimuth_deg[part]), *_RIM)
        # not as a patch, whose every corner would be looked at for limits that are set
        ax.add_artist(PathPatch(rim, linewidth=0.0, zorder=2.0, gid="unknown", **hatch))
    for part in runs(view.over_sea):
        azimuth, altitude = sky.azimuth_deg[part], sky.altitude_deg[part]
        if azimuth.size < 2:
            continue
        low = np.full(azimuth.size, -90.0)
        under = ring.between(azimuth, low, altitude)
        ax.add_artist(PathPatch(under, linewidth=0.0, zorder=0.8, gid="hidden", **hatch))
        line = ring.places(azimuth, altitude)
        ax.plot(*line.T, zorder=3.0, gid="sea", **_HIDDEN_LOOK)


def _wide(azimuth_deg: Floats) -> Floats:
    """Directions with half a degree on both sides, so that a single one has a width."""
    return np.concatenate([azimuth_deg[:1] - 0.25, azimuth_deg, azimuth_deg[-1:] + 0.25])


def _draw_rings_and_points(ax: Axes, view: AllRound) -> None:
    ring, sky = view.ring, view.sky
    draw_circle(ax, float(ring.radius(0.0)), zorder=2.5, gid="level", **_LEVEL_LOOK)
    quiet: dict[str, Any] = {"color": palette.QUIET, "linewidth": 0.4, "alpha": 0.8, "zorder": 0.9}
    clear = float(sky.azimuth_deg[int(np.nanargmin(sky.altitude_deg))])
    for altitude in range(5, int(ring.high_deg) + 1, 5):
        draw_circle(ax, float(ring.radius(altitude)), **quiet)
        place = ring.places(clear, altitude)[0]
        write(ax, place, f"+{altitude}°", size_pt=SMALL_PT, ha="center", colour=palette.QUIET)
    tick: dict[str, Any] = {"color": palette.INK, "linewidth": 0.6, "zorder": 3.0}
    for azimuth in range(0, 360, 10):
        ends = at_radius([azimuth, azimuth], [_RIM[1], _RIM[1] + (0.03 if azimuth % 30 else 0.045)])
        ax.plot(*ends.T, **tick)
    for azimuth in range(0, 360, 30):
        words = {0: "N", 90: "E", 180: "S", 270: "W"}.get(azimuth, f"{azimuth}°")
        weight, size = ("bold", 11.0) if len(words) == 1 else ("normal", SMALL_PT)
        write(
            ax,
            at_radius(azimuth, 1.145)[0],
            words,
            ha="center",
            va="center",
            weight=weight,
            size_pt=size,
        )


def _draw_numbers(ax: Axes, view: AllRound, summits: gpd.GeoDataFrame) -> None:
    """The numbers just inside of their tops, so that the sky stays free."""
    azimuth = summits["azimuth_deg"].to_numpy(dtype=float)
    places = view.ring.places(azimuth, summits["altitude_deg"].to_numpy(dtype=float))
    inward = -(RADIUS_PT + 5.0) * at_radius(azimuth, 1.0)
    marks = [str(number + 1) for number in range(len(summits))]
    draw_marks(ax, places, marks, offset_pt=inward.reshape(-1, 2))


def _write_middle(ax: Axes, view: AllRound) -> None:
    lines = [f"camera at {view.sky.eye_height_m:.0f} m"]
    if view.mist is not None:
        lines.append(f"mist up to {view.mist.label}")
    ax.plot([0.0], [0.0], "o", color=palette.INK, markersize=4.0)
    for number, words in enumerate([view.sky.spot.label, *lines]):
        place = 0.0, -0.075 - 0.065 * number
        weight = "bold" if number == 0 else "normal"
        write(ax, place, words, ha="center", weight=weight)


def _line(view: AllRound) -> str:
    sky = view.sky
    far_km = float(np.nanmax(np.where(view.over_sea, sky.known_to_m, sky.distance_m))) / 1000.0
    return (
        f"As on a map, north at the top, what stands higher farther out, up to {far_km:.0f} km "
        f"away; heights are drawn {view.ring.steeper:.1f} times as steep"
    )


def _legend(view: AllRound) -> list[Row]:
    names = [f"{km:g}" for km in _DISTANCES_KM]
    looks = [
        {"facecolor": tuple(by_distance(np.array(1000.0 * km))), "linewidth": 0.0}
        for km in _DISTANCES_KM
    ]
    rows = [swatch_row(f"{name} km away", look) for name, look in zip(names, looks, strict=True)]
    if view.mist is not None:
        edge = {"edgecolor": palette.SHORE, "linewidth": 0.9}
        rows.append(swatch_row("mist and its shore", {"facecolor": palette.MIST, **edge}))
    rows.append(line_row("the level of the camera", _LEVEL_LOOK))
    if view.over_sea.any():
        rows.append(line_row("the sea's horizon, over unknown ground", _HIDDEN_LOOK))
    if view.unknown.any():
        rows.append(hatch_row(f"ground known for less than {view.known_m / 1000.0:g} km", _UNKNOWN))
    return rows


def _notes(view: AllRound) -> list[str]:
    notes, sky = [], view.sky
    if view.unknown.any():
        least_km = sky.known_to_m.min() / 1000.0
        notes.append(
            f"Where the rim is hatched a hill beyond the raster could stand in the sky; the ground "
            f"is known for {least_km:.1f} km at the least."
        )
    if float(np.nanmax(sky.altitude_deg)) > view.ring.high_deg:
        notes.append(
            f"Near ground rises to {np.nanmax(sky.altitude_deg):.0f}°; it is cut off at "
            f"{view.ring.high_deg:.0f}°."
        )
    return notes
