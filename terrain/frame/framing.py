"""How to frame a hill, the sun and the mist: the lens, the aim, and where the sun is in it.

+------------------------------------+
|             hill's outline         |      hill_share = its width on the sensor
|       _..---''''-o._    o sun      |                   over the frame's
| __.-''  <- share -> '--.__         |
| ~ ~ ~ ~ ~ mist ~ ~ ~ ~ ~ ~ ~ ~ ~ ~ |
+------------------------------------+
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from terrain.errors import TerrainError
from terrain.frame.lens import Frame, Kit, Lens, Orientation, aim_at, lens_of
from terrain.frame.shade import SunInFrame, rims_at_sunrise, sun_by_minutes
from terrain.view.backlight import Backlight
from terrain.view.scene import Scene
from terrain.view.shown import Outline, mist_strip, seen_outline

MARGIN: Final = 0.08
"""Share of the frame that is left free along each edge (common practice, no source)."""


@dataclass(frozen=True, kw_only=True)
class LensFit:
    """What one lens makes of the view, at the focal length that suits best.

    width_deg, height_deg: what it takes in. hill_share: of the frame's width that the hill fills,
    1 where it fills all of it. takes_all: hill, sun and mist are in the frame with its margin.
    """

    lens: Lens
    focal_mm: float
    orientation: Orientation
    width_deg: float
    height_deg: float
    hill_share: float
    takes_all: bool


@dataclass(frozen=True, kw_only=True)
class Framing:
    """How to frame a view.

    Attributes
    ----------
    frame : Frame
        The aim (azimuth, tilt), focal length and sensor as held.
    lens : Lens
        Of the kit, the one that suits.
    takes_all : bool
        It takes in hill, sun and mist; if not, it is the widest there is.
    longest_mm : float
        Focal length that would take them in exactly, with the margin, mm.
    outline : Outline
        Of the hill.
    hill_share : float
        Of the frame's width that the hill fills, 0 to 1.
    mist_in : bool
        Mist before the hill was asked for and is seen there.
    sun_mm : float
        Width of the sun's image, mm.
    sun_px : float
        The same in pixels.
    sun : tuple of SunInFrame
        The sun to the frame, minute by minute.
    lenses : tuple of LensFit
        The whole kit.

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
    >>> found = terrain.check_backlight(scene.country, spot, hill, dt.date(2025, 3, 30))
    >>> framing = terrain.frame_view(scene, found, hill_width_deg=8.0)
    >>> framing.orientation.name, framing.takes_all, framing.mist_in
    ('LANDSCAPE', True, False)
    """

    frame: Frame
    lens: Lens
    takes_all: bool
    longest_mm: float
    outline: Outline
    hill_share: float
    mist_in: bool
    sun_mm: float
    sun_px: float
    sun: tuple[SunInFrame, ...]
    lenses: tuple[LensFit, ...]

    @property
    def orientation(self) -> Orientation:
        """How the camera is held."""
        return self.frame.sensor.orientation

    @property
    def expect_to_bracket(self) -> bool:
        """Whether the sun is in the frame while most of the near ground in it is in shade."""
        return any(moment.expect_to_bracket for moment in self.sun)


def frame_view(
    scene: Scene,
    answer: Backlight,
    *,
    kit: Kit | None = None,
    hill_width_deg: float | None = None,
    margin: float = MARGIN,
    minutes: tuple[int, int] = (-5, 30),
    with_sun: bool = True,
    also_deg: Sequence[tuple[float, float]] = (),
) -> Framing:
    """The lens, the aim and the orientation that take in a hill, the rising sun and the mist.

    Or the setting sun of an evening. What is to be in the frame: the hill's outline, the whole disc
    where it appears and where it is clear (of an evening goes, and touches the ground), and, where
    mist is seen before the hill, a strip of it half as high as the hill stands above it. The lens
    that suits is the one that shows all this largest, held the way that allows it.

    Parameters
    ----------
    scene : Scene
        The hill in its country.
    answer : Backlight
        The view of that hill and the sun's appearance, as `backlight` gives them.
    kit : Kit, optional
        What is in the bag: the sensor and the lenses.
    hill_width_deg : float, optional
        How much of a wide hill to take in, degrees about its summit; all of it unless given.
    margin : float, optional
        Share of the frame to leave free along each edge, 0 to 1.
    minutes : tuple of int, optional
        From how many minutes after the sun's appearance to how many the sun is looked up, at each
        whole minute of the clock and when it appears and is clear; of an evening from how many
        before it goes.
    with_sun : bool, optional
        False leaves the sun out of what is to be in the frame.
    also_deg : sequence of tuple of float, optional
        Further directions that are to be in it, azimuth and altitude, degrees.

    Returns
    -------
    Framing
        The frame, and the sun in it.

    Raises
    ------
    NoAnswer
        Where its summit is hidden, and where no frame is wide enough for what is asked.
    TerrainError
        For a kit without lenses, and for a margin that leaves nothing.

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
    >>> found = terrain.check_backlight(scene.country, spot, hill, dt.date(2025, 3, 30))
    >>> framing = terrain.frame_view(scene, found, hill_width_deg=8.0)
    >>> str(framing.lens), round(framing.frame.azimuth_deg), round(framing.sun_mm, 2)
    ('200 mm', 90, 1.86)
    """
    if not 0.0 <= margin < 0.5:
        raise TerrainError(f"a margin of {margin} of the frame on each side leaves nothing in it")
    kit, view, contact = kit or Kit(), answer.view, answer.contact
    lenses = [lens_of(focal_mm) for focal_mm in kit.lenses_mm]
    if not lenses:
        raise TerrainError("no lens is in the kit: give at least one focal length")
    outline = seen_outline(scene, view)
    wanted = outline
    if hill_width_deg is not None:
        wanted = outline.within(view.azimuth_deg, hill_width_deg)
    mist = mist_strip(scene, view, wanted)
    further = np.array(also_deg, dtype=float).reshape(-1, 2).T
    parts = [(wanted.azimuth_deg, wanted.altitude_deg), mist, (further[0], further[1])]
    if with_sun:
        parts.append(rims_at_sunrise(answer))
    azimuth, altitude = (np.concatenate(part) for part in zip(*parts, strict=True))
    aims = []
    for held in (kit.sensor, kit.sensor.turned):
        aim = aim_at(azimuth, altitude, held)
        aims.append(replace(aim, focal_mm=aim.focal_mm * (1.0 - 2.0 * margin)))
    fits = [_fit(lens, aims, outline) for lens in lenses]
    fit, frame = max(fits, key=lambda found: _worth(found[0]))
    sun_mm = sun_on_sensor_mm(frame.focal_mm, contact.semidiameter_deg)
    return Framing(
        frame=frame,
        lens=fit.lens,
        takes_all=fit.takes_all,
        longest_mm=max(aim.focal_mm for aim in aims),
        outline=outline,
        hill_share=fit.hill_share,
        mist_in=bool(mist[0].size),
        sun_mm=sun_mm,
        sun_px=sun_mm * frame.sensor.px_per_mm,
        sun=sun_by_minutes(scene, answer, frame, minutes),
        lenses=tuple(fit for fit, _ in fits),
    )


def sun_on_sensor_mm(focal_mm: float, semidiameter_deg: float) -> float:
    """Width of the sun's image in the middle of the frame, millimetres.

    >>> round(400.0 / sun_on_sensor_mm(400.0, 0.2666), 1)
    107.5
    """
    return 2.0 * focal_mm * math.tan(math.radians(semidiameter_deg))


def _fit(lens: Lens, aims: Sequence[Frame], outline: Outline) -> tuple[LensFit, Frame]:
    """The way of holding the camera that shows most with one lens, and the frame of it."""
    able = [(lens.up_to(aim.focal_mm), aim) for aim in aims]
    fitting = [(focal, aim) for focal, aim in able if focal is not None]
    if fitting:
        focal_mm, aim = max(fitting, key=lambda pair: (pair[0], pair[1].focal_mm))
    else:
        focal_mm, aim = lens.shortest_mm, max(aims, key=lambda aim: aim.focal_mm)
    frame = replace(aim, focal_mm=focal_mm)
    width_deg, height_deg = frame.field_deg
    fit = LensFit(
        lens=lens,
        focal_mm=focal_mm,
        orientation=frame.sensor.orientation,
        width_deg=width_deg,
        height_deg=height_deg,
        hill_share=_hill_share(frame, outline),
        takes_all=bool(fitting),
    )
    return fit, frame


def _worth(fit: LensFit) -> tuple[bool, float]:
    """Longer is better while all is in the frame; else the widest is."""
    return fit.takes_all, fit.focal_mm if fit.takes_all else -fit.focal_mm


def _hill_share(frame: Frame, outline: Outline) -> float:
    """Share of the frame's width that lies between the ends of the hill that are in it."""
    right_mm, _ = frame.on_sensor_mm(outline.azimuth_deg, outline.altitude_deg)
    half_mm = frame.sensor.width_mm / 2.0
    ahead = np.clip(right_mm[~np.isnan(right_mm)], -half_mm, half_mm)
    return float(np.ptp(ahead)) / frame.sensor.width_mm if ahead.size else 0.0
