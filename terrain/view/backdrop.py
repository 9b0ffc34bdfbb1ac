"""What stands where a line of sight ends: sky, mist, or ground, and which.

::

    eye o-----_____        /\\ summit
              -----_____ / \\ \\                   ..-''-.
                        /    \\ -----_____   _.-''        '   the line past the summit ends on
                                          -'                  ground, though higher ground may
                    ~~~~~~~~~~~~~~~~~~~~~~                    make the skyline far behind
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from terrain.arrays import Flags, Floats
from terrain.ground.geodesy import destination
from terrain.ground.places import Spot
from terrain.sight.line import SightLine, profile
from terrain.sight.past import TOP_CELLS
from terrain.view.scene import Scene


class Backdrop(StrEnum):
    """What a thing in the view may be seen against.

    Examples
    --------
    >>> import terrain
    >>> [str(each) for each in terrain.Backdrop], terrain.Backdrop("mist").name
    (['sky', 'mist', 'ground'], 'MIST')
    """

    SKY = "sky"
    MIST = "mist"
    GROUND = "ground"

    @classmethod
    def _missing_(cls, value: object) -> None:
        raise ValueError(f"a backdrop is one of {', '.join(cls)}, not {value!r}")


@dataclass(frozen=True, kw_only=True)
class Obstacle:
    """Ground that stands where it should not, or mist: its place, distance and height, metres.

    is_mist: whether the mist's top is what stands there. The height is NaN beyond the known ground,
    where the horizon of the sea is the least.
    """

    lon_deg: float
    lat_deg: float
    distance_m: float
    height_m: float
    is_mist: bool = False

    @property
    def backdrop(self) -> Backdrop:
        """What is seen there."""
        return Backdrop.MIST if self.is_mist else Backdrop.GROUND

    def __str__(self) -> str:
        """In words, for a reason."""
        if math.isnan(self.height_m):
            away_km = self.distance_m / 1000.0
            return f"ground that is not known, at its lowest a horizon {away_km:.1f} km away"
        what = "mist up to" if self.is_mist else "ground of"
        return (
            f"{what} {self.height_m:.0f} m at {self.lat_deg:.4f}, {self.lon_deg:.4f}, "
            f"{self.distance_m / 1000.0:.1f} km away"
        )


class Met(NamedTuple):
    """What lines of sight meet beyond a distance.

    reaches: (n,) whether each comes so far. backdrop: (n,) what it meets beyond, as `Backdrop`;
    distance_m: (n,) how far off that is, infinite for the sky.
    """

    reaches: Flags
    backdrop: NDArray[np.str_]
    distance_m: Floats


def ground_on(scene: Scene, spot: Spot, azimuth_deg: float, distance_m: float) -> Obstacle:
    """The ground at a distance along an azimuth from a spot, as what stands there."""
    lon, lat = destination(spot.lon_deg, spot.lat_deg, azimuth_deg, distance_m)
    grid, height_m = scene.dem.grid, math.nan
    if grid.holds_nearly(lon, lat):
        height_m = float(scene.seen.heights_m[grid.cells_at(lon, lat)])
    elif scene.seen.far is not None:
        height_m = scene.seen.far.top_at(*map(float, grid.rowcol(lon, lat)))
    return Obstacle(
        lon_deg=float(lon),
        lat_deg=float(lat),
        distance_m=distance_m,
        height_m=height_m,
        is_mist=bool(scene.is_misty(lon, lat)),
    )


def met_beyond(
    scene: Scene, spot: Spot, azimuth_deg: float, distance_m: float, altitude_deg: Floats
) -> Met:
    """What lines of sight at altitudes (n,) meet beyond a distance, over ground and mist."""
    line = profile(scene.seen, spot, azimuth_deg, refraction=scene.refraction)
    altitude = np.nan_to_num(line.altitude_deg, nan=-90.0)
    before, beyond = line.distance_m < distance_m, line.distance_m > distance_m
    rising = np.maximum.accumulate(np.append(altitude[beyond], 90.0))
    met = np.searchsorted(rising, altitude_deg)
    met_m = np.append(line.distance_m[beyond], math.inf)[met]
    is_sky = np.isinf(met_m)
    place = destination(spot.lon_deg, spot.lat_deg, azimuth_deg, np.where(is_sky, 0.0, met_m))
    kind = np.where(scene.is_misty(*place), Backdrop.MIST, Backdrop.GROUND)
    return Met(
        reaches=altitude_deg >= altitude[before].max(initial=-90.0),
        backdrop=np.where(is_sky, Backdrop.SKY, kind),
        distance_m=met_m,
    )


def behind_summit(scene: Scene, spot: Spot, line: SightLine) -> Obstacle | None:
    """What the line to a summit that is seen meets beyond the hill's top; None for sky.

    Own ground that goes on in view behind the summit, without a gap, is top as well, and its rim
    is what counts: that of a table mountain from above.
    """
    way = profile(scene.seen, spot, line.azimuth_deg, refraction=scene.refraction)
    altitude = np.nan_to_num(way.altitude_deg, nan=-90.0)
    altitude[way.distance_m <= line.distance_m] = line.altitude_deg
    shows = altitude >= np.maximum.accumulate(altitude)
    shows &= way.distance_m > line.distance_m
    distance_m, altitude = way.distance_m[shows], altitude[shows]
    near = np.diff(distance_m, prepend=line.distance_m) <= TOP_CELLS * scene.dem.cell_m
    place = destination(spot.lon_deg, spot.lat_deg, line.azimuth_deg, distance_m)
    top = np.logical_and.accumulate(near & scene.is_own(*place))
    rim_deg = altitude[top].max(initial=line.altitude_deg)
    end_m = float(distance_m[top].max(initial=line.distance_m))
    met = met_beyond(scene, spot, line.azimuth_deg, end_m, np.array([rim_deg]))
    met_m = float(met.distance_m[0])
    return ground_on(scene, spot, line.azimuth_deg, met_m) if math.isfinite(met_m) else None
