"""The view from a spot: what it sees, where the sun comes up or goes, and which hill is which.

Both axes measure degrees, and a degree is as long one way as the other, so that the sun has its
true size and shape.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import compress
from typing import Any, Final

import geopandas as gpd
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from terrain.arrays import Floats, Singles
from terrain.ground.geodesy import wrap_deg
from terrain.show.paper import palette
from terrain.show.paper.key import Key, draw_keys, stack_height_pt, stacked
from terrain.show.paper.marks import HIDDEN_MARK, HILL_MARK, RADIUS_PT, draw_marks, in_points
from terrain.show.paper.page import MARGIN_IN, axes_at, new_page, points_axes
from terrain.show.paper.style import own_style
from terrain.show.paper.text import SMALL_PT, compass, write
from terrain.show.view.scenery import Light, scenery, sky
from terrain.show.view.scenes_in_view import scenes_keys, scenes_within
from terrain.show.view.summits_in_view import sight_key, striking_summits
from terrain.show.view.sun_discs import Suns, draw_sun, suns_after
from terrain.show.view.window import Window, draw_angles, window_about
from terrain.sight.seen import seen_ground
from terrain.view.backlight import Backlight
from terrain.view.scene import Scene
from terrain.words.clocks import at_local, exact, long_day, plus_minus
from terrain.words.figures import signed, whole
from terrain.words.moments import finding

WIDTH_IN: Final = 11.0
MOST_SUMMITS: Final = 14

_CELLS_ACROSS = 2400
_FOOT_IN, _LOW_IN = 0.55, 0.3
_CAUTIONS_IN, _CAUTION_PT = 0.62, 11.5


def dawn_colours(
    scene: Scene, answer: Backlight, window: Window, cells_across: int
) -> tuple[Singles, Light]:
    """Colours of the ground and mist in a window, as `scenery` gives them, and the light on them.

    answer: where the sun appears, over the ground of the scene.
    """
    seen = seen_ground(
        scene.dem,
        answer.view.spot,
        *window.cells(cells_across),
        lid_m=None if scene.mist is None else scene.mist.lid_m,
        refraction=scene.refraction,
    )
    contact, path = answer.contact, answer.sun_path
    start_s = path.seconds(contact.appears)
    before, after = path.at([start_s, start_s + 600.0])[0]
    light = Light(
        azimuth_deg=float(window.turned(contact.azimuth_deg)),
        altitude_deg=contact.altitude_deg,
        to_right=bool(wrap_deg(after - before) > 0.0),
    )
    return scenery(seen, scene.dem, light, mist=scene.mist), light


@own_style()
def view_figure(
    scene: Scene,
    backlight: Backlight,
    *,
    summits: gpd.GeoDataFrame | None = None,
    small_scenes: gpd.GeoDataFrame | None = None,
    width_deg: float = 30.0,
    minutes: Sequence[float] | None = None,
    title: str = "",
    width_in: float = WIDTH_IN,
) -> Figure:
    """A page with the view from a spot on one morning or evening and the key to its numbers.

    Parameters
    ----------
    scene : Scene
        The hill in its country.
    backlight : Backlight
        As `check_backlight` or `backlight` gives it.
    summits : geopandas.GeoDataFrame, optional
        A table from `find_summits`; those with a name (or all, where none has) that are seen are
        numbered.
    small_scenes : geopandas.GeoDataFrame, optional
        A table from `small_scenes`: lettered in the picture, and told beside the sun.
    width_deg : float, optional
        Of the view, degrees, widened where the sun comes up farther from the hill.
    minutes : sequence of float, optional
        After the sun's appearance, in an evening before it goes, at which its disc is drawn, to
        the nearest whole minute of the clock.
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
    view, suns = backlight.view, suns_after(backlight, minutes)
    window = window_about(scene, backlight, suns, width_deg, width_in)
    whole = window.holds(*suns.at_deg, suns.path.semidiameter_deg)
    numbered = striking_summits(
        scene.seen, view.skyline, summits, window, count=MOST_SUMMITS, hill=scene.hill
    )
    suns = replace(suns, moments=list(compress(suns.moments, whole)))
    picture = _Picture(scene, backlight, window, suns, numbered, small_scenes)
    across_in = width_in - 2.0 * MARGIN_IN
    keys = stacked(
        [picture.sun_key(), *scenes_keys(small_scenes)], picture.summit_key(), 72.0 * across_in
    )
    high_in = window.height_deg * across_in / window.width_deg
    keys_in = max(stack_height_pt(stack) for stack in keys) / 72.0
    foot_in = _LOW_IN + _CAUTIONS_IN + keys_in + _FOOT_IN
    page = new_page(width_in, high_in + foot_in, title or _title(backlight), _lines(backlight))
    picture.draw(axes_at(page, MARGIN_IN, foot_in, across_in, high_in))
    sheet = points_axes(page, MARGIN_IN, _LOW_IN, across_in, keys_in + _CAUTIONS_IN)
    draw_keys(sheet, keys)
    for up, line in enumerate(reversed(_cautions(scene, backlight))):
        place = 0.0, sheet.get_ylim()[0] - _CAUTION_PT * up
        write(sheet, place, line, size_pt=SMALL_PT, va="bottom", colour=palette.QUIET)
    return page


