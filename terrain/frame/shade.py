"""Where the sun is to a frame, minute by minute, and how much of what is framed lies in shade."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

import numpy as np

from terrain.arrays import Floats, Numbers
from terrain.errors import TerrainError
from terrain.frame.lens import Frame
from terrain.ground.geodesy import wrap_deg
from terrain.ground.grid import nearest_cells
from terrain.sight.rays import altitudes_toward
from terrain.sight.seen import seen_ground
from terrain.sun.clock import local_zone
from terrain.sun.path import SunPath
from terrain.sun.refraction import refract
from terrain.view.backlight import Backlight
from terrain.view.contact import Contact
from terrain.view.facing import Facing, SunPose
from terrain.view.look import View
from terrain.view.scene import Scene

_JUST_OUT_DEG: Final = 10.0
"""A sun no farther than this beyond the frame's edge still strikes the lens and veils the picture
(common practice, no source)."""

_ACROSS: Final = np.sin(np.linspace(-0.5 * np.pi, 0.5 * np.pi, 61))
_CHORD: Final = np.array([-1.0, -0.5, 0.0, 0.5, 1.0])
_DISC: Final = np.stack([part.ravel() for part in np.meshgrid(_ACROSS, _CHORD, indexing="ij")])
"""Points of the disc, (2, n): how far to the right of its middle, in semi-diameters, and how far
up, in halves of the chord there; those of -1 and 1 are its rim."""

_APPEARING_S: Final = (-0.5, 2.0)
"""Seconds of its path about a sun's appearance in which no sampled point need stand free yet."""

_PICTURE: Final = (36, 24)
_NEAR_SHARE: Final = 0.8


class SunState(StrEnum):
    """Where what is seen of the sun is to a frame: just out is within 10 degrees of its edge."""

    HIDDEN = "hidden"
    IN_FRAME = "in frame"
    JUST_OUT = "just out"
    OUT = "out"


class SunEvent(StrEnum):
    """What the sun does over the ground, by its names in files."""

    NONE = ""
    APPEARS = "sun appears"
    CLEAR = "sun clear"
    APPEARS_AGAIN = "sun appears again"
    TOUCHES = "sun touches the ground"
    GONE = "sun gone"
    HIDDEN_BEFORE = "sun hidden for a while"

    @classmethod
    def of(cls, contact: Contact) -> tuple[SunEvent, SunEvent, SunEvent]:
        """What the moments of a contact are: it appears, is clear and appears again.

        Of an evening it is gone, touches the ground and was hidden before.
        """
        if contact.evening:
            return cls.GONE, cls.TOUCHES, cls.HIDDEN_BEFORE
        return cls.APPEARS, cls.CLEAR, cls.APPEARS_AGAIN


@dataclass(frozen=True, kw_only=True)
class SunInFrame:
    """Where the sun is at one moment.

    azimuth_deg, altitude_deg: of its middle, as it is seen.
    right_mm, up_mm: where that falls on the sensor, from the middle, NaN far off the axis.
    shade: share of the near ground, by its area in the picture, that the sun does not reach; NaN
    where the sun is not in the frame, or no such ground is. Near is what lies closer than four
    fifths of the way to the hill. event: what happens at this moment. pose: how it stands to the
    hill.
    """

    moment: dt.datetime
    state: SunState
    azimuth_deg: float
    altitude_deg: float
    right_mm: float
    up_mm: float
    shade: float
    event: SunEvent = SunEvent.NONE
    pose: SunPose = SunPose.ELSEWHERE

    @property
    def expect_to_bracket(self) -> bool:
        """Whether the contrast is more than one exposure holds (common practice, no source)."""
        return self.state is SunState.IN_FRAME and self.shade > 0.5


