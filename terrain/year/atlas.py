"""The year atlas: for every cell of a raster, when in a year the sun passes a hill.

Each cell is one closed formula and two looks along the line through the summit, so a year costs
no more than a day (see `_fan_kernels` and `_days_kernels`). What the atlas promises of a cell is
that it sees the summit, and that the sun's way, of its centre or of its upper edge, passes the
place where the sky begins over the summit within the tolerance. Whether it shows there as it
appears, later, or not at all takes a whole skyline: `confirm` says so for chosen cells.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from terrain.arrays import Flags, Singles, frozen_arrays
from terrain.constants import EYE_HEIGHT_M
from terrain.country import Country, country_of
from terrain.errors import TerrainError
from terrain.ground.dem import Dem
from terrain.ground.grid import Grid
from terrain.ground.places import Hill
from terrain.mist.mist import Mist
from terrain.sight.left_out import LeftOut, Margins
from terrain.view.backdrop import Backdrop
from terrain.view.scene import Scene
from terrain.year.cells import cells_of


@dataclass(frozen=True, kw_only=True, eq=False)
@frozen_arrays(copy=False)
class Atlas:
    """When in a year the sun passes a hill, for every cell; all arrays are read-only.

    The year is a ring: its last days and its first are neighbours. A spell that reaches over a
    solstice is given once, on the side where it begins and with the best day of that side.

    Attributes
    ----------
    hill : Hill
        As asked.
    year : int
        As asked.
    evening : bool
        Whether of the setting sun.
    tolerance_deg : float
        As asked, degrees.
    against : Backdrop, str or None
        As asked.
    eye_m : float
        As asked, metres.
    refraction : float
        As asked, dimensionless.
    ground : Dem
        What the eyes stand on.
    sees : (rows, cols) bool array
        Whether a camera there sees the summit.
    on_skyline : (rows, cols) bool array
        And no ground higher in view stands behind it but the hill's own: it is seen against the
        sky, elsewhere against ground or mist.
    north_day : (rows, cols) float32 array, days
        The best day of the spell while the sun goes north, from the December solstice to that of
        June; 1 is 1 January; NaN without a spell.
    north_spell_days : (rows, cols) float32 array, days
        On how many days of that spell the sun passes within the tolerance.
    south_day, south_spell_days : (rows, cols) float32 array, days
        The same while it goes south.
    distance_m : (rows, cols) float32 array, metres
        To the summit, NaN where it is not seen.
    azimuth_deg, altitude_deg : (rows, cols) float32 array, degrees
        Of the summit, NaN where it is not seen.
    stature_deg : (rows, cols) float32 array, degrees
        How tall it stands over the other ground before it, NaN where only the hill's own lies
        between.
    isolation_deg : (rows, cols) float32 array, degrees
        How far it stands above the highest other ground behind it, negative where that is higher,
        NaN where none is known there; of the sea's horizon where that is the higher.
    sky_from_deg : (rows, cols) float32 array, degrees
        Altitude at which the sky begins over the summit: its own where it is on the skyline.

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
    >>> atlas = terrain.backlight_atlas(cone, hill, 2025)
    >>> atlas.event, {name: round(area) for name, area in atlas.areas_km2().items()}
    ('sunrise', {'sees_km2': 49, 'on_skyline_km2': 49, 'backlit_km2': 16})
    """

    hill: Hill
    year: int
    evening: bool
    tolerance_deg: float
    against: Backdrop | str | None
    eye_m: float
    refraction: float
    ground: Dem
    sees: Flags
    on_skyline: Flags
    north_day: Singles
    north_spell_days: Singles
    south_day: Singles
    south_spell_days: Singles
    distance_m: Singles
    azimuth_deg: Singles
    altitude_deg: Singles
    stature_deg: Singles
    isolation_deg: Singles

    @property
    def grid(self) -> Grid:
        """Where the cells lie."""
        return self.ground.grid

    @property
    def event(self) -> str:
        """What the atlas is about, in one word: sunrise or sunset."""
        return "sunset" if self.evening else "sunrise"

    @property
    def has_days(self) -> Flags:
        """(rows, cols) whether the sun passes within the tolerance on any day."""
        return ~(np.isnan(self.north_day) & np.isnan(self.south_day))

    @property
    def sky_from_deg(self) -> Singles:
        """(rows, cols) altitude at which the sky begins over the summit, degrees."""
        under = np.where(self.on_skyline, np.float32(0.0), self.isolation_deg)
        return self.altitude_deg - under

    @cached_property
    def _margins(self) -> Margins:
        return Margins(
            ground=self.ground,
            azimuth_deg=self.azimuth_deg,
            altitude_deg=self.altitude_deg,
            eye_m=self.eye_m,
            refraction=self.refraction,
        )

    @property
    def known_to_m(self) -> Singles:
        """How far the ground is known from each cell toward the summit, and on behind it, metres.

        (rows, cols) float32, read-only; NaN where the summit is not seen. Less than `distance_m`
        where unknown ground lies before the summit, which may hide it.
        """
        return self._margins.known_to_m

    def beyond_height_m(self) -> Singles:
        """How high hidden ground beyond the known would have to be to change the answer.

        (rows, cols) float32, metres above the datum: to stand over the summit behind it, or
        before it to hide it. NaN where the summit is not seen, and on the summit itself; far below
        all ground where, near it, one looks down over it and any ground would do.
        """
        own_cell = self.distance_m < 0.5 * self.grid.cell_m
        return np.where(own_cell, np.float32(np.nan), self._margins.beyond_height_m)

    def left_out(self) -> LeftOut:
        """What the raster's edge and gaps leave open for the cells that see the summit."""
        return self._margins.left_out()

    def areas_km2(self) -> dict[str, float]:
        """Area of the ground that sees the summit, has it on the skyline, and has days at all."""
        cell_km2 = (self.grid.cell_m / 1000.0) ** 2
        cells = {"sees": self.sees, "on_skyline": self.on_skyline, "backlit": self.has_days}
        return {f"{name}_km2": float(where.sum()) * cell_km2 for name, where in cells.items()}

    def bands(self) -> dict[str, NDArray[Any]]:
        """The arrays by what they are, with their units, as `save_raster` writes them."""
        near = f"within {self.tolerance_deg:g} degrees of the sky over the summit"
        return {
            "sees the summit (1 yes, 0 no)": self.sees,
            "summit on the skyline (1 yes, 0 no)": self.on_skyline,
            f"best day of the {self.event} going north (day of {self.year})": self.north_day,
            f"days {near} going north": self.north_spell_days,
            f"best day of the {self.event} going south (day of {self.year})": self.south_day,
            f"days {near} going south": self.south_spell_days,
            "distance of the summit (m)": self.distance_m,
            "azimuth of the summit (degrees from true north)": self.azimuth_deg,
            "altitude of the summit (degrees)": self.altitude_deg,
            "summit over the ground before it (degrees)": self.stature_deg,
            "summit over the ground behind it (degrees)": self.isolation_deg,
            "ground known toward the summit and on behind it (m)": self.known_to_m,
            "height from which hidden ground beyond would change this (m)": self.beyond_height_m(),
        }


