"""Attacks on what is written: disks that are full, files in use, names that look like markup."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from tests.attacks import Case, island

_PLAN: Final = ["plan", "area.toml", "--spot", "ridge"]
SAVED: Final[dict[str, list[str]]] = {
    "tif": ["mist", "area.toml"],
    "gpkg": ["summits", "area.toml"],
    "geojson": ["summits", "area.toml"],
    "csv": ["summits", "area.toml"],
    "png": ["mist", "area.toml"],
    "svg": ["mist", "area.toml"],
    "pdf": ["mist", "area.toml"],
    **{ending: _PLAN for ending in ("html", "gpx", "kml", "ics")},
}
"""A command that saves a file of each kind."""

OLD: Final = "the old file\n"


def cases() -> Iterator[Case]:
    """All of them."""
    yield from _full_disk()


def _full_disk() -> Iterator[Case]:
    for ending, command in SAVED.items():
        old = f"old.{ending}"
        for limit_kb in (0, 2) if ending in ("gpx", "kml", "ics", "csv", "geojson") else (1, 16):
            yield Case(
                f"full disk, {ending} after {limit_kb} kB",
                [*command, "--save", old],
                island() | {old: OLD},
                codes=frozenset({2}),
                limit_kb=limit_kb,
            )
