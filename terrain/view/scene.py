"""A hill in its country: what every spot and every morning of it have in common."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from terrain.arrays import Flags, Floats
from terrain.country import Country
from terrain.errors import NoAnswer
from terrain.ground.dem import Dem
from terrain.ground.grid import NEARLY_CELLS, nearest_cells
from terrain.ground.places import Hill, Spot
from terrain.mist.mist import Mist
from terrain.view.prospect import Prospect, prospect

_OUT_M: Final = 50.0
"""So far a summit stands out of a mist that shows it (no source)."""


def lower_top_m(hill: Hill) -> float:
    """A mist's top out of which a hill stands plainly, metres."""
    return 10.0 * math.floor((hill.height_m - _OUT_M) / 10.0)


def lower_mist(mist: Mist, top_m: float, by_m: float) -> list[Mapping[str, float]]:
    """What is asked for a mist with its top at so much, or, along valley floors, so much lower."""
    if mist.range_m[0] == mist.range_m[1]:
        return [{"mist_top_m": top_m}]
    return [{"mist_lower_by_m": math.ceil(by_m)}]


def mist_under(mist: Mist, ground_m: float, under_m: float) -> list[Mapping[str, float]]:
    """The same for a spot that lies so far under it."""
    clear_m = 10.0 * math.floor(ground_m / 10.0 - 1.0)
    return lower_mist(mist, clear_m, under_m + ground_m - clear_m)


@dataclass(frozen=True, eq=False)
class Scene:
    """A hill in its country: what every spot and every morning has in common.

    Its `own_ground`, (rows, cols), is True on the hill's own ground above the mist.

    Parameters
    ----------
    country : Country
        The ground, with the mist on it.
    hill : Hill
        The hill that is looked at.

    Raises
    ------
    NoGround
        Where the hill stands on no ground that is known.
    NoAnswer
        Where it lies under the mist.

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
    >>> scene = terrain.Scene(terrain.Country(cone), hill)
    >>> scene.own_ground.shape, bool(scene.own_ground[30, 40])
    ((61, 81), True)
    """

    country: Country
    hill: Hill
    own_ground: Flags = field(init=False, repr=False)
    _last: list[tuple[tuple[Spot, float, float], Prospect]] = field(
        default_factory=list, init=False, repr=False
    )

    def __post_init__(self) -> None:
        object.__setattr__(self, "own_ground", self.country.own_ground(self.hill))
        mist, hill = self.country.mist, self.hill
        if mist is None:
            return
        top = mist.top_at(hill.lon_deg, hill.lat_deg)
        if top >= hill.height_m:
            raise NoAnswer(
                f"{hill.label} ({hill.height_m:.0f} m) lies {top - hill.height_m:.0f} m under the "
                f"mist's top at {top:.0f} m: choose a higher hill or a lower mist",
                loosen=lower_mist(mist, lower_top_m(hill), float(top) - lower_top_m(hill)),
            )

    @property
    def dem(self) -> Dem:
        """The true ground."""
        return self.country.dem

    @property
    def seen(self) -> Dem:
        """The ground with the mist on it."""
        return self.country.seen

    @property
    def mist(self) -> Mist | None:
        """The mist over the ground, None without one."""
        return self.country.mist

    @property
    def refraction(self) -> float:
        """Coefficient of terrestrial refraction."""
        return self.country.refraction

    def frame_about(self, spot: Spot, azimuth_deg: float, altitude_deg: float) -> Prospect:
        """What a spot sees in the frame of `FIELD_DEG` about a direction, as `prospect` has it.

        The last is kept: what is seen of the hill and of the mist about it is asked of the same.
        """
        asked = spot, azimuth_deg, altitude_deg
        for known, about in self._last[:]:
            if known == asked:
                return about
        about = prospect(self.country, *asked)
        self._last[:] = [(asked, about)]
        return about

    def is_misty(self, lon_deg: ArrayLike, lat_deg: ArrayLike) -> Flags:
        """Whether mist covers places, of the shape of the places."""
        if self.mist is None:
            return np.zeros(np.shape(lon_deg), dtype=bool)
        return self._on(self.mist.covers, *self.dem.grid.rowcol(lon_deg, lat_deg))

    def is_own(self, lon_deg: ArrayLike, lat_deg: ArrayLike) -> Flags:
        """Whether places lie on the hill's own ground, of the shape of the places.

        The distance of a skyline is that of its nearest sample, so its last ground may seem to lie
        a little beyond the raster's edge; the horizon of the sea lies far beyond.
        """
        return self.owns(*self.dem.grid.rowcol(lon_deg, lat_deg))

    def owns(self, row: Floats, col: Floats) -> Flags:
        """As `is_own`, of fractional rows and columns of the ground."""
        return self._on(self.own_ground, row, col)

    def _on(self, cells: Flags, row: Floats, col: Floats) -> Flags:
        near = self.dem.grid.contains(row, col, beyond=NEARLY_CELLS)
        return np.asarray(cells[nearest_cells(row, col, self.dem.shape)] & near)
