"""A country in tiles gives what one piece gives, row for row, and nothing is done twice."""

from __future__ import annotations

import pickle
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import pytest

import terrain
from tests.surveying.conftest import CELL_M, Ask


def assert_same_rows(one: gpd.GeoDataFrame, other: gpd.GeoDataFrame) -> None:
    """The same hills and vantages in the same order, as nearly as a survey promises."""
    assert len(one) == len(other) > 0
    assert list(one["hill"]) == list(other["hill"])
    assert list(one["days"]) == list(other["days"])
    assert list(one["evening"]) == list(other["evening"])
    apart = one.geometry.to_crs(32630).distance(other.geometry.to_crs(32630))
    assert apart.max() < CELL_M
    for moment in ("appears", "clears", "best_at"):
        off = (one[moment] - other[moment]).dropna().abs()
        assert off.max() < pd.Timedelta(seconds=1)
        assert (one[moment].isna() == other[moment].isna()).all()
    np.testing.assert_allclose(one["prominence_m"], other["prominence_m"], atol=0.1)
    np.testing.assert_allclose(one["score"], other["score"], atol=1e-9)


def test_tiles_give_what_one_piece_gives(ask: Ask, first: terrain.Survey, tmp_path: Path) -> None:
    piece = ask(tmp_path / "piece", tile_m=1e6)
    assert (first.tiles, piece.tiles) == (4, 1)
    assert not first.failures
    assert not piece.failures
    assert_same_rows(first.table, piece.table)
    assert first.left_out == piece.left_out
    assert list(first.table["rank"]) == list(range(1, len(first.table) + 1))


def test_a_row_is_what_a_search_for_the_hill_gives(
    ask: Ask,
    first: terrain.Survey,
    question: terrain.SurveyQuestion,
    country: Path,
    tmp_path: Path,
) -> None:
    least_m = float(first.table["prominence_m"].max()) - 0.5
    wide = replace(question, reach_m=50_000.0, prominence_m=least_m)
    best = ask(tmp_path / "all", question=wide, tile_m=1e6).table.iloc[0]
    dem = terrain.read_dem(country)
    hill = terrain.Hill(
        lon_deg=best["hill_lon_deg"],
        lat_deg=best["hill_lat_deg"],
        height_m=best["hill_height_m"],
        min_prominence_m=least_m,
    )
    mist = terrain.mist_range(dem, question.tops_m)
    alone = terrain.find_vantages(
        dem, hill, year=question.days, mist=mist, limits=question.limits, count=1
    ).iloc[0]
    same = ["lon_deg", "lat_deg", "score", "day", "days", "appears", "mist_top_m", "backdrop"]
    assert [best[name] for name in same] == [alone[name] for name in same]


def test_all_hills_are_those_of_one_piece(first: terrain.Survey, country: Path) -> None:
    whole = terrain.find_summits(terrain.read_dem(country), min_prominence_m=260.0)
    pd.testing.assert_frame_equal(first.summits, whole, check_dtype=False)
    hills = set(first.table["hill"]) | set(first.left_out)
    assert len(hills) == len(whole)


def test_a_second_run_does_nothing(ask: Ask, first: terrain.Survey, kept: Path) -> None:
    began_s = time.monotonic()
    # nobody is called: there is no such scheduler
    second = ask(kept, workers=terrain.Workers(scheduler="tcp://127.0.0.1:1"))
    assert time.monotonic() - began_s < 5.0
    assert first.made > 0
    assert second.made == 0
    pd.testing.assert_frame_equal(first.table, second.table)


