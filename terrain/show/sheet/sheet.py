"""The sheet: a planned morning or evening as one file for the phone, without network; two pages."""

from __future__ import annotations

import base64
import hashlib
import math
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, Final

import geopandas as gpd

from terrain.mist.trees import TREES_M
from terrain.plan.in_view import scenes_of, spells_of
from terrain.plan.morning import Plan
from terrain.plan.stages import Stage, StageKind
from terrain.plan.what_if import FallBack, WhatIf
from terrain.show.files.whole import whole_file
from terrain.show.paper import palette
from terrain.show.paper.text import compass
from terrain.show.sheet.daylight import tints
from terrain.show.sheet.page import sheet_page, sheet_script
from terrain.show.sheet.pictures import CONTOUR_M, Pictures, Progress, draw_pictures
from terrain.show.sheet.view_marks import view_marks
from terrain.show.sheet.views import Passing, Views
from terrain.words import clocks, figures
from terrain.words import plan as plan_words
from terrain.words.cautions import cautions
from terrain.words.moments import spells_line, turns
from terrain.words.scenes import TITLE

_MOST_DAYS: Final = 8
_MAIN: Final = (StageKind.SUN_APPEARS, StageKind.SUN_GONE, StageKind.SUN_OVER_SUMMIT)

_COLOURS: Final = (
    *("PAPER", "INK", "QUIET", "FAINT", "HILL", "PATH", "MIST", "MIST_DEEP", "SHORE"),
    *("SUN", "SKY_LOW"),
)


def sheet_html(
    plan: Plan,
    *,
    pictures: Pictures | None = None,
    summits: gpd.GeoDataFrame | None = None,
    trees_m: tuple[float, float] = TREES_M,
) -> str:
    """The page of a plan as one HTML text with its pictures, style and script inside.

    pictures: as `draw_pictures` gives them, drawn here unless given. summits: a table from
    `find_summits`, to number a few of those in view. trees_m: how high trees are. Nothing on the
    page asks for another file.
    """
    pictures = draw_pictures(plan) if pictures is None else pictures
    page = sheet_page()
    return page.render(_content(plan, pictures, summits, trees_m))


def save_sheet(
    plan: Plan,
    path: str | Path,
    *,
    mist_tops_m: Sequence[float] | None = None,
    views: Views | None = None,
    paths: gpd.GeoDataFrame | None = None,
    summits: gpd.GeoDataFrame | None = None,
    trees_m: tuple[float, float] = TREES_M,
    progress: Progress = lambda share: None,
) -> None:
    """Write the sheet of a plan as an HTML file, complete or not at all.

    Nothing on the page asks for another file, so that it works on a phone without signal.

    Parameters
    ----------
    plan : Plan
        As `plan_morning` gives it.
    path : path
        The file.
    mist_tops_m : sequence of float, optional
        Heights of the mist to draw beforehand, metres; 100 m down and up from the plan's by steps
        of 25 m unless given.
    views : Views, optional
        In their place: of this plan, begun before it was whole, as `begun` of `plan_morning` may.
    paths : geopandas.GeoDataFrame, optional
        Lines for the map.
    summits : geopandas.GeoDataFrame, optional
        A table from `find_summits`, to number a few of those in view.
    trees_m : (float, float), optional
        How high trees are, the low and the high, metres, for the small scenes in view.
    progress : callable, optional
        Called with the share done, 0 to 1.

    Raises
    ------
    TerrainError
        Where the file cannot be written.

    Examples
    --------
    >>> import datetime as dt
    >>> import numpy as np
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(100, 0, 5e5, 0, -100, 6e6), shape=(61, 81))
    >>> row, col = np.mgrid[-30:31, -40:41]
    >>> cone = terrain.Dem(np.maximum(300.0 - 40.0 * np.hypot(row, col), 0.0), grid)
    >>> hill = terrain.hill_at(cone, *map(float, grid.lonlat(30, 40)), name="Cone")
    >>> lon, lat = (float(part) for part in grid.lonlat(30, 10))
    >>> spot = terrain.Spot(lon_deg=lon, lat_deg=lat, name="the stile")
    >>> knoll = 120.0 - 20.0 * np.hypot(row, col + 30)
    >>> isles = terrain.Dem(np.maximum(cone.heights_m, knoll), grid)
    >>> start = terrain.Spot(lon_deg=lon, lat_deg=lat + 0.002, name="the car park")
    >>> day = dt.date(2025, 3, 25)
    >>> plan = terrain.plan_morning(
    ...     isles, spot, hill, day, start=start, mist_top_m=50.0, other_tops_m=[]
    ... )
    >>> import tempfile
    >>> from pathlib import Path
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     terrain.save_sheet(plan, Path(folder) / "sheet.html", mist_tops_m=[50.0])
    ...     "Cone" in (Path(folder) / "sheet.html").read_text()
    True
    """
    with whole_file(path) as partial:
        pictures = draw_pictures(
            plan, mist_tops_m=mist_tops_m, views=views, paths=paths, progress=progress
        )
        page = sheet_html(plan, pictures=pictures, summits=summits, trees_m=trees_m)
        partial.write_text(page, encoding="utf-8")


