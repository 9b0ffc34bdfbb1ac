"""A small country of made hills, and workers that several tests share."""

from __future__ import annotations

import datetime as dt
import logging
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rasterio
from affine import Affine
from distributed import LocalCluster

import terrain
from terrain.arrays import Singles

QUIET = {"dashboard_address": "127.0.0.1:0", "silence_logs": logging.CRITICAL}
CELL_M = 100.0
SIDE = 200
DAYS = dt.date(2026, 10, 1), dt.date(2026, 10, 20)


def made_hills(rows: int = SIDE, cols: int = SIDE, *, seed: int = 3) -> Singles:
    """Round hills of some hundred metres on rolling ground, metres."""
    rng = np.random.default_rng(seed)
    row, col = np.mgrid[:rows, :cols]
    heights = 60.0 + 25.0 * np.sin(row / 17.0) * np.cos(col / 23.0)
    for _ in range(rows * cols // 400):
        at_row, at_col = rng.uniform(0, rows), rng.uniform(0, cols)
        wide, high = rng.uniform(2.5, 7.0), rng.uniform(120.0, 420.0)
        away = (row - at_row) ** 2 + (col - at_col) ** 2
        heights = np.maximum(heights, high * np.exp(-away / (2.0 * wide**2)))
    return (heights + rng.normal(0.0, 0.5, heights.shape)).astype(np.float32)


def write_ground(path: Path, heights: Singles, *, first_col: int = 0) -> Path:
    """A GeoTIFF of heights on cells of 100 m, from a column of the country on."""
    place = Affine(CELL_M, 0.0, 5e5 + CELL_M * first_col, 0.0, -CELL_M, 6e6)
    profile = {"driver": "GTiff", "dtype": "float32", "count": 1, "nodata": float("nan")}
    rows, cols = heights.shape
    with rasterio.open(
        path, "w", height=rows, width=cols, crs="EPSG:32630", transform=place, **profile
    ) as file:
        file.write(heights, 1)
    return path


@pytest.fixture(scope="session")
def country(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """20 km of made hills, in one file."""
    return write_ground(tmp_path_factory.mktemp("country") / "country.tif", made_hills())


@pytest.fixture(scope="session")
def question() -> terrain.SurveyQuestion:
    """A question of some days in October, for near vantages alone, so that it is soon answered."""
    limits = terrain.Limits(max_distance_m=4000.0, tolerance_deg=2.0, mist_share=0.01)
    return terrain.SurveyQuestion(
        days=DAYS,
        tops_m=(90.0, 110.0),
        limits=limits,
        count=1,
        prominence_m=260.0,
        reach_m=5000.0,
        ends=(False,),
    )


@pytest.fixture(scope="package")
def scheduler() -> Iterator[str]:
    """The address of a cluster of two workers, who go when the room's last test is done.

    One that waits takes 6 % of a core.
    """
    with LocalCluster(n_workers=2, threads_per_worker=1, **QUIET) as cluster:
        yield cluster.scheduler_address


Ask = Callable[..., terrain.Survey]


@pytest.fixture(scope="package")
def ask(country: Path, question: terrain.SurveyQuestion, scheduler: str) -> Ask:
    """A survey of the country by the shared workers, to be kept in a folder.

    Other arguments are as they are given.
    """

    def asked(save: Path, **other: Any) -> terrain.Survey:
        given = {"ground": country, "question": question, "tile_m": 10_000.0} | other
        given.setdefault("workers", terrain.Workers(scheduler=scheduler))
        return terrain.survey(given.pop("ground"), given.pop("question"), save=save, **given)

    return asked


@pytest.fixture(scope="package")
def first(ask: Ask, tmp_path_factory: pytest.TempPathFactory) -> terrain.Survey:
    """The survey of the country in four tiles."""
    return ask(tmp_path_factory.mktemp("first") / "kept")


@pytest.fixture
def kept(first: terrain.Survey, tmp_path: Path) -> Path:
    """A copy of what is kept of it."""
    return shutil.copytree(first.folder, tmp_path / "kept")
