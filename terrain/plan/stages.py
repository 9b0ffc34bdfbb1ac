"""The timeline of a morning or evening: what happens when, how sure that is, how to frame it.

One cause shifts the moment of the sun's appearance and its place beside the summit together; the
causes themselves are independent, and so add as squares::

    raster --.
    position --> altitude of the skyline --> moment --> place beside the summit
    refraction -'                            position aside ----^
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import Enum, StrEnum, auto
from typing import Final

import numpy as np

from terrain.errors import TerrainError
from terrain.frame.framing import Framing
from terrain.frame.shade import SunEvent, SunInFrame, sun_in_frame
from terrain.ground.accuracy import AngleDoubt
from terrain.light.colour import colour_begins, colour_ends, lamp_at
from terrain.plan.frames import Aims, over_summit
from terrain.plan.valley_light import ValleyLight
from terrain.sun.twilight import Twilight
from terrain.view.backlight import Backlight
from terrain.view.contact import Contact
from terrain.walk.walk import Walk


class StageKind(StrEnum):
    """What happens at a stage; the values are its names in files."""

    LEAVE = "leave"
    START_WALKING = "start walking"
    NO_LAMP = "no lamp needed"
    IN_PLACE = "be in place"
    COLOUR_BEGINS = "colour begins"
    SUN_APPEARS = SunEvent.APPEARS.value
    SUN_CLEAR = SunEvent.CLEAR.value
    SUN_OVER_SUMMIT = "sun over the summit"
    SUN_APPEARS_AGAIN = SunEvent.APPEARS_AGAIN.value
    LIGHT_ON_MIST = "light on the mist"
    LIGHT_ON_FLOOR = "light on the valley floor"
    WARM_LIGHT_OVER = "warm light over"
    WARM_LIGHT_BEGINS = "warm light begins"
    LIGHT_LEAVES_MIST = "light leaves the mist"
    LIGHT_LEAVES_FLOOR = "light leaves the valley floor"
    SUN_HIDDEN_BEFORE = SunEvent.HIDDEN_BEFORE.value
    SUN_TOUCHES = SunEvent.TOUCHES.value
    SUN_GONE = SunEvent.GONE.value
    COLOUR_ENDS = "colour ends"
    LAMP = "a lamp is needed"
    WALK_BACK = "walk back"
    BACK = "back at the start"


_ON_FLOOR: Final = (StageKind.LIGHT_ON_FLOOR, StageKind.LIGHT_LEAVES_FLOOR)
_AGAIN: Final = (StageKind.SUN_APPEARS_AGAIN, StageKind.SUN_HIDDEN_BEFORE)


class Basis(Enum):
    """What a moment without a standard deviation rests on."""

    CHOICE = auto()
    BEFORE_LIGHT = auto()
    AFTER_COLOUR = auto()
    RULE = auto()
    SUN_ALONE = auto()
    UNKNOWN_GROUND = auto()


@dataclass(frozen=True, kw_only=True)
class TimeDoubt:
    """The parts of a moment's standard deviation, seconds.

    raster_s: from the heights; position_s: from where the spot really is; refraction_s: from the
    air, of sight lines and of the sun; hidden_s: from ordinary ground beyond the known.

    >>> TimeDoubt(raster_s=30.0, position_s=0.0, refraction_s=40.0).total_s
    50.0
    """

    raster_s: float
    position_s: float
    refraction_s: float
    hidden_s: float = 0.0

    @property
    def total_s(self) -> float:
        """The parts together."""
        return math.hypot(self.raster_s, self.position_s, self.refraction_s, self.hidden_s)


@dataclass(frozen=True, kw_only=True)
class Stage:
    """One line of the timeline.

    at: aware datetime in the place's zone; uncertainty_s: one standard deviation, its parts in
    `doubt`; NaN and None where there is none, for a reason that `basis` gives. framing, sun: how
    to frame it, and where the sun is to that frame at this moment; None before one stands in place.
    """

    kind: StageKind
    at: dt.datetime
    uncertainty_s: float = math.nan
    doubt: TimeDoubt | None = None
    basis: Basis | None = None
    framing: Framing | None = None
    sun: SunInFrame | None = None


def timeline(
    light: Twilight,
    walk: Walk,
    aims: Aims,
    leaves: dt.datetime | None,
    valley: ValleyLight | None,
    *,
    back: Walk | None = None,
) -> tuple[Stage, ...]:
    """The stages of a morning in the order of time, each with its frame from the colour on.

    Or of an evening, to the end of the colour, and those of the way back. walk: timed, TerrainError
    for one that is not. aims: the framings to choose from. leaves: from home. valley: the light
    between the spot and the hill. back: the walk back of an evening, timed.
    """
    contact = aims.answer.contact
    in_place = (
        *_sky_stages(light, contact),
        *_sun_stages(contact, valley),
        *_over_summit(aims),
    )
    if contact.evening and walk.arrives is not None:
        arrives = walk.arrives.timestamp()
        in_place = tuple(stage for stage in in_place if stage.at.timestamp() >= arrives)
    found = (
        *_on_the_way(walk, leaves, Basis.BEFORE_LIGHT if contact.evening else Basis.CHOICE),
        *(_framed(stage, aims) for stage in in_place),
        *_lamp_stages(light, aims.answer),
        *(_on_the_way_back(back) if back is not None else ()),
    )
    # by the moment itself: clocks that are put back show an hour twice
    return tuple(sorted(found, key=lambda stage: stage.at.timestamp()))


def _framed(stage: Stage, aims: Aims) -> Stage:
    """A stage with its frame: the sun is in it while it is low, and when it comes up again."""
    contact = aims.answer.contact
    clear = contact.clears or contact.appears
    framing = aims.valley if stage.kind in _ON_FLOOR else aims.after
    if stage.kind == StageKind.SUN_OVER_SUMMIT and aims.over is not None:
        framing = aims.over
    elif _along(contact, stage.at) <= _along(contact, clear) or stage.kind in _AGAIN:
        framing = aims.rising
    (sun,) = sun_in_frame(aims.scene, aims.answer, framing.frame, [stage.at])
    return replace(stage, framing=framing, sun=sun)


def _along(contact: Contact, moment: dt.datetime) -> float:
    """Seconds as the path of the sun counts them, which are those of an evening turned round."""
    return -moment.timestamp() if contact.evening else moment.timestamp()


def _on_the_way(walk: Walk, leaves: dt.datetime | None, basis: Basis) -> Iterator[Stage]:
    if walk.sets_out is None or walk.arrives is None:
        raise TerrainError("a plan needs a walk that is timed: give it the moment to arrive")
    if leaves is not None:
        yield Stage(kind=StageKind.LEAVE, at=leaves, basis=basis)
    yield Stage(kind=StageKind.START_WALKING, at=walk.sets_out, basis=basis)
    yield Stage(kind=StageKind.IN_PLACE, at=walk.arrives, basis=basis)


def _on_the_way_back(back: Walk) -> Iterator[Stage]:
    for kind, at in ((StageKind.WALK_BACK, back.sets_out), (StageKind.BACK, back.arrives)):
        if at is not None:
            yield Stage(kind=kind, at=at, basis=Basis.AFTER_COLOUR)


def _lamp_stages(light: Twilight, answer: Backlight) -> Iterator[Stage]:
    """From when on no lamp is needed, or in an evening one is."""
    evening = answer.contact.evening
    at = lamp_at(answer) if evening else light.civil_dawn
    if at is not None:
        kind = StageKind.LAMP if evening else StageKind.NO_LAMP
        yield Stage(kind=kind, at=at, basis=Basis.SUN_ALONE)


def _sky_stages(light: Twilight, contact: Contact) -> Iterator[Stage]:
    kinds = (StageKind.COLOUR_BEGINS, StageKind.WARM_LIGHT_OVER)
    colour, warm = colour_begins(light, contact.appears), light.morning_golden_ends
    if contact.evening:
        kinds = (StageKind.COLOUR_ENDS, StageKind.WARM_LIGHT_BEGINS)
        colour, warm = colour_ends(light, contact.appears), light.evening_golden_begins
    yield Stage(kind=kinds[0], at=colour, basis=Basis.RULE)
    if warm is not None and _along(contact, warm) > _along(contact, contact.appears):
        yield Stage(kind=kinds[1], at=warm, basis=Basis.SUN_ALONE)


def _sun_stages(contact: Contact, valley: ValleyLight | None) -> Iterator[Stage]:
    first, clear, again = (StageKind(event.value) for event in SunEvent.of(contact))
    yield _appearance(first, contact)
    if contact.clears is not None:
        doubt = when_clear(contact)
        yield Stage(
            kind=clear,
            at=contact.clears,
            uncertainty_s=contact.clears_uncertainty_s,
            doubt=doubt,
            basis=None if doubt else Basis.UNKNOWN_GROUND,
        )
    for later in contact.later:
        yield _appearance(again, later)
    if valley is not None:
        on_mist, on_floor = StageKind.LIGHT_ON_MIST, StageKind.LIGHT_ON_FLOOR
        if contact.evening:
            on_mist, on_floor = StageKind.LIGHT_LEAVES_MIST, StageKind.LIGHT_LEAVES_FLOOR
        yield _appearance(on_mist if valley.on_mist else on_floor, valley.contact)


def _over_summit(aims: Aims) -> Iterator[Stage]:
    """The best moment, where it is another than that of the sun's appearance."""
    best = over_summit(aims.answer)
    if best is not None:
        doubt = _when_over(aims, best.at)
        yield Stage(
            kind=StageKind.SUN_OVER_SUMMIT, at=best.at, uncertainty_s=doubt.total_s, doubt=doubt
        )


