"""The parts of a plan in sentences, the same on the screen, on the sheet and in files."""

from __future__ import annotations

import math
from collections.abc import Iterator

from terrain.frame.figure import Step
from terrain.frame.lens import Frame
from terrain.frame.shade import SunInFrame, SunState
from terrain.plan.good_days import GoodDay
from terrain.plan.morning import Plan
from terrain.plan.stages import Basis, Stage, StageKind
from terrain.plan.what_if import FallBack
from terrain.walk.walk import Walk
from terrain.words.clocks import (
    clock,
    hour_minute,
    long_day,
    plus_minus,
    span_words,
    spell,
    supported,
)
from terrain.words.figures import away, distance, in_place, place, signed, whole

_SUN = {
    SunState.HIDDEN: "sun hidden",
    SunState.IN_FRAME: "sun in frame",
    SunState.JUST_OUT: "sun just out",
    SunState.OUT: "sun far out",
}
_BASES = {
    None: "",
    Basis.CHOICE: "counted back from the colour, by the pace and by choice",
    Basis.BEFORE_LIGHT: "counted back from the good light, by the pace and by choice",
    Basis.AFTER_COLOUR: "counted on from the colour, by the pace and by choice",
    Basis.RULE: "a rule of the trade",
    Basis.SUN_ALONE: "from the sun alone, good to a second",
    Basis.UNKNOWN_GROUND: "the ground under it is unknown",
}
_NOTES = {
    StageKind.LEAVE: "drive to the start",
    StageKind.NO_LAMP: "civil dawn: paths can be seen",
    StageKind.COLOUR_BEGINS: "the sky colours before the sun is up",
    StageKind.SUN_CLEAR: "all of the disc is free of the ground",
    StageKind.WARM_LIGHT_OVER: "the sun stands 6° high",
    StageKind.WARM_LIGHT_BEGINS: "the sun stands 6° high",
    StageKind.SUN_HIDDEN_BEFORE: "it comes out again",
    StageKind.SUN_TOUCHES: "the disc is whole until then",
    StageKind.COLOUR_ENDS: "the best of the afterglow is over",
    StageKind.LAMP: "civil dusk: paths can no longer be seen",
}


def lens_held(frame: Frame) -> str:
    """Focal length, and how the camera is held."""
    return f"{frame.focal_mm:.0f} mm, {frame.sensor.orientation}"


def aim(frame: Frame) -> str:
    """Where the middle of the frame points."""
    return f"toward {frame.azimuth_deg:.1f}°, tilt {signed(frame.altitude_deg)}"


def sun_to_frame(sun: SunInFrame) -> str:
    """Where the sun is to the frame, and what that asks for."""
    return _SUN[sun.state] + (", bracket" if sun.expect_to_bracket else "")


def step_words(step: Step) -> str:
    """How to move to set a figure against something else."""
    if step.distance_m == 0.0:
        return f"hold the camera {step.spot.eye_m:g} m above the ground"
    return (
        f"go {step.distance_m:.0f} m toward {step.azimuth_deg:.0f} degrees, "
        f"{abs(step.rise_m):.0f} m {'up' if step.rise_m > 0.0 else 'down'}"
    )


def stage_words(plan: Plan, stage: Stage) -> str:
    """What happens at a stage but for its moment: ±, note, and frame."""
    doubt = "" if math.isnan(stage.uncertainty_s) else f" {plus_minus(stage.uncertainty_s)}"
    said = note(plan, stage)
    said = f"{stage.kind}{doubt}{': ' if said else ''}{said}"
    if stage.framing is None or stage.sun is None:
        return said
    frame = stage.framing.frame
    return f"{said}; frame {lens_held(frame)}, {aim(frame)}; {sun_to_frame(stage.sun)}"