def test_where_all_is_done_neither_cluster_nor_kernels_are_loaded(
    first: terrain.Survey, kept: Path, country: Path, question: terrain.SurveyQuestion
) -> None:
    heavy = {"dask", "distributed", "numba", "scipy", "matplotlib", "pvlib", "timezonefinder"}
    asked = {"ground": country, "question": question, "save": kept, "tile_m": 10_000.0}
    again = subprocess.run(
        [
            sys.executable,
            "-c",
            "import pickle, sys, terrain; asked = pickle.load(sys.stdin.buffer); "
            f"made = terrain.survey(**asked).made; print(made, *({heavy} & set(sys.modules)))",
        ],
        input=pickle.dumps(asked),
        stdout=subprocess.PIPE,
        check=True,
    )
    assert again.stdout.split() == [b"0"]


def test_other_days_ask_the_tiles_again_and_not_the_ground(
    ask: Ask, first: terrain.Survey, kept: Path, question: terrain.SurveyQuestion
) -> None:
    later = replace(question, days=(question.days[0], question.days[0]))
    asked = ask(kept, question=later)
    assert asked.made == first.made - first.tiles
    assert set(asked.table["day"]) == {question.days[0]}


@pytest.mark.parametrize("harm", ["flipped", "shortened", "gone"])
def test_a_part_that_is_damaged_is_made_again(
    ask: Ask, first: terrain.Survey, kept: Path, harm: str
) -> None:
    part = min((kept / "parts").glob("vantages-*"), key=lambda one: one.stat().st_size)
    content = part.read_bytes()
    if harm == "gone":
        part.unlink()
    else:
        part.write_bytes(content[:-1] + (b"x" if harm == "flipped" else b""))
    again = ask(kept)
    assert again.made == 1
    pd.testing.assert_frame_equal(first.table, again.table)


def test_what_is_kept_opens_in_other_programs(first: terrain.Survey) -> None:
    kept = gpd.read_parquet(first.folder / "survey.parquet")
    assert kept.crs.to_epsg() == 4326
    assert len(kept) == len(first.table)
    assert str(kept["appears"].dt.tz) == "UTC"
    assert kept["appears_clock"].str.fullmatch(r"2026-10-\d\d \d\d:\d\d:\d\d[+-]\d\d:\d\d").all()


def test_it_opens_in_duckdb(first: terrain.Survey) -> None:
    duckdb = pytest.importorskip("duckdb")
    file = first.folder / "survey.parquet"
    said = duckdb.sql(
        "SELECT hill, day, epoch(appears), lat_deg, lon_deg, score "
        f"FROM '{file}' WHERE NOT evening ORDER BY rank"
    ).fetchall()
    names = ["hill", "day", "appears", "lat_deg", "lon_deg", "score"]
    rows = first.table[~first.table["evening"]][names].to_dict("split")["data"]
    assert said == [(*row[:2], row[2].timestamp(), *row[3:]) for row in rows]


def test_it_opens_in_gdal_where_that_reads_parquet(first: terrain.Survey) -> None:
    if "Parquet" not in pyogrio.list_drivers(read=True):
        pytest.skip("GDAL here has no driver for Parquet")
    file = first.folder / "survey.parquet"
    assert pyogrio.read_info(file)["crs"] == "EPSG:4326"
    opened = pyogrio.read_dataframe(file)
    assert list(opened["hill"]) == list(first.table["hill"])
    assert opened.geometry.geom_equals_exact(first.table.geometry, 1e-9).all()


@pytest.mark.slow
def test_workers_of_this_machine_are_called_and_sent_home_again_and_again(
    ask: Ask, kept: Path, first: terrain.Survey
) -> None:
    for _ in range(2):
        for part in (kept / "parts").glob("vantages-*"):
            part.unlink()
        again = ask(kept, workers=terrain.Workers(count=1))
        pd.testing.assert_frame_equal(first.table, again.table)


def test_no_scheduler_is_told_in_a_line(
    ask: Ask, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("terrain.surveying.workers._HEARD_S", 1)
    with pytest.raises(terrain.TerrainError, match="no scheduler of a cluster answers at tcp://"):
        ask(tmp_path / "kept", workers=terrain.Workers(scheduler="tcp://127.0.0.1:1"))
