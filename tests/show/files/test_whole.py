"""A file is complete or not there, and what was there before stays until then."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from pyogrio.errors import DataLayerError

from terrain.errors import TerrainError
from terrain.scratch import STALE_S
from terrain.show.files.export import check_database
from terrain.show.files.whole import whole_file


def put(path: Path, text: str = "new") -> str:
    with whole_file(path) as partial:
        partial.write_text(text, encoding="utf-8")
    return path.read_text(encoding="utf-8")


def test_what_a_kill_left_goes_with_the_next_file_and_nothing_else_does(tmp_path: Path) -> None:
    ages = {
        ".terrain-abcd1234": 2.0 * STALE_S,
        ".terrain-new_one1": 0.0,
        ".terrain-not-ours": 2.0 * STALE_S,
        ".tmpabcd": 2.0 * STALE_S,
    }
    for name, age_s in ages.items():
        folder = tmp_path / name
        folder.mkdir()
        (folder / "map.png").write_text("half", encoding="utf-8")
        then = folder.stat().st_mtime - age_s
        os.utime(folder, (then, then))
    assert put(tmp_path / "map.png") == "new"
    left = {path.name for path in tmp_path.iterdir()}
    assert left == {"map.png", *list(ages)[1:]}


def test_the_permissions_of_the_old_file_stay(tmp_path: Path) -> None:
    file = tmp_path / "map.png"
    file.write_text("old", encoding="utf-8")
    file.chmod(0o640)
    assert put(file) == "new"
    assert file.stat().st_mode & 0o777 == 0o640


def test_a_long_reason_is_told_by_its_end(tmp_path: Path) -> None:
    told = pytest.raises(TerrainError, match=r"^cannot write .*t\.gpkg: disk is full$")
    with told, whole_file(tmp_path / "t.gpkg"):
        raise DataLayerError(f"sqlite3_exec({'CREATE ' * 500}) failed: disk is full")


@pytest.mark.parametrize("keep", [0.5, 0.99])
def test_a_database_that_ends_too_soon_is_found_out(tmp_path: Path, keep: float) -> None:
    import sqlite3
    from contextlib import closing

    file = tmp_path / "t.gpkg"
    with closing(sqlite3.connect(file)) as database:
        database.execute("CREATE TABLE t (text)")
        database.executemany("INSERT INTO t VALUES (?)", [["row" * 50]] * 500)
        database.commit()
    check_database(file)
    file.write_bytes(file.read_bytes()[: int(keep * file.stat().st_size)])
    with pytest.raises(OSError, match=r"malformed|page|file"):
        check_database(file)
