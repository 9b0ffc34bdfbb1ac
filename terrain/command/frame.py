"""`terrain frame`: how to frame a hill at sunrise or sunset, and a person in the picture."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import terrain
from terrain.command.area import hill_on, stand_on
from terrain.command.kit_asked import KitOptions
from terrain.command.mist_asked import MistOptions
from terrain.command.options import Asked, Day, Evening, HillPlace, Names, SpotPlace, option
from terrain.command.report import line, progress
from terrain.command.room import ONE_SPOT
from terrain.command.saves import TABLE
from terrain.command.tables import Column, table
from terrain.errors import NoAnswer
from terrain.words.clocks import supported, zone_in_hours
from terrain.words.figures import sentence, signed
from terrain.words.records import picked

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import geopandas as gpd

    from terrain.frame.figure import Figure, Step
    from terrain.frame.shade import SunInFrame
    from terrain.view.backdrop import Backdrop

_WORDS = ("state", "event", "pose")
"""What of the sun to a frame is said in words."""

_LENSES = (
    Column("lens", lambda fit: str(fit.lens)),
    Column("at", lambda fit: f"{fit.focal_mm:.0f} mm"),
    Column("held", lambda fit: fit.orientation, left=True),
    Column("takes in", lambda fit: f"{fit.width_deg:.1f}° × {fit.height_deg:.1f}°"),
    Column("hill fills", lambda fit: f"{100.0 * fit.hill_share:.0f} %"),
    Column("all in it", lambda fit: "yes" if fit.takes_all else "no"),
)
_SUN = (
    Column("", lambda sun: sun.event, left=True),
    Column("the sun is", lambda sun: sun.state, left=True),
    Column("to the hill", lambda sun: _pose(sun), left=True),
    Column("toward", lambda sun: f"{sun.azimuth_deg:.1f}°"),
    Column("high", lambda sun: signed(sun.altitude_deg)),
    Column(
        "near ground in shade",
        lambda sun: "-" if math.isnan(sun.shade) else f"{100.0 * sun.shade:.0f} %",
    ),
)


def frame(
    *,
    spot: SpotPlace,
    hill: HillPlace = None,
    date: Day = None,
    evening: Evening = False,
    mist: MistOptions,
    kit: KitOptions,
    hill_width: float | None = option(
        "DEG",
        "How much of the hill to take in, about its summit; all of it.",
        above=0.0,
        most=160.0,
    ),
    figure: str | None = option("PLACE", "Where a person stands in the picture."),
    figure_height: float = option(
        "M", "How tall that person is, metres.", default=1.75, above=0.0, most=10.0
    ),
    names: Names = None,
    asked: Asked,
) -> None:
    """Choose the lens and the aim for a hill at sunrise, and follow the sun to the frame.

    With --evening, at sunset. With --figure, how tall a person is in the picture, what they stand
    against, and where to move to have them against something else. Saves the sun to the frame, and
    there what each lens takes in (.gpkg), or the sun alone (.geojson, .csv).
    """
    from terrain.frame.figure import steps_for
    from terrain.words.spot import moved

    asked.check_saves(TABLE)
    area = asked.area(names, ONE_SPOT)
    given, place, over = area.spot(spot), area.hill_place(hill), mist.over(area)
    day = area.day(date, given, evening=evening)
    bag = kit.over(area)
    at = None if figure is None else area.spot(figure)
    with progress("framing the hill", quiet=asked.as_json) as done:
        country = over.laid_on(area.country_under_sky(given))
        camera = stand_on(country, area, given)
        done(0.3)
        scene = terrain.Scene(country, hill_on(country, place))
        answer = terrain.backlight(scene, terrain.look(scene, camera), day, evening=evening)
        done(0.7)
        try:
            framing = terrain.frame_view(scene, answer, kit=bag, hill_width_deg=hill_width)
        except NoAnswer as error:
            raise NoAnswer(f"{error}; --hill-width takes in less of the hill") from error
        seen, moves = None, {}
        if at is not None:
            seen = terrain.figure_at(scene, camera, at, height_m=figure_height)
            moves = steps_for(scene, camera, seen)

    def tell() -> None:
        line(sentence(answer.reason), *moved(given, camera))
        _tell(framing, answer.contact.uncertainty_s, seen, moves)

    asked.answer(
        fields=lambda: _fields(framing, seen, moves),
        tell=tell,
        layers=lambda: _layers(framing, camera),
    )


def _layers(framing: terrain.Framing, camera: terrain.Spot) -> dict[str, gpd.GeoDataFrame]:
    """The sun to the frame and the lenses, as tables of the place of the camera."""
    import pandas as pd

    from terrain.ground.tables import at_spot

    sun = [{**vars(sun), **{key: str(getattr(sun, key)) for key in _WORDS}} for sun in framing.sun]
    lenses = [{**vars(fit), "lens": str(fit.lens)} for fit in framing.lenses]
    return {
        "sun": at_spot(pd.DataFrame(sun), camera),
        "lenses": at_spot(pd.DataFrame(lenses), camera),
    }


def _pose(sun: SunInFrame) -> str:
    from terrain.words.moments import pose_words

    return pose_words(sun)


def _clock(suns: Sequence[SunInFrame], doubt_s: float) -> Column:
    """The time of each, as exactly as that of the sun's appearance is known."""
    zone = zone_in_hours(suns[0].moment)
    return Column(f"time\n({zone})", lambda sun: supported(sun.moment, doubt_s))


def _tell(
    framing: terrain.Framing,
    doubt_s: float,
    seen: Figure | None,
    moves: Mapping[Backdrop, Step | None],
) -> None:
    from terrain.words.framing import figure_words, framing_lines
    from terrain.words.moments import turns
    from terrain.words.plan import step_words

    line(*framing_lines(framing), "")
    best = Column("", lambda fit: "suits best" if fit.lens == framing.lens else "", left=True)
    table("What each lens takes in", [*_LENSES, best], framing.lenses)
    told = turns(framing.sun)
    table("The sun to the frame", [_clock(told, doubt_s), *_SUN], told)
    if len(told) < len(framing.sun):
        line("Each minute is in what --json prints and --save writes.")
    if seen is not None:
        line(figure_words(framing, seen))
    for backdrop, step in moves.items():
        how = "no move within 80 m does that" if step is None else step_words(step)
        line(f"To set them against the {backdrop}: {how}.")


def _fields(
    framing: terrain.Framing, seen: Figure | None, moves: Mapping[Backdrop, Step | None]
) -> dict[str, Any]:
    from terrain.command.plan_report import aim_fields
    from terrain.words.plan import step_words

    return {
        **aim_fields(framing),
        **picked(framing, "takes_all", "hill_share", "sun_mm", "sun_px"),
        "lenses": [{**vars(fit), "lens": str(fit.lens)} for fit in framing.lenses],
        "sun": framing.sun,
        "figure": None if seen is None else _figure_fields(framing, seen),
        "moves": {
            backdrop: step and {"words": step_words(step), **picked(step, "spot", "rise_m")}
            for backdrop, step in moves.items()
        },
    }


def _figure_fields(framing: terrain.Framing, seen: Figure) -> dict[str, Any]:
    return {
        **vars(seen),
        "against": seen.against or "",
        "height_px": seen.height_px(framing.frame),
        "in_frame": bool(framing.frame.takes_in(seen.azimuth_deg, seen.foot_deg)),
    }
