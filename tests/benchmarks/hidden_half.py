"""How often a ± holds the truth where half of the raster is hidden from the answer.

For random spots of the half that is left, on random mornings, the moment at which the sun appears
is worked out from that half alone and again from the whole raster; the same ground on both sides,
so that nothing but hidden ground makes the difference. Two shares are told: of all spots, and of
those whose ± has a part for hidden ground, where what is not known could have mattered.

    TERRAIN_OPEN_DATA=... python -m tests.benchmarks.hidden_half [SPOTS]
"""

from __future__ import annotations

import datetime as dt
import os
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from terrain.errors import TerrainError
from terrain.ground.dem import Dem
from terrain.ground.places import Spot
from terrain.ground.raster.read import read_dem
from terrain.sight.skyline import skyline
from terrain.view.contact import Contact, sun_contact

RASTERS = ("lakeland_50m.tif", "N50E011.hgt.zip")
TOWARD = np.arange(30.0, 150.0, 0.05)
SEED = 7


def halves(whole: Dem) -> Iterator[Dem]:
    """The west and the south of a raster, one of which the sun never rises over."""
    rows, cols = whole.shape
    for top, left in ((0, 0), (rows // 2, 0)):
        shape = (rows - top, cols if top else cols // 2)
        heights = whole.heights_m[top : top + shape[0], left : left + shape[1]]
        yield Dem(heights, whole.grid.window(top, left, shape))


def pairs(half: Dem, whole: Dem, rng: np.random.Generator) -> Iterator[tuple[Contact, Contact]]:
    """What is said of random spots and mornings from the half, and what is true."""
    while True:
        row, col = (rng.uniform(2.0, count - 3.0) for count in half.shape)
        lon, lat = (float(part) for part in half.grid.lonlat(row, col))
        spot, day = Spot(lon_deg=lon, lat_deg=lat), dt.date(2026, 1, 1)
        day += dt.timedelta(days=int(rng.integers(365)))
        try:
            said, true = (
                sun_contact(skyline(dem, spot, azimuths_deg=TOWARD), day) for dem in (half, whole)
            )
        except TerrainError:
            continue  # no ground, or no sun between those azimuths
        yield said, true


def main(spots: int) -> None:
    folder, rng = Path(os.environ["TERRAIN_OPEN_DATA"]), np.random.default_rng(SEED)
    held: list[bool] = []
    mattered: list[bool] = []
    for name in RASTERS:
        whole = read_dem(folder / name)
        for half in halves(whole):
            for count, (said, true) in enumerate(pairs(half, whole, rng), start=1):
                off_s = abs((true.appears - said.appears).total_seconds())
                held.append(off_s <= said.uncertainty_s)
                mattered.append(said.doubt.hidden_deg > 0.0)
                if count * 2 * len(RASTERS) >= spots:
                    break
    all_held, could = np.array(held), np.array(mattered)
    print(f"{all_held.size} spots: the ± holds the truth in {all_held.mean():.1%}")
    print(f"of {could.sum()} whose ± tells of hidden ground in {all_held[could].mean():.1%}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1800)
