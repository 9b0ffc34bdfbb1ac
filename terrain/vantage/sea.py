"""What of a sea of mist is seen about a hill: how much of the view, which islands, which pours.

The view is that of `terrain.view.prospect` about the summit, as wide and as high as that whose
openness is judged. The sky does not count.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final

import geopandas as gpd
import numpy as np

from terrain.arrays import Labels
from terrain.ground.geodesy import azimuth_and_distance, wrap_deg
from terrain.ground.places import Spot
from terrain.mist.islands import label_islands
from terrain.mist.pouring import pouring
from terrain.sight.line import sight_line
from terrain.view.look import View
from terrain.view.prospect import VIEW_DEG, Prospect, prospect
from terrain.view.scene import Scene

LEAST_ISLAND_DEG2: Final = 0.02
"""Least area in view of an island that counts, square degrees: a tenth of the sun's disc."""

LEAST_MIST_SHARE: Final = 0.01
"""Less mist than this share of the view under the skyline is none to speak of (no source)."""

# a point on the mist itself would be hidden by the surface beside it
_OVER_M, _SLACK_DEG = 2.0, 0.05


@dataclass(frozen=True, kw_only=True)
class Sea:
    """A scene, and what a vantage sees of the mist in it.

    passes: as `terrain.passes` gives them for the scene's ground, or None where nobody asks.
    """

    scene: Scene
    passes: gpd.GeoDataFrame | None = None

    def seen_from(self, view: View) -> dict[str, Any]:
        """The columns of a vantage that tell of the mist in its view; none without mist."""
        if self.scene.mist is None:
            return {}
        country = self.scene.country
        about = prospect(country, view.spot, view.azimuth_deg, view.altitude_deg)
        found: dict[str, Any] = {
            "mist_share": about.mist_share,
            "islands_in_view": self._islands_in(about, view.spot),
        }
        if self._pouring is not None:
            pours = self._pours_in(view)
            found |= {"pours_in_view": len(pours), "pours_over": "; ".join(pours)}
        return found

    @cached_property
    def _islands(self) -> Labels:
        if self.scene.mist is None:
            raise ValueError("without a mist there are no islands")
        return label_islands(self.scene.dem, self.scene.mist)

    def _islands_in(self, about: Prospect, spot: Spot) -> int:
        areas_deg2 = about.areas_deg2(self._islands)
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
