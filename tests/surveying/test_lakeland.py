"""Real ground in sixteen tiles, one of two workers killed on the way, against one piece of it."""

from __future__ import annotations

import datetime as dt
import os
import signal
import time
from pathlib import Path

import pandas as pd
import pytest
from distributed import LocalCluster

import terrain
from tests.surveying.conftest import QUIET
from tests.surveying.test_survey import assert_same_rows


@pytest.mark.slow
def test_sixteen_tiles_and_a_killed_worker_give_what_one_piece_gives(
    tmp_path: Path, open_data: Path
) -> None:
    ground = open_data / "lakeland_50m.tif"
    limits = terrain.Limits(max_distance_m=8000.0)
    question = terrain.SurveyQuestion(
        days=(dt.date(2026, 10, 10), dt.date(2026, 10, 16)),
        tops_m=(250.0,),
        limits=limits,
        count=2,
        prominence_m=250.0,
        reach_m=15_000.0,
    )
    killed = list[int]()
    with LocalCluster(n_workers=2, threads_per_worker=1, **QUIET) as cluster:
        who = terrain.Workers(scheduler=cluster.scheduler_address)

        def kill_once(standing: object) -> None:
            if standing.stage == "vantages" and standing.done == 2 and not killed:
                killed.append(next(iter(cluster.workers.values())).process.pid)
                os.kill(killed[0], signal.SIGKILL)

        tiles = terrain.survey(
            ground,
            question,
            save=tmp_path / "tiles",
            tile_m=20_000.0,
            workers=who,
            progress=kill_once,
        )
        piece = terrain.survey(ground, question, save=tmp_path / "piece", tile_m=1e6, workers=who)
    assert killed
    assert (tiles.tiles, piece.tiles) == (16, 1)
    assert not tiles.failures
    assert_same_rows(tiles.table, piece.table)
    began_s = time.monotonic()
    again = terrain.survey(ground, question, save=tmp_path / "tiles", tile_m=20_000.0)
    assert time.monotonic() - began_s < 5.0
    assert again.made == 0
    pd.testing.assert_frame_equal(again.table, tiles.table)
