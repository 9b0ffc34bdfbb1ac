"""Tables in files: moments in UTC where a file has nothing else, and several layers in one."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path
from zoneinfo import ZoneInfo

import geopandas as gpd
import pandas as pd
import pyogrio
import pytest
from shapely import Point

from terrain.errors import TerrainError
from terrain.show.files.export import save_layers, save_table

# the clock goes forward between the two
ZONE = ZoneInfo("Europe/London")
MOMENTS = [
    dt.datetime(2026, 3, 28, 6, 1, 2, tzinfo=ZONE),
    dt.datetime(2026, 3, 29, 6, 59, 2, tzinfo=ZONE),
]


def table_of(moments: object) -> gpd.GeoDataFrame:
    return gpd.GeoDataFrame(
        {"appears": moments, "note": ["a", "b"]},
        geometry=[Point(0, 50), Point(1, 50)],
        crs="EPSG:4326",
    )


@pytest.mark.parametrize("kind", [None, object])
def test_a_geopackage_has_moments_in_utc_and_the_clock_beside(tmp_path: Path, kind: object) -> None:
    file = tmp_path / "t.gpkg"
    save_table(table_of(pd.Series(MOMENTS, dtype=kind)), file, layer="vantages")
    again = gpd.read_file(file, layer="vantages")
    assert str(again["appears"].dtype).endswith("UTC]")
    assert again["appears"].tolist() == MOMENTS
    assert again["appears"].dt.hour.tolist() == [6, 5]
    assert again["appears_clock"].tolist() == [
        "2026-03-28 06:01:02+00:00",
        "2026-03-29 06:59:02+01:00",
    ]
    assert again["note"].tolist() == ["a", "b"]


def test_a_moment_that_is_not_known_stays_so(tmp_path: Path) -> None:
    file = tmp_path / "t.gpkg"
    save_table(table_of(pd.Series([None, MOMENTS[1]], dtype=object)), file, layer="t")
    again = gpd.read_file(file)
    assert again[["appears", "appears_clock"]].isna().values.tolist() == [[True] * 2, [False] * 2]


def test_other_files_keep_the_offset_of_the_clock(tmp_path: Path) -> None:
    for ending in ("geojson", "csv"):
        save_table(table_of(pd.Series(MOMENTS)), tmp_path / f"t.{ending}", layer="vantages")
    collection = json.loads((tmp_path / "t.geojson").read_text(encoding="utf-8"))
    assert collection["name"] == "vantages"
    said = [feature["properties"]["appears"] for feature in collection["features"]]
    assert [dt.datetime.fromisoformat(text) for text in said] == MOMENTS
    assert said[1].endswith("+01:00")
    assert "06:59:02+01:00" in (tmp_path / "t.csv").read_text(encoding="utf-8")


def test_layers_lie_side_by_side_in_a_geopackage(tmp_path: Path) -> None:
    table = table_of(["", ""])
    layers = {"islands": table.iloc[:0], "mist": table, "passes": table.iloc[:0]}
    save_layers(layers, tmp_path / "t.gpkg")
    found = pyogrio.list_layers(tmp_path / "t.gpkg")[:, 0].tolist()
    assert found == ["islands", "mist", "layer_styles"]
    save_layers({"islands": table, "mist": table}, tmp_path / "t.csv")
    assert len((tmp_path / "t.csv").read_text(encoding="utf-8").splitlines()) == 3
    with pytest.raises(TerrainError, match="must end in"):
        save_layers(layers, tmp_path / "t.txt")
