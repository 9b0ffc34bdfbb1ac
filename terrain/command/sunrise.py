"""`terrain sunrise`: when and where the sun meets the skyline of a spot, and is it the hill's."""

from __future__ import annotations

import datetime as dt
import math
from typing import Any

import terrain
from terrain.command.area import hill_on, stand_on
from terrain.command.kit_asked import KitOptions
from terrain.command.mist_asked import MistOptions, trees_of
from terrain.command.options import (
    MOVING,
    PICTURE,
    Asked,
    Day,
    Evening,
    HillPlace,
    Names,
    SpotPlace,
    Trees,
)
from terrain.command.photograph import PhotographOptions
from terrain.command.report import line, pairs, progress
from terrain.command.room import ONE_SPOT
from terrain.words.records import picked, rows_of


def sunrise(
    *,
    spot: SpotPlace,
    hill: HillPlace = None,
    date: Day = None,
    evening: Evening = False,
    mist: MistOptions,
    trees: Trees = "5:15",
    kit: KitOptions,
    photograph: PhotographOptions,
    names: Names = None,
    asked: Asked,
) -> None:
    """Check one vantage, hill and morning: is the sun's first appearance behind the hill?

    With --evening, whether the last of the sun goes down behind it.

    Saves what a camera there will see (.png, .svg, .pdf): before the colour, at the moment, and ten
    minutes on; or the light over the minutes (.webp, .gif). Of the lenses given it takes the one
    that suits.
    """
    from terrain.command.scenes_report import spells_fields, tell_scenes
    from terrain.mist.islands import strait_between
    from terrain.view.states import best_pose
    from terrain.words.moments import spells_line, verdict
    from terrain.words.picture import picture_rows
    from terrain.words.spot import moved
    from terrain.words.sunrise import sunrise_rows, warnings

    asked.check_saves(PICTURE, MOVING)
    area = asked.area(names, ONE_SPOT)
    given, place, over = area.spot(spot), area.hill_place(hill), mist.over(area)
    day, bag, trees_m = area.day(date, given, evening=evening), kit.over(area), trees_of(trees)
    with progress(f"watching the sun {'set' if evening else 'rise'}", quiet=asked.as_json) as done:
        country = over.laid_on(area.country_under_sky(given, only_there=True))
        camera = stand_on(country, area, given)
        done(0.3)
        scene = terrain.Scene(country, hill_on(country, place))
        done(0.7)
        answer = terrain.backlight(scene, terrain.look(scene, camera), day, evening=evening)
        light, then = (
            terrain.twilight(each, lon_deg=camera.lon_deg, lat_deg=camera.lat_deg)
            for each in (day, day + dt.timedelta(days=1))
        )
        strait_m = math.nan
        if scene.mist is not None:
            strait_m = strait_between(scene.dem, scene.mist, camera, scene.hill)
        spells = terrain.sun_spells(scene, answer.view, answer.sun_path)
        shown = terrain.hill_shown(scene, camera)
        seen = terrain.picture(scene, answer.view)
        small = terrain.small_scenes(
            country, camera, kit=bag, trees_m=trees_m, toward_deg=answer.view.azimuth_deg
        )

    def tell() -> None:
        line(verdict(answer), *([said] if (said := spells_line(spells, scene.hill.label)) else []))
        rows = sunrise_rows(answer, day, light, shown.height_m, strait_m, then=then)
        pairs(f"The {'evening' if evening else 'morning'}", rows)
        pairs("The picture, to 8° about the summit", picture_rows(answer.view, seen))
        tell_scenes(small)
        line(*moved(given, camera), *warnings(answer))

    asked.answer(
        fields=lambda: {
            "date": day,
            **_fields(answer),
            "best": {**answer.best._asdict(), "pose": best_pose(scene, answer)},
            "spells": spells_fields(spells),
            "light": dict(light.events()),
            "picture": {**picked(answer.view, *_BACKDROP), **vars(seen)},
            "strait_m": strait_m,
            "shown_m": shown.height_m,
            "shown_share": shown.share,
            "small_scenes": rows_of(small),
        },
        tell=tell,
        others=photograph.writers(
            scene, answer, bag, lambda: country.summits(names=area.summits), small
        ),
    )


_SUMMIT = (
    *("azimuth_deg", "altitude_deg", "distance_m"),
    *("visible", "on_skyline", "known_between"),
)
_BACKDROP = ("backdrop", "backdrop_distance_m", "behind", "under_skyline_deg")


def _fields(answer: terrain.Backlight) -> dict[str, Any]:
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


def _contact_fields(contact: terrain.Contact) -> dict[str, Any]:
    return {key: value for key, value in vars(contact).items() if key != "later"}
