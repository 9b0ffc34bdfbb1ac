"""What `terrain vantages` prints of its answer: the tables, and what to mind."""

from __future__ import annotations

import geopandas as gpd

import terrain
from terrain.command.columns import (
    against,
    appears,
    best,
    fixed,
    kilometres,
    metres,
    of_mist,
    stands,
    text,
    to_side,
)
from terrain.command.report import line
from terrain.command.tables import Column, table
from terrain.words.clocks import day_spans
from terrain.words.figures import height_run
from terrain.words.records import rows_of
from terrain.words.vantages import evening_lines, lacks, more_title, range_lines, unknown_lines

_MORE = (
    ("mist_share", Column("of the view %", lambda row: f"{100.0 * row['mist_share']:.0f}")),
    ("islands_in_view", Column("islands", lambda row: f"{row['islands_in_view']}")),
    ("shallows_deg2", Column("tree tops °²", lambda row: f"{row['shallows_deg2']:.2f}")),
    ("pours_over", text("pours over", "pours_over")),
    ("mist_top_m", metres("mist top m", "mist_top_m")),
    (
        "mist_band_m",
        Column("works at tops m", lambda row: height_run(row["mist_from_m"], row["mist_to_m"])),
    ),
    ("walk_min", metres("walk min", "walk_min")),
    ("walk_min", Column("from", lambda row: row["start"], left=True)),
)
"""What more is said where the answer has a column of that name."""


def tell(
    found: gpd.GeoDataFrame,
    title: str,
    sea: terrain.Mist | terrain.MistRange | None,
    further: str,
) -> None:
    """Print the vantages: where and when, what they lack, the mist, the walk, the days.

    further: the command line that looks at the first of them.
    """
    tell_vantages(found, title)
    more = [*of_mist(found), *(column for name, column in _MORE if name in found)]
    if more:
        table(more_title(found), more, rows_of(found), numbered=True)
    if "days" in found:
        days = Column("days", lambda row: day_spans(row["days"]), left=True)
        table("Their mornings", [days], rows_of(found), numbered=True)
    line(*range_lines(sea), *unknown_lines(found), *evening_lines(found))
    for name, why in found.attrs.get("starts_left_out", {}).items():
        line(f"No walk from {name}: {why}.")
    line(
        "Computed from elevation data, not surveyed: check the ground, the access and the "
        "weather. Steep ground and edges are dangerous in the dark. Never look at the sun "
        "through a lens.",
        "Next, the view from the first of them:",
        further,
    )


def tell_vantages(found: gpd.GeoDataFrame, title: str) -> None:
    """Print where each vantage is, when the sun is how near the summit, and what it lacks."""
    evening = bool(found["evening"].any())
    columns = (
        stands("place"),
        metres("height\nm", "height_m"),
        metres("above\nmist m", "freeboard_m"),
        kilometres("to hill\nkm", "distance_m"),
        appears(found, "sun gone" if evening else "sun appears"),
        to_side("from summit"),
        best(),
        against(),
        metres("slope °", "slope_deg"),
        Column("but", lambda row: f"{'' if row['known_between'] else '? '}{lacks(row)}", left=True),
        fixed("score", "score"),
    )
    table(title, columns, rows_of(found), numbered=True)
