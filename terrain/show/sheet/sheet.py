"""The sheet: a planned morning as one file for the phone that needs no network, and two pages."""

from __future__ import annotations

import base64
import hashlib
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import geopandas as gpd
import jinja2

from terrain.frame.framing import LensFit
from terrain.frame.lens import Frame
from terrain.plan.morning import FallBack, Plan, Stage
from terrain.plan.stages import why_no_doubt
from terrain.plan.what_if import WhatIf
from terrain.show.files.export import whole_file
from terrain.show.paper import palette
from terrain.show.paper.key import compass
from terrain.show.sheet.pictures import Pictures, Progress, draw_pictures
from terrain.show.sheet.view_marks import view_marks
from terrain.sun.clock import span_words
from terrain.words.figures import (
    away,
    clock,
    distance,
    exact,
    in_place,
    iso,
    plus_minus,
    signed,
    zone_of,
)
from terrain.words.plan import (
    aim,
    fall_back_sun,
    fall_back_times,
    fall_back_walk,
    good_day,
    lens_held,
    sun_to_frame,
)

__all__ = ["save_sheet", "sheet_html"]

_MOST_DAYS: Final = 8

_COLOURS: Final = ("PAPER", "INK", "QUIET", "FAINT", "HILL", "PATH", "MIST", "MIST_DEEP", "SHORE",
                   "SUN", "SUN_GLOW", "SKY_LOW", "SKY_HIGH", "RIDGE_NEAR", "RIDGE_FAR")  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class _Step:
    """One stop of the slider: its pictures, and what they show in words."""

    number: int
    label: str
    words: str
    view: str
    view_alt: str
    map: str
    map_alt: str
    planned: bool


def sheet_html(
    plan: Plan, *, pictures: Pictures | None = None, summits: gpd.GeoDataFrame | None = None
) -> str:
    """The page of a plan as one HTML text with its pictures, style and script inside.

    pictures: as `draw_pictures` gives them, drawn here unless given. summits: a table from
    `find_summits`, to number a few of those in view. Nothing on the page asks for another file.
    """
    pictures = draw_pictures(plan) if pictures is None else pictures
    page = _environment().get_template("sheet.html.j2")
    return page.render(_content(plan, pictures, summits))


def save_sheet(
    plan: Plan,
    path: str | Path,
    *,
    mist_tops_m: Sequence[float] | None = None,
    paths: gpd.GeoDataFrame | None = None,
    summits: gpd.GeoDataFrame | None = None,
    progress: Progress = lambda share: None,
) -> None:
    """Write the sheet of a plan as an HTML file, complete or not at all.

    mist_tops_m: heights of the mist to draw beforehand, metres; 100 m down and up from the
    plan's by steps of 25 m unless given. paths: lines for the map. summits: as for `sheet_html`.
    progress: called with the share done. Raises TerrainError where the file cannot be written.
    """
    with whole_file(path) as partial:
        pictures = draw_pictures(plan, mist_tops_m=mist_tops_m, paths=paths, progress=progress)
        partial.write_text(sheet_html(plan, pictures=pictures, summits=summits), encoding="utf-8")


