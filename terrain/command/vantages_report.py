"""What `terrain vantages` says of its answer: the tables on the screen and the words on the map."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import geopandas as gpd

    from terrain.command.area import Area
    from terrain.ground.places import Spot
    from terrain.mist.level import MistRange
    from terrain.mist.mist import Mist

__all__ = [
    "HEADINGS",
    "NOTES",
    "near_starts",
    "range_note",
    "shown_starts",
    "subtitle",
    "table_rows",
    "tell",
]

NOTES = (
    "Clock times of the place.",
    "Computed from elevation data, not surveyed: check ground, access and weather.",
)

HEADINGS = (
    "no.",
    "place",
    "height m",
    "above mist m",
    "to hill km",
    "sun appears",
    "from summit",
    "slope °",
    "score",
)


def tell(found: gpd.GeoDataFrame, title: str, sea: Mist | MistRange | None) -> None:
    """Print the vantages: where and when, what of the mist is seen, the walk, the days."""
    from terrain.command.report import line, table
    from terrain.mist.level import MistRange

    table(title, HEADINGS, table_rows(found))
    more = [column for column in _MORE if column[0] in found]
    if more:
        rows = [
            [str(row["rank"]), *(write(row) for _, _, write in more)]
            for row in found.to_dict("records")
        ]
        headings = ["no.", *(heading for _, heading, _ in more)]
        table(_more_title(found), headings, rows, left=("pours over", "from"))
    if "days" in found:
        table("Their mornings", ["no.", "days"], _days(found), left=("days",))
    if isinstance(sea, MistRange):
        line(f"The mist may stand anywhere from {sea.label}. Each row is about the top hoped for,")
        line(f"{sea.hoped_m:.0f} m, or else the nearest to it that works there.")
    for name, why in found.attrs.get("starts_left_out", {}).items():
        line(f"No walk from {name}: {why}.")
    line("Computed from elevation data, not surveyed: check the ground, the access and the")
    line("weather. Steep ground and edges are dangerous in the dark. Never look at the sun")
    line("through a lens. Next: terrain sunrise ... --spot LAT,LON --save view.png")


def _more_title(found: gpd.GeoDataFrame) -> str:
    mist = "The mist in view" if "mist_share" in found else ""
    walk = "the walk in" if "walk_min" in found else ""
    title = " and ".join(part for part in (mist, walk) if part)
    return title[0].upper() + title[1:]


_MORE: tuple[tuple[str, str, Callable[[dict[str, Any]], str]], ...] = (
    ("mist_share", "of the view %", lambda row: f"{100.0 * row['mist_share']:.0f}"),
    ("islands_in_view", "islands", lambda row: f"{row['islands_in_view']}"),
    ("pours_over", "pours over", lambda row: row["pours_over"] or "-"),
    ("mist_top_m", "mist top m", lambda row: f"{row['mist_top_m']:.0f}"),
    ("mist_band_m", "works at tops m", lambda row: _run(row["mist_from_m"], row["mist_to_m"])),
    ("walk_min", "walk min", lambda row: f"{row['walk_min']:.0f}"),
    ("walk_min", "from", lambda row: row["start"]),
)
"""A column of the answer, where it has it; its heading; and what a row says under it."""


def _run(low_m: float, high_m: float) -> str:
    return f"{low_m:.0f}" if low_m == high_m else f"{low_m:.0f} to {high_m:.0f}"


def subtitle(found: gpd.GeoDataFrame, when: str, sea: Mist | MistRange | None) -> str:
    """What the map of vantages shows, in one line."""
    mist = "" if sea is None else f", mist up to {sea.label}"
    if "mist_top_m" in found and sea is not None:
        mist = f", mist with its top anywhere from {sea.label}"
    places = "one place" if len(found) == 1 else f"{len(found)} places"
    return f"{places} where the sun appears behind it {when}{mist}"


def near_starts(area: Area, found: gpd.GeoDataFrame) -> list[Spot]:
    """The starts that are nearest to some vantage: the ones a map need show."""
    from terrain.command.load import starts_of

    return shown_starts(starts_of(area), found)


def shown_starts(begins: list[Spot], found: gpd.GeoDataFrame) -> list[Spot]:
    """Those of the starts that some vantage is nearest to, each with a name."""
    from dataclasses import replace

    from terrain.vantage.access import start_name

    named = [replace(start, name=start_name(start)) for start in begins]
    return [start for start in named if start.name in set(found.get("start", ()))]


def table_rows(found: gpd.GeoDataFrame) -> list[list[str]]:
    """The cells of the printed table, under `HEADINGS`."""
    from terrain.command.report import clock

    return [
        [
            str(row["rank"]),
            f"{row['lat_deg']:.4f}, {row['lon_deg']:.4f}",
            f"{row['height_m']:.0f}",
            f"{row['freeboard_m']:.0f}" if row["freeboard_m"] == row["freeboard_m"] else "-",
            f"{row['distance_m'] / 1000:.1f}",
            f"{row['day']:%d %b} {clock(row['appears'])}"
            if "day" in row
            else clock(row["appears"]),
            f"{abs(row['offset_deg']):.2f}° {'right' if row['offset_deg'] > 0 else 'left'}",
            f"{row['slope_deg']:.0f}",
            f"{row['score']:.2f}",
        ]
        for row in found.to_dict("records")
    ]


def _days(found: gpd.GeoDataFrame) -> list[list[str]]:
    return [[str(row["rank"]), _spans(row["days"])] for row in found.to_dict("records")]


def _spans(days: str) -> str:
    """Days as a table of them has them, `2026-03-03..2026-03-04, 2026-05-13`, for a person.

    >>> _spans("2026-02-27..2026-03-01, 2026-10-13")
    '27 Feb to 1 Mar, 13 Oct'
    """
    spans = [[dt.date.fromisoformat(day) for day in span.split("..")] for span in days.split(", ")]
    return ", ".join(" to ".join(f"{day.day} {day:%b}" for day in span) for span in spans)


def range_note(sea: Mist | MistRange | None) -> tuple[str, ...]:
    """What a map of a mist with a range of tops must say, as lines; none for a single top."""
    from terrain.mist.level import MistRange

    if not isinstance(sea, MistRange):
        return ()
    top = f"{sea.hoped_m:.0f} m"
    return (
        f"Mist is drawn at {top}; each place is judged at the top nearest to that it works at.",
    )