def backlight_atlas(
    ground: Dem | Country,
    hill: Hill,
    year: int,
    *,
    tolerance_deg: float = 0.5,
    mist: Mist | None = None,
    against: Backdrop | str | None = None,
    evening: bool = False,
    eye_m: float = EYE_HEIGHT_M,
    refraction: float | None = None,
) -> Atlas:
    """On which days of a year the sun stands behind a hill or over it, for every cell of a raster.

    Those on which the way of its centre or of its upper edge passes the place where the sky begins
    over the summit: whether it appears there, or comes there having shown before.

    Parameters
    ----------
    ground : Dem or Country
        The ground on which all of it is; a `Country` keeps what is worked out from it.
    hill : Hill
        The hill that is looked at.
    year : int
        Of the calendar; its days are those of the clock at the hill.
    tolerance_deg : float, optional
        How far from there the sun's way may pass, degrees across it; the best day is that on which
        the upper edge passes through it.
    mist : Mist, optional
        Lies over the ground, in place of one that the country has; no cell under it sees
        anything.
    against : Backdrop or str, optional
        Days only where the summit is seen against that: "sky", "mist" or "ground".
    evening : bool, optional
        The sun on its way down in place of up.
    eye_m : float, optional
        Of the camera over the ground, metres.
    refraction : float, optional
        Coefficient k of terrestrial refraction, dimensionless, in place of the country's own.

    Returns
    -------
    Atlas
        Its arrays are (rows, cols).

    Raises
    ------
    NoGround
        Where the hill is off the known ground.
    NoAnswer
        Where it lies under the mist.
    TerrainError
        For a tolerance, a backdrop or a year that makes no sense.

    Examples
    --------
    >>> import numpy as np
    >>> from affine import Affine
    >>> from terrain.ground.geodesy import local_transverse_mercator
    >>> placing = Affine(100.0, 0.0, -4050.0, 0.0, -100.0, 4050.0)
    >>> grid = Grid(crs=local_transverse_mercator(-24, 54), transform=placing, shape=(81, 81))
    >>> rows, cols = np.mgrid[-40:41, -40:41]
    >>> cone = Dem(np.maximum(300.0 - 40.0 * np.hypot(rows, cols), 0.0), grid)
    >>> hill = Hill(lon_deg=-24.0, lat_deg=54.0, height_m=300.0, name="Cone")
    >>> atlas = backlight_atlas(cone, hill, 2025)
    >>> west = atlas.north_day[40, 5], atlas.north_spell_days[40, 5]  # the hill is due east of it
    >>> bool(atlas.on_skyline[40, 5]), *(int(number) for number in west)
    (True, 88, 4)
    """
    scene = Scene(country_of(ground, mist=mist, refraction=refraction), hill)
    return atlas_of(
        scene,
        year,
        tolerance_deg=tolerance_deg,
        against=against,
        evening=evening,
        eye_m=eye_m,
    )


def atlas_of(
    scene: Scene,
    year: int,
    *,
    tolerance_deg: float,
    evening: bool,
    eye_m: float,
    against: Backdrop | str | None = None,
) -> Atlas:
    """The atlas of a scene; arguments and errors as in `backlight_atlas`."""
    if not 0.0 < tolerance_deg < 90.0:
        raise TerrainError(f"the tolerance must be above 0 degrees, got {tolerance_deg}")
    if not 0.0 <= eye_m < 1000.0:
        raise TerrainError(f"an eye height of {eye_m} m is not between 0 and 1000 m")
    if against not in {None, *Backdrop}:
        raise TerrainError(f"against is {', '.join(Backdrop)}, not {against!r}")
    asked: dict[str, Any] = {"tolerance_deg": tolerance_deg, "evening": evening, "eye_m": eye_m}
    asked["against"] = against
    found = cells_of(scene, year, **asked)
    hill, k = scene.hill, scene.refraction
    return Atlas(hill=hill, year=year, refraction=k, ground=scene.dem, **asked, **found)
