"""What `terrain vantages` says of its answer: the tables on the screen and the words on the map."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

from terrain.command.columns import fixed, kilometres, metres, stands, text, to_side
from terrain.command.report import Column, line, rows_of, table
from terrain.words.terminal import clock

if TYPE_CHECKING:
    from collections.abc import Sequence

    import geopandas as gpd
    from matplotlib.figure import Figure

    from terrain.ground.dem import Dem
    from terrain.ground.places import Hill, Spot
    from terrain.mist.mist import Mist
    from terrain.vantage.tops import MistRange

__all__ = ["tell", "tell_vantages", "vantages_map"]

NOTES = (
    "Clock times of the place.",
    "Computed from elevation data, not surveyed: check ground, access and weather.",
)

_COLUMNS = (
    stands("place"),
    metres("height m", "height_m"),
    metres("above mist m", "freeboard_m"),
    kilometres("to hill km", "distance_m"),
    Column("sun appears", lambda row: _appears(row)),
    to_side("from summit"),
    metres("slope °", "slope_deg"),
    fixed("score", "score"),
)

_MORE = {
    "mist_share": (Column("of the view %", lambda row: f"{100.0 * row['mist_share']:.0f}"),),
    "islands_in_view": (Column("islands", lambda row: f"{row['islands_in_view']}"),),
    "pours_over": (text("pours over", "pours_over"),),
    "mist_top_m": (metres("mist top m", "mist_top_m"),),
    "mist_band_m": (
        Column("works at tops m", lambda row: _run(row["mist_from_m"], row["mist_to_m"])),
    ),
    "walk_min": (
        metres("walk min", "walk_min"),
        Column("from", lambda row: row["start"], left=True),
    ),
}
"""What more is said where the answer has a column."""


def tell(found: gpd.GeoDataFrame, title: str, sea: Mist | MistRange | None) -> None:
    """Print the vantages: where and when, what of the mist is seen, the walk, the days."""
    from terrain.vantage.tops import MistRange

    tell_vantages(found, title)
    more = [column for key, columns in _MORE.items() if key in found for column in columns]
    if more:
        table(_more_title(found), more, rows_of(found), numbered=True)
    if "days" in found:
        days = Column("days", lambda row: _spans(row["days"]), left=True)
        table("Their mornings", [days], rows_of(found), numbered=True)
    if isinstance(sea, MistRange):
        line(f"The mist may stand anywhere from {sea.label}. Each row is about the top hoped for,")
        line(f"{sea.hoped_m:.0f} m, or else the nearest to it that works there.")
    for name, why in found.attrs.get("starts_left_out", {}).items():
        line(f"No walk from {name}: {why}.")
    line("Computed from elevation data, not surveyed: check the ground, the access and the")
    line("weather. Steep ground and edges are dangerous in the dark. Never look at the sun")
    line("through a lens. Next: terrain sunrise ... --spot LAT,LON --save view.png")


def tell_vantages(found: gpd.GeoDataFrame, title: str) -> None:
    """Print where each vantage is, when the sun appears there, and how good it is."""
    table(title, _COLUMNS, rows_of(found), numbered=True)


def _appears(row: dict[str, Any]) -> str:
    return f"{row['day']:%d %b} {clock(row['appears'])}" if "day" in row else clock(row["appears"])


def _more_title(found: gpd.GeoDataFrame) -> str:
    mist = "The mist in view" if "mist_share" in found else ""
    walk = "the walk in" if "walk_min" in found else ""
    title = " and ".join(part for part in (mist, walk) if part)
    return title[0].upper() + title[1:]


def _run(low_m: float, high_m: float) -> str:
    return f"{low_m:.0f}" if low_m == high_m else f"{low_m:.0f} to {high_m:.0f}"


def vantages_map(
    dem: Dem,
    hill: Hill,
    found: gpd.GeoDataFrame,
    *,
    when: str,
    sea: Mist | MistRange | None,
    starts: Sequence[Spot],
    paths: gpd.GeoDataFrame | None = None,
) -> Figure:
    """The map of the vantages of a hill."""
    from terrain.show.map.map import map_figure
    from terrain.vantage.tops import MistRange

    return map_figure(
        dem,
        title=f"{hill.label} at sunrise: where to stand",
        subtitle=_subtitle(found, when, sea),
        mist=sea.mist(sea.hoped_m) if isinstance(sea, MistRange) else sea,
        hill=hill,
        vantages=found,
        starts=_shown_starts(starts, found),
        paths=paths,
        notes=(*_range_note(sea), *NOTES),
    )


def _subtitle(found: gpd.GeoDataFrame, when: str, sea: Mist | MistRange | None) -> str:
    """What the map of vantages shows, in one line."""
    mist = "" if sea is None else f", mist up to {sea.label}"
    if "mist_top_m" in found and sea is not None:
        mist = f", mist with its top anywhere from {sea.label}"
    places = "one place" if len(found) == 1 else f"{len(found)} places"
    return f"{places} where the sun appears behind it {when}{mist}"


def _shown_starts(begins: Sequence[Spot], found: gpd.GeoDataFrame) -> list[Spot]:
    """Those of the starts that some vantage is nearest to, each with a name."""
    from dataclasses import replace

    from terrain.vantage.access import start_name

    named = [replace(start, name=start_name(start)) for start in begins]
    return [start for start in named if start.name in set(found.get("start", ()))]


def _range_note(sea: Mist | MistRange | None) -> tuple[str, ...]:
    """What a map of a mist with a range of tops must say, as lines; none for a single top."""
    from terrain.vantage.tops import MistRange

    if not isinstance(sea, MistRange):
        return ()
    top = f"{sea.hoped_m:.0f} m"
    return (
        f"Mist is drawn at {top}; each place is judged at the top nearest to that it works at.",
    )


def _spans(days: str) -> str:
    """Days as a table of them has them, `2026-03-03..2026-03-04, 2026-05-13`, for a person.

    >>> _spans("2026-02-27..2026-03-01, 2026-10-13")
    '27 Feb to 1 Mar, 13 Oct'
    """
    spans = [[dt.date.fromisoformat(day) for day in span.split("..")] for span in days.split(", ")]
    return ", ".join(" to ".join(f"{day.day} {day:%b}" for day in span) for span in spans)
