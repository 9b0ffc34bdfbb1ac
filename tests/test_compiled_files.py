"""Compiled code is kept so that no process runs that of another signature, or waits in vain."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from time import sleep

import pytest

from terrain import compiled_files
from terrain.compiled_files import KeptCode

FLOATS, WHOLE = ("float64", "x86"), ("int64", "x86")


@pytest.fixture
def told() -> list[str]:
    """What is said to be wrong."""
    return []


def kept(folder: Path, told: list[str], stamp: str = "source") -> KeptCode:
    """The files of one kernel, as another process would come to them."""
    return KeptCode(folder, "rise-7.py311", stamp, told.append)


def test_signatures_that_are_kept_at_once_do_not_meet(tmp_path: Path, told: list[str]) -> None:
    one, other = kept(tmp_path, told), kept(tmp_path, told)
    assert one.load(FLOATS) is other.load(WHOLE) is None
    other.save(WHOLE, "whole")
    one.save(FLOATS, "floats")
    assert [kept(tmp_path, told).load(key) for key in (FLOATS, WHOLE)] == ["floats", "whole"]
    assert told == []


def test_what_another_is_compiling_is_waited_for(tmp_path: Path, told: list[str]) -> None:
    one, other = kept(tmp_path, told), kept(tmp_path, told)
    assert one.load(FLOATS) is None
    with ThreadPoolExecutor(1) as threads:
        found = threads.submit(other.load, FLOATS)
        sleep(0.1)
        assert not found.done()
        one.save(FLOATS, "floats")
        assert found.result(timeout=10.0) == "floats"


def test_what_another_never_ends_is_compiled_here(
    tmp_path: Path, told: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(compiled_files, "LONGEST_WAIT_S", 0.05)
    one, other = kept(tmp_path, told), kept(tmp_path, told)
    assert one.load(FLOATS) is None
    assert other.load(FLOATS) is None
    other.save(FLOATS, "floats")
    assert one.load(FLOATS) == "floats"


def test_code_of_another_source_and_of_a_like_name_is_not_run(
    tmp_path: Path, told: list[str]
) -> None:
    class Named:
        def __repr__(self) -> str:
            return repr(FLOATS)

    kept(tmp_path, told).save(FLOATS, "floats")
    assert kept(tmp_path, told, "changed").load(FLOATS) is None
    assert kept(tmp_path, told).load(Named()) is None


def test_what_is_damaged_goes_and_is_told_of(tmp_path: Path, told: list[str]) -> None:
    kept(tmp_path, told).save(FLOATS, "floats")
    (file,) = tmp_path.glob("*.nbc")
    file.write_bytes(file.read_bytes().replace(b"floats", b"float6"))
    assert kept(tmp_path, told).load(FLOATS) is None
    assert told == ["damaged files of compiled code are thrown away and made anew"]
    assert not file.exists()


def test_where_nothing_can_be_written_it_is_told(tmp_path: Path, told: list[str]) -> None:
    (tmp_path / "file").touch()
    nowhere = kept(tmp_path / "file", told)
    assert nowhere.load(FLOATS) is None
    nowhere.save(FLOATS, "floats")
    (said,) = told
    assert said.startswith(f"compiled code cannot be kept in {tmp_path / 'file'} (")


def test_what_is_forgotten_is_compiled_again(tmp_path: Path, told: list[str]) -> None:
    kept(tmp_path, told).save(FLOATS, "floats")
    kept(tmp_path, told).flush()
    assert kept(tmp_path, told).load(FLOATS) is None
