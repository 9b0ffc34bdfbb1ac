"""Paths from the files that walkers have them in."""

from __future__ import annotations

from pathlib import Path

import geopandas as gpd
import numpy as np
import pytest
import shapely
from shapely import GeometryCollection, LineString, MultiLineString, Point, Polygon

from terrain.errors import TerrainError
from terrain.ground.features import read_paths

LINE = [(-24.0, 54.4), (-24.01, 54.41), (-24.02, 54.41)]
OTHER = [(-24.02, 54.41), (-24.05, 54.43)]
GPX = """<?xml version="1.0" encoding="UTF-8"?>
<gpx version="1.1" creator="a test" xmlns="http://www.topografix.com/GPX/1/1">
{}
</gpx>
"""
WAYPOINT = '<wpt lat="54.4" lon="-24.0"><name>car park</name></wpt>'


def points(tag: str, places: list[tuple[float, float]]) -> str:
    return "".join(
        f'<{tag} lat="{lat}" lon="{lon}"><ele>{100 + lon}</ele></{tag}>' for lon, lat in places
    )


def coordinates(table: gpd.GeoDataFrame) -> list[list[tuple[float, float]]]:
    return [[tuple(round(v, 7) for v in place) for place in line.coords] for line in table.geometry]


def test_tracks_and_routes_of_a_gpx_file(tmp_path: Path) -> None:
    track = f"<trk><name> Hoo path </name><trkseg>{points('trkpt', LINE)}</trkseg>"
    track += f"<trkseg>{points('trkpt', OTHER)}</trkseg></trk>"
    still = f"<trk><trkseg>{points('trkpt', [LINE[0], LINE[0]])}</trkseg></trk>"
    route = f"<rte><name>to Pike</name>{points('rtept', OTHER)}</rte>"
    file = tmp_path / "walk.gpx"
    file.write_text(GPX.format(WAYPOINT + route + track + still), encoding="utf-8")
    paths = read_paths(file)
    assert paths["name"].tolist() == ["to Pike", "Hoo path", "Hoo path"]
    assert coordinates(paths) == [OTHER, LINE, OTHER]
    assert not paths.has_z.any()
    assert paths.crs.to_epsg() == 4326


@pytest.mark.parametrize("ending", ["gpkg", "geojson"])
def test_lines_of_every_layer_in_degrees(tmp_path: Path, ending: str) -> None:
    file = tmp_path / f"paths.{ending}"
    shapes = [MultiLineString([LINE, OTHER]), LineString([(*p, 5.0) for p in LINE]), None]
    table = gpd.GeoDataFrame(
        {"Name": ["fork", None, "lost"], "kind": ["path", "track", "path"]},
        geometry=shapes,
        crs="EPSG:4326",
    )
    if ending == "gpkg":
        table.iloc[:1].to_crs("EPSG:32627").to_file(file, layer="forks")
        table.iloc[1:].to_file(file, layer="tracks")
        gpd.GeoDataFrame({"name": ["x"]}, geometry=[Point(0, 0)], crs=4326).to_file(
            file, layer="huts"
        )
    else:
        table.to_file(file)
    paths = read_paths(str(file))
    assert paths["name"].tolist() == ["fork", "fork", ""]
    assert paths["kind"].tolist() == ["path", "path", "track"]
    np.testing.assert_allclose(
        shapely.get_coordinates(paths.geometry), [*LINE, *OTHER, *LINE], atol=1e-7
    )
    assert not paths.has_z.any()


def test_a_table_with_all_sorts_of_shapes_and_no_crs() -> None:
    shapes = [
        GeometryCollection([Point(0, 0), MultiLineString([LINE, OTHER])]),
        Polygon([(0, 0), (1, 0), (1, 1)]),
        LineString(),
        LineString(OTHER),
    ]
    table = gpd.GeoDataFrame(geometry=shapes)
    before = table.copy()
    paths = read_paths(table)
    assert coordinates(paths) == [LINE, OTHER, OTHER]
    assert paths["name"].tolist() == ["", "", ""]
    assert paths.index.tolist() == [0, 1, 2]
    assert table.equals(before)


def test_the_demo_has_its_paths() -> None:
    paths = read_paths(Path(__file__).parents[3] / "data" / "paths.geojson")
    assert len(paths) == 13
    assert set(paths["kind"]) == {"road", "track", "path"}


def test_files_that_are_no_paths(tmp_path: Path) -> None:
    with pytest.raises(TerrainError, match=r"there is no file no/such\.gpx"):
        read_paths("no/such.gpx")
    (tmp_path / "torn.gpx").write_text("<gpx><trk>", encoding="utf-8")
    with pytest.raises(TerrainError, match=r"torn\.gpx (cannot be read as|holds no) paths"):
        read_paths(tmp_path / "torn.gpx")
    (tmp_path / "note.txt").write_text("left at the gate", encoding="utf-8")
    with pytest.raises(TerrainError, match=r"note\.txt cannot be read as paths"):
        read_paths(tmp_path / "note.txt")
    (tmp_path / "huts.gpx").write_text(GPX.format(WAYPOINT), encoding="utf-8")
    with pytest.raises(TerrainError, match=r"huts\.gpx holds no paths: .* needs a track"):
        read_paths(tmp_path / "huts.gpx")
    with pytest.raises(TerrainError, match="the table of paths holds no paths"):
        read_paths(gpd.GeoDataFrame(geometry=[Point(0, 0)], crs=4326))


@pytest.mark.parametrize("latitude", ["1e308", "inf", "nan", "-90.5"])
def test_a_line_to_nowhere_on_the_earth(tmp_path: Path, latitude: str) -> None:
    away = f'<trkpt lat="{latitude}" lon="-24.2"/>'
    file = tmp_path / "walk.gpx"
    file.write_text(GPX.format(f"<trk><trkseg>{points('trkpt', LINE)}{away}</trkseg></trk>"))
    with pytest.raises(TerrainError, match=r"longitude -24.2, latitude \S+ is not on the earth"):
        read_paths(file)
