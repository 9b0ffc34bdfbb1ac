"""The view from a spot: what the camera sees, where the sun comes up, and which hill is which.

Both axes measure degrees, and a degree is as long one way as the other, so that the sun has its
true size and shape.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any, Final

import geopandas as gpd
import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from terrain.ground.dem import Dem
from terrain.ground.geodesy import wrap_deg
from terrain.ground.places import Hill
from terrain.mist.mist import Mist
from terrain.show.paper import palette
from terrain.show.paper.key import Key, compass, draw_key, sight_key
from terrain.show.paper.marks import HIDDEN_MARK, HILL_MARK, RADIUS_PT, draw_marks, in_points
from terrain.show.paper.page import MARGIN_IN, axes_at, head_in, new_page, points_axes
from terrain.show.view.angles import Window, draw_angles
from terrain.show.view.scenery import Light, scenery, sky
from terrain.show.view.summits_in_view import striking_summits
from terrain.show.view.sun_discs import draw_sun, room_taken
from terrain.sight.seen import SeenGround, seen_ground
from terrain.sun.path import SunPath, sun_path
from terrain.view.backlight import Backlight
from terrain.view.contact import Contact
from terrain.view.scene import Scene, View
from terrain.words.clocks import at_local, exact

__all__ = ["draw_view", "view_figure"]

WIDTH_IN: Final = 11.0
MINUTES: Final = (0.0, 5.0, 10.0, 15.0, 20.0)
MOST_SUMMITS: Final = 14

_CELLS_ACROSS = 2400
_FOOT_IN, _LOW_IN = 0.55, 0.3
_MOST_HIGH_IN = 4.6
_CAUTIONS_IN = 0.62
_LEAST_SHAPE, _BELOW_HILL = 0.22, 0.3
_FEET_M = 400.0

Floats = NDArray[np.float64]


def draw_view(
    ax: Axes, seen: SeenGround, dem: Dem, light: Light, *, mist: Mist | None = None
) -> list[Artist]:
    """The picture itself: sky, ridges and mist, with degrees along its edges.

    seen: what the camera sees; dem: the true ground it lies on; mist: on that ground.
    """
    azimuth, altitude = seen.azimuth_deg, seen.altitude_deg
    extent = (azimuth[0], azimuth[-1], altitude[0], altitude[-1])
    style: dict[str, Any] = {"extent": extent, "origin": "lower", "aspect": "auto"}
    low = np.linspace(extent[0], extent[1], 300), np.linspace(extent[2], extent[3], 150)
    ground = scenery(seen, dem, light, mist=mist)
    artists: list[Artist] = [
        ax.imshow(sky(*low, light), interpolation="bilinear", zorder=0.0, gid="sky", **style),
        ax.imshow(ground, interpolation="antialiased", zorder=1.0, gid="ground", **style),
    ]
    ax.set(xlim=extent[:2], ylim=extent[2:])
    return artists + draw_angles(ax)


def view_figure(
    scene: Scene,
    backlight: Backlight,
    *,
    path: SunPath | None = None,
    summits: gpd.GeoDataFrame | None = None,
    width_deg: float = 30.0,
    minutes: Sequence[float] = MINUTES,
    title: str = "",
    width_in: float = WIDTH_IN,
) -> Figure:
    """A page with the view from a spot on one morning and, under it, the key to its numbers.

    path: the sun that day at the spot, computed where it is not given. summits: a table from
    `find_summits`; those with a name (or all, where none has) that are seen are numbered.
    width_deg: of the view, widened where the sun comes up farther from the hill. minutes: after
    the sun's appearance, at which its disc is drawn, to the nearest whole minute of the clock.
    width_in: of the page; its height follows from what is on it.
    """
    view, contact = backlight.view, backlight.contact
    path = _path_of(view, contact) if path is None else path
    moments = _moments(contact, minutes)
    frame = _frame(scene, backlight, path, moments, width_deg, width_in)
    moments = _shown(frame, path, moments)
    table = striking_summits(
        scene.seen, view.spot, summits, frame, count=MOST_SUMMITS, refraction=scene.refraction,
        hill=scene.hill,
    )  # fmt: skip
    key = sight_key(table, first=_hill_row(scene.hill, view))
    keys = [_sun_key(path, moments), *key.parts(len(moments))]
    high_in = frame.height_deg * (width_in - 2.0 * MARGIN_IN) / frame.width_deg
    keys_in = max(key.height_pt for key in keys) / 72.0
    foot_in = _LOW_IN + _CAUTIONS_IN + keys_in + _FOOT_IN
    title, lines = title or _title(backlight), _lines(backlight)
    top_in = head_in(title, lines, width_in)
    page = new_page((width_in, top_in + high_in + foot_in), title, lines)
    ax = axes_at(page, MARGIN_IN, foot_in, width_in - 2.0 * MARGIN_IN, high_in)
    _draw_all(ax, scene, backlight, frame, path, moments, table)
    under = foot_in - _FOOT_IN - _LOW_IN
    _write_under(points_axes(page, MARGIN_IN, _LOW_IN, width_in - 2.0 * MARGIN_IN, under),
                 keys, _cautions(scene, backlight))  # fmt: skip
    return page


def _draw_all(
    ax: Axes,
    scene: Scene,
    backlight: Backlight,
    frame: Window,
    path: SunPath,
    moments: Sequence[dt.datetime],
    summits: gpd.GeoDataFrame,
) -> None:
    view, contact = backlight.view, backlight.contact
    azimuths = np.linspace(*frame.azimuth_deg, _CELLS_ACROSS)
    seen = seen_ground(
        scene.dem,
        view.spot,
        azimuths_deg=azimuths,
        altitudes_deg=np.linspace(
            *frame.altitude_deg, round(_CELLS_ACROSS * frame.height_deg / frame.width_deg)
        ),
        lid_m=None if scene.mist is None else scene.mist.lid_m,
        refraction=scene.refraction,
    )
    start = path.seconds(contact.appears)
    before, after = path.at(np.array([start, start + 600.0]))[0]
    light = Light(
        azimuth_deg=float(frame.turned(contact.azimuth_deg)),
        altitude_deg=contact.altitude_deg,
        to_right=bool(after > before),
    )
    draw_view(ax, seen, scene.dem, light, mist=scene.mist)
    suns = draw_sun(ax, path, moments, (azimuths, view.skyline.at(azimuths)))
    _draw_contact(ax, frame, contact)
    _draw_summits(ax, frame, view, summits, room_taken(ax, suns))


def _path_of(view: View, contact: Contact) -> SunPath:
    spot = view.spot
    return sun_path(
        contact.appears.date(),
        lon_deg=spot.lon_deg,
        lat_deg=spot.lat_deg,
        height_m=view.skyline.eye_height_m,
    )


def _frame(
    scene: Scene,
    backlight: Backlight,
    path: SunPath,
    moments: Sequence[dt.datetime],
    width_deg: float,
    width_in: float,
) -> Window:
    """A frame about the hill and the sun, wide enough for both, down to the nearer ground."""
    view, contact = backlight.view, backlight.contact
    aside = float(wrap_deg(contact.azimuth_deg - view.azimuth_deg))
    width = max(width_deg, 1.5 * abs(aside))
    middle = view.azimuth_deg + 0.5 * aside
    ends = middle - width / 2.0, middle + width / 2.0
    skyline = view.skyline.at(np.linspace(*ends, 600))
    azimuth, altitude = path.at([path.seconds(moment) for moment in moments])
    sun = altitude[np.abs(wrap_deg(azimuth - middle)) < width / 2.0]
    margin = 0.03 * width
    high = max(float(np.nanmax(skyline)), view.altitude_deg, *sun, 0.5) + margin
    most = _MOST_HIGH_IN * width / (width_in - 2.0 * MARGIN_IN)
    low = _foot_deg(scene, view, ends, (high - most, high)) - margin
    low = max(low, high - most, view.altitude_deg - _BELOW_HILL * width)
    low = min(low, high - _LEAST_SHAPE * width)
    return Window(azimuth_deg=ends, altitude_deg=(low, high))


def _foot_deg(
    scene: Scene, view: View, ends: tuple[float, float], within: tuple[float, float]
) -> float:
    """The lowest altitude at which more than the ground before one's feet is seen, degrees.

    Of the bare ground, so that a view has one frame whatever the mist does.
    """
    altitudes = np.linspace(*within, 120)
    seen = seen_ground(
        scene.dem,
        view.spot,
        azimuths_deg=np.linspace(*ends, 240),
        altitudes_deg=altitudes,
        refraction=scene.refraction,
    )
    beyond = np.nan_to_num(seen.distance_m) > _FEET_M
    return float(altitudes[int(np.argmax(beyond.mean(axis=1) > 0.1))])


def _title(backlight: Backlight) -> str:
    spot, day = backlight.view.spot, backlight.contact.appears
    place = spot.name or f"{spot.lat_deg:.4f}, {spot.lon_deg:.4f}"
    return _sentence(f"{backlight.hill.label} from {place}, {day:%A} {day.day} {day:%B %Y}")


def _sentence(words: str) -> str:
    return words[:1].upper() + words[1:]


def _lines(backlight: Backlight) -> list[str]:
    contact = backlight.contact
    return [
        _sentence(backlight.reason),
        f"First light of its disc at {at_local(contact.appears)} "
        f"± {_span(contact.uncertainty_s)}, its place ± {backlight.uncertainty_deg:.2f}° "
        "along the skyline (one standard deviation)",
    ]


def _span(seconds: float) -> str:
    return f"{seconds:.0f} s" if seconds < 90.0 else f"{seconds / 60.0:.0f} min"


def _moments(contact: Contact, minutes: Sequence[float]) -> list[dt.datetime]:
    """The appearance itself, and the whole minutes of the clock nearest to so long after it."""
    moments = []
    for after in sorted(set(minutes)):
        moment = contact.appears + dt.timedelta(minutes=after)
        if after > 0:
            moment = (moment + dt.timedelta(seconds=30)).replace(second=0, microsecond=0)
        moments.append(moment)
    return moments


def _shown(frame: Window, path: SunPath, moments: Sequence[dt.datetime]) -> list[dt.datetime]:
    """The moments at which the whole disc lies within the frame."""
    azimuth, altitude = path.at([path.seconds(moment) for moment in moments])
    fits = frame.holds(azimuth, altitude, path.semidiameter_deg)
    return [moment for moment, whole in zip(moments, fits, strict=True) if whole]


def _draw_contact(ax: Axes, frame: Window, contact: Contact) -> list[Artist]:
    """The point of the skyline where the first of the disc is seen."""
    at = float(frame.turned(contact.azimuth_deg)), contact.altitude_deg
    return list(
        ax.plot(*([part] for part in at), marker="D", markersize=5.0, markerfacecolor=palette.SUN,
                markeredgecolor=palette.PAPER, markeredgewidth=0.9, linestyle="none", zorder=7.0,
                gid="contact")
    )  # fmt: skip


def _draw_summits(
    ax: Axes, frame: Window, view: View, summits: gpd.GeoDataFrame, keep_out: Floats
) -> list[Artist]:
    """The hill's mark and the numbers, each just under its summit, where the sky stays free."""
    azimuths = [view.azimuth_deg, *summits["azimuth_deg"]]
    altitudes = [view.altitude_deg, *summits["altitude_deg"]]
    places = np.stack([frame.turned(azimuths), altitudes], axis=1)
    labels = [_hill_mark(view), *(str(number) for number in range(1, len(summits) + 1))]
    below = np.tile([0.0, -RADIUS_PT - 5.0], (len(labels), 1))
    for place in keep_out[:1]:
        at = in_points(ax, places[:1])[0] + below[0]
        if np.hypot(*(at - place[:2])) < RADIUS_PT + place[2] + 2.0:
            # the sun comes up behind the summit itself: the mark goes to the side it came from
            below[0, 0] = -RADIUS_PT - place[2] - 4.0
    return draw_marks(ax, places, labels, offset_pt=below, keep_out=keep_out)


