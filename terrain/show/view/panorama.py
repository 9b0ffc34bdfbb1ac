"""The view from a spot: what the camera sees, where the sun comes up, and which hill is which.

Both axes measure degrees, and a degree is as long one way as the other, so that the sun has its
true size and shape.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import geopandas as gpd
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from terrain.ground.geodesy import wrap_deg
from terrain.show.paper import palette
from terrain.show.paper.key import Key, draw_keys
from terrain.show.paper.marks import HIDDEN_MARK, HILL_MARK, RADIUS_PT, draw_marks, in_points
from terrain.show.paper.page import MARGIN_IN, axes_at, new_page, points_axes
from terrain.show.paper.text import SMALL_PT, compass, write
from terrain.show.view.angles import draw_angles
from terrain.show.view.scenery import Light, scenery, sky
from terrain.show.view.summits_in_view import HillRow, sight_key, striking_summits
from terrain.show.view.sun_discs import draw_sun, sun_moments
from terrain.show.view.window import Window, window_about
from terrain.sight.seen import seen_ground
from terrain.sun.path import SunPath, sun_path
from terrain.view.backlight import Backlight
from terrain.view.scene import Scene
from terrain.words.clocks import at_local, exact, long_day, plus_minus

__all__ = ["draw_view", "path_of", "view_figure"]

WIDTH_IN: Final = 11.0
MINUTES: Final = (0.0, 5.0, 10.0, 15.0, 20.0)
MOST_SUMMITS: Final = 14

_CELLS_ACROSS = 2400
_FOOT_IN, _LOW_IN = 0.55, 0.3
_CAUTIONS_IN, _CAUTION_PT = 0.62, 11.5

Floats = NDArray[np.float64]


def draw_view(
    ax: Axes,
    scene: Scene,
    answer: Backlight,
    window: Window,
    *,
    path: SunPath,
    cells_across: int = _CELLS_ACROSS,
) -> None:
    """The picture itself: sky, ridges and mist, with degrees along its edges.

    answer: where the sun appears; path: its way that day. cells_across: fineness of the picture.
    """
    cells_up = round(cells_across * window.height_deg / window.width_deg)
    seen = seen_ground(
        scene.dem,
        answer.view.spot,
        azimuths_deg=np.linspace(*window.azimuth_deg, cells_across),
        altitudes_deg=np.linspace(*window.altitude_deg, cells_up),
        lid_m=None if scene.mist is None else scene.mist.lid_m,
        refraction=scene.refraction,
    )
    light = _light(answer, window, path)
    extent = (*window.azimuth_deg, *window.altitude_deg)
    look: dict[str, Any] = {"extent": extent, "origin": "lower", "aspect": "auto"}
    coarse = np.linspace(*window.azimuth_deg, 300), np.linspace(*window.altitude_deg, 150)
    ax.imshow(sky(*coarse, light), interpolation="bilinear", zorder=0.0, gid="sky", **look)
    ground = scenery(seen, scene.dem, light, mist=scene.mist)
    ax.imshow(ground, interpolation="antialiased", zorder=1.0, gid="ground", **look)
    ax.set(xlim=window.azimuth_deg, ylim=window.altitude_deg)
    draw_angles(ax)


def view_figure(
    scene: Scene,
    backlight: Backlight,
    *,
    summits: gpd.GeoDataFrame | None = None,
    width_deg: float = 30.0,
    minutes: Sequence[float] = MINUTES,
    title: str = "",
    width_in: float = WIDTH_IN,
) -> Figure:
    """A page with the view from a spot on one morning and, under it, the key to its numbers.

    Parameters
    ----------
    scene : Scene
        The hill in its country.
    backlight : Backlight
        As `check_backlight` or `backlight` gives it.
    summits : geopandas.GeoDataFrame, optional
        A table from `find_summits`; those with a name (or all, where none has) that are seen are
        numbered.
    width_deg : float, optional
        Of the view, degrees, widened where the sun comes up farther from the hill.
    minutes : sequence of float, optional
        After the sun's appearance, at which its disc is drawn, to the nearest whole minute of the
        clock.
    title : str, optional
        What it shows, one line; made from the answer unless given.
    width_in : float, optional
        Of the page, inches; its height follows from what is on it.

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
    >>> scene = terrain.Scene(terrain.Country(cone), hill)
    >>> found = terrain.check_backlight(cone, spot, hill, dt.date(2025, 3, 30))
    >>> page = terrain.view_figure(scene, found)
    >>> len(page.axes) > 0
    True
    """
    picture = _Picture.of(scene, backlight, summits, minutes, width_deg, width_in)
    keys = [picture.sun_key(), *picture.summit_key().parts(len(picture.moments))]
    across_in = width_in - 2.0 * MARGIN_IN
    high_in = picture.window.height_deg * across_in / picture.window.width_deg
    keys_in = max(key.height_pt for key in keys) / 72.0
    foot_in = _LOW_IN + _CAUTIONS_IN + keys_in + _FOOT_IN
    page = new_page(width_in, high_in + foot_in, title or _title(backlight), _lines(backlight))
    picture.draw(axes_at(page, MARGIN_IN, foot_in, across_in, high_in))
    sheet = points_axes(page, MARGIN_IN, _LOW_IN, across_in, keys_in + _CAUTIONS_IN)
    draw_keys(sheet, keys)
    for up, line in enumerate(reversed(_cautions(scene, backlight))):
        place = 0.0, sheet.get_ylim()[0] - _CAUTION_PT * up
        write(sheet, place, line, size_pt=SMALL_PT, va="bottom", colour=palette.QUIET)
    return page


def path_of(backlight: Backlight) -> SunPath:
    """The way of the sun on the day of an appearance, seen from its spot."""
    view = backlight.view
    return sun_path(
        backlight.contact.appears.date(),
        lon_deg=view.spot.lon_deg,
        lat_deg=view.spot.lat_deg,
        height_m=view.skyline.eye_height_m,
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class _Picture:
    """A view with what is marked on it.

    moments: at which the sun is drawn, all of it within the window. summits: the numbered ones.
    """

    scene: Scene
    backlight: Backlight
    path: SunPath
    window: Window
    moments: Sequence[dt.datetime]
    summits: gpd.GeoDataFrame

    @classmethod
    def of(
        cls,
        scene: Scene,
        backlight: Backlight,
        summits: gpd.GeoDataFrame | None,
        minutes: Sequence[float],
        width_deg: float,
        width_in: float,
    ) -> _Picture:
        """The view about the hill and the sun."""
        path = path_of(backlight)
        moments = sun_moments(backlight.contact.appears, minutes)
        sun = path.at([path.seconds(moment) for moment in moments])
        window = window_about(scene, backlight, sun, width_deg, width_in)
        fits = window.holds(*sun, path.semidiameter_deg)
        return cls(
            scene=scene,
            backlight=backlight,
            path=path,
            window=window,
            moments=[moment for moment, whole in zip(moments, fits, strict=True) if whole],
            summits=striking_summits(
                scene.seen,
                backlight.view.spot,
                summits,
                window,
                count=MOST_SUMMITS,
                refraction=scene.refraction,
                hill=scene.hill,
            ),
        )

    def draw(self, ax: Axes) -> None:
        """The view, the sun and the marks."""
        view = self.backlight.view
        draw_view(ax, self.scene, self.backlight, self.window, path=self.path)
        azimuths = np.linspace(*self.window.azimuth_deg, _CELLS_ACROSS)
        skyline = azimuths, view.skyline.at(azimuths)
        suns = draw_sun(ax, self.path, self.moments, skyline)
        _draw_contact(ax, self.window, self.backlight)
        self._draw_summits(ax, suns)

    def _draw_summits(self, ax: Axes, keep_out: Floats) -> None:
        """The hill's mark and the numbers, each just under its summit; the sky stays free."""
        view, key = self.backlight.view, self.summit_key()
        azimuths = [view.azimuth_deg, *self.summits["azimuth_deg"]]
        altitudes = [view.altitude_deg, *self.summits["altitude_deg"]]
        places = np.stack([self.window.turned(azimuths), altitudes], axis=1)
        below = np.tile([0.0, -RADIUS_PT - 5.0], (len(places), 1))
        for across, up, radius in keep_out[:1]:
            at = in_points(ax, places[:1])[0] + below[0]
            if np.hypot(*(at - (across, up))) < RADIUS_PT + radius + 2.0:
                # the sun comes up behind the summit itself: the mark goes to the side it came from
                below[0, 0] = -RADIUS_PT - radius - 4.0
        draw_marks(ax, places, key.marks, offset_pt=below, keep_out=keep_out)

    def summit_key(self) -> Key:
        """The hill and the numbered summits."""
        hill, view = self.scene.hill, self.backlight.view
        mark, name = (
            (HILL_MARK, hill.label) if view.visible else (HIDDEN_MARK, f"{hill.label} (hidden)")
        )
        first = HillRow(mark, name, hill.height_m, view.distance_m, view.azimuth_deg)
        return sight_key(self.summits, first=first)

    def sun_key(self) -> Key:
        """When each disc of the sun stands where."""
        azimuth, altitude = self.path.at([self.path.seconds(moment) for moment in self.moments])
        return Key(
            marks=[""] * len(self.moments),
            columns={
                "sun's\ndisc at": [exact(moment) for moment in self.moments],
                "toward": [f"{compass(toward)} {toward % 360:.1f}°" for toward in azimuth],
                "centre\nat altitude": [f"{degrees:.1f}°" for degrees in altitude],
            },
        )


