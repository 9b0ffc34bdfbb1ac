"""Tables of the light are worked out once on a machine, and never taken for another air's."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from terrain.arrays import Floats
from terrain.glow import kept as rooms_keeper
from terrain.glow.air import ClearAir
from terrain.glow.kept import kept
from terrain.glow.scattered import lights_of
from terrain.glow.sun_tables import sun_table

TABLES = [np.array([[0.1, np.nan], [np.inf, 1 / 3]]), np.arange(6.0).reshape(1, 2, 3)]


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(rooms_keeper, "kept_in", lambda: tmp_path)
    return tmp_path


def never() -> list[Floats]:
    raise AssertionError("it was kept, and is worked out again")


def assert_same(found: list[Floats]) -> None:
    for one, other in zip(found, TABLES, strict=True):
        assert one.tobytes() == other.tobytes()
        assert one.shape == other.shape


def test_what_is_kept_is_read_to_the_last_bit(folder: Path) -> None:
    kept(("sun", ClearAir(), 3), lambda: TABLES)
    assert_same(kept(("sun", ClearAir(), 3), never))


def test_another_air_is_another_table(folder: Path) -> None:
    for air in (ClearAir(), ClearAir(ground_albedo=0.31)):
        kept((air, 3), lambda: TABLES)
    kept((ClearAir(), 4), lambda: TABLES)
    assert len(list(folder.iterdir())) == 3


def test_other_code_does_not_read_it(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    kept("sun", lambda: TABLES[:1])
    monkeypatch.setattr(rooms_keeper, "_code", lambda: b"another release")
    assert_same(kept("sun", lambda: TABLES))


@pytest.mark.parametrize("at", [0, 70, -30])
def test_a_damaged_file_is_made_anew(folder: Path, at: int) -> None:
    kept("sun", lambda: TABLES)
    (file,) = folder.iterdir()
    content = bytearray(file.read_bytes())
    content[at] ^= 0xFF
    file.write_bytes(content)
    assert_same(kept("sun", lambda: TABLES))
    assert_same(kept("sun", never))


def test_half_a_file_is_made_anew(folder: Path) -> None:
    kept("sun", lambda: TABLES)
    (file,) = folder.iterdir()
    file.write_bytes(file.read_bytes()[:100])
    assert_same(kept("sun", lambda: TABLES))


def test_where_nothing_can_be_written_it_is_worked_out(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for place in (None, tmp_path / "gone"):
        monkeypatch.setattr(rooms_keeper, "kept_in", lambda place=place: place)
        assert_same(kept("sun", lambda: TABLES))


def test_a_run_that_is_stopped_as_it_writes_leaves_nothing(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stopped(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(Path, "replace", stopped)
    with pytest.raises(KeyboardInterrupt):
        kept("sun", lambda: TABLES)
    assert list(folder.iterdir()) == []


def test_the_light_of_the_air_is_the_same_kept_and_made(folder: Path) -> None:
    def all_light() -> list[bytes]:
        sun_table.cache_clear()
        lights_of.cache_clear()
        sun, lights = sun_table(ClearAir(), 3), lights_of(ClearAir(), 3)
        assert not any(table.flags.writeable for table in (*sun, lights.more))
        return [table.tobytes() for table in (*sun, lights.sun, lights.more)]

    made = all_light()
    assert len(list(folder.iterdir())) == 2
    assert all_light() == made
