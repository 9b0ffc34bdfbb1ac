"""What is said of the sun's appearance at one spot: the moments, the places, the doubts."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from terrain.sun.twilight import Twilight
from terrain.view.backlight import Backlight
from terrain.view.contact import Contact
from terrain.view.passage import Nearest
from terrain.words.clocks import clock_and_zone, moment_plus_minus, spell
from terrain.words.figures import beside


def sunrise_rows(
    answer: Backlight,
    day: dt.date,
    light: Twilight,
    shown_m: float,
    strait_m: float,
) -> Iterator[tuple[str, str]]:
    """What there is to say of one morning at a spot, each thing and what it is.

    light: of a level sea. shown_m: how much of the hill shows. strait_m: width of the mist
    between the island of the spot and that of the hill, NaN without.
    """
    contact, view = answer.contact, answer.view
    yield "date", f"{day:%A %d %B %Y}"
    yield "first grey (astronomical dawn)", clock_and_zone(light.astronomical_dawn)
    yield "shapes (nautical dawn)", clock_and_zone(light.nautical_dawn)
    yield "paths without a lamp (civil dawn)", clock_and_zone(light.civil_dawn)
    yield "sunrise over a level sea", clock_and_zone(light.sunrise)
    yield "sun appears", moment_plus_minus(contact.appears, contact.uncertainty_s)
    yield "sun clear of the ground", _clear(contact)
    yield from _passage_rows(answer)
    yield "at azimuth, altitude", f"{contact.azimuth_deg:.2f}°, {contact.altitude_deg:.2f}°"
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


def _passage_rows(answer: Backlight) -> Iterator[tuple[str, str]]:
    """When the ground hides the sun again, when it comes back, and when it is nearest."""
    rows = [(again.appears, "and appears again", "") for again in answer.contact.later]
    for number, showing in enumerate(answer.passage):
        if showing.end is not None:
            flash = f"a {'first ' if number == 0 else ''}flash of" if showing.is_flash else "after"
            rows.append((showing.end, "hidden again", f", {flash} {spell(showing.seconds)}"))
        rows += [
            (each.at, "nearest to the summit", f", {each.apart_deg:.2f}° {_in_widths(each)}")
            for each in showing.nearest
        ]
    for moment, what, more in sorted(rows):
        yield what, f"{clock_and_zone(moment)}{more}"


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
    yield (
        f"The ground is known for {contact.known_to_m / 1000:.0f} km that way; beyond, ground "
        f"higher than {contact.beyond_height_m:.0f} m would delay the sun."
    )
    yield "Never look at the sun through a lens or a viewfinder."


def _clear(contact: Contact) -> str:
    if contact.clears_doubt is None:
        return clock_and_zone(contact.clears)
    return moment_plus_minus(contact.clears, contact.clears_uncertainty_s)
