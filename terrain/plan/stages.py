"""The timeline of a morning: what happens when, how sure that is, and how to frame it."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

from terrain.errors import TerrainError
from terrain.light.colour import colour_begins
from terrain.plan.doubts import TimeDoubt, when_clear, when_it_appears
from terrain.plan.frames import Aims, StageFrame, frame_at
from terrain.plan.valley_light import ValleyLight
from terrain.sun.clock import shifted, span_words
from terrain.sun.twilight import Twilight
from terrain.view.backlight import Backlight
from terrain.view.contact import Contact
from terrain.view.scene import Scene
from terrain.walk.walk import Walk

__all__ = ["Stage", "timeline", "why_no_doubt"]

BY_CHOICE: Final = "counted back from the colour, by the pace and by choice"
BY_RULE: Final = "a rule of the trade"
BY_SUN: Final = "from the sun alone, good to a second"


@dataclass(frozen=True, kw_only=True)
class Stage:
    """One line of the timeline.

    name: in words; at: aware datetime in the place's zone; plus_minus_s: one standard deviation,
    its parts in `doubt`; NaN and None where there is none, for a reason that `basis` gives. note:
    what to do or to expect. framing: None before one stands in place.
    """

    name: str
    at: dt.datetime
    plus_minus_s: float = math.nan
    note: str = ""
    doubt: TimeDoubt | None = None
    basis: str = ""
    framing: StageFrame | None = None


def timeline(
    scene: Scene,
    answer: Backlight,
    light: Twilight,
    walk: Walk,
    *,
    aims: Aims,
    valley: ValleyLight | None = None,
    drive: dt.timedelta | None = None,
) -> tuple[Stage, ...]:
    """The stages of a morning in the order of time, each with its frame from the colour on.

    walk: timed, TerrainError for one that is not. aims: the framings to choose from. valley: the
    light between the spot and the hill. drive: how long it takes to the start.
    """
    contact, rising = answer.contact, aims.rising
    held = f"{rising.frame.focal_mm:.0f} mm, {rising.orientation}"
    in_place = [
        *_sky_stages(light, contact),
        *_sun_stages(answer),
        *([] if valley is None else [_valley_stage(valley)]),
    ]
    found = [
        *_on_the_way(walk, drive, held),
        *_dawn(light),
        *(
            replace(stage, framing=frame_at(scene, answer, aims, stage.at, event=stage.name))
            for stage in in_place
        ),
    ]
    # by the moment itself: clocks that are put back show an hour twice
    return tuple(sorted(found, key=lambda stage: stage.at.timestamp()))


def why_no_doubt(stages: Sequence[Stage]) -> str:
    """For every stage without ±, why; in one sentence, empty where all have it."""
    named: dict[str, list[str]] = {}
    for stage in stages:
        if stage.basis:
            named.setdefault(stage.basis, []).append(stage.name)
    said = "; ".join(f"{_listed(names)}: {basis}" for basis, names in named.items())
    return f"Without ±: {said}." if said else ""


def _listed(names: Sequence[str]) -> str:
    *first, last = names
    return f"{', '.join(first)} and {last}" if first else last


def _on_the_way(walk: Walk, drive: dt.timedelta | None, held: str) -> Iterator[Stage]:
    if walk.sets_out is None or walk.arrives is None:
        raise TerrainError("a plan needs a walk that is timed: give it the moment to arrive")
    if drive is not None:
        leaves = shifted(walk.sets_out, -drive)
        yield Stage(name="leave", at=leaves, note="drive to the start", basis=BY_CHOICE)
    note = (
        f"{span_words(walk.there_s)}, {walk.length_m / 1000.0:.1f} km, "
        f"{walk.ascent_m:.0f} m up, {walk.off_path_m / 1000.0:.1f} km of it off paths"
    )
    yield Stage(name="start walking", at=walk.sets_out, note=note, basis=BY_CHOICE)
    yield Stage(name="be in place", at=walk.arrives, note=f"set up: {held}", basis=BY_CHOICE)


def _dawn(light: Twilight) -> Iterator[Stage]:
    if light.civil_dawn is not None:
        note = "civil dawn: paths can be seen"
        yield Stage(name="no lamp needed", at=light.civil_dawn, note=note, basis=BY_SUN)


def _sun_stages(answer: Backlight) -> Iterator[Stage]:
    contact = answer.contact
    yield Stage(
        name="sun appears",
        at=contact.appears,
        plus_minus_s=contact.uncertainty_s,
        doubt=when_it_appears(contact),
        note=answer.reason,
    )
    if contact.clears is not None:
        doubt = when_clear(contact)
        yield Stage(
            name="sun clear",
            at=contact.clears,
            plus_minus_s=contact.clears_uncertainty_s,
            doubt=doubt,
            basis="" if doubt else "the ground under it is unknown",
            note="all of the disc is free of the ground",
        )
    for again in contact.later:
        yield Stage(
            name="sun appears again",
            at=again.appears,
            plus_minus_s=again.uncertainty_s,
            doubt=when_it_appears(again),
        )


def _sky_stages(light: Twilight, contact: Contact) -> Iterator[Stage]:
    note = "the sky colours before the sun is up"
    colour = colour_begins(light, contact.appears)
    yield Stage(name="colour begins", at=colour, note=note, basis=BY_RULE)
    over = light.morning_golden_ends
    if over is not None and over.timestamp() > contact.appears.timestamp():
        yield Stage(name="warm light over", at=over, note="the sun stands 6° high", basis=BY_SUN)


def _valley_stage(valley: ValleyLight) -> Stage:
    note = f"{valley.first:%H:%M} to {valley.last:%H:%M} on the line to the hill"
    return Stage(
        name="light on the mist" if valley.on_mist else "light on the valley floor",
        at=valley.contact.appears,
        plus_minus_s=valley.contact.uncertainty_s,
        doubt=when_it_appears(valley.contact),
        note=note if valley.seen else f"{note}, out of sight of the spot",
    )
