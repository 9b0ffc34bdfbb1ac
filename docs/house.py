"""The picture of the house, drawn from the contract that the imports are held to."""

from __future__ import annotations

import html
import tomllib
from pathlib import Path
from typing import Final

from terrain.show.paper import palette

ROOT: Final = Path(__file__).resolve().parents[1]

SAYS: Final = {
    "command": "the command line",
    "desk": "a page on this machine",
    "surveying": "tile by tile",
    "show": "pictures, maps, files",
    "words": "what is said of it",
    "plan": "a timed morning",
    "frame": "lens and aim",
    "vantage": "where to stand",
    "light": "where light falls",
    "year": "every cell, every day",
    "view": "one spot, one hill",
    "walk": "the way in",
    "country": "what is kept of the ground",
    "fetch": "ground from afar",
    "sight": "what is seen",
    "mist": "where it lies",
    "sun": "where it stands",
    "air": "soundings",
    "glow": "light of the air",
    "ground": "heights, names, places",
    "errors": "what a user is told",
    "arrays": "kinds of arrays",
    "compiling": "kernels",
    "cores": "work shared out",
    "processes": "others that work along",
    "memory": "what is free",
    "mapped": "arrays held once",
    "scratch": "what is laid aside",
    "deprecated": "names that go",
    "compiled_files": "kernels on disk",
    "constants": "values with sources",
}
"""What each room is for, in a few words; a room that has none here is drawn without."""

_WIDE, _HIGH, _GAP, _MARGIN = 900, 46, 8, 12
_FONT: Final = "font-family='sans-serif'"


def layers() -> list[list[str]]:
    """The rooms on each floor, the highest first: those on one floor do not know one another."""
    with (ROOT / "pyproject.toml").open("rb") as file:
        contracts = tomllib.load(file)["tool"]["importlinter"]["contracts"]
    house = next(one for one in contracts if one["name"] == "the house has one direction")
    return [
        [room.strip().removeprefix("terrain.") for room in floor.split("|")]
        for floor in house["layers"]
    ]


def drawn() -> str:
    """The picture, as SVG."""
    floors = layers()
    high = len(floors) * (_HIGH + _GAP) - _GAP + 2 * _MARGIN
    head = (
        f"<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 {_WIDE} {high}' role='img' "
        f"aria-label='The rooms of the package; each imports only from floors below it'>"
        f"<rect width='{_WIDE}' height='{high}' fill='{palette.PAPER}'/>"
    )
    rows = [_floor(rooms, _MARGIN + at * (_HIGH + _GAP)) for at, rooms in enumerate(floors)]
    return "\n".join([head, *rows, "</svg>\n"])


def _floor(rooms: list[str], top: int) -> str:
    wide = (_WIDE - 2 * _MARGIN - _GAP * (len(rooms) - 1)) / len(rooms)
    return "\n".join(
        _room(room, _MARGIN + at * (wide + _GAP), top, wide) for at, room in enumerate(rooms)
    )


def _room(name: str, left: float, top: int, wide: float) -> str:
    middle = left + wide / 2
    said = html.escape(SAYS.get(name, ""))
    return (
        f"<rect x='{left:.1f}' y='{top}' width='{wide:.1f}' height='{_HIGH}' rx='3' "
        f"fill='{palette.MIST}' stroke='{palette.WATER_EDGE}'/>"
        f"<text x='{middle:.1f}' y='{top + 20}' text-anchor='middle' {_FONT} font-size='15' "
        f"font-weight='bold' fill='{palette.INK}'>{html.escape(name)}</text>"
        f"<text x='{middle:.1f}' y='{top + 37}' text-anchor='middle' {_FONT} font-size='12' "
        f"fill='{palette.QUIET}'>{said}</text>"
    )
