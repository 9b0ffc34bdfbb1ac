"""What killed surveys left among temporary files goes with the next one, and nothing else does."""

from __future__ import annotations

import os
import shutil
import tempfile
from pathlib import Path

import pytest
from filelock import FileLock

from terrain.scratch import scratch


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    return tmp_path


def left_by_a_kill(folder: Path) -> Path:
    """A survey's folder with something laid aside, as old as the hills."""
    with scratch() as made:
        (Path(made) / "laid_aside").write_bytes(bytes(1000))
        left = Path(shutil.copytree(made, folder / f"{Path(made).name}_"))
    os.utime(left, (0.0, 0.0))
    return left


def test_it_goes_with_the_next(folder: Path) -> None:
    left = left_by_a_kill(folder)
    with scratch() as made:
        assert not left.exists()
        assert [path.name for path in folder.iterdir()] == [Path(made).name]
    assert list(folder.iterdir()) == []


def test_that_of_a_survey_that_runs_stays_however_old(folder: Path) -> None:
    left = left_by_a_kill(folder)
    with FileLock(left / "lock"):
        os.utime(left, (0.0, 0.0))
        with scratch():
            assert (left / "laid_aside").exists()
    with scratch() as made:
        os.utime(made, (0.0, 0.0))
        with scratch():
            assert Path(made).exists()


def test_what_is_new_or_not_a_survey_s_stays(folder: Path) -> None:
    left = left_by_a_kill(folder)
    os.utime(left)
    notes = folder / ".terrain-workers-notes.txt"
    notes.write_text("mine")
    os.utime(notes, (0.0, 0.0))
    with scratch():
        assert (left / "laid_aside").exists()
        assert notes.exists()
