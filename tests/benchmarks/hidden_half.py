"""How often a ± holds the truth where half of the raster is hidden from the answer.

For random spots of the half that is left, on random mornings, the moment at which the sun appears
is worked out from that half alone and again from the whole raster; the same ground on both sides,
so that nothing but hidden ground makes the difference. Most spots look nowhere near what is
hidden, and there any ± holds. So spots are drawn, from each half in turn, until there are so many
whose answer can hang on hidden ground: their own ± says so, before the truth is looked at. The
share of those is told, and that of all that were drawn.

    TERRAIN_OPEN_DATA=... python -m tests.benchmarks.hidden_half [SPOTS [SEED]]
"""

from __future__ import annotations

import datetime as dt
import os
import sys
from collections.abc import Iterator
from itertools import cycle
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


def drawn(spots: int, rng: np.random.Generator) -> Iterator[tuple[Contact, Contact]]:
    """What is said and true of spots, until so many are told of that can hang on hidden ground."""
    folder = Path(os.environ["TERRAIN_OPEN_DATA"])
    wholes = (read_dem(folder / name) for name in RASTERS)
    sources = [pairs(half, whole, rng) for whole in wholes for half in halves(whole)]
    for source in cycle(sources):
        said, true = next(source)
        yield said, true
        spots -= can_hang_on_hidden_ground(said)
        if spots == 0:
            return


def can_hang_on_hidden_ground(said: Contact) -> bool:
    """Whether the ± of an answer has a part for hidden ground."""
    return said.doubt.hidden_deg > 0.0


def main(spots: int, seed: int) -> None:
    answers = list(drawn(spots, np.random.default_rng(seed)))
    held = np.array(
        [
            abs((true.appears - said.appears).total_seconds()) <= said.uncertainty_s
            for said, true in answers
        ]
    )
    could = np.array([can_hang_on_hidden_ground(said) for said, _ in answers])
    print(f"seed {seed}: the ± holds the truth")
    print(f"in {held[could].mean():.1%} of {could.sum()} spots where hidden ground can matter")
    print(f"in {held.mean():.1%} of all {held.size} that were drawn")


if __name__ == "__main__":
    asked = [int(argument) for argument in sys.argv[1:3]]
    main(*asked, *(300, SEED)[len(asked) :])
