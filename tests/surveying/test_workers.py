"""Who does the work: how many there are, and the pages about what they do."""

from __future__ import annotations

import urllib.request
from importlib.util import find_spec
from pathlib import Path

import pytest

import terrain
from tests.surveying.conftest import Ask


@pytest.mark.slow
def test_the_pages_about_the_work_are_where_it_is_said(country: Path, tmp_path: Path) -> None:
    pages = list[tuple[int, bytes]]()

    def told(address: str) -> None:
        with urllib.request.urlopen(address, timeout=60.0) as page:
            pages.append((page.status, page.read()))

    who = terrain.Workers(count=1, dashboard=True, told=told)
    terrain.survey_summits(country, save=tmp_path / "kept", workers=who, prominence_m=260.0)
    ((status, page),) = pages
    assert status == 200
    # what draws the pages is in it, and not a line that it is not installed
    assert b"<title>Dask Diagnostic" in page
    assert b"bokeh" in page.lower()


def test_pages_need_what_draws_them(
    ask: Ask, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def without(name: str) -> object:
        return None if name == "bokeh" else find_spec(name)

    monkeypatch.setattr("terrain.surveying.extra.find_spec", without)
    with pytest.raises(terrain.TerrainError, match=r"needs bokeh: pip install"):
        ask(tmp_path / "kept", workers=terrain.Workers(count=1, dashboard=True))
    assert not (tmp_path / "kept").exists()


def test_there_are_as_many_as_cores_and_memory_allow(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("terrain.surveying.workers.cores", lambda: 8)
    monkeypatch.setattr("terrain.surveying.workers.free_bytes", lambda: 10_000_000_000)
    # 8 GB of the 10 that are free are taken: five times 1 GB and the half that a program takes
    assert terrain.Workers().local_count(task_gb=1.0) == 5
    assert terrain.Workers(memory_gb=3.0).local_count(task_gb=1.0) == 2
    assert terrain.Workers().local_count(task_gb=0.1) == 8
    assert terrain.Workers().local_count(task_gb=100.0) == 1
    assert terrain.Workers(count=3).local_count(task_gb=100.0) == 3
    with pytest.raises(terrain.TerrainError, match="0 workers do nothing"):
        terrain.Workers(count=0)
