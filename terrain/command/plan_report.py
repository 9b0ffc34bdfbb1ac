"""What `terrain plan` prints: tables and lines for people, fields for JSON."""

from __future__ import annotations

import math
from operator import itemgetter
from typing import Any

import geopandas as gpd

import terrain
from terrain.command.report import line
from terrain.command.scenes_report import tell_scenes
from terrain.command.tables import Column, table
from terrain.plan.in_view import spells_of
from terrain.plan.stages import Stage
from terrain.plan.what_if import FallBack
from terrain.walk.walk import Walk
from terrain.words import plan as words
from terrain.words.answer import spell_records
from terrain.words.cautions import cautions
from terrain.words.clocks import clock, clock_and_zone, plus_minus, zone_in_hours
from terrain.words.figures import place, signed
from terrain.words.moments import pose_words, spells_line
from terrain.words.records import picked, rows_of

_MOST_DAYS = 12

_FRAMES = (
    Column("stage", lambda stage: stage.kind),
    Column("lens", lambda stage: words.lens_held(stage.framing.frame), left=True),
    Column("toward", lambda stage: f"{stage.framing.frame.azimuth_deg:.1f}°"),
    Column("tilt", lambda stage: signed(stage.framing.frame.altitude_deg)),
    Column("the sun", lambda stage: words.sun_to_frame(stage.sun), left=True),
    Column("to the hill", lambda stage: pose_words(stage.sun), left=True),
)
_PARTS = ("", "raster", "position", "refraction", "hidden ground", "together")
_DOUBTS = tuple(
    Column(heading, itemgetter(at))
    for at, heading in enumerate(
        ("", "raster", "position", "refraction", "hidden ground", "together")
    )
)


def tell_plan(answer: terrain.Plan, small: gpd.GeoDataFrame, further: str) -> None:
    """Print a plan for a person, with the small scenes in view.

    further: the command line that lists all good days from there.
    """
    where = answer.spot.name or place(answer.spot.lat_deg, answer.spot.lon_deg)
    stages = (
        Column("time", _when),
        Column(
            "",
            lambda stage: (
                "" if math.isnan(stage.uncertainty_s) else plus_minus(stage.uncertainty_s)
            ),
        ),
        Column("stage", lambda stage: stage.kind, left=True),
        Column("note", lambda stage: words.note(answer, stage), left=True),
    )
    table(f"{answer.hill.label}, {words.day_of(answer)}, from {where}", stages, answer.stages)
    framed = [stage for stage in answer.stages if stage.framing is not None]
    table("What to frame", _FRAMES, framed)
    if told := spells_line(spells_of(answer), answer.hill.label):
        line(told, "")
    tell_scenes(small)
    table("How sure", _DOUBTS, words.doubts(answer))
    line(words.why_no_doubt(answer))
    if unknown := words.hidden_ground(answer):
        line(unknown)
    line("")
    for other in answer.fall_backs:
        line(words.fall_back_told(answer, other))
    if answer.fall_backs:
        line("")
    if answer.other_days:
        part = "evenings" if answer.evening else "mornings"
        line(f"Other good {part} from here, best first:")
        for good in answer.other_days[:_MOST_DAYS]:
            line(f"  {words.good_day(good)} of the summit")
        more = len(answer.other_days) - _MOST_DAYS
        if more > 0:
            line(f"  and {more} more; all of a year:", further)
        line("")
    line(*(f"- {caution}" for caution in cautions(answer)))


def _when(stage: Stage) -> str:
    """To the minute where there is no ±: what is counted back by a pace is good to no second."""
    if math.isnan(stage.uncertainty_s):
        return f"{clock(stage.at)} ({zone_in_hours(stage.at)})"
    return clock_and_zone(stage.at, stage.uncertainty_s)


def plan_fields(answer: terrain.Plan, small: gpd.GeoDataFrame) -> dict[str, Any]:
    """A plan for scripts, with the small scenes in view."""
    behind, contact, framing = answer.backlight, answer.backlight.contact, answer.framing
    walk, back = answer.walk, answer.walk_back
    return {
        "date": answer.day,
        **picked(answer, "hill", "spot", "start", "mist_top_m"),
        "reason": behind.reason,
        "offset": {
            **picked(behind, "offset_deg", "offset_widths", "uncertainty_deg"),
            "doubt": answer.offset_doubt,
        },
        "hidden_ground": {
            "known_to_m": contact.known_to_m,
            "height_m": contact.beyond_height_m,
            "words": words.hidden_ground(answer),
        },
        "stages": [_stage_fields(answer, stage) for stage in answer.stages],
        "walk": _walk_fields(walk),
        **({"evening": True, "walk_back": _walk_fields(back)} if back is not None else {}),
        "frame": {**aim_fields(framing), **picked(framing, "hill_share", "sun_mm", "sun_px")},
        "fall_backs": [_fall_back_fields(other) for other in answer.fall_backs],
        **picked(answer, "other_days", "cold"),
        "spells": spell_records(spells_of(answer)),
        "small_scenes": rows_of(small),
        "cautions": cautions(answer),
    }


def _walk_fields(walk: Walk) -> dict[str, Any]:
    return {
        **picked(walk, "there_s", "back_s", "dark_s", "length_m", "ascent_m", "descent_m"),
        "off_path_m": walk.off_path_m,
        "steepest_deg": walk.steepest.slope_deg,
        "steepest_ground_deg": walk.steepest_ground.ground_deg,
    }


def aim_fields(framing: terrain.Framing) -> dict[str, Any]:
    """Where a frame points, with which lens, and how it is held."""
    aim = picked(framing.frame, "azimuth_deg", "altitude_deg", "focal_mm")
    return {**aim, "held": framing.orientation}


def _stage_fields(answer: terrain.Plan, stage: Stage) -> dict[str, Any]:
    return {
        "name": stage.kind,
        **picked(stage, "at", "uncertainty_s", "doubt"),
        "note": words.note(answer, stage),
        "basis": words.basis(stage),
        "framing": _framed(stage),
    }


def _framed(stage: Stage) -> dict[str, Any] | None:
    framing, sun = stage.framing, stage.sun
    if framing is None or sun is None:
        return None
    seen = {"sun": sun.state, **picked(sun, "pose", "shade", "expect_to_bracket")}
    return {**aim_fields(framing), "takes_all": framing.takes_all, **seen}


def _fall_back_fields(other: FallBack) -> dict[str, Any]:
    walk = other.walk
    return {
        **picked(other, "mist_top_m", "stays", "note", "spot", "appears", "doubt", "offset_deg"),
        **picked(other, "uncertainty_deg", "leaves"),
        "sets_out": None if walk is None else walk.sets_out,
        "walk_s": None if walk is None else walk.there_s,
        "dark_s": None if walk is None else walk.dark_s,
    }
