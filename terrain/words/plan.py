"""The parts of a plan in words, the same on the screen, on the sheet and in files."""

from __future__ import annotations

import math

from terrain.frame.lens import Frame
from terrain.frame.shade import SunInFrame
from terrain.plan.fall_back import FallBack
from terrain.plan.good_days import GoodDay
from terrain.plan.morning import Plan, Stage
from terrain.sun.clock import span_words
from terrain.words.figures import (
    away,
    clock,
    distance,
    exact,
    in_place,
    plus_minus,
    signed,
)

__all__ = [
    "aim",
    "fall_back_sun",
    "fall_back_times",
    "fall_back_told",
    "fall_back_walk",
    "fall_back_words",
    "good_day",
    "lens_held",
    "stage_words",
    "sun_to_frame",
]

_SUN = {
    "hidden": "sun hidden",
    "in frame": "sun in frame",
    "just out": "sun just out",
    "out": "sun far out",
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


def stage_words(stage: Stage) -> str:
    """What happens at a stage but for its moment: ±, note, and frame."""
    doubt = "" if math.isnan(stage.plus_minus_s) else f" {plus_minus(stage.plus_minus_s)}"
    note = f": {stage.note}" if stage.note else ""
    if stage.framing is None:
        return f"{stage.name}{doubt}{note}"
    frame = stage.framing.frame
    return (
        f"{stage.name}{doubt}{note}; frame {lens_held(frame)}, {aim(frame)}; "
        f"{sun_to_frame(stage.framing.sun)}"
    )


def fall_back_words(plan: Plan, other: FallBack) -> str:
    """What to do with the mist at another height, in one line."""
    still = "still works" if other.stays else "does not work"
    said = f"mist at {other.mist_top_m:.0f} m: the planned vantage {still}: {other.note}"
    if other.spot is None:
        return said
    return (
        f"{said}; next best from the same start {in_place(other.spot)}: "
        f"{fall_back_times(plan, other)}; {fall_back_walk(other)}; "
        f"sun appears at {fall_back_sun(plan, other)}"
    )


def fall_back_told(plan: Plan, other: FallBack) -> str:
    """The same for a reader at a terminal, who has time for sentences."""
    here = "stay" if other.stays else "do not count on this spot"
    said = f"Mist at {other.mist_top_m:.0f} m: {here}; {other.note}."
    if other.spot is None:
        return f"{said} No other place was found within reach of the same start."
    return (
        f"{said} Next best from the same start: {other.spot.lat_deg:.4f}, "
        f"{other.spot.lon_deg:.4f}: {fall_back_times(plan, other)} (walk: "
        f"{fall_back_walk(other)}); the sun appears at {fall_back_sun(plan, other)}."
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


def fall_back_walk(other: FallBack) -> str:
    """The walk to a fall-back; empty where it names no place."""
    walk = other.walk
    if walk is None:
        return ""
    dark = f", {span_words(walk.dark_s)} of it before civil dawn" if walk.dark_s >= 60.0 else ""
    return f"{span_words(walk.there_s)}{dark}; {distance(walk.length_m)}, {walk.ascent_m:.0f} m up"


def _sooner(plan: Plan, other: FallBack) -> str:
    if plan.walk.sets_out is None or other.walk is None or other.walk.sets_out is None:
        return ""
    sooner_s = plan.walk.sets_out.timestamp() - other.walk.sets_out.timestamp()
    if abs(sooner_s) < 60.0:
        return ""
    return f" ({span_words(abs(sooner_s))} {'sooner' if sooner_s > 0.0 else 'later'} than planned)"


def fall_back_sun(plan: Plan, other: FallBack) -> str:
    """When and where the sun appears at a fall-back; empty where it names no place."""
    if other.appears is None:
        return ""
    said = exact(other.appears)
    if other.doubt is not None:
        said += f" {plus_minus(other.doubt.total_s)}"
    if math.isnan(other.offset_deg):
        return said
    widths = other.offset_deg / (2.0 * plan.backlight.contact.semidiameter_deg)
    doubt = "" if math.isnan(other.uncertainty_deg) else f" ± {other.uncertainty_deg:.2f}°"
    return f"{said}, {away(widths)} of the summit ({signed(other.offset_deg, 2)}{doubt})"


def good_day(good: GoodDay) -> str:
    """A further good morning in one line."""
    return (
        f"{good.day:%a} {good.day.day} {good.day:%B %Y}: {exact(good.appears)} "
        f"{plus_minus(good.plus_minus_s)}, {away(good.offset_widths)}"
    )
