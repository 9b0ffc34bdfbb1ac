"""Areas with names: what is read of a file."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import geopandas as gpd
import pytest
import shapely

from terrain.errors import TerrainError
from terrain.ground.dem import Dem
from terrain.ground.features import read_areas

MakeDem = Callable[..., Dem]

DALES = gpd.GeoDataFrame(
    {"NAME": ["Nether Dale", " ", "Over Dale", "Nether Dale", "a cairn"], "no": range(5)},
    geometry=[
        shapely.box(-24.10, 54.40, -24.06, 54.42),
        shapely.box(-24.2, 54.3, -24.1, 54.4),
        shapely.box(-24.00, 54.38, -23.96, 54.41),
        shapely.box(-24.06, 54.40, -24.04, 54.41),
        shapely.Point(-24.0, 54.4),
    ],
    crs="EPSG:4326",
)


@pytest.mark.parametrize("ending", [".gpkg", ".geojson"])
def test_outlines_of_one_name_are_one_area(tmp_path: Path, ending: str) -> None:
    path = tmp_path / f"dales{ending}"
    DALES.iloc[:4].to_crs("EPSG:32627" if ending == ".gpkg" else "EPSG:4326").to_file(path)
    areas = read_areas(path)
    assert list(areas["name"]) == ["Nether Dale", "Over Dale"]
    assert areas.crs.to_epsg() == 4326
    both = shapely.union_all([DALES.geometry[0], DALES.geometry[3]])
    assert areas.geometry[0].symmetric_difference(both).area < 1e-6 * both.area


def test_points_and_names_of_nothing_are_left_out() -> None:
    assert list(read_areas(DALES)["name"]) == ["Nether Dale", "Over Dale"]
    with pytest.raises(TerrainError, match="holds no outline with a name"):
        read_areas(DALES.iloc[[1, 4]])
    with pytest.raises(TerrainError, match="no column name: its columns are no, geometry"):
        read_areas(DALES.drop(columns="NAME"))


def test_files_that_are_none(tmp_path: Path) -> None:
    with pytest.raises(TerrainError, match="there is no file"):
        read_areas(tmp_path / "nowhere.gpkg")
    text = tmp_path / "text.geojson"
    text.write_text("a dale", encoding="utf-8")
    with pytest.raises(TerrainError, match="cannot be read as areas"):
        read_areas(text)
