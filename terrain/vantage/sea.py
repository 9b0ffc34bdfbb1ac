"""What of a sea of mist is seen about a hill: how much of the view, which islands, which pours.

The view is that of the lens asked for, or of `terrain.view.prospect` about the summit, as wide and
as high as that whose openness is judged. The sky does not count.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, Final

import geopandas as gpd
import numpy as np

from terrain.ground.geodesy import azimuth_and_distance, wrap_deg
from terrain.ground.places import Spot
from terrain.mist.pouring import pouring
from terrain.mist.trees import TREES_M
from terrain.sight.line import sight_line
from terrain.view.backlight import Backlight
from terrain.view.look import View
from terrain.view.nearness import BestAt
from terrain.view.picture import hill_in, picture_in
from terrain.view.prospect import FIELD_DEG, VIEW_DEG, Prospect, prospect
from terrain.view.scene import Scene
from terrain.view.small_scenes import whole_deg2

LEAST_ISLAND_DEG2: Final = 0.02
"""Least area in view of an island that counts, square degrees: a tenth of the sun's disc."""

_COARSE: Final = (80, 120)
_STRIP_SHARE: Final = 0.1
"""Of the height of a frame, a strip of mist under the hill (common practice, no source)."""

# a point on the mist itself would be hidden by the surface beside it
_OVER_M, _SLACK_DEG = 2.0, 0.05


def mist_share(
    scene: Scene,
    spot: Spot,
    azimuth_deg: float,
    altitude_deg: float,
    field_deg: tuple[float, float] | None,
) -> float:
    """Share of mist in what is not sky of a spot's frame about a direction."""
    field_deg = field_deg or FIELD_DEG
    return prospect(scene.country, spot, azimuth_deg, altitude_deg, field_deg=field_deg).mist_share


def sun_at_best(answer: Backlight) -> tuple[float, float]:
    """Azimuth and altitude of the sun's centre at the best moment, degrees."""
    nearest, contact = answer.nearest, answer.contact
    if answer.best.which == BestAt.CONTACT or nearest is None:
        return contact.sun_azimuth_deg, contact.sun_altitude_deg
    return nearest.sun_azimuth_deg, nearest.sun_altitude_deg


@dataclass(frozen=True, kw_only=True)
class Sea:
    """A scene, and what a vantage sees of the mist in it.

    passes: as `terrain.passes` gives them for the scene's ground, or None where nobody asks.
    field_deg: width and height of the lens's field, or None where nobody asks. trees_m: how high
    trees are, the low and the high.
    """

    scene: Scene
    passes: gpd.GeoDataFrame | None = None
    field_deg: tuple[float, float] | None = None
    trees_m: tuple[float, float] = TREES_M
    _seen: dict[tuple[Spot, float, float], dict[str, Any]] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )

    def seen_from(self, view: View) -> dict[str, Any]:
        """The columns of a vantage that tell of the mist in its view; none without mist."""
        if self.scene.mist is None:
            return {}
        # what a place sees of mist is the same on all days, on which it is asked of again
        at = view.spot, view.azimuth_deg, view.altitude_deg
        if at not in self._seen:
            self._seen[at] = self._seen_from(view)
        return dict(self._seen[at])

    def _seen_from(self, view: View) -> dict[str, Any]:
        aim, country = (view.azimuth_deg, view.altitude_deg), self.scene.country
        if self.field_deg is None:
            about = self.scene.frame_about(view.spot, *aim)
        else:
            about = prospect(country, view.spot, *aim, field_deg=self.field_deg)
        seen = picture_in(self.scene, view, about)
        found: dict[str, Any] = {
            "mist_share": seen.mist_share,
            "waterline": seen.waterline,
            "over_mist_deg": seen.over_mist_deg,
            "is_island": seen.is_island,
            "islands_in_view": self._islands_in(about, view.spot),
            "shallows_deg2": whole_deg2(
                about, country.shallows(self.trees_m), least_deg2=LEAST_ISLAND_DEG2
            ),
        }
        if self._pouring is not None:
            pours = self._pours_in(view)
            found |= {"pours_in_view": len(pours), "pours_over": "; ".join(pours)}
        return found

    def framed(self, answer: Backlight) -> dict[str, float]:
        """How much of hill, mist and sun the lens takes in at the best moment, as a column.

        Of the width and of the height of all three together, multiplied; none where no lens was
        asked for. What lies beyond twice its field does not count.
        """
        if self.field_deg is None:
            return {}
        scene, view = self.scene, answer.view
        wide_deg, high_deg = self.field_deg
        twice = min(2.0 * wide_deg, 360.0), min(2.0 * high_deg, 180.0)
        aim = view.azimuth_deg, view.altitude_deg
        about = prospect(scene.country, view.spot, *aim, field_deg=twice, cells=_COARSE)
        row, col = np.nonzero(hill_in(scene, about))
        altitude_deg, azimuth_deg = about.seen.altitude_deg[row], about.seen.azimuth_deg[col]
        sun_deg = sun_at_best(answer)
        half = answer.contact.semidiameter_deg
        aside = np.append(
            azimuth_deg - aim[0], wrap_deg(sun_deg[0] - aim[0]) + np.array([-half, half])
        )
        up = np.append(altitude_deg, sun_deg[1] + np.array([-half, half]))
        below_deg = 0.0 if scene.mist is None else _STRIP_SHARE * high_deg
        level = float(np.cos(np.radians(aim[1])))
        fits = (wide_deg / (np.ptp(aside) * level), high_deg / (np.ptp(up) + below_deg))
        return {"fits_share": float(np.prod(np.minimum(fits, 1.0)))}

    def _islands_in(self, about: Prospect, spot: Spot) -> int:
        islands = self.scene.country.islands
        own = int(islands[self.scene.dem.grid.cell_of(spot.lon_deg, spot.lat_deg)])
        areas_deg2 = about.areas_deg2(islands, up_to=own)
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
