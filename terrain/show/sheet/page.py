"""The template of a sheet, and what it puts into words itself."""

from __future__ import annotations

import math
from functools import cache
from typing import Final

import jinja2

from terrain.show.paper.text import compass
from terrain.words import clocks, figures, moments
from terrain.words import plan as plan_words
from terrain.words.moments import pose_in_short
from terrain.words.scenes import scene_lens, scene_name, scene_wide

_FILTERS: Final = (
    *(clocks.clock, clocks.supported, clocks.iso, clocks.plus_minus, clocks.span_words),
    *(figures.away, figures.distance, figures.in_place, figures.capital, figures.signed),
    *(pose_in_short, scene_lens, scene_name, scene_wide, figures.celsius),
    *(plan_words.aim, plan_words.good_day, plan_words.lens_held, plan_words.sun_to_frame),
    *(plan_words.over_words, moments.finding, compass),
)


def sheet_page() -> jinja2.Template:
    """The page to fill."""
    return _environment().get_template("sheet.html.j2")


def sheet_script() -> str:
    """What moves on it."""
    return _environment().get_template("sheet.js").render()


@cache
def _environment() -> jinja2.Environment:
    page = jinja2.Environment(
        loader=jinja2.PackageLoader("terrain.show.sheet", "assets"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    page.filters |= {words.__name__: words for words in _FILTERS}
    page.tests["number"] = math.isfinite
    return page
