"""What makes the skyline of a spot in each direction, near ridge before far."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from terrain.arrays import Floats, frozen_arrays
from terrain.constants import TERRESTRIAL_REFRACTION
from terrain.ground.dem import Dem
from terrain.ground.geodesy import destination
from terrain.ground.glance import figure_of, line_of
from terrain.ground.places import Spot
from terrain.sight.beyond import lowest_deg, ordinary_deg
from terrain.sight.far import with_far
from terrain.sight.rays import eye_at, rays_of, scan

AZIMUTH_STEP_DEG: Final = 0.05


@dataclass(frozen=True, kw_only=True, eq=False)
@frozen_arrays()
class Skyline:
    """The highest ground in view from a spot, direction by direction; the arrays are read-only.

    Parameters
    ----------
    spot : Spot
        Where the camera stands.
    eye_height_m : float
        Height of the camera above the datum, metres.
    refraction : float
        The coefficient k that it was computed with, dimensionless.
    azimuth_deg : (n,) float array, degrees
        From true north, strictly ascending over less than a full turn.
    altitude_deg : (n,) float array, degrees
        Of the skyline above the horizontal; NaN where no known ground lies beyond the spot. Where
        the known ground does not reach up to the horizon of the sea, that is the skyline.
    distance_m : (n,) float array, metres
        To what makes the skyline, NaN with the altitude.
    known_to_m : (n,) float array, metres
        How far the ground is known without a gap before the raster's edge or the first unknown
        ground. Ground known again beyond a gap still counts for the skyline.
    hidden_deg : (n,) float array, degrees, optional
        How much higher ordinary hidden ground beyond the known would make the skyline (see
        `terrain.sight.beyond`), 0 where it would not; nothing is said to be hidden unless given.

    Raises
    ------
    ValueError
        For arrays of unlike shapes, and for azimuths that do not ascend.

    Examples
    --------
    >>> import numpy as np
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(50, 0, 5e5, 0, -50, 6e6), shape=(3, 9))
    >>> ridge = terrain.Dem(np.tile([0, 0, 0, 0, 0, 60, 0, 0, 30], (3, 1)), grid)
    >>> lon, lat = (float(part) for part in grid.lonlat(1, 1))
    >>> spot = terrain.Spot(lon_deg=lon, lat_deg=lat)
    >>> line = terrain.skyline(ridge, spot, azimuths_deg=[80.0, 85.0, 90.0])
    >>> float(line.at(87.5).round(2)), float(line.distance_at(90.0).round())
    (16.22, 200.0)
    """

    def __repr__(self) -> str:
        known = self.altitude_deg[np.isfinite(self.altitude_deg)]
        span = f"{known.min():.1f}° to {known.max():.1f}°" if known.size else "nothing known"
        where = self.spot.name or f"{self.spot.lat_deg:.4f}, {self.spot.lon_deg:.4f}"
        return (
            f"<Skyline from {where}, camera at {self.eye_height_m:.0f} m, {span}, "
            f"{len(self.azimuth_deg)} directions>"
        )

    def _repr_html_(self) -> str:
        return figure_of(repr(self)[1:-1], line_of(self.azimuth_deg, self.altitude_deg))

    spot: Spot
    eye_height_m: float
    refraction: float
    azimuth_deg: Floats
    altitude_deg: Floats
    distance_m: Floats
    known_to_m: Floats
    hidden_deg: Floats | None = None

    def __post_init__(self) -> None:
        if self.hidden_deg is None:
            object.__setattr__(self, "hidden_deg", np.zeros(np.shape(self.azimuth_deg)))
        for name in ("azimuth_deg", "altitude_deg", "distance_m", "known_to_m", "hidden_deg"):
            values = np.asarray(getattr(self, name), dtype=float)
            if values.shape != (np.size(self.azimuth_deg),):
                raise ValueError(f"{name} of shape {values.shape} for {np.shape(self.azimuth_deg)}")
            object.__setattr__(self, name, values)
        span = self.azimuth_deg[-1] - self.azimuth_deg[0] if self.azimuth_deg.size else 0.0
        if self.azimuth_deg.size == 0 or np.any(np.diff(self.azimuth_deg) <= 0) or span >= 360.0:
            raise ValueError("azimuths must ascend strictly over less than a full turn")

    @cached_property
    def is_round(self) -> bool:
        """Whether the azimuths go all round: the gap at the end is like those between them."""
        if self.azimuth_deg.size < 3:
            return False
        gap_deg = self.azimuth_deg[0] + 360.0 - self.azimuth_deg[-1]
        return bool(gap_deg <= 1.5 * np.diff(self.azimuth_deg).max())

    def at(self, azimuth_deg: ArrayLike) -> Floats:
        """Altitude of the skyline, degrees, at azimuths of any shape, linear between samples.

        Cyclic; NaN beyond the ends of a skyline that does not go all round.
        """
        return np.asarray(np.interp(self._from_start(azimuth_deg), *self._ring, right=np.nan))

    def known_to_at(self, azimuth_deg: ArrayLike) -> Floats:
        """How far the ground is known, metres, at azimuths of any shape: the nearest sample's."""
        return self.known_to_m[self._nearest(azimuth_deg)]

    def distance_at(self, azimuth_deg: ArrayLike) -> Floats:
        """Distance of the skyline, metres, at azimuths of any shape: that of the nearest sample.

        Not interpolated: between a near ridge and a far one there is no ground.
        """
        return self.distance_m[self._nearest(azimuth_deg)]

    def hidden_at(self, azimuth_deg: ArrayLike) -> Floats:
        """How much higher ordinary hidden ground would be, degrees: the nearest sample's."""
        return np.asarray(self.hidden_deg, dtype=float)[self._nearest(azimuth_deg)]

    def place_at(self, azimuth_deg: ArrayLike) -> tuple[Floats, Floats]:
        """Longitude and latitude of the ground on the skyline at azimuths of any shape."""
        azimuth = np.asarray(azimuth_deg, dtype=float)
        distance_m = self.distance_at(azimuth)
        return destination(self.spot.lon_deg, self.spot.lat_deg, azimuth, distance_m)

    def among(self, azimuths_deg: Floats) -> Skyline:
        """The same among further azimuths (n,), degrees, ascending, in which nothing is known."""
        at = np.searchsorted(azimuths_deg, self.azimuth_deg)

        def spread(values: ArrayLike | None) -> Floats:
            wide = np.full(azimuths_deg.size, np.nan)
            wide[at] = values
            return wide

        return replace(
            self,
            azimuth_deg=azimuths_deg,
            altitude_deg=spread(self.altitude_deg),
            distance_m=spread(self.distance_m),
            known_to_m=np.nan_to_num(spread(self.known_to_m)),
            hidden_deg=np.nan_to_num(spread(self.hidden_deg)),
        )

    def _from_start(self, azimuth_deg: ArrayLike) -> Floats:
        """Azimuths turned into [first, first + 360)."""
        first = self.azimuth_deg[0]
        return np.asarray(first + np.mod(np.asarray(azimuth_deg, dtype=float) - first, 360.0))

    @cached_property
    def _ring(self) -> tuple[Floats, Floats]:
        """Azimuths and altitudes, the first of them again at the end of one that is round."""
        if not self.is_round:
            return self.azimuth_deg, self.altitude_deg
        return (
            np.append(self.azimuth_deg, self.azimuth_deg[0] + 360.0),
            np.append(self.altitude_deg, self.altitude_deg[0]),
        )

    @cached_property
    def _middles_deg(self) -> Floats:
        """Azimuths halfway from each to the next, and from the last to the first."""
        return self.azimuth_deg + 0.5 * np.diff(
            self.azimuth_deg, append=self.azimuth_deg[0] + 360.0
        )

    def _nearest(self, azimuth_deg: ArrayLike) -> NDArray[np.intp]:
        found = np.searchsorted(self._middles_deg, self._from_start(azimuth_deg), side="right")
        return np.asarray(found % self.azimuth_deg.size)


