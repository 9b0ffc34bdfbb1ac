"""What of a sea of mist is seen about a hill: how much of the view, which islands, which pours.

The view is a box about the summit, as wide and as high as that whose openness is judged::

        . . . . . . . . .        sky: does not count
        . . . . A . . . .        A  the summit, in the middle
        . . __/ | \\_  .B.        B  another island
        ~~~~~~~~~~~~~~~~~        ~  mist
        _________/\\______        near ground

Areas are those on the sphere of directions, not on the map: mist far off is a thin line.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final

import geopandas as gpd
import numpy as np
from scipy import ndimage

from terrain.arrays import Flags, Floats, Labels
from terrain.ground.geodesy import azimuth_and_distance, wrap_deg
from terrain.ground.grid import nearest_cells
from terrain.ground.places import Spot
from terrain.mist.islands import label_islands
from terrain.mist.pouring import pouring
from terrain.sight.line import sight_line
from terrain.sight.seen import SeenGround, seen_ground
from terrain.vantage.candidates import VIEW_DEG
from terrain.view.look import View
from terrain.view.scene import Scene

LEAST_ISLAND_DEG2: Final = 0.02
"""Least area in view of an island that counts, square degrees: a tenth of the sun's disc."""

LEAST_MIST_SHARE: Final = 0.01
"""Less mist than this share of the view under the skyline is none to speak of (no source)."""

_COLUMNS, _ROWS = 160, 320
_STEEPEST_DEG = 89.9
# a point on the mist itself would be hidden by the surface beside it
_OVER_M, _SLACK_DEG = 2.0, 0.05


@dataclass(frozen=True, kw_only=True, eq=False)
class Prospect:
    """The ground and mist in a view, cell by cell of a picture.

    seen: what is there. part_deg2: (rows, 1) square degrees of each of its cells. is_ground,
    is_mist: (rows, cols); neither is sky.
    """

    seen: SeenGround
    part_deg2: Floats
    is_ground: Flags
    is_mist: Flags

    @property
    def mist_share(self) -> float:
        """Share of mist in all that is not sky, NaN where all is."""
        mist_deg2, ground_deg2 = (
            float((part * self.part_deg2).sum()) for part in (self.is_mist, self.is_ground)
        )
        return mist_deg2 / (mist_deg2 + ground_deg2) if mist_deg2 + ground_deg2 > 0.0 else np.nan

    def areas_deg2(self, labels: Labels) -> Floats:
        """Square degrees in view of the ground of each label (rows, cols of the raster), by it."""
        row, col = self.seen.row[self.is_ground], self.seen.col[self.is_ground]
        part = np.broadcast_to(self.part_deg2, self.is_ground.shape)[self.is_ground]
        own = labels[nearest_cells(row, col, labels.shape)]
        return np.bincount(own, part, int(labels.max()) + 1).astype(float)


@dataclass(frozen=True, kw_only=True)
class Sea:
    """A scene, and what a vantage sees of the mist in it.

    passes: as `terrain.passes` gives them for the scene's ground, or None where nobody asks.
    """

    scene: Scene
    passes: gpd.GeoDataFrame | None = None

    def prospect(self, spot: Spot, azimuth_deg: float, altitude_deg: float) -> Prospect:
        """The view of a spot about a direction: `VIEW_DEG` to either side, and up and down."""
        scene = self.scene
        across, up = (VIEW_DEG * (2.0 * np.arange(n) + 1.0 - n) / n for n in (_COLUMNS, _ROWS))
        altitudes = altitude_deg + up
        altitudes = altitudes[np.abs(altitudes) < _STEEPEST_DEG]
        seen = seen_ground(
            scene.dem,
            spot,
            azimuths_deg=azimuth_deg + across,
            altitudes_deg=altitudes,
            lid_m=None if scene.mist is None else scene.mist.lid_m,
            refraction=scene.refraction,
        )
        step_deg2 = (2.0 * VIEW_DEG) ** 2 / (_COLUMNS * _ROWS)
        is_mist = self._is_mist(seen)
        return Prospect(
            seen=seen,
            part_deg2=step_deg2 * np.cos(np.radians(altitudes))[:, np.newaxis],
            is_ground=~np.isnan(seen.distance_m) & ~is_mist,
            is_mist=is_mist,
        )

    def seen_from(self, view: View) -> dict[str, Any]:
        """The columns of a vantage that tell of the mist in its view; none without mist."""
        if self.scene.mist is None:
            return {}
        prospect = self.prospect(view.spot, view.azimuth_deg, view.altitude_deg)
        found: dict[str, Any] = {
            "mist_share": prospect.mist_share,
            "islands_in_view": self._islands_in(prospect, view.spot),
        }
        if self._pouring is not None:
            pours = self._pours_in(view)
            found |= {"pours_in_view": len(pours), "pours_over": "; ".join(pours)}
        return found

    def _is_mist(self, seen: SeenGround) -> Flags:
        """Where in a picture the mist's top is seen, (rows, cols)."""
        is_mist = ~np.isnan(seen.distance_m)
        if self.scene.mist is None:
            return np.zeros_like(is_mist)
        at = np.stack([seen.row[is_mist], seen.col[is_mist]])
        top, ground = (
            ndimage.map_coordinates(values, at, order=1, mode="nearest", prefilter=False)
            for values in (self.scene.mist.lid_m, self.scene.dem.heights_m)
        )
        # beyond the shore the top is not a number, and more than nothing
        is_mist[is_mist] = top > ground
        return is_mist

    @cached_property
    def _islands(self) -> Labels:
        if self.scene.mist is None:
            raise ValueError("without a mist there are no islands")
        return label_islands(self.scene.dem, self.scene.mist)

    def _islands_in(self, prospect: Prospect, spot: Spot) -> int:
        areas_deg2 = prospect.areas_deg2(self._islands)
        own = self._islands[self.scene.dem.grid.cell_of(spot.lon_deg, spot.lat_deg)]
        areas_deg2[[0, own]] = 0.0
        return int(np.count_nonzero(areas_deg2 >= LEAST_ISLAND_DEG2))

    @cached_property
    def _pouring(self) -> gpd.GeoDataFrame | None:
        """The passes that the mist pours over as it stands; None unasked."""
        if self.passes is None or self.scene.mist is None:
            return None
        return pouring(self.scene.mist, self.passes)

    def _pours_in(self, view: View) -> list[str]:
        """The passes in view that the mist pours over, by name or place, the nearest first."""
        pouring, spot = self._pouring, view.spot
        if pouring is None or pouring.empty:
            return []
        lon, lat = pouring.geometry.x.to_numpy(), pouring.geometry.y.to_numpy()
        toward_deg, distance_m = azimuth_and_distance(spot.lon_deg, spot.lat_deg, lon, lat)
        aside_deg = np.abs(wrap_deg(toward_deg - view.azimuth_deg))
        found = []
        for at in np.argsort(distance_m):
            if aside_deg[at] > VIEW_DEG or distance_m[at] < self.scene.dem.cell_m:
                continue
            row = pouring.iloc[at]
            line = sight_line(
                self.scene.seen,
                spot,
                lon[at],
                lat[at],
                float(row["height_m"] + row["over_m"]) + _OVER_M,
                refraction=self.scene.refraction,
            )
            in_box = abs(line.altitude_deg - view.altitude_deg) <= VIEW_DEG
            if in_box and line.clearance_deg >= -_SLACK_DEG:
                found.append(row["name"] or f"{lat[at]:.4f}, {lon[at]:.4f}")
        return found
