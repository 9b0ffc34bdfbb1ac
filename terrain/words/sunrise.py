"""What is said of the sun's appearance at one spot, or its going: moments, places, doubts."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator
from typing import Final

from terrain.sun.twilight import Twilight
from terrain.view.backlight import Backlight
from terrain.view.contact import Contact
from terrain.view.passage import Nearest
from terrain.words.clocks import clock_and_zone, long_day, moment_plus_minus, spell
from terrain.words.figures import beside, signed, whole

_Row = tuple[dt.datetime | None, str, str]

_HALF_A_DAY: Final = dt.timedelta(hours=12)
_DUSKS: Final = {
    "sunset": "sunset over a level sea",
    "civil_dusk": "a lamp is needed after (civil dusk)",
    "nautical_dusk": "last shapes (nautical dusk)",
    "astronomical_dusk": "last grey (astronomical dusk)",
}


def sunrise_rows(
    answer: Backlight,
    day: dt.date,
    light: Twilight,
    shown_m: float,
    strait_m: float,
    *,
    then: Twilight | None = None,
) -> Iterator[tuple[str, str]]:
    """What there is to say of one morning or evening at a spot, each thing and what it is.

    light: of a level sea. shown_m: how much of the hill shows. strait_m: width of the mist
    between the island of the spot and that of the hill, NaN without. then: the light of the next
    day, for an evening whose dusk comes after midnight.
    """
    contact, view = answer.contact, answer.view
    yield "date", long_day(day)
    yield from _evening_rows(answer, light, then) if contact.evening else _dawn_rows(answer, light)
    yield "at azimuth, altitude", f"{contact.azimuth_deg:.2f}°, {signed(contact.altitude_deg, 2)}"
    yield "over ground", f"{contact.distance_m / 1000:.2f} km away"
    yield "from the summit", f"{beside(answer.offset_deg)} ± {answer.uncertainty_deg:.2f}°"
    yield "in sun widths", f"{abs(answer.offset_widths):.1f}"
    yield "summit", f"{view.azimuth_deg:.2f}°, {view.distance_m / 1000:.2f} km away"
    yield "of the hill show", f"the upper {shown_m:.0f} m"
    if view.freeboard_m == view.freeboard_m:
        yield "spot above the mist", f"{view.freeboard_m:.0f} m"
    if strait_m == strait_m:
        strait = f"{strait_m:.0f} m" if strait_m < 1000.0 else f"{strait_m / 1000.0:.2f} km"
        yield "mist between its island and the hill's", f"{strait} wide"


def _dawn_rows(answer: Backlight, light: Twilight) -> Iterator[tuple[str, str]]:
    contact = answer.contact
    yield "first grey (astronomical dawn)", clock_and_zone(light.astronomical_dawn)
    yield "shapes (nautical dawn)", clock_and_zone(light.nautical_dawn)
    yield "paths without a lamp (civil dawn)", clock_and_zone(light.civil_dawn)
    yield "sunrise over a level sea", clock_and_zone(light.sunrise)
    yield "sun appears", moment_plus_minus(contact.appears, contact.uncertainty_s)
    yield "sun clear of the ground", _clear(contact)
    for _, what, said in sorted(_passage(answer, "and appears again", "hidden again")):
        yield what, said


def _evening_rows(
    answer: Backlight, light: Twilight, then: Twilight | None
) -> Iterator[tuple[str, str]]:
    """All moments in the order of the clock, and after them those that there are not."""
    contact = answer.contact
    rows: list[_Row] = [
        (contact.clears, "sun touches the ground", _clear(contact)),
        (contact.appears, "sun gone", moment_plus_minus(contact.appears, contact.uncertainty_s)),
        *_passage(answer, "hidden for a while", "comes out again"),
    ]
    for name, what in _DUSKS.items():
        events = (getattr(day, name) for day in (light, then) if day is not None)
        moment = next((at for at in events if at and abs(at - contact.appears) < _HALF_A_DAY), None)
        rows.append((moment, what, clock_and_zone(moment)))
    for _, what, said in sorted(rows, key=lambda row: row[0].timestamp() if row[0] else math.inf):
        yield what, said


def _passage(answer: Backlight, later: str, between: str) -> Iterator[tuple[dt.datetime, str, str]]:
    """When the ground hides the sun and shows it again, and when it is nearest to the summit.

    later: what the further appearances are. between: what the other ends of the showings are, each
    with how long it shows, or has shown. All hang on the same ground as the sun's appearance, and
    are told as exactly.
    """
    evening, doubt_s = answer.contact.evening, answer.contact.uncertainty_s
    for again in answer.contact.later:
        yield again.appears, later, clock_and_zone(again.appears, again.uncertainty_s)
    for number, showing in enumerate(answer.passage[:: -1 if evening else 1]):
        edge = showing.start if evening else showing.end
        if edge is not None:
            which = ("last " if evening else "first ") if number == 0 else ""
            flash = f"a {which}flash of" if showing.is_flash else "for" if evening else "after"
            at = clock_and_zone(edge, doubt_s)
            yield edge, between, f"{at}, {flash} {spell(showing.seconds)}"
        for each in showing.nearest:
            near = f"{each.apart_deg:.2f}° {_in_widths(each)}"
            yield each.at, "nearest to the summit", f"{clock_and_zone(each.at, doubt_s)}, {near}"


def _in_widths(nearest: Nearest) -> str:
    return f"from its centre, {nearest.apart_widths:.1f} sun widths"


def warnings(answer: Backlight) -> Iterator[str]:
    """What may be otherwise, and what is dangerous: a line each."""
    contact = answer.contact
    if not answer.view.known_between:
        yield (
            f"Some of the ground on the way to {answer.hill.label} is not known: what stands there "
            "may hide it."
        )
    would = "hide the sun sooner" if contact.evening else "delay the sun"
    yield (
        f"The ground is known for {contact.known_to_m / 1000:.0f} km that way; beyond, ground "
        f"higher than {whole(contact.beyond_height_m)} m would {would}."
    )
    if contact.evening:
        yield "The walk back is in the dark: carry a lamp, and know the way by day."
    yield "Never look at the sun through a lens or a viewfinder."


def _clear(contact: Contact) -> str:
    if contact.clears_doubt is None:
        return clock_and_zone(contact.clears)
    return moment_plus_minus(contact.clears, contact.clears_uncertainty_s)