def _hill_mark(view: View) -> str:
    return HILL_MARK if view.visible else HIDDEN_MARK


def _write_under(sheet: Axes, keys: Sequence[Key], cautions: Sequence[str]) -> None:
    """The tables under a view, side by side, and the cautions under them."""
    width_pt, at_pt = sheet.get_xlim()[1], sheet.get_ylim()[0]
    left = 0.0
    for number, key in enumerate(keys):
        if number == 0 or left + key.width_pt <= width_pt:
            draw_key(sheet, key, left_pt=left)
        left += key.width_pt + 40.0
    for line in reversed(cautions):
        sheet.text(0.0, at_pt, line, fontsize=7.5, va="bottom", color=palette.QUIET)
        at_pt -= 11.5


def _hill_row(hill: Hill, view: View) -> tuple[str, str, float, float, float]:
    name = hill.label if view.visible else f"{hill.label} (hidden)"
    return _hill_mark(view), name, hill.height_m, view.distance_m, view.azimuth_deg


def _sun_key(path: SunPath, moments: Sequence[dt.datetime]) -> Key:
    azimuth, altitude = path.at([path.seconds(moment) for moment in moments])
    return Key(
        headings=("sun's\ndisc at", "toward", "centre\nat altitude"),
        marks=("",) * len(moments),
        rows=tuple(
            (exact(moment), f"{compass(az)} {az % 360:.1f}°", f"{alt:.1f}°")
            for moment, az, alt in zip(moments, azimuth, altitude, strict=True)
        ),
    )


def _cautions(scene: Scene, backlight: Backlight) -> list[str]:
    """What the signs of the picture mean, what it rests on, and what not to do."""
    contact = backlight.contact
    zone = at_local(contact.appears).split()[-1]
    pale = "" if scene.mist is None else f"Pale: mist, its top at {scene.mist.label}. "
    return [
        f"{pale}Diamond: where the first of the sun is seen; a dotted disc is still behind the "
        "ground. Degrees are from true north, and above the level.",
        f"Times by the local clock ({zone}). Computed, not surveyed. The ground is known for "
        f"{contact.known_to_m / 1000.0:.0f} km toward the sun; ground just beyond would have to "
        f"rise above {contact.beyond_height_m:.0f} m to delay it.",
        "Never look at the sun through a lens.",
    ]