def skyline(
    dem: Dem,
    spot: Spot,
    *,
    azimuths_deg: ArrayLike | None = None,
    refraction: float = TERRESTRIAL_REFRACTION,
    least_deg: ArrayLike = -90.0,
) -> Skyline:
    """The skyline of a spot.

    Every line of cell centres that a ray crosses counts, and within the first 16 cells the
    surface between them too. Altitudes include the earth's curvature and refraction.

    Parameters
    ----------
    dem : Dem
        The ground.
    spot : Spot
        Where the camera stands, and its height over the ground.
    azimuths_deg : (n,) array_like, degrees, optional
        From true north, strictly ascending, less than a full turn; every 0.05 degrees unless given.
    refraction : float, optional
        Coefficient k of terrestrial refraction, dimensionless; 0.13 unless given.
    least_deg : float or (n,) array_like, degrees, optional
        Where the skyline stands lower than this, it may be told lower than it is, and where it is
        may be told wrong; that takes less time.

    Returns
    -------
    Skyline
        Its arrays are (n,).

    Raises
    ------
    NoGround
        Where the spot has no known ground.

    References
    ----------
    The fall of the ground is d² (1 - k) / 2R, as in any handbook of surveying.

    Examples
    --------
    >>> from affine import Affine
    >>> from terrain.ground.geodesy import local_transverse_mercator
    >>> from terrain.ground.grid import Grid
    >>> crs, shape = local_transverse_mercator(-24.0, 54.4), (3, 9)
    >>> grid = Grid(crs=crs, transform=Affine(50, 0, -75, 0, -50, 75), shape=shape)
    >>> dem = Dem(np.tile([0, 0, 0, 0, 0, 60, 0, 0, 30], (3, 1)), grid)
    >>> spot = Spot(lon_deg=-24.0, lat_deg=54.4)
    >>> line = skyline(dem, spot, azimuths_deg=[80.0, 90.0])
    >>> line.altitude_deg.round(2), line.distance_m.round(), line.known_to_m.round()
    (array([16.02, 16.25]), array([203., 200.]), array([381., 375.]))
    """
    azimuths = _azimuths(azimuths_deg)
    rays = rays_of(dem, spot, azimuths, refraction)
    altitude, distance_m, known_m = scan(rays, np.array([np.inf]), least_deg)
    eye_height_m = eye_at(dem, spot).height_m
    lowest, lowest_m = lowest_deg(dem, eye_height_m, refraction)
    ground, ground_m, known_m = with_far(
        dem, rays, (altitude[:, 0], distance_m[:, 0], known_m), above_deg=float(lowest), finely=True
    )
    ground_deg = np.degrees(ground)
    altitude_deg = np.maximum(ground_deg, lowest)
    ordinary = ordinary_deg(dem, eye_height_m, known_m, refraction)
    return Skyline(
        spot=spot,
        eye_height_m=eye_height_m,
        refraction=refraction,
        azimuth_deg=azimuths,
        altitude_deg=altitude_deg,
        distance_m=np.where(altitude_deg > ground_deg, lowest_m, ground_m),
        known_to_m=known_m,
        hidden_deg=np.nan_to_num(np.maximum(ordinary - altitude_deg, 0.0)),
    )


def _azimuths(azimuths_deg: ArrayLike | None) -> Floats:
    if azimuths_deg is None:
        return np.arange(round(360.0 / AZIMUTH_STEP_DEG), dtype=np.float64) * AZIMUTH_STEP_DEG
    return np.atleast_1d(np.array(azimuths_deg, dtype=float))
