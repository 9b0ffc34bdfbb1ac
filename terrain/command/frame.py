"""`terrain frame`: how to frame a hill at sunrise, and how a person would stand in the picture."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Annotated, Any

import typer

from terrain.command.kit import Lenses, SensorSize
from terrain.command.options import (
    Crs,
    Day,
    HillPlace,
    Json,
    MistTop,
    Names,
    Rasters,
    Reach,
    SpotPlace,
    Unit,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

    from terrain.frame.figure import Figure, Step
    from terrain.frame.framing import Framing

__all__ = ["frame"]


def frame(
    ground: Rasters,
    spot: SpotPlace,
    hill: HillPlace = None,
    date: Day = None,
    mist_top: MistTop = None,
    lens: Lenses = None,
    sensor: SensorSize = None,
    hill_width: Annotated[
        float | None,
        typer.Option(
            metavar="DEG", help="How much of the hill to take in, about its summit; all of it."
        ),
    ] = None,
    figure: Annotated[
        str | None, typer.Option(metavar="PLACE", help="Where a person stands in the picture.")
    ] = None,
    figure_height: Annotated[
        float, typer.Option(metavar="M", help="How tall that person is, metres.")
    ] = 1.75,
    names: Names = None,
    crs: Crs = None,
    unit: Unit = None,
    reach: Reach = None,
    as_json: Json = False,
) -> None:
    """Choose the lens and the aim for a hill at sunrise, and follow the sun to the frame.

    With --figure, how tall a person is in the picture, what they stand against, and where to move
    to have them against something else.
    """
    from terrain.command.kit import kit_of
    from terrain.command.load import area_of, day_of, ground_of, hill_of, hill_place, mist_of
    from terrain.command.load import spot_of as camera_of
    from terrain.command.report import print_json, progress
    from terrain.country import Country
    from terrain.frame.figure import BACKDROPS, figure_at, step_for
    from terrain.frame.framing import frame_view
    from terrain.view.backlight import backlight
    from terrain.view.scene import Scene, look

    area = area_of(ground, crs=crs, unit=unit, names=names)
    day, camera, target = day_of(area, date), camera_of(area, spot), hill_place(area, hill)
    kit = kit_of(area, lens, sensor)
    person = None if figure is None else camera_of(area, figure)
    with progress("framing the hill", quiet=as_json) as done:
        dem = ground_of(area, around=area.place(spot), reach_km=reach)
        done(0.3)
        scene = Scene(Country(dem, mist=mist_of(area, dem, mist_top)), hill_of(dem, target))
        view = look(scene, camera)
        answer = backlight(scene, view, day)
        done(0.7)
        framing = frame_view(
            scene,
            view,
            answer.contact,
            lenses_mm=kit.lenses_mm,
            sensor=kit.sensor,
            hill_width_deg=hill_width,
        )
        seen: Figure | None = None
        moves: dict[str, Step | None] = {}
        if person is not None:
            seen = figure_at(scene, camera, person, height_m=figure_height)
            others = [backdrop for backdrop in BACKDROPS if backdrop != seen.against]
            if scene.mist is None:
                others.remove("mist")
            moves = {
                backdrop: step_for(scene, camera, person, backdrop, height_m=figure_height)
                for backdrop in others
            }
    if as_json:
        print_json(_fields(framing, seen, moves))
        return
    _tell(framing, answer.reason)
    if seen is not None:
        _tell_figure(framing, seen, moves)


def _tell(framing: Framing, reason: str) -> None:
    from terrain.command.report import clock, line, table
    from terrain.words.figures import signed
    from terrain.words.plan import aim, lens_held

    line(f"{reason[:1].upper()}{reason[1:]}.")
    line(f"Frame: {lens_held(framing.frame)}, {aim(framing.frame)}.")
    what = "hill, sun and mist" if framing.mist_in else "hill and sun"
    line(
        f"It takes in {what}; the hill fills {100.0 * framing.hill_share:.0f} % of its width."
        if framing.takes_all
        else f"No lens of the kit takes in {what}: this is the widest."
    )
    line(
        f"The sun's image is {framing.sun_mm:.1f} mm wide, {framing.sun_px:.0f} pixels."
        f"{' Expect to bracket.' if framing.expect_to_bracket else ''}"
    )
    line("")
    rows = [
        [
            str(fit.lens),
            f"{fit.focal_mm:.0f} mm",
            fit.orientation,
            f"{fit.width_deg:.1f}° × {fit.height_deg:.1f}°",
            f"{100.0 * fit.hill_share:.0f} %",
            "yes" if fit.takes_all else "no",
            "suits best" if fit.lens == framing.lens else "",
        ]
        for fit in framing.lenses
    ]
    headings = ["lens", "at", "held", "takes in", "hill fills", "all in it", ""]
    table("What each lens takes in", headings, rows, left=("held", ""))
    rows = [
        [
            clock(sun.moment),
            sun.event,
            sun.state,
            f"{sun.azimuth_deg:.1f}°",
            signed(sun.altitude_deg),
            "-" if math.isnan(sun.shade) else f"{100.0 * sun.shade:.0f} %",
        ]
        for sun in framing.sun
    ]
    headings = ["time", "", "the sun is", "toward", "high", "near ground in shade"]
    table("The sun to the frame", headings, rows, left=("", "the sun is"))


def _tell_figure(framing: Framing, seen: Figure, moves: Mapping[str, Step | None]) -> None:
    from terrain.command.report import line

    where = f"{seen.distance_m:.0f} m away toward {seen.azimuth_deg:.1f}°"
    line(f"A figure {seen.height_m:g} m tall, {where}: {_as_seen(framing, seen)}.")
    for backdrop, step in moves.items():
        how = "no move within 80 m does that" if step is None else str(step)
        line(f"To set them against the {backdrop}: {how}.")


def _as_seen(framing: Framing, seen: Figure) -> str:
    if not seen.against:
        return "hidden by ground or mist"
    in_it = bool(framing.frame.takes_in(seen.azimuth_deg, seen.foot_deg))
    tall = f"{seen.height_px(framing.frame):.0f} pixels tall"
    if not in_it:
        out_deg = float(framing.frame.outside_deg(seen.azimuth_deg, seen.foot_deg))
        tall = f"{out_deg:.1f}° outside the frame"
    hidden = "" if seen.seen > 0.99 else f", {100.0 * (1.0 - seen.seen):.0f} % of them hidden"
    return f"{tall}, against the {seen.against} ({_shares(seen)}){hidden}"


def _shares(seen: Figure) -> str:
    from terrain.frame.figure import BACKDROPS

    shares = {name: 100.0 * seen.share(name) for name in BACKDROPS}
    return ", ".join(f"{name} {share:.0f} %" for name, share in shares.items() if share >= 0.5)


def _fields(
    framing: Framing, seen: Figure | None, moves: Mapping[str, Step | None]
) -> dict[str, Any]:
    return {
        "azimuth_deg": framing.frame.azimuth_deg,
        "altitude_deg": framing.frame.altitude_deg,
        "focal_mm": framing.frame.focal_mm,
        "held": framing.orientation,
        "takes_all": framing.takes_all,
        "hill_share": framing.hill_share,
        "sun_mm": framing.sun_mm,
        "sun_px": framing.sun_px,
        "lenses": [{**vars(fit), "lens": str(fit.lens)} for fit in framing.lenses],
        "sun": [vars(sun) for sun in framing.sun],
        "figure": None if seen is None else _figure_fields(framing, seen),
        "moves": {
            backdrop: None
            if step is None
            else {"words": str(step), "spot": vars(step.spot), "rise_m": step.rise_m}
            for backdrop, step in moves.items()
        },
    }


def _figure_fields(framing: Framing, seen: Figure) -> dict[str, Any]:
    return {
        **vars(seen),
        "place": vars(seen.place),
        "against": seen.against,
        "height_px": seen.height_px(framing.frame),
        "in_frame": bool(framing.frame.takes_in(seen.azimuth_deg, seen.foot_deg)),
    }