def note(plan: Plan, stage: Stage) -> str:
    """What to do or to expect at a stage; empty where its name says it all."""
    walk = plan.walk
    match stage.kind:
        case StageKind.START_WALKING:
            return (
                f"{span_words(walk.there_s)}, {walk.length_m / 1000.0:.1f} km, "
                f"{walk.ascent_m:.0f} m up, {walk.off_path_m / 1000.0:.1f} km of it off paths"
            )
        case StageKind.IN_PLACE:
            return f"set up: {lens_held(plan.framing.frame)}"
        case StageKind.SUN_OVER_SUMMIT:
            return f"{plan.backlight.best.away_deg:.2f}° off it, the best moment"
        case StageKind.SUN_APPEARS | StageKind.SUN_GONE:
            return plan.backlight.reason
        case StageKind.WALK_BACK if plan.walk_back is not None:
            return _walk_back(plan.walk_back)
        case (
            StageKind.LIGHT_ON_MIST
            | StageKind.LIGHT_ON_FLOOR
            | StageKind.LIGHT_LEAVES_MIST
            | StageKind.LIGHT_LEAVES_FLOOR
        ) if plan.valley is not None:
            light = plan.valley
            first, last = hour_minute(light.first), hour_minute(light.last)
            line = f"{first} to {last} on the line to the hill"
            return line if light.seen else f"{line}, out of sight of the spot"
    return _NOTES.get(stage.kind, "")


def frame_over_summit(plan: Plan) -> Frame | None:
    """The frame with the sun over the summit, where that is another than with the rising sun."""
    over = plan.stage(StageKind.SUN_OVER_SUMMIT)
    if over is None or over.framing is None or over.framing.frame == plan.framing.frame:
        return None
    return over.framing.frame


def over_words(plan: Plan) -> str:
    """When the sun stands over the summit and how to frame it then, where that is another frame."""
    over, frame = plan.stage(StageKind.SUN_OVER_SUMMIT), frame_over_summit(plan)
    if over is None or frame is None:
        return ""
    when = hour_minute(over.at)
    return f"at {when}, with the sun over the summit, {lens_held(frame)}, {aim(frame)}"


def _walk_back(back: Walk) -> str:
    dark = f", {span_words(back.dark_s)} of it after civil dusk" if back.dark_s >= 60.0 else ""
    return f"the same way, {span_words(back.there_s)}{dark}"


def basis(stage: Stage) -> str:
    """What the moment of a stage without ± rests on; empty for one with it."""
    return _BASES[stage.basis]


def why_no_doubt(plan: Plan) -> str:
    """For every stage without ±, why; in one sentence, empty where all have it."""
    named: dict[str, list[str]] = {}
    for stage in plan.stages:
        if stage.basis is not None:
            named.setdefault(basis(stage), []).append(stage.kind)
    said = "; ".join(f"{_listed(names)}: {why}" for why, names in named.items())
    return f"Without ±: {said}." if said else ""


def doubts(plan: Plan) -> Iterator[tuple[str, ...]]:
    """What each ± of the timeline, and that beside the summit, is made of: its parts, and all."""
    for stage in plan.stages:
        if stage.doubt is not None:
            parts = vars(stage.doubt).values()
            yield stage.kind, *map(spell, parts), plus_minus(stage.uncertainty_s)
    offset = plan.offset_doubt
    parts = vars(offset).values()
    yield "beside the summit", *(f"{part:.2f}°" for part in parts), f"± {offset.total_deg:.2f}°"


def _listed(names: list[str]) -> str:
    *first, last = names
    return f"{', '.join(first)} and {last}" if first else last


def hidden_ground(plan: Plan) -> str:
    """What ground beyond the raster's edge would change; empty where none could."""
    contact = plan.backlight.contact
    if not (math.isfinite(contact.known_to_m) and math.isfinite(contact.beyond_height_m)):
        return ""
    known_km = f"{contact.known_to_m / 1000.0:.1f} km"
    would = "hide the sun sooner" if plan.evening else "delay this"
    return (
        f"Toward the sun the ground is known for {known_km}: hidden ground higher than "
        f"{whole(contact.beyond_height_m)} m beyond {known_km} would {would}."
    )


