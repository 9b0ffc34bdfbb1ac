"""Ground that tests of this room share."""

from __future__ import annotations

from pathlib import Path

import pytest

from terrain.ground.dem import Dem
from terrain.ground.raster.read import read_dem


@pytest.fixture(scope="session")
def fells(open_data: Path) -> Dem:
    """The middle of the Lake District, 20 km across."""
    whole = read_dem(open_data / "lakeland_50m.tif")
    return Dem(whole.heights_m[650:1050, 450:850], whole.grid.window(650, 450, (400, 400)))
