"""The names, sizes and places of tiles, as their makers publish them."""

from __future__ import annotations

import pytest

from terrain.errors import TerrainError
from terrain.fetch.sources import known_sources, source_named
from terrain.fetch.tiles import Tile

FINE = known_sources()["copernicus-30"]


def test_addresses() -> None:
    name = "Copernicus_DSM_COG_10_N50_00_E011_00_DEM"
    assert FINE.url_of(Tile(50, 11)) == (
        f"https://copernicus-dem-30m.s3.amazonaws.com/{name}/{name}.tif"
    )
    name = "Copernicus_DSM_COG_30_S03_00_W072_00_DEM"
    assert known_sources()["copernicus-90"].url_of(Tile(-3, -72)) == (
        f"https://copernicus-dem-90m.s3.amazonaws.com/{name}/{name}.tif"
    )
    assert known_sources()["skadi"].url_of(Tile(50, 11)) == (
        "https://elevation-tiles-prod.s3.amazonaws.com/skadi/N50/N50E011.hgt.gz"
    )


@pytest.mark.parametrize(
    ("south", "cols"),
    # https://copernicus-dem-30m.s3.amazonaws.com/readme.html; a tile counts by its edge nearer
    # to the equator
    [
        *[(0, 3600), (49, 3600), (50, 2400), (59, 2400), (60, 1800), (70, 1200), (80, 720)],
        *[(85, 360), (-50, 3600), (-51, 2400), (-61, 1800), (-90, 360)],
    ],
)
def test_columns(south: int, cols: int) -> None:
    assert FINE.shape_of(Tile(south, 11)) == (3600, cols)


def test_origin() -> None:
    # gdalinfo of S14 W172, from
    # https://forum.sentinel-hub.com/t/copernicus-dem-data-available-on-aws/3027
    at = FINE.transform_of(Tile(-14, -172))
    assert (at.c, at.f) == pytest.approx((-172.000138888888898, -12.999861111111111), abs=1e-12)
    assert at.a == pytest.approx(0.000277777777778, abs=1e-15)


@pytest.mark.parametrize("source", known_sources().values(), ids=known_sources())
def test_each_source_says_what_it_is(source: object) -> None:
    for part in ("title", "vertical", "datum", "model", "licence", "credit"):
        assert getattr(source, part), part


@pytest.mark.parametrize("name", ["moon", "https://example.org/a.tif", "file:///etc/{lat}{lon}"])
def test_no_source(name: str) -> None:
    with pytest.raises(TerrainError, match="there is no source"):
        source_named(name)
