"""What is ranked: the vantages of a day or a year, and the mornings of a season."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import geopandas as gpd

import terrain
from terrain.desk.asked import Asked
from terrain.desk.table import Table
from terrain.desk.work import Job
from terrain.errors import TerrainError
from terrain.frame.lens import Frame
from terrain.ground.relief.summits import summits_called
from terrain.words.figures import against, count_of
from terrain.words.moments import best_moment
from terrain.words.records import rows_of
from terrain.words.standing import STANDING
from terrain.words.vantages import evening_lines, lacks, unknown_lines

Event = tuple[str, dict[str, Any]]

_PROMINENCE_M = 60.0
"""Least prominence of a hill of a season, where none has a name; as `terrain season` has it."""


def vantages(table: Table, asked: Asked, job: Job) -> list[Event]:
    """The best places for a hill on a day, or of a year each with its days."""
    scene, evening = table.scene(asked), asked.evening
    when: dict[str, Any] = {"day": asked.day()} if asked.said.get("date") else {}
    if not when:
        place = table.tract.hill_place(asked.text("hill"))
        when = {"year": table.opening.days_of_year(asked.text("year"), place, evening)}
    found = terrain.find_vantages(
        scene.country,
        scene.hill,
        **when,
        starts=list(table.tract.starts.values()),
        limits=_limits(table, asked),
        evening=evening,
        progress=lambda share: job.step(share, "looking at places"),
    )
    return _told(found, f"{count_of(len(found), 'vantage')} for {scene.hill.label}")


def season(table: Table, asked: Asked, job: Job) -> list[Event]:
    """The mornings between two days, or evenings, each with its hill and place."""
    country, evening = table.under(table.mist_said(asked)), asked.evening
    hills = country.summits(min_prominence_m=_PROMINENCE_M, names=table.tract.summits)
    wanted = [name for name in asked.said.get("hills", "").split(";") if name]
    found = terrain.plan_season(
        country,
        summits_called(hills, wanted),
        asked.day("from"),
        asked.day("to"),
        starts=list(table.tract.starts.values()),
        limits=_limits(table, asked),
        evening=evening,
        progress=lambda share: job.step(share, "going through the days"),
    )
    told = _told(found, count_of(len(found), "evening" if evening else "morning"))
    left_out = [f"{name}: none; {why}" for name, why in found.attrs["left_out"].items()]
    told[-1][1]["words"] += left_out
    return told


def _limits(table: Table, asked: Asked) -> terrain.Limits:
    """What a vantage must keep to: hill, mist and sun within the lens, where one is given."""
    if not asked.said.get("lens_mm"):
        return terrain.Limits()
    focal_mm = asked.number("lens_mm", least=1.0, most=5000.0)
    held = Frame(azimuth_deg=0.0, altitude_deg=0.0, focal_mm=focal_mm, sensor=table.kit.sensor)
    return terrain.Limits(field_deg=held.field_deg)


def _told(found: gpd.GeoDataFrame, title: str) -> list[Event]:
    if found.empty:
        raise TerrainError("nothing was found")
    rows = [("row", {**row, "words": words_of(row)}) for row in rows_of(found)]
    notes = [*unknown_lines(found), *evening_lines(found), *STANDING]
    return [*rows, ("end", {"words": [f"{title}.", *notes]})]


def words_of(row: Mapping[str, Any]) -> list[str]:
    """What is said of a row: when the sun is best placed, what the summit stands against, what is
    lacking."""
    said = [f"at its best {best_moment(row)}", f"against {against(row)}"]
    fails = lacks(row)
    return said if fails == "-" else [*said, f"but {fails}"]
