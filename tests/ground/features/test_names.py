"""Names from files of places."""

from __future__ import annotations

from pathlib import Path

import geopandas as gpd
import numpy as np
import pytest
from shapely import LineString, Point, Polygon

from terrain.errors import TerrainError
from terrain.ground.features import read_names
from terrain.ground.geodesy import destination
from terrain.ground.matched import match_names
from terrain.ground.relief.summits import find_summits
from tests.conftest import MakeDem
from tests.ground.relief.test_summits import two_cones

HEAD = "Name,Latitude,Longitude\n"


def table(names: list[str], *places: tuple[float, float]) -> gpd.GeoDataFrame:
    return gpd.GeoDataFrame({"NAME": names}, geometry=[Point(*p) for p in places], crs="EPSG:4326")


@pytest.mark.parametrize(
    ("file", "text"),
    [
        ("a.csv", HEAD + "Hoo,54.4,-24.0\n,54.5,-24.1\nPike,54.6,-24.2\n"),
        ("b.csv", "\ufefflon,LAT,height,name\n-24.0,54.4,3, Hoo \n-24.2,54.6,4,Pike\n"),
    ],
)
def test_places_from_csv(tmp_path: Path, file: str, text: str) -> None:
    (tmp_path / file).write_text(text, encoding="utf-8")
    places = read_names(tmp_path / file)
    assert places["name"].tolist() == ["Hoo", "Pike"]
    assert places.geometry.x.tolist() == [-24.0, -24.2]
    assert places.geometry.y.tolist() == [54.4, 54.6]
    assert places.crs.to_epsg() == 4326


@pytest.mark.parametrize("ending", ["gpkg", "geojson"])
def test_places_from_layers_of_features(tmp_path: Path, ending: str) -> None:
    file = tmp_path / f"places.{ending}"
    places = table(["Hoo", "Pike"], (-24.0, 54.4), (-24.2, 54.6))
    places.to_crs("EPSG:32627" if ending == "gpkg" else "EPSG:4326").to_file(file)
    if ending == "gpkg":
        table(["Other"], (0, 0)).to_file(file, layer="later")
    read = read_names(str(file))
    assert read["name"].tolist() == ["Hoo", "Pike"]
    np.testing.assert_allclose(read.geometry.x, [-24.0, -24.2], atol=1e-8)


def test_outlines_stand_for_a_place_within() -> None:
    shapes = [
        Polygon([(-24.1, 54.4), (-24.0, 54.4), (-24.0, 54.5)]),
        LineString([(1, 1), (2, 2)]),
        None,
        Point(),
    ]
    read = read_names(gpd.GeoDataFrame({"name": ["a", "b", "c", "d"]}, geometry=shapes))
    assert read["name"].tolist() == ["a", "b"]
    assert shapes[0].contains(read.geometry[0])


@pytest.mark.parametrize(
    ("file", "text", "message"),
    [
        ("a.csv", "who,lat,lon\nHoo,1,2\n", "has no column name: its columns are who, lat, lon"),
        ("a.csv", "name,lat,east\nHoo,1,2\n", "has no column lon or longitude"),
        ("a.csv", HEAD + "Hoo,1,2\nPike,x,2\n", "a.csv, line 3: Latitude is 'x', not degrees"),
        ("a.csv", HEAD + "Hoo,540000,2\n", "line 2: Latitude is .*540000.*, not degrees"),
        ("a.csv", "", "a.csv cannot be read as names"),
        ("a.geojson", "{", "a.geojson cannot be read as names"),
        ("a.gpkg", "nonsense", "a.gpkg cannot be read as names"),
    ],
)
def test_files_that_will_not_do(tmp_path: Path, file: str, text: str, message: str) -> None:
    (tmp_path / file).write_text(text)
    with pytest.raises(TerrainError, match=message) as caught:
        read_names(tmp_path / file)
    assert "\n" not in str(caught.value)


def test_a_missing_file(make_dem: MakeDem, tmp_path: Path) -> None:
    with pytest.raises(TerrainError, match=r"there is no file .*none.csv"):
        find_summits(two_cones(make_dem), names=tmp_path / "none.csv")


def test_names_go_to_the_nearest_summit_within_300_m() -> None:
    lon, lat = np.array([-24.0, -23.99]), np.array([54.4, 54.4])

    def at(azimuth: float, distance: float) -> tuple[float, float]:
        east, north = destination(-24.0, 54.4, azimuth, distance)
        return float(east), float(north)

    assert match_names(lon, lat, read_names(table(["Hoo"], at(30, 299)))).names == ["Hoo", ""]
    assert match_names(lon, lat, read_names(table(["Hoo"], at(30, 301)))).names == ["", ""]
    two = read_names(table(["far", "near", "farther"], at(0, 90), at(180, 80), at(90, 100)))
    assert match_names(lon, lat, two).names == ["near", ""]
    assert match_names(lon[:0], lat[:0], two).names == []
    assert match_names(lon, lat, two.iloc[:0]).names == ["", ""]


def test_names_across_the_date_line() -> None:
    places = read_names(table(["Hoo"], (-179.999, 0.0)))
    assert match_names(np.array([179.9999]), np.array([0.0]), places).names == ["Hoo"]


def test_heights_of_a_list_go_with_its_names(make_dem: MakeDem, tmp_path: Path) -> None:
    lon, lat = np.array([-24.0, -23.99]), np.array([54.4, 54.4])
    file = tmp_path / "names.csv"
    file.write_text("name,Elevation,lat,lon\nHoo,612.4,54.4,-24.0\nHah,about 500,54.4,-23.99\n")
    found = match_names(lon, lat, file)
    assert found.names == ["Hoo", "Hah"]
    np.testing.assert_array_equal(found.heights_m, [612.4, np.nan])
    file.write_text("name,height,lat,lon\nHoo,2009,54.4,-24.0\n")  # of feet, perhaps
    assert np.isnan(match_names(lon, lat, file).heights_m).all()


def test_summits_with_names(make_dem: MakeDem) -> None:
    dem = two_cones(make_dem)
    lon, lat = dem.grid.lonlat(121, 201)
    found = find_summits(dem, names=table(["Hoo"], (float(lon), float(lat))))
    assert found.name.tolist() == ["", "Hoo"]


def test_a_place_that_is_next_to_nothing_off_the_meridian(tmp_path: Path) -> None:
    outline = Polygon([(-24.1, 54.4), (0.0, 54.4), (1e-320, 54.5)])
    file = tmp_path / "dales.geojson"
    gpd.GeoDataFrame({"name": ["dale"]}, geometry=[outline], crs="EPSG:4326").to_file(file)
    place = read_names(file).geometry[0]
    assert -24.1 < place.x < 0.0
    assert 54.4 < place.y < 54.5


@pytest.mark.parametrize(("lon", "said"), [("", "empty"), ("-181", "-181"), ("west", "'west'")])
def test_a_longitude_that_is_none(tmp_path: Path, lon: str, said: str) -> None:
    file = tmp_path / "names.csv"
    file.write_text(f"name,lat,lon\nKnoll,54.4,{lon}\n", encoding="utf-8")
    with pytest.raises(TerrainError, match=f"line 2: lon is {said}, not degrees"):
        read_names(file)
