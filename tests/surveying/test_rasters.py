"""Rasters of a country fit together: each tile gives its own cells as one piece does."""

from __future__ import annotations

from pathlib import Path
from typing import Any, cast

import numpy as np
import pytest
import rasterio

import terrain
from terrain.surveying.rasters import RasterWork
from terrain.surveying.run import begun
from terrain.surveying.stages import raster_tasks
from tests.surveying.conftest import DAYS

COMES_H = "hours after 2026-10-01T00:00Z"


def worked(country: Path, scheduler: str, save: Path, work: RasterWork, tile_m: float) -> Any:
    return terrain.survey_rasters(
        country,
        work,
        name="day",
        save=save,
        prominence_m=200.0,
        margin_m=4_000.0,
        tile_m=tile_m,
        workers=terrain.Workers(scheduler=scheduler),
    )


@pytest.mark.slow
@pytest.mark.parametrize("kind", [terrain.LightOfDay, terrain.HillsOfDay])
def test_tiles_fit_together(country: Path, scheduler: str, tmp_path: Path, kind: Any) -> None:
    work = kind(day=DAYS[0])
    tiles = worked(country, scheduler, tmp_path / "tiles", work, 10_000.0)
    piece = worked(country, scheduler, tmp_path / "piece", work, 1e6)
    assert (tiles.tiles, piece.tiles) == (4, 1)
    assert not tiles.failures
    with rasterio.open(tiles.mosaic) as mosaic, rasterio.open(piece.mosaic) as whole:
        assert mosaic.descriptions == whole.descriptions
        assert mosaic.transform == whole.transform
        number = next(n for n, says in enumerate(whole.descriptions, 1) if COMES_H in says)
        one, other = mosaic.read(number), whole.read(number)
    assert one.shape == other.shape == (200, 200)
    assert np.isfinite(one).mean() > 0.9
    # skylines beyond the margin are those of blocks; 95 of 100 cells are within 20 s of the sun's
    # true contact as `light_arrival` finds it, by what it says of itself
    off_s = 3600.0 * np.abs(one - other)
    assert np.nanmedian(off_s) < 1.0
    assert np.nanquantile(off_s, 0.95) < 20.0
    again = worked(country, scheduler, tmp_path / "tiles", work, 10_000.0)
    assert again.made == 0


@pytest.mark.slow
def test_each_tile_is_laid_out_to_be_read_from_afar(
    country: Path, scheduler: str, tmp_path: Path
) -> None:
    work = terrain.LightOfDay(day=DAYS[0], evening=True)
    worked(country, scheduler, tmp_path / "tiles", work, 10_000.0)
    files = sorted((tmp_path / "tiles" / "parts").glob("day-*.tif"))
    assert len(files) == 4
    with rasterio.open(files[0]) as file:
        assert file.tags(ns="IMAGE_STRUCTURE")["LAYOUT"] == "COG"
        assert "last sun" in file.descriptions[0]


def test_a_hill_keeps_its_number_among_all_whatever_a_tile_is_told(country: Path) -> None:
    whole = terrain.read_dem(country)
    rows, cols = slice(60, 160), slice(50, 200)
    part = terrain.Dem(whole.heights_m[rows, cols], whole.grid.window(60, 50, (100, 150)))
    summits = terrain.find_summits(whole, min_prominence_m=100.0)
    row, col = whole.grid.rowcol(summits.geometry.x, summits.geometry.y)
    some = summits[(row > 58.0) & (row < 161.0) & (col > 48.0) & (col < 201.0)]
    assert 2 < len(some) < len(summits)
    assert some.index[0] > 0
    work, on_part = terrain.HillsOfDay(day=DAYS[0]), terrain.Country(part)
    one, other = (work.bands(on_part, told) for told in (some, summits))
    for name, band in one.items():
        np.testing.assert_array_equal(band, other[name])
    numbers = next(iter(one.values()))
    named = np.unique(numbers[numbers > 0])
    assert set(named) <= set(some.index + 1)
    assert named.size > 2


@pytest.mark.slow
def test_a_task_is_told_of_the_hills_on_its_ground_alone(
    country: Path, scheduler: str, tmp_path: Path
) -> None:
    work, hills = terrain.HillsOfDay(day=DAYS[0]), terrain.find_summits(terrain.read_dem(country))
    with begun(
        country,
        tmp_path,
        tile_m=5_000.0,
        workers=terrain.Workers(scheduler=scheduler),
        told=lambda standing: None,
        work=work,
    )(1_000.0) as run:
        first, known = run.known(30.0, None)
        tasks = raster_tasks(run.cut, known, first, work, "day", 1_000.0)
    assert len(known.summits) == len(hills)
    told = [set(cast("Any", task.make).args[2].index) for task in tasks]
    assert max(map(len, told)) < 0.5 * len(hills)
    assert set.union(*told) == set(range(len(hills)))
