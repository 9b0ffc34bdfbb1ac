"""What is said of one spot, one hill and one morning or evening, and its record for scripts."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from terrain.frame.answer import SpotAnswer
from terrain.ground.places import Spot
from terrain.view.backlight import Backlight
from terrain.view.contact import Contact
from terrain.view.states import SunSpell
from terrain.words.figures import eighth
from terrain.words.moments import spells_line, verdict
from terrain.words.picture import picture_rows
from terrain.words.records import picked, rows_of
from terrain.words.scenes import scene_lens, scene_name, scene_wide
from terrain.words.spot import moved
from terrain.words.sunrise import sunrise_rows, warnings

_SUMMIT: Final = (
    *("azimuth_deg", "altitude_deg", "distance_m"),
    *("visible", "on_skyline", "known_between"),
)
_BACKDROP: Final = ("backdrop", "backdrop_distance_m", "behind", "under_skyline_deg")


@dataclass(frozen=True, kw_only=True)
class Said:
    """An answer in words: the verdict and more of it, two tables of things and what they are, the
    small scenes in view, and notes."""

    verdict: list[str]
    title: str
    rows: list[tuple[str, str]]
    picture_title: str
    picture: list[tuple[str, str]]
    scenes: list[str]
    notes: list[str]

    @property
    def lines(self) -> Iterator[str]:
        """All of it, a line each."""
        yield from self.verdict
        for rows in (self.rows, self.picture):
            for what, said in rows:
                yield f"{what}: {said}"
        yield from (*self.scenes, *self.notes)


def said_of(found: SpotAnswer, given: Spot) -> Said:
    """An answer in words. given: the place that was asked about."""
    answer, camera = found.backlight, found.backlight.view.spot
    rows = sunrise_rows(
        answer, found.day, found.light, found.shown.height_m, found.strait_m, then=found.then
    )
    spells = spells_line(found.spells, answer.hill.label)
    return Said(
        verdict=[line for line in (verdict(answer), spells) if line],
        title=f"The {'evening' if answer.contact.evening else 'morning'}",
        rows=list(rows),
        picture_title="The picture, to 8° about the summit",
        picture=list(picture_rows(answer.view, found.picture)),
        scenes=[] if found.scenes is None else [_scene(row) for row in rows_of(found.scenes)],
        notes=[*moved(given, camera), *warnings(answer)],
    )


def record_of(found: SpotAnswer) -> dict[str, Any]:
    """An answer as a record."""
    view = found.backlight.view
    return {
        "date": found.day,
        **_fields(found.backlight),
        "best": {**found.backlight.best._asdict(), "pose": found.pose},
        "spells": spell_records(found.spells),
        "light": dict(found.light.events()),
        "picture": {**picked(view, *_BACKDROP), **vars(found.picture)},
        "strait_m": found.strait_m,
        "shown_m": found.shown.height_m,
        "shown_share": found.shown.share,
        **({} if found.scenes is None else {"small_scenes": rows_of(found.scenes)}),
    }


def spell_records(spells: Sequence[SunSpell]) -> list[dict[str, Any]]:
    """The times at which the sun stands in one way to a hill, as records."""
    return [
        {
            **picked(one, "state", "start", "end"),
            "nearest": picked(one.nearest, "at", "aside_deg", "above_deg"),
        }
        for one in spells
    ]


def _scene(row: Mapping[str, Any]) -> str:
    """A small scene in a line."""
    toward = f"{row['azimuth_deg']:.0f}° ({eighth(row['azimuth_deg'])})"
    away = f"{row['distance_m'] / 1000.0:.1f} km"
    name, lens = scene_name(row), scene_lens(row)
    return f"In the mist: {name} toward {toward}, {away} away, {scene_wide(row)} wide; {lens}"


def _fields(answer: Backlight) -> dict[str, Any]:
    view, contact = answer.view, answer.contact
    sides = picked(answer, "behind", "reason", "offset_deg", "offset_widths", "uncertainty_deg")
    lies = picked(view, *_SUMMIT)
    return {
        "hill": answer.hill,
        **sides,
        "contact": _contact_fields(contact),
        "later": [_contact_fields(again) for again in contact.later],
        "passage": [{**vars(each), **picked(each, "is_flash")} for each in answer.passage],
        "nearest": answer.nearest,
        "summit": lies,
        "spot": {
            **picked(view.spot, "lon_deg", "lat_deg"),
            "height_m": view.spot_height_m,
            **picked(view, "slope_deg", "freeboard_m"),
        },
    }


def _contact_fields(contact: Contact) -> dict[str, Any]:
    return {key: value for key, value in vars(contact).items() if key != "later"}
