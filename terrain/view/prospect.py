"""The ground and mist that a spot sees in a frame, cell by cell of a picture.

The frame is a box of directions about the one it is aimed at, as wide and as high as a lens takes
in; that of a camera held level, but for its corners, where a lens reaches less far up and down::

        . . . . . . . . .        sky
        . . . . A . . . .        A  the direction in the middle
        . . __/ | \\_  . .
        ~~~~~~~~~~~~~~~~~        ~  mist
        _________/\\______        near ground

Areas are those on the sphere of directions, not on the map: mist far off is a thin line.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final, TypeVar

import numpy as np
from numpy.typing import NDArray

from terrain.arrays import Flags, Floats, Labels
from terrain.country import Country
from terrain.errors import TerrainError
from terrain.ground.grid import nearest_cells
from terrain.ground.places import Spot
from terrain.sight.seen import SeenGround, seen_ground
from terrain.view._prospect_kernels import mark_mist

VIEW_DEG: Final = 8.0
"""How far to either side of a summit the view about it reaches: a 130 mm lens on a full frame."""

FIELD_DEG: Final = (2.0 * VIEW_DEG, 2.0 * VIEW_DEG)
"""Width and height of the view about a summit."""

_CELLS: Final = (320, 160)
_STEEPEST_DEG: Final = 89.9

Cells = TypeVar("Cells", bound=NDArray[Any])


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
        mist_deg2, ground_deg2 = self._area_deg2(self.is_mist), self._area_deg2(self.is_ground)
        return mist_deg2 / (mist_deg2 + ground_deg2) if mist_deg2 + ground_deg2 > 0.0 else np.nan

    @property
    def frame_mist_share(self) -> float:
        """Share of mist in the whole frame, the sky counted."""
        return self._area_deg2(self.is_mist) / self._area_deg2(np.ones_like(self.is_mist))

    def on(self, cells: Cells, there: Flags) -> Cells:
        """What cells (rows, cols) of the raster hold, where some of the view is seen; 0 elsewhere.

        there: of the view, (rows, cols); none of it sky.
        """
        held = np.zeros(there.shape, dtype=cells.dtype)
        held[there] = cells[nearest_cells(self.seen.row[there], self.seen.col[there], cells.shape)]
        return held  # type: ignore[return-value]

    def areas_deg2(self, labels: Labels, *, up_to: int) -> Floats:
        """Square degrees in view of the ground of each label (rows, cols of the raster), by it.

        Up to the highest label in view, and up to one that is told at least.
        """
        part = np.broadcast_to(self.part_deg2, self.is_ground.shape)[self.is_ground]
        own = self.on(labels, self.is_ground)[self.is_ground]
        return np.bincount(own, part, up_to + 1).astype(float)

    def _area_deg2(self, cells: Flags) -> float:
        return float((cells * self.part_deg2).sum())


def prospect(
    country: Country,
    spot: Spot,
    azimuth_deg: float,
    altitude_deg: float,
    *,
    field_deg: tuple[float, float] = FIELD_DEG,
    cells: tuple[int, int] = _CELLS,
) -> Prospect:
    """What a spot sees about a direction, over the ground and mist of a country.

    field_deg: width and height of the frame as the camera is held. cells: how many rows and columns
    it is seen in. TerrainError for a frame that takes in nothing, or more than there is.
    """
    wide_deg, high_deg = field_deg
    if not (0.0 < wide_deg <= 360.0 and 0.0 < high_deg <= 180.0):
        raise TerrainError(
            f"a frame of {wide_deg:g} by {high_deg:g} degrees cannot be: "
            "give more than 0, and at most 360 by 180"
        )
    rows, cols = cells
    across, up = (
        0.5 * wide * (2.0 * np.arange(n) + 1.0 - n) / n
        for wide, n in ((wide_deg, cols), (high_deg, rows))
    )
    altitudes = altitude_deg + up
    altitudes = altitudes[np.abs(altitudes) < _STEEPEST_DEG]
    seen = seen_ground(
        country.dem,
        spot,
        azimuths_deg=azimuth_deg + across,
        altitudes_deg=altitudes,
        lid_m=None if country.mist is None else country.mist.lid_m,
        lid_top_m=None if country.mist is None else country.mist.highest_m,
        refraction=country.refraction,
    )
    step_deg2 = wide_deg * high_deg / (cols * rows)
    is_mist = _is_mist(country, seen)
    return Prospect(
        seen=seen,
        part_deg2=step_deg2 * np.cos(np.radians(altitudes))[:, np.newaxis],
        is_ground=~np.isnan(seen.distance_m) & ~is_mist,
        is_mist=is_mist,
    )


def _is_mist(country: Country, seen: SeenGround) -> Flags:
    """Where in a picture the mist's top is seen, (rows, cols)."""
    if country.mist is None:
        return np.zeros_like(seen.distance_m, dtype=bool)
    # by the lines of sight, as the picture is made
    row, col, marks = seen.row.T, seen.col.T, np.zeros(seen.row.T.shape, dtype=bool)
    lid_m, ground_m = country.mist.lid_m, country.dem.heights_m
    mark_mist(0, row.shape[0], row, col, lid_m, ground_m, marks)
    return marks.T