def _content(
    plan: Plan,
    pictures: Pictures,
    summits: gpd.GeoDataFrame | None,
    trees_m: tuple[float, float],
) -> dict[str, Any]:
    """Everything the template shows; numbers are the plan's own, put into words there."""
    script = sheet_script()
    marks = view_marks(plan, pictures.window, summits=summits)
    return {
        "plan": plan,
        "contact": plan.backlight.contact,
        "place": plan.spot.name or figures.in_place(plan.spot),
        "day": figures.capital(plan_words.day_of(plan)),
        "evening": plan.evening,
        "zone": clocks.zone_of(plan.backlight.contact.appears),
        "colours": {name.lower().replace("_", "-"): getattr(palette, name) for name in _COLOURS},
        "script": script,
        "script_hash": base64.b64encode(hashlib.sha256(script.encode()).digest()).decode(),
        "stages": list(_stages(plan)),
        "no_doubt": plan_words.why_no_doubt(plan),
        "doubts": list(plan_words.doubts(plan)),
        "hidden_ground": plan_words.hidden_ground(plan),
        "cautions": cautions(plan),
        "credit": figures.credit_note(plan.scene.dem.credit),
        "most_days": _MOST_DAYS,
        "steps": [_step(plan, pictures, number) for number in range(len(pictures.looks))],
        "pictures": pictures,
        "passing": [_passing(plan, one) for one in pictures.passing],
        "ends": [("lower", pictures.what_ifs.lower), ("higher", pictures.what_ifs.higher)],
        "marks": marks,
        "minutes": turns(plan.framing.sun),
        "contour_m": CONTOUR_M,
        "spells": spells_line(spells_of(plan), plan.hill.label),
        "scenes_title": TITLE,
        "scenes": scenes_of(plan, trees_m=trees_m).to_dict("records"),
        "summits": list(marks.summits.itertuples(index=False)),
        "fall_backs": [_fall_back(plan, fall_back) for fall_back in plan.fall_backs],
    }


def _stages(plan: Plan) -> Iterator[tuple[Stage, str, str, str, str]]:
    """Each stage with its class, its band, its note, and its frame in full.

    The band goes from the tint of its own light to that of the next.
    """
    light = tints(plan)
    for stage, tint, following in zip(plan.stages, light, [*light[1:], light[-1]], strict=True):
        framed = ""
        if stage.framing is not None:
            frame = stage.framing.frame
            framed = f"{plan_words.lens_held(frame)}, {plan_words.aim(frame)}"
        main = "main" if stage.kind in _MAIN else ""
        band = f"--from:{tint};--to:{following}"
        yield stage, main, band, plan_words.note(plan, stage), framed