@dataclass(frozen=True, eq=False)
class _Picture:
    """A view with what is marked on it.

    suns: those all of which are within the window. summits: the numbered ones. small_scenes: the
    lettered ones.
    """

    scene: Scene
    backlight: Backlight
    window: Window
    suns: Suns
    summits: gpd.GeoDataFrame
    small_scenes: gpd.GeoDataFrame | None

    def draw(self, ax: Axes) -> None:
        """Sky, ridges and mist, the sun and the marks, with degrees along the edges."""
        window, contact = self.window, self.backlight.contact
        ground, light = dawn_colours(self.scene, self.backlight, window, _CELLS_ACROSS)
        extent = (*window.azimuth_deg, *window.altitude_deg)
        look: dict[str, Any] = {"extent": extent, "origin": "lower", "aspect": "auto"}
        coarse = np.linspace(*window.azimuth_deg, 300), np.linspace(*window.altitude_deg, 150)
        ax.imshow(sky(*coarse, light), interpolation="bilinear", zorder=0.0, gid="sky", **look)
        ax.imshow(ground, interpolation="antialiased", zorder=1.0, gid="ground", **look)
        ax.set(xlim=window.azimuth_deg, ylim=window.altitude_deg)
        draw_angles(ax)
        azimuths, _ = window.cells(_CELLS_ACROSS)
        taken = draw_sun(ax, self.suns, (azimuths, self.backlight.view.skyline.at(azimuths)))
        # where the first of the disc is seen
        place = [float(window.turned(contact.azimuth_deg))], [contact.altitude_deg]
        face: dict[str, Any] = {"markersize": 5.0, "markerfacecolor": palette.SUN}
        edge: dict[str, Any] = {"markeredgecolor": palette.PAPER, "markeredgewidth": 0.9}
        ax.plot(*place, "D", zorder=7.0, gid="contact", **face, **edge)
        self._draw_summits(ax, taken)

    def _draw_summits(self, ax: Axes, keep_out: Floats) -> None:
        """The hill's mark, the numbers and the letters, just under their places: sky stays free."""
        view, key = self.backlight.view, self.summit_key()
        small = scenes_within(self.small_scenes, self.window)
        azimuths = [view.azimuth_deg, *self.summits["azimuth_deg"], *small["azimuth_deg"]]
        altitudes = [view.altitude_deg, *self.summits["altitude_deg"], *small["altitude_deg"]]
        places = np.stack([self.window.turned(azimuths), altitudes], axis=1)
        below = np.tile([0.0, -RADIUS_PT - 5.0], (len(places), 1))
        for across, up, radius in keep_out[:1]:
            at = in_points(ax, places[:1])[0] + below[0]
            if np.hypot(*(at - (across, up))) < RADIUS_PT + radius + 2.0:
                # the sun comes up behind the summit itself: the mark goes to the side it came from
                below[0, 0] = -RADIUS_PT - radius - 4.0
        marks = [*key.marks, *small["mark"]]
        draw_marks(ax, places, marks, offset_pt=below, keep_out=keep_out)

    def summit_key(self) -> Key:
        """The hill and the numbered summits."""
        hill, view = self.scene.hill, self.backlight.view
        first = {
            "mark": HILL_MARK if view.visible else HIDDEN_MARK,
            "name": hill.label if view.visible else f"{hill.label} (hidden)",
            "height_m": hill.height_m,
            "distance_m": view.distance_m,
            "azimuth_deg": view.azimuth_deg,
        }
        return sight_key(self.summits, first)

    def sun_key(self) -> Key:
        """When each disc of the sun stands where."""
        rows = sorted(zip(self.suns.moments, *self.suns.at_deg, strict=True))
        return Key(
            marks=[""] * len(rows),
            columns={
                "sun's\ndisc at": [exact(moment) for moment, _, _ in rows],
                "toward": [f"{compass(toward)} {toward % 360:.1f}°" for _, toward, _ in rows],
                "centre\nat altitude": [signed(degrees) for *_, degrees in rows],
            },
        )


def _title(backlight: Backlight) -> str:
    place, contact = backlight.view.spot.label, backlight.contact
    part = "evening of " if contact.evening else ""
    return f"{backlight.hill.label} from {place}, {part}{long_day(contact.appears)}"


def _lines(backlight: Backlight) -> list[str]:
    contact = backlight.contact
    which = "Last" if contact.evening else "First"
    return [
        finding(backlight),
        f"{which} light of its disc at {at_local(contact.appears)} "
        f"{plus_minus(contact.uncertainty_s)}, its place ± {backlight.uncertainty_deg:.2f}° "
        "along the skyline (one standard deviation)",
    ]


def _cautions(scene: Scene, backlight: Backlight) -> list[str]:
    """What the signs of the picture mean, what it rests on, and what not to do."""
    contact = backlight.contact
    zone = at_local(contact.appears).split()[-1]
    pale = "" if scene.mist is None else f"Pale: mist, its top at {scene.mist.label}. "
    part, since, would = ("first", "still", "delay it")
    if contact.evening:
        part, since, would = ("last", "already", "hide it sooner")
    return [
        f"{pale}Diamond: where the {part} of the sun is seen; a dotted disc is {since} behind the "
        "ground. Degrees are from true north, and above the level.",
        f"Times by the local clock ({zone}). Computed, not surveyed. The "
        f"ground is known for {contact.known_to_m / 1000.0:.0f} km toward the sun; ground "
        f"beyond would have to rise above {whole(contact.beyond_height_m)} m to {would}.",
        "Never look at the sun through a lens.",
    ]