def _when_over(aims: Aims, at: dt.datetime) -> TimeDoubt:
    """The doubt of the moment at which the sun is nearest: how far off the summit may really be."""
    view, accuracy = aims.answer.view, aims.scene.country.accuracy
    path = aims.answer.sun_path
    azimuth, altitude = path.at(path.seconds(at) + np.array([-30.0, 30.0]))
    across = float(np.diff(azimuth)[0]) * math.cos(math.radians(view.altitude_deg))
    s_per_rad = math.degrees(60.0 / math.hypot(across, float(np.diff(altitude)[0])))
    return TimeDoubt(
        raster_s=s_per_rad * accuracy.raster_m / view.distance_m,
        position_s=s_per_rad * accuracy.position_m / view.distance_m,
        refraction_s=0.0,
    )


def _appearance(kind: StageKind, contact: Contact) -> Stage:
    return Stage(
        kind=kind,
        at=contact.appears,
        uncertainty_s=contact.uncertainty_s,
        doubt=when_it_appears(contact),
    )


def when_it_appears(contact: Contact) -> TimeDoubt:
    """The doubt of the moment at which the sun appears."""
    return _in_time(contact.doubt, contact.uncertainty_s)


def when_clear(contact: Contact) -> TimeDoubt | None:
    """The doubt of the moment at which all of the sun stands free, None where that is unknown."""
    if contact.clears_doubt is None:
        return None
    return _in_time(contact.clears_doubt, contact.clears_uncertainty_s)


