"""`terrain sunrise`: when and where the sun breaks the skyline of a spot, and is it the hill's."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from terrain.command.options import (
    Crs,
    Day,
    HillPlace,
    Json,
    MistCeiling,
    MistDepth,
    MistTop,
    Names,
    Rasters,
    Reach,
    Save,
    SpotPlace,
    Unit,
)

if TYPE_CHECKING:
    import datetime as dt

    from terrain.ground.places import Spot
    from terrain.sun.twilight import Twilight
    from terrain.view.backlight import Backlight
    from terrain.view.contact import Contact
    from terrain.view.scene import Scene
    from terrain.view.shown import Shown

__all__ = ["sunrise"]


def sunrise(
    ground: Rasters,
    spot: SpotPlace,
    hill: HillPlace = None,
    date: Day = None,
    mist_top: MistTop = None,
    mist_depth: MistDepth = None,
    mist_ceiling: MistCeiling = None,
    names: Names = None,
    crs: Crs = None,
    unit: Unit = None,
    reach: Reach = None,
    save: Save = None,
    as_json: Json = False,
) -> None:
    """Check one vantage, hill and morning: is the sun's first appearance behind the hill?

    Saves the view from the spot (.png, .svg, .pdf).
    """
    from terrain.command.load import (
        area_of,
        check_mist,
        day_of,
        ground_of,
        hill_of,
        hill_place,
        mist_of,
    )
    from terrain.command.load import spot_of as camera_of
    from terrain.command.report import print_json, progress
    from terrain.command.save import PICTURE, check_saves, save_as
    from terrain.country import Country
    from terrain.sun.twilight import twilight
    from terrain.view.backlight import backlight
    from terrain.view.scene import Scene, look
    from terrain.view.shown import hill_shown

    files = check_saves(save, PICTURE)
    check_mist(mist_top, mist_depth, mist_ceiling)
    area = area_of(ground, crs=crs, unit=unit, names=names)
    day = day_of(area, date)
    camera = camera_of(area, spot)
    target = hill_place(area, hill)
    with progress("watching the sun rise", quiet=as_json) as done:
        dem = ground_of(area, around=area.place(spot), reach_km=reach)
        done(0.3)
        sea = mist_of(area, dem, mist_top, depth_m=mist_depth, ceiling_m=mist_ceiling)
        scene = Scene(Country(dem, mist=sea), hill_of(dem, target))
        done(0.7)
        answer = backlight(scene, look(scene, camera), day)
        light = twilight(day, lon_deg=camera.lon_deg, lat_deg=camera.lat_deg)
        strait_m, shown = _strait_m(scene, camera), hill_shown(scene, camera)
    if as_json:
        fields = {"strait_m": strait_m, "shown_m": shown.height_m, "shown_share": shown.share}
        print_json({**_fields(answer, day, light), **fields})
    else:
        _tell(answer, day, light, strait_m, shown)
    if not files:
        return
    from terrain.ground.relief.summits import find_summits
    from terrain.show.files.export import save_picture
    from terrain.show.view.panorama import view_figure

    summits = find_summits(dem, names=area.summits)
    figure = view_figure(scene, answer, summits=summits)
    save_as(files, {PICTURE: lambda path: save_picture(figure, path)})


def _strait_m(scene: Scene, camera: Spot) -> float:
    """Width of the mist between the island of the spot and that of the hill, NaN without mist."""
    from terrain.mist.islands import strait_between

    if scene.mist is None:
        return math.nan
    return strait_between(scene.dem, scene.mist, camera, scene.hill)


def _tell(answer: Backlight, day: dt.date, light: Twilight, strait_m: float, shown: Shown) -> None:
    from terrain.command.report import clock, line, minutes, table

    contact, view = answer.contact, answer.view
    line(f"{'Yes' if answer.behind else 'No'}: {answer.reason}.")
    rows = [
        ["date", f"{day:%A %d %B %Y}"],
        ["first grey (astronomical dawn)", clock(light.astronomical_dawn)],
        ["shapes (nautical dawn)", clock(light.nautical_dawn)],
        ["paths without a lamp (civil dawn)", clock(light.civil_dawn)],
        ["sunrise over a level sea", clock(light.sunrise)],
        ["sun appears", f"{clock(contact.appears)} ± {minutes(contact.uncertainty_s)}"],
        ["sun clear of the ground", _clear(contact)],
        *(["and appears again", clock(again.appears)] for again in contact.later),
        ["at azimuth, altitude", f"{contact.azimuth_deg:.2f}°, {contact.altitude_deg:.2f}°"],
        ["over ground", f"{contact.distance_m / 1000:.2f} km away"],
        ["from the summit", f"{_beside(answer.offset_deg)} ± {answer.uncertainty_deg:.2f}°"],
        ["in sun widths", f"{abs(answer.offset_widths):.1f}"],
        ["summit", f"{view.azimuth_deg:.2f}°, {view.distance_m / 1000:.2f} km away"],
    ]
    rows.append(["of the hill show", f"the upper {shown.height_m:.0f} m"])
    if view.freeboard_m == view.freeboard_m:
        rows.append(["spot above the mist", f"{view.freeboard_m:.0f} m"])
    if strait_m == strait_m:
        rows.append(["mist between its island and the hill's", f"{_km(strait_m)} wide"])
    table("The morning", ["", ""], rows)
    line(
        f"The ground is known for {contact.known_to_m / 1000:.0f} km that way; beyond, ground "
        f"higher than {contact.beyond_height_m:.0f} m would delay the sun."
    )
    line("Never look at the sun through a lens or a viewfinder.")


def _clear(contact: Contact) -> str:
    from terrain.command.report import clock, minutes

    if contact.clears_doubt is None:
        return clock(contact.clears)
    return f"{clock(contact.clears)} ± {minutes(contact.clears_uncertainty_s)}"


def _km(distance_m: float) -> str:
    return f"{distance_m:.0f} m" if distance_m < 1000.0 else f"{distance_m / 1000.0:.2f} km"


def _beside(offset_deg: float) -> str:
    return f"{abs(offset_deg):.2f}° {'right' if offset_deg > 0 else 'left'}"


def _fields(answer: Backlight, day: dt.date, light: Twilight) -> dict[str, Any]:
    contact, view = answer.contact, answer.view
    return {
        "date": day,
        "hill": vars(answer.hill),
        "behind": answer.behind,
        "reason": answer.reason,
        "offset_deg": answer.offset_deg,
        "offset_widths": answer.offset_widths,
        "uncertainty_deg": answer.uncertainty_deg,
        "contact": _contact_fields(contact),
        "later": [_contact_fields(again) for again in contact.later],
        "summit": {
            "azimuth_deg": view.azimuth_deg,
            "altitude_deg": view.altitude_deg,
            "distance_m": view.distance_m,
            "visible": view.visible,
            "on_skyline": view.on_skyline,
        },
        "spot": {
            "height_m": view.spot_height_m,
            "slope_deg": view.slope_deg,
            "freeboard_m": view.freeboard_m,
        },
        "light": dict(light.events()),
    }


def _contact_fields(contact: Any) -> dict[str, Any]:
    fields = {k: v for k, v in vars(contact).items() if k != "later"}
    clears = None if contact.clears_doubt is None else vars(contact.clears_doubt)
    return {**fields, "doubt": vars(contact.doubt), "clears_doubt": clears}