def _light(answer: Backlight, window: Window, path: SunPath) -> Light:
    contact = answer.contact
    start = path.seconds(contact.appears)
    before, after = path.at([start, start + 600.0])[0]
    return Light(
        azimuth_deg=float(window.turned(contact.azimuth_deg)),
        altitude_deg=contact.altitude_deg,
        to_right=bool(wrap_deg(after - before) > 0.0),
    )


def _draw_contact(ax: Axes, window: Window, backlight: Backlight) -> None:
    """The point of the skyline where the first of the disc is seen."""
    contact = backlight.contact
    look: dict[str, Any] = {"marker": "D", "markersize": 5.0, "linestyle": "none"}
    edge: dict[str, Any] = {"markeredgecolor": palette.PAPER, "markeredgewidth": 0.9}
    place = [float(window.turned(contact.azimuth_deg))], [contact.altitude_deg]
    ax.plot(*place, markerfacecolor=palette.SUN, zorder=7.0, gid="contact", **look, **edge)


def _title(backlight: Backlight) -> str:
    spot = backlight.view.spot
    place = spot.name or f"{spot.lat_deg:.4f}, {spot.lon_deg:.4f}"
    return f"{backlight.hill.label} from {place}, {long_day(backlight.contact.appears)}"


def _lines(backlight: Backlight) -> list[str]:
    contact = backlight.contact
    return [
        backlight.reason,
        f"First light of its disc at {at_local(contact.appears)} "
        f"{plus_minus(contact.uncertainty_s)}, its place ± {backlight.uncertainty_deg:.2f}° "
        "along the skyline (one standard deviation)",
    ]


def _cautions(scene: Scene, backlight: Backlight) -> list[str]:
    """What the signs of the picture mean, what it rests on, and what not to do."""
    contact = backlight.contact
    zone = at_local(contact.appears).split()[-1]
    pale = "" if scene.mist is None else f"Pale: mist, its top at {scene.mist.label}. "
    return [
        f"{pale}Diamond: where the first of the sun is seen; a dotted disc is still behind the "
        "ground. Degrees are from true north, and above the level.",
        f"Times by the local clock ({zone}). Computed, not surveyed. The "
        f"ground is known for {contact.known_to_m / 1000.0:.0f} km toward the sun; ground just "
        f"beyond would have to rise above {contact.beyond_height_m:.0f} m to delay it.",
        "Never look at the sun through a lens.",
    ]
