"""The unit of a raster's heights: said by the file, by the user, or doubted by what they are."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from pyproj import CRS

from terrain.arrays import Singles
from terrain.constants import DEEPEST_SEA_M, FOOT_M, LOWEST_LAND_M
from terrain.errors import TerrainError

METRES_PER_UNIT = {"metre": 1.0, "foot": FOOT_M, "us-survey-foot": 1200 / 3937}
_UNIT_WORDS = {
    "metre": ("m", "[m]", "metre", "metres", "meter", "meters", "m a.s.l.", "masl"),
    "foot": ("ft", "foot", "feet", "foot (international)", "international foot"),
    "us-survey-foot": (
        *("us survey foot", "us survey feet", "us-ft", "ftus", "foot_us", "us_ft"),
        *("us_survey_foot", "us_survey_feet", "us-survey-foot", "survey foot", "survey feet"),
    ),
}
_SAYS_NOTHING = ("", "1", "-", "none", "unknown", "n/a", "height", "elevation", "gpm")
HIGHEST_GROUND_M = 9_000.0
# voids have one value or a few; ground has many
_VALUES_OF_GROUND = 10
# west, south, east, north: from the Sea of Galilee, some 210 m below the sea, to the Dead Sea. Only
# there does land lie much lower than 500 feet below it, and no sea does
_LOWEST_COUNTRY = (35.2, 30.5, 35.9, 33.0)
Bounds = tuple[float, float, float, float]


def metres_per_unit(height_unit: str) -> float:
    """The unit of height in metres: "metre", "foot" (international) or "us-survey-foot"."""
    if height_unit not in METRES_PER_UNIT:
        known = ", ".join(METRES_PER_UNIT)
        raise TerrainError(f"heights in {height_unit!r} are not understood: use one of {known}")
    return METRES_PER_UNIT[height_unit]


def unit_of(dataset: Any, band: int, name: str, crs: CRS, height_unit: str | None) -> str | None:
    """The unit of height that a file or the user says, None where neither does.

    TerrainError where they say different ones: one of them is wrong.
    """
    if height_unit is not None:
        metres_per_unit(height_unit)
    vertical = crs.sub_crs_list[1].axis_info if crs.is_compound else []
    declared = dataset.units[band - 1] or (vertical[0].unit_name if vertical else "")
    for unit, words in _UNIT_WORDS.items():
        if declared.strip().lower() in words:
            if height_unit not in (None, unit):
                raise TerrainError(
                    f'{name} says its heights are in "{declared}", not in {height_unit}: '
                    f'leave the height unit out or give "{unit}"'
                )
            return unit
    if declared.strip().lower() not in _SAYS_NOTHING and height_unit is None:
        raise TerrainError(
            f'{name} says its heights are in "{declared[:40]}", which is not understood: give the '
            f"height unit if it is one of {', '.join(METRES_PER_UNIT)}, or convert them"
        )
    return height_unit


def check_metres(heights: Singles, name: str, bounds_deg: Callable[[], Bounds]) -> None:
    """Ask for the unit where heights of which nobody said it cannot be metres.

    bounds_deg: answers where they lie; asked only where they are low.
    """
    lowest, highest = np.fmin.reduce(heights, axis=None), np.fmax.reduce(heights, axis=None)
    if highest > HIGHEST_GROUND_M:
        above = heights[(heights > HIGHEST_GROUND_M) & (heights <= HIGHEST_GROUND_M / FOOT_M)]
        _doubt(above, name, "higher than any ground on earth")
    if lowest < LOWEST_LAND_M and _is_in_lowest_country(bounds_deg()):
        below = heights[(heights < LOWEST_LAND_M) & (heights >= LOWEST_LAND_M / FOOT_M)]
        _doubt(-below, name, "lower than any land on earth", sign=-1.0)


def _doubt(beyond: Singles, name: str, what: str, sign: float = 1.0) -> None:
    if np.unique(beyond).size >= _VALUES_OF_GROUND:
        raise TerrainError(
            f"{name} goes to {sign * float(beyond.max()):.0f}, {what} if that is metres: "
            'give the height unit, "foot" or "metre"'
        )


def _is_in_lowest_country(bounds_deg: Bounds) -> bool:
    west, south, east, north = bounds_deg
    left, bottom, right, top = _LOWEST_COUNTRY
    return west < right and east > left and south < top and north > bottom


def only_ground(heights: Singles) -> Singles:
    """Heights in metres, in place, without those that no ground on earth has."""
    heights[(heights < DEEPEST_SEA_M) | (heights > HIGHEST_GROUND_M)] = np.nan
    return heights