def _environment() -> jinja2.Environment:
    page = jinja2.Environment(
        loader=jinja2.PackageLoader("terrain.show.sheet", "assets"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    page.filters |= {
        "aim": aim, "away": away, "clock": clock, "compass": compass, "distance": distance,
        "exact": exact, "good_day": good_day, "in_place": in_place, "iso": iso,
        "lens_held": lens_held, "minutes": span_words, "plus_minus": plus_minus, "signed": signed,
        "sun_to_frame": sun_to_frame,
    }  # fmt: skip
    page.tests["number"] = math.isfinite
    return page


def _content(plan: Plan, pictures: Pictures, summits: gpd.GeoDataFrame | None) -> dict[str, Any]:
    """Everything the template shows; numbers are the plan's own, put into words there."""
    script = _environment().get_template("sheet.js").render()
    marks = view_marks(plan, pictures.window, summits=summits)
    return {
        "plan": plan,
        "contact": plan.backlight.contact,
        "place": plan.spot.name or in_place(plan.spot),
        "day": f"{plan.day:%A} {plan.day.day} {plan.day:%B %Y}",
        "zone": zone_of(plan.backlight.contact.appears),
        "colours": {name.lower().replace("_", "-"): getattr(palette, name) for name in _COLOURS},
        "script": script,
        "script_hash": base64.b64encode(hashlib.sha256(script.encode()).digest()).decode(),
        "stages": list(_stages(plan)),
        "no_doubt": why_no_doubt(plan.stages),
        "doubts": list(_doubts(plan)),
        "most_days": _MOST_DAYS,
        "steps": [_step(plan, pictures, number) for number in range(len(pictures.looks))],
        "planned": pictures.planned,
        "view_px": pictures.view_px,
        "map_px": pictures.map_px,
        "paths_shown": pictures.paths_shown,
        "ends": [("lower", pictures.what_ifs.lower), ("higher", pictures.what_ifs.higher)],
        "marks": marks,
        "summits": list(marks.summits.itertuples(index=False)),
        "lenses": [(fit, _is_chosen(plan, fit)) for fit in plan.framing.lenses],
        "elsewhere": plan.elsewhere,
        "fall_backs": [_fall_back(plan, fall_back) for fall_back in plan.fall_backs],
    }


def _stages(plan: Plan) -> Iterator[tuple[Stage, str, str]]:
    """Each stage with its light, and its frame in words, short where that stays as it was."""
    before: Frame | None = None
    for stage in plan.stages:
        framed = ""
        if stage.framing is not None:
            frame = stage.framing.frame
            framed = "as before" if frame == before else f"{lens_held(frame)}, {aim(frame)}"
            before = frame
        yield stage, _light(plan, stage), framed


def _doubts(plan: Plan) -> Iterator[tuple[str, str, str, str, str]]:
    """What each ± of the timeline, and that beside the summit, is made of."""
    for stage in plan.stages:
        if stage.doubt is not None:
            seconds = (stage.doubt.raster_s, stage.doubt.position_s, stage.doubt.refraction_s)
            raster, position, refraction = (plus_minus(part)[2:] for part in seconds)
            yield stage.name, raster, position, refraction, plus_minus(stage.plus_minus_s)
    offset = plan.offset_doubt
    degrees = (offset.raster_deg, offset.position_deg, offset.refraction_deg)
    raster, position, refraction = (f"{part:.2f}°" for part in degrees)
    yield "beside the summit", raster, position, refraction, f"± {offset.total_deg:.2f}°"


def _light(plan: Plan, stage: Stage) -> str:
    """What light it is at a stage, for the band beside the times."""
    colour, dawn = plan.stage("colour begins"), plan.light.civil_dawn
    at = stage.at.timestamp()
    if at >= plan.backlight.contact.appears.timestamp():
        return "over" if stage.name == "warm light over" else "sun"
    if colour is not None and at >= colour.at.timestamp():
        return "colour"
    return "dawn" if dawn is not None and at >= dawn.timestamp() else "night"


def _step(plan: Plan, pictures: Pictures, number: int) -> _Step:
    look = pictures.looks[number]
    top_m, words = look.morning.mist_top_m, _mist_words(plan, look.morning)
    return _Step(
        number=number,
        label="" if math.isnan(top_m) else f"{top_m:.0f} m",
        words=words,
        view=_data_uri(look.view),
        view_alt=f"{_view_words(plan, look.morning)} {words}",
        map=_data_uri(look.map),
        map_alt=_map_words(plan, look.morning),
        planned=number == pictures.planned,
    )


def _mist_words(plan: Plan, morning: WhatIf) -> str:
    """What the mist at one height makes of the morning."""
    misty = math.isfinite(morning.mist_top_m)
    reason, at = morning.backlight.reason, exact(morning.backlight.contact.appears)
    said = f"{reason[:1].upper()}{reason[1:]}, at {at}."
    if (reason, at) == (plan.backlight.reason, exact(plan.backlight.contact.appears)):
        said = f"The sun appears {'as planned, ' if misty else ''}at {at}."
    if not misty:
        return said
    return (
        f"The spot stands {morning.backlight.view.freeboard_m:.0f} m above the mist, "
        f"{plan.hill.label} {plan.hill.height_m - morning.mist_top_m:.0f} m. {said}"
    )


def _view_words(plan: Plan, morning: WhatIf) -> str:
    view, top_m = morning.backlight.view, morning.mist_top_m
    mist = "" if math.isnan(top_m) else f", mist below with its top at {top_m:.0f} m"
    hill = f"{plan.hill.label}, {distance(view.distance_m)} away toward "
    return (
        f"Drawing of the view from {plan.spot.name or 'the spot'}: {hill}"
        f"{compass(view.azimuth_deg)}{' (hidden)' if not view.visible else ''}{mist}. "
        f"Over it the sun's disc at moments after it appears, and the frame of "
        f"{plan.framing.frame.focal_mm:.0f} mm."
    )


def _map_words(plan: Plan, morning: WhatIf) -> str:
    top_m, others = morning.mist_top_m, len(plan.elsewhere)
    mist = "" if math.isnan(top_m) else f" Mist lies on the ground below {top_m:.0f} m."
    more = f" Numbers from 2: {others} fall-back{'s' * (others > 1)}." if others else ""
    return (
        f"Map of the walk from {plan.start.name or 'the start'} (A) to "
        f"{plan.spot.name or 'the spot'} (1), {distance(plan.walk.length_m)}, and of "
        f"{plan.hill.label} (peak sign), {distance(plan.backlight.view.distance_m)} from the "
        f"spot.{mist}{more}"
    )


def _data_uri(picture: bytes) -> str:
    return f"data:image/webp;base64,{base64.b64encode(picture).decode()}"


def _is_chosen(plan: Plan, fit: LensFit) -> bool:
    return fit.lens == plan.framing.lens


def _fall_back(plan: Plan, fall_back: FallBack) -> dict[str, Any]:
    change_m = fall_back.mist_top_m - plan.mist_top_m
    return {
        "it": fall_back,
        "change": f"{abs(change_m):.0f} m {'higher' if change_m > 0 else 'lower'}",
        "number": None if fall_back.spot is None else plan.number_of(fall_back.spot),
        "reason": f"{fall_back.note[:1].upper()}{fall_back.note[1:]}",
        "times": fall_back_times(plan, fall_back),
        "walk": fall_back_walk(fall_back),
        "sun": fall_back_sun(plan, fall_back),
    }
