"""The view from a spot as photographs: a triptych of the light on a page, or alone for the wall.

The pictures show what a camera will see, and nothing is drawn into them: degrees stand along their
edges, marks over them, and what they mean in tables under them.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import geopandas as gpd
import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from terrain.frame.lens import Frame, Kit, Orientation
from terrain.show.paper import palette
from terrain.show.paper.key import Key, draw_keys, stack_height_pt, stacked
from terrain.show.paper.marks import HIDDEN_MARK, HILL_MARK
from terrain.show.paper.page import MARGIN_IN, axes_at, new_page, points_axes
from terrain.show.paper.style import own_style
from terrain.show.paper.text import SMALL_PT, compass, write
from terrain.show.view.aim import aim
from terrain.show.view.edges import draw_degrees, draw_over, window_of
from terrain.show.view.moment import moment_at
from terrain.show.view.moments import Suns, at_moments, triptych
from terrain.show.view.photograph import Camera
from terrain.show.view.scenes_in_view import scenes_keys, scenes_within
from terrain.show.view.summits_in_view import sight_key, striking_summits
from terrain.view.backlight import Backlight
from terrain.view.scene import Scene
from terrain.words.clocks import exact, hour_minute, long_day, moment_plus_minus, zone_in_hours
from terrain.words.figures import signed, whole
from terrain.words.moments import finding

WIDTH_IN: Final = 12.0
DPI: Final = 200
MOST_SUMMITS: Final = 14

_GAP_IN, _CLEAN_GAP = 0.16, 0.012
_OVER_IN, _EDGE_IN, _CAPTION_IN = 0.3, 0.28, 0.3
_LOW_IN, _CAUTIONS_IN, _CAUTION_PT = 0.3, 0.62, 11.5


@own_style()
def view_figure(
    scene: Scene,
    backlight: Backlight,
    *,
    summits: gpd.GeoDataFrame | None = None,
    small_scenes: gpd.GeoDataFrame | None = None,
    kit: Kit | None = None,
    held: Orientation | None = None,
    moments: Sequence[dt.datetime] | None = None,
    clean: bool = False,
    title: str = "",
    width_in: float = WIDTH_IN,
    dpi: int = DPI,
) -> Figure:
    """Photographs of the light from a spot on one morning or evening, and the key to them.

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
        A table from `small_scenes`: lettered over the picture, and told beside the sun.
    kit : Kit, optional
        The lenses to choose from.
    held : Orientation, optional
        How the camera is held; as takes in the most unless given.
    moments : sequence of datetime, optional
        When to take the pictures, with their zones; before the colour, at the best moment and ten
        minutes on unless given.
    clean : bool, optional
        The pictures alone, with no word on them, for the wall.
    title : str, optional
        What it shows, one line; made from the answer unless given.
    width_in : float, optional
        Of the page, inches; its height follows from what is on it.
    dpi : int, optional
        Pixels an inch that the pictures are worked out for; save it with as many.

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
    >>> page = terrain.view_figure(scene, found, width_in=6.0, dpi=50)
    >>> len(page.axes) > 3
    True
    """
    suns = triptych(backlight) if moments is None else at_moments(backlight, moments)
    frame = aim(scene, backlight, suns, kit=kit, held=held)
    if clean:
        return _wall(scene, backlight, suns, frame, width_in, dpi)
    window, view = window_of(frame), backlight.view
    numbered = striking_summits(
        scene.seen, view.skyline, summits, window, count=MOST_SUMMITS, hill=scene.hill
    )
    page = _Page(scene, backlight, suns, frame, numbered, small_scenes)
    return page.figure(title or _title(backlight), width_in, dpi)


def _wall(
    scene: Scene, backlight: Backlight, suns: Suns, frame: Frame, width_in: float, dpi: int
) -> Figure:
    """The pictures side by side, and nothing else."""
    count = len(suns.moments)
    wide_px, gap_px = round(width_in * dpi), round(_CLEAN_GAP * width_in * dpi)
    each_px = (wide_px - gap_px * (count - 1)) // count
    camera = Camera(scene=scene, spot=backlight.view.spot, frame=frame, width_px=each_px)
    across, up = camera.size_px
    wall = Figure(dpi=dpi, facecolor=palette.PAPER)
    wall.set_size_inches(wide_px / dpi, up / dpi)
    FigureCanvasAgg(wall)
    # the gaps take the pixels that are left over
    lefts = np.linspace(0, wide_px - across, count).round().astype(int).tolist()
    for left, seconds in zip(lefts, suns.times_s.tolist(), strict=True):
        wall.figimage(camera.picture(moment_at(backlight, seconds)), left, 0, origin="upper")
    return wall


@dataclass(frozen=True, eq=False)
class _Page:
    """Photographs of one frame, with what is told of them.

    summits: the numbered ones. small_scenes: the lettered ones.
    """

    scene: Scene
    backlight: Backlight
    suns: Suns
    frame: Frame
    summits: gpd.GeoDataFrame
    small_scenes: gpd.GeoDataFrame | None

    def figure(self, title: str, width_in: float, dpi: int) -> Figure:
        """The page: title, pictures, tables, and what to beware of."""
        count, sensor = len(self.suns.moments), self.frame.sensor
        across_in = width_in - 2.0 * MARGIN_IN
        wide_in = (across_in - _GAP_IN * (count - 1)) / count
        high_in = wide_in * sensor.height_mm / sensor.width_mm
        first = [self.sun_key(), *scenes_keys(self.small_scenes)]
        keys = stacked(first, self.summit_key(), 72.0 * across_in)
        keys_in = max(stack_height_pt(stack) for stack in keys) / 72.0
        foot_in = _LOW_IN + _CAUTIONS_IN + keys_in + _CAPTION_IN + _EDGE_IN
        body_in = foot_in + high_in + _OVER_IN
        page = new_page(width_in, body_in, title, _lines(self.backlight))
        page.set_dpi(dpi)
        camera = Camera(
            scene=self.scene,
            spot=self.backlight.view.spot,
            frame=self.frame,
            width_px=round(wide_in * dpi),
        )
        across_px, up_px = camera.size_px
        for number, seconds in enumerate(self.suns.times_s.tolist()):
            # a box of whole pixels, so that the picture is not drawn anew between them
            left_px = round((MARGIN_IN + number * (wide_in + _GAP_IN)) * dpi)
            box_in = np.array([left_px, round(foot_in * dpi), across_px, up_px]) / dpi
            ax = axes_at(page, *box_in.tolist())
            draw_degrees(ax, self.frame, with_altitudes=number == 0)
            self._hang(ax, camera, seconds, self._caption(number))
            if number == count // 2:
                self._mark(ax)
        sheet = points_axes(page, MARGIN_IN, _LOW_IN, across_in, keys_in + _CAUTIONS_IN)
        draw_keys(sheet, keys)
        for up, line in enumerate(reversed(self._cautions(camera.shows_mist))):
            place = 0.0, sheet.get_ylim()[0] - _CAUTION_PT * up
            write(sheet, place, line, size_pt=SMALL_PT, va="bottom", colour=palette.QUIET)
        return page

    def _hang(self, ax: Axes, camera: Camera, seconds: float, caption: str) -> None:
        """One photograph, the degrees along its edges, and what it is called under it."""
        wide, high = self.frame.sensor.halves_mm
        picture = camera.picture(moment_at(self.backlight, seconds))
        look: dict[str, Any] = {"extent": (-wide, wide, -high, high), "aspect": "auto"}
        ax.imshow(picture, interpolation="antialiased", gid="photograph", **look)
        ax.annotate(
            caption,
            (0.5, 0.0),
            xycoords="axes fraction",
            xytext=(0.0, -72.0 * _EDGE_IN),
            textcoords="offset points",
            ha="center",
            va="top",
            fontsize=9.0,
            color=palette.INK,
        )

    def _mark(self, ax: Axes) -> None:
        """The hill's mark, the numbers and the letters in a row over a picture."""
        view, small = self.backlight.view, scenes_within(self.small_scenes, window_of(self.frame))
        azimuths = np.array(
            [view.azimuth_deg, *self.summits["azimuth_deg"], *small["azimuth_deg"]], dtype=float
        )
        altitudes = np.array(
            [view.altitude_deg, *self.summits["altitude_deg"], *small["altitude_deg"]], dtype=float
        )
        draw_over(ax, self.frame, azimuths, altitudes, [*self.summit_key().marks, *small["mark"]])

    def _caption(self, number: int) -> str:
        words, moment = self.suns.words[number], self.suns.moments[number]
        return f"{words}, {hour_minute(moment)}" if words else hour_minute(moment)

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
        """Where the sun stands in each picture."""
        rows = list(zip(self.suns.moments, *self.suns.at_deg, strict=True))
        return Key(
            marks=[""] * len(rows),
            columns={
                "picture\nat": [exact(moment) for moment, _, _ in rows],
                "sun\ntoward": [f"{compass(toward)} {toward % 360:.1f}°" for _, toward, _ in rows],
                "its centre\nat altitude": [signed(degrees) for *_, degrees in rows],
            },
        )

    def _cautions(self, with_mist: bool) -> list[str]:
        """What the pictures are, what they rest on, and what not to do."""
        contact, mist = self.backlight.contact, self.scene.mist
        zone = zone_in_hours(contact.appears)
        said = f"; mist with its top at {mist.label}" if mist is not None and with_mist else ""
        lifted = "ground and mist are" if said else "the ground is"
        would = "hide it sooner" if contact.evening else "delay it"
        return [
            f"Computed light, clear air{said}. No trees, houses or clouds are in it. Through a "
            f"lens of {self.frame.focal_mm:.0f} mm; {lifted} lifted as with a graduated filter.",
            "Degrees are from true north, and above the level. Times by the local clock "
            f"({zone}). The ground is known for {contact.known_to_m / 1000.0:.0f} km toward the "
            f"sun; ground beyond would have to rise above {whole(contact.beyond_height_m)} m to "
            f"{would}.",
            "Never look at the sun through a lens.",
        ]


def _title(backlight: Backlight) -> str:
    place, contact = backlight.view.spot.label, backlight.contact
    part = "evening of " if contact.evening else ""
    return f"{backlight.hill.label} from {place}, {part}{long_day(contact.appears)}"


def _lines(backlight: Backlight) -> list[str]:
    contact = backlight.contact
    which = "Last" if contact.evening else "First"
    return [
        finding(backlight),
        f"{which} light of its disc at "
        f"{moment_plus_minus(contact.appears, contact.uncertainty_s)}, its place ± "
        f"{backlight.uncertainty_deg:.2f}° along the skyline (one standard deviation)",
    ]