def offset_doubt(answer: Backlight) -> AngleDoubt:
    """The doubt of where the sun appears beside the summit.

    A spot that is not quite where it was meant to be changes the summit's direction besides.
    """
    contact = answer.contact
    sideways = contact.uncertainty_deg * math.cos(math.radians(contact.altitude_deg))
    bearing = math.sqrt(max(answer.uncertainty_deg**2 - sideways**2, 0.0))
    per_deg = _per(contact.doubt.total_deg, sideways)
    return AngleDoubt(
        raster_deg=per_deg * contact.doubt.raster_deg,
        position_deg=math.hypot(per_deg * contact.doubt.position_deg, bearing),
        refraction_deg=per_deg * contact.doubt.refraction_deg,
        hidden_deg=per_deg * contact.doubt.hidden_deg,
    )


def _in_time(doubt: AngleDoubt, uncertainty_s: float) -> TimeDoubt:
    per_deg = _per(doubt.total_deg, uncertainty_s)
    return TimeDoubt(
        raster_s=per_deg * doubt.raster_deg,
        position_s=per_deg * doubt.position_deg,
        refraction_s=per_deg * doubt.refraction_deg,
        hidden_s=per_deg * doubt.hidden_deg,
    )


def _per(altitude_deg: float, figure: float) -> float:
    """How much of a figure a degree of altitude makes."""
    return figure / altitude_deg if altitude_deg > 0.0 else 0.0
