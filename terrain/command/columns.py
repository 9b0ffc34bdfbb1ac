"""The columns that tables of several commands have: each a heading and the key of what it says."""

from __future__ import annotations

from terrain.command.report import Column
from terrain.words.clocks import clock_and_zone
from terrain.words.figures import beside, place, whole


def text(heading: str, key: str, *, left: bool = True) -> Column:
    """What is a text already, `-` where it is empty."""
    return Column(heading, lambda row: str(row[key] or "-"), left)


def metres(heading: str, key: str) -> Column:
    """A number without decimals, `-` where it is not known."""
    return Column(heading, lambda row: whole(row[key]))


def kilometres(heading: str, key: str) -> Column:
    """Metres as kilometres to the tenth."""
    return Column(heading, lambda row: f"{row[key] / 1000:.1f}")


def fixed(heading: str, key: str, decimals: int = 2) -> Column:
    """A number with so many decimals."""
    return Column(heading, lambda row: f"{row[key]:.{decimals}f}")


def score() -> Column:
    """How good a place is, with a mark where ground on the way to the hill is not known."""
    return Column("score", lambda row: f"{row['score']:.2f}{'' if row['known_between'] else ' ?'}")


def at_clock(heading: str, key: str) -> Column:
    """A moment by the clock."""
    return Column(heading, lambda row: clock_and_zone(row[key]))


def to_side(heading: str, key: str = "offset_deg") -> Column:
    """How far to the side of the summit the sun is."""
    return Column(heading, lambda row: beside(row[key]))


def stands(heading: str, *, left: bool = False) -> Column:
    """Where the place of a row is."""
    return Column(heading, lambda row: place(row["lat_deg"], row["lon_deg"]), left)