def fall_back_words(plan: Plan, other: FallBack) -> str:
    """What to do with the mist at another height, in one line."""
    still = "still works" if other.stays else "does not work"
    said = f"mist at {other.mist_top_m:.0f} m: the planned vantage {still}: {other.note}"
    if other.spot is None:
        return said
    does = "sun gone" if plan.evening else "sun appears"
    return (
        f"{said}; next best from the same start {in_place(other.spot)}: "
        f"{fall_back_times(plan, other)}; {fall_back_walk(other)}; "
        f"{does} at {fall_back_sun(plan, other)}"
    )


def fall_back_told(plan: Plan, other: FallBack) -> str:
    """The same for a reader at a terminal, who has time for sentences."""
    here = "stay" if other.stays else "do not count on this spot"
    said = f"Mist at {other.mist_top_m:.0f} m: {here}; {other.note}."
    if other.spot is None:
        return f"{said} No other place was found within reach of the same start."
    does = "is gone" if plan.evening else "appears"
    return (
        f"{said} Next best from the same start: {place(other.spot.lat_deg, other.spot.lon_deg)}: "
        f"{fall_back_times(plan, other)} (walk: {fall_back_walk(other)}); the sun {does} at "
        f"{fall_back_sun(plan, other)}."
    )


def fall_back_times(plan: Plan, other: FallBack) -> str:
    """When to leave for a fall-back; empty where it names no place.

    How much sooner or later than as planned, where that is a minute or more.
    """
    walk = other.walk
    if walk is None or walk.sets_out is None or walk.arrives is None:
        return ""
    home = "" if other.leaves is None else f"leave at {clock(other.leaves)}, "
    return (
        f"{home}start walking at {clock(walk.sets_out)}{_sooner(plan, other)}, "
        f"be in place at {clock(walk.arrives)}"
    )


def _sooner(plan: Plan, other: FallBack) -> str:
    if plan.walk.sets_out is None or other.walk is None or other.walk.sets_out is None:
        return ""
    sooner_s = plan.walk.sets_out.timestamp() - other.walk.sets_out.timestamp()
    if abs(sooner_s) < 60.0:
        return ""
    return f" ({span_words(abs(sooner_s))} {'sooner' if sooner_s > 0.0 else 'later'} than planned)"


def fall_back_walk(other: FallBack) -> str:
    """The walk to a fall-back; empty where it names no place."""
    walk = other.walk
    if walk is None:
        return ""
    dark = f", {span_words(walk.dark_s)} of it before civil dawn" if walk.dark_s >= 60.0 else ""
    said = f"{span_words(walk.there_s)}{dark}; {distance(walk.length_m)}, {walk.ascent_m:.0f} m up"
    return said if other.back is None else f"{said}; back {_walk_back(other.back)}"


def fall_back_sun(plan: Plan, other: FallBack) -> str:
    """When and where the sun appears at a fall-back, or goes; empty where it names no place."""
    if other.appears is None:
        return ""
    said = supported(other.appears, math.nan if other.doubt is None else other.doubt.total_s)
    if other.doubt is not None:
        said += f" {plus_minus(other.doubt.total_s)}"
    if math.isnan(other.offset_deg):
        return said
    widths = other.offset_deg / (2.0 * plan.backlight.contact.semidiameter_deg)
    doubt = "" if math.isnan(other.uncertainty_deg) else f" ± {other.uncertainty_deg:.2f}°"
    return f"{said}, {away(widths)} of the summit ({signed(other.offset_deg, 2)}{doubt})"


def day_of(plan: Plan) -> str:
    """The day of a plan, and that it is its evening."""
    return f"{'evening of ' if plan.evening else ''}{long_day(plan.day)}"


def sun_at(plan: Plan) -> str:
    """Which end of the day a plan is of."""
    return "sunset" if plan.evening else "sunrise"


def good_day(good: GoodDay) -> str:
    """A further good morning or evening in one line."""
    appears = supported(good.appears, good.uncertainty_s)
    return (
        f"{good.day:%a} {good.day.day} {good.day:%B %Y}: {appears} "
        f"{plus_minus(good.uncertainty_s)}, {away(good.offset_widths)}"
    )