def _step(plan: Plan, pictures: Pictures, number: int) -> dict[str, Any]:
    """One stop of the slider: its pictures, and what they show in words."""
    look = pictures.looks[number]
    top_m, words = look.morning.mist_top_m, _mist_words(plan, look.morning)
    return {
        "number": number,
        "label": "" if math.isnan(top_m) else f"{top_m:.0f} m",
        "words": words,
        "view": _data_uri(look.view),
        "view_alt": f"{_view_words(plan, look.morning)} {words}",
        "map": _data_uri(look.map),
        "map_alt": _map_words(plan, look.morning),
        "planned": number == pictures.what_ifs.planned,
    }


def _passing(plan: Plan, one: Passing) -> dict[str, str]:
    """One of the pictures of the light as it changes, and what it shows in words."""
    said = f"{clocks.supported(one.at, plan.backlight.contact.uncertainty_s)} {one.words}"
    alt = f"Computed view of {plan.hill.label}, {said}"
    return {"view": _data_uri(one.view), "said": said, "alt": alt}


def _mist_words(plan: Plan, morning: WhatIf) -> str:
    """What the mist at one height makes of the morning."""
    mist, reason = morning.scene.mist, morning.backlight.reason
    at, planned = (
        clocks.supported(one.contact.appears, one.contact.uncertainty_s)
        for one in (morning.backlight, plan.backlight)
    )
    said = f"{figures.capital(reason)}, at {at}."
    if (reason, at) == (plan.backlight.reason, planned):
        does = "is gone" if plan.evening else "appears"
        said = f"The sun {does} {'' if mist is None else 'as planned, '}at {at}."
    if mist is None:
        return said
    hill = plan.hill
    over_m = hill.height_m - mist.nearest_top_m[mist.grid.cell_of(hill.lon_deg, hill.lat_deg)]
    return (
        f"The spot stands {morning.backlight.view.freeboard_m:.0f} m above the mist, "
        f"{hill.label} {over_m:.0f} m. {said}"
    )


def _view_words(plan: Plan, morning: WhatIf) -> str:
    view, mist = morning.backlight.view, morning.scene.mist
    misty = "" if mist is None else f", mist below with its top at {mist.label}"
    hill = f"{plan.hill.label}, {figures.distance(view.distance_m)} away toward "
    other = plan_words.frame_over_summit(plan)
    over = "" if other is None else f", and of {other.focal_mm:.0f} mm with it over the summit"
    return (
        f"Computed view from {plan.spot.name or 'the spot'}: {hill}"
        f"{compass(view.azimuth_deg)}{' (hidden)' if not view.visible else ''}{misty}. "
        f"Over it the frame of "
        f"{plan.framing.frame.focal_mm:.0f} mm{over}."
    )


def _map_words(plan: Plan, morning: WhatIf) -> str:
    mist, others = morning.scene.mist, len(plan.elsewhere)
    misty = "" if mist is None else f" Mist lies on the ground below {mist.label}."
    more = f" Numbers from 2: {others} fall-back{'s' * (others > 1)}." if others else ""
    to_hill = figures.distance(plan.backlight.view.distance_m)
    return (
        f"Map of the walk from {plan.start.name or 'the start'} (A) to "
        f"{plan.spot.name or 'the spot'} (1), {figures.distance(plan.walk.length_m)}, and of "
        f"{plan.hill.label} (peak sign), {to_hill} from the spot.{misty}{more}"
    )


def _data_uri(picture: bytes) -> str:
    return f"data:image/webp;base64,{base64.b64encode(picture).decode()}"


def _fall_back(plan: Plan, other: FallBack) -> dict[str, Any]:
    change_m = other.mist_top_m - plan.mist_top_m
    return {
        "it": other,
        "change": f"{abs(change_m):.0f} m {'higher' if change_m > 0 else 'lower'}",
        "number": None if other.spot is None else plan.number_of(other.spot),
        "times": plan_words.fall_back_times(plan, other),
        "walk": plan_words.fall_back_walk(other),
        "sun": plan_words.fall_back_sun(plan, other),
    }