def sun_in_frame(
    scene: Scene, answer: Backlight, frame: Frame, moments: Sequence[dt.datetime]
) -> tuple[SunInFrame, ...]:
    """The sun to a frame at each of several moments, timezone-aware and of one local day.

    answer: the view that is framed; at the moment of each appearance of the sun, or of its going in
    an evening, a point of the disc is seen, and no more.
    """
    if not moments:
        return ()
    view = answer.view
    zone = local_zone(view.spot.lon_deg, view.spot.lat_deg)
    day = moments[len(moments) // 2].astimezone(zone).date()
    path = view.sun_on(day, evening=answer.contact.evening)
    times_s = np.array([path.seconds(moment) for moment in moments])
    azimuth, altitude = path.at(times_s)
    states = _states(answer, frame, path, times_s)
    facing = Facing(scene=scene, view=view, path=path)
    whole, edges = facing.at(times_s).state, facing.poses(times_s)
    right_mm, up_mm = frame.on_sensor_mm(azimuth, altitude)
    inside = np.array([state is SunState.IN_FRAME for state in states])
    shade = np.full(len(states), math.nan)
    if inside.any():
        upper_deg = altitude[inside] + path.semidiameter_deg
        shade[inside] = _shade(scene, _near_cells(scene, view, frame), azimuth[inside], upper_deg)
    return tuple(
        SunInFrame(
            moment=moment,
            state=state,
            azimuth_deg=float(np.mod(azimuth[i], 360.0)),
            altitude_deg=float(altitude[i]),
            right_mm=float(right_mm[i]),
            up_mm=float(up_mm[i]),
            shade=float(shade[i]),
            pose=SunPose(str(whole[i])) if state is SunState.HIDDEN else edges[i],
        )
        for i, (moment, state) in enumerate(zip(moments, states, strict=True))
    )


def sun_by_minutes(
    scene: Scene, answer: Backlight, frame: Frame, minutes: tuple[int, int]
) -> tuple[SunInFrame, ...]:
    """The sun at whole minutes of the clock, and when it appears and is clear, in order.

    minutes: from its appearance, of an evening back from its going.
    """
    first, last = minutes
    contact = answer.contact
    if first > last:
        raise TerrainError(f"minutes from {first} to {last} are none: give the earlier first")
    events = {at.timestamp(): (event, at) for event, at in _events(contact)}
    side = -60.0 if contact.evening else 60.0
    begin, end = sorted(contact.appears.timestamp() + side * minute for minute in minutes)
    whole = 60.0 * np.arange(math.ceil(begin / 60.0), math.floor(end / 60.0) + 1)
    times = sorted({*whole.tolist(), *(at for at in events if begin <= at <= end)})
    zone = contact.appears.tzinfo
    named = [events.get(at, (SunEvent.NONE, dt.datetime.fromtimestamp(at, zone))) for at in times]
    rows = sun_in_frame(scene, answer, frame, [moment for _, moment in named])
    return tuple(replace(row, event=event) for row, (event, _) in zip(rows, named, strict=True))


def rims_at_sunrise(answer: Backlight) -> tuple[Floats, Floats]:
    """The rim of the disc where it appears, or goes, and where all of it stands free."""
    moments = answer.contact.appears, answer.contact.clears
    return rims_at(answer, [moment for moment in moments if moment is not None])


def rims_at(answer: Backlight, moments: Sequence[dt.datetime]) -> tuple[Floats, Floats]:
    """The rim of the disc at moments of the day: azimuths and altitudes, degrees, (points,)."""
    path = answer.sun_path
    azimuth, altitude = _disc_at(path, np.array([path.seconds(moment) for moment in moments]))
    rim = np.isclose(np.abs(_DISC[1]), 1.0)
    return np.mod(azimuth[:, rim], 360.0).ravel(), altitude[:, rim].ravel()


def _disc_at(path: SunPath, times_s: Floats) -> tuple[Floats, Floats]:
    """Azimuths and apparent altitudes (times, n) of the points `_DISC` at seconds of a path.

    Each point is lifted by the air by itself, so the disc is as flat as it is seen.
    """
    azimuth, true = (value[:, np.newaxis] for value in path.true_at(times_s))
    half, (across, chord) = path.semidiameter_deg, _DISC
    lifted = refract(
        np.clip(true + half * chord * np.sqrt(1.0 - across**2), -90.0, 90.0),
        pressure_hpa=path.pressure_hpa,
        temperature_c=path.temperature_c,
    )
    return azimuth + half * across / np.cos(np.radians(true)), lifted


def _events(contact: Contact) -> Iterator[tuple[SunEvent, dt.datetime]]:
    first, clear, again = SunEvent.of(contact)
    yield first, contact.appears
    if contact.clears is not None:
        yield clear, contact.clears
    for later in contact.later:
        yield again, later.appears


def _states(answer: Backlight, frame: Frame, path: SunPath, times_s: Floats) -> list[SunState]:
    azimuth, altitude = _disc_at(path, times_s)
    # where no ground is known the horizontal stands in for it, as for the sun's appearance
    seen = altitude > np.nan_to_num(answer.view.skyline.at(azimuth), nan=0.0)
    for contact in (answer.contact, *answer.contact.later):
        since_s = times_s - path.seconds(contact.appears)
        for row in np.flatnonzero((since_s >= _APPEARING_S[0]) & (since_s <= _APPEARING_S[1])):
            aside = wrap_deg(azimuth[row] - contact.azimuth_deg)
            seen[row, np.argmin(np.hypot(aside, altitude[row] - contact.altitude_deg))] = True
    inside = seen & frame.takes_in(azimuth, altitude)
    beyond = np.nan_to_num(frame.outside_deg(azimuth, altitude), nan=np.inf)
    near = seen & (beyond <= _JUST_OUT_DEG)
    hidden, in_frame, just_out, out = SunState
    choices = [~seen.any(axis=1), inside.any(axis=1), near.any(axis=1)]
    return [SunState(state) for state in np.select(choices, [hidden, in_frame, just_out], out)]


def _near_cells(scene: Scene, view: View, frame: Frame) -> tuple[Numbers, Numbers]:
    """Cells of ground and mist (2, n) in the frame nearer than the hill, and their areas (n,)."""
    columns, rows = _PICTURE
    sensor = frame.sensor
    right = (np.arange(columns) + 0.5) / columns - 0.5
    up = (np.arange(rows) + 0.5) / rows - 0.5
    azimuths, _ = frame.direction_deg(right * sensor.width_mm, 0.0)
    _, altitudes = frame.direction_deg(0.0, up * sensor.height_mm)
    rising = np.unique(np.clip(altitudes, -89.9, 89.9))
    picture = seen_ground(scene.seen, view.spot, azimuths, rising, refraction=scene.refraction)
    near = picture.distance_m < _NEAR_SHARE * view.distance_m
    cells = nearest_cells(picture.row[near], picture.col[near], scene.dem.shape)
    return np.unique(np.stack(cells), axis=1, return_counts=True)


def _shade(
    scene: Scene, near: tuple[Numbers, Numbers], azimuth_deg: Floats, upper_deg: Floats
) -> Floats:
    """Share of cells that no part of the sun shines on, (moments,); NaN of none.

    near: the cells and their areas. azimuth_deg, upper_deg: (moments,) of the sun, and of its upper
    rim.
    """
    cells, areas = near
    if not areas.size:
        return np.full(azimuth_deg.shape, math.nan)
    lon, lat = scene.dem.grid.lonlat(cells[0], cells[1])
    toward = scene.dem.grid.grid_azimuth_deg(azimuth_deg[:, np.newaxis], lon, lat)
    row, col = (np.tile(each, azimuth_deg.size) for each in cells)
    ground, _ = altitudes_toward(
        scene.seen, row, col, toward.ravel(), eye_m=0.0, refraction=scene.refraction
    )
    hides = np.nan_to_num(ground.reshape(toward.shape), nan=-90.0) >= upper_deg[:, np.newaxis]
    return np.asarray(np.average(hides, axis=1, weights=areas))
