"""What the system tells of free memory, by files as Linux writes them."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from terrain import memory

INFO = "MemTotal:  32000000 kB\nMemFree: 100 kB\nMemAvailable:   2000000 kB\n"


@pytest.fixture
def system(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    (tmp_path / "meminfo").write_text(INFO, encoding="ascii")
    monkeypatch.setattr(memory, "_SYSTEM", tmp_path / "meminfo")
    monkeypatch.setattr(
        memory, "_GROUPS", ((tmp_path / "memory.max", tmp_path / "memory.current"),)
    )
    monkeypatch.setattr(memory, "_address_space", lambda: None)
    return tmp_path


def test_what_the_machine_has(system: Path) -> None:
    assert memory.free_bytes() == 2_048_000_000


def test_a_group_of_processes_may_have_less(system: Path) -> None:
    (system / "memory.max").write_text("max\n", encoding="ascii")
    (system / "memory.current").write_text("900000000\n", encoding="ascii")
    assert memory.free_bytes() == 2_048_000_000
    (system / "memory.max").write_text("1000000000\n", encoding="ascii")
    assert memory.free_bytes() == 100_000_000
    (system / "memory.stat").write_text("anon 5\ninactive_file 300000000\n", encoding="ascii")
    assert memory.free_bytes() == 400_000_000


def test_a_process_may_have_less(system: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(memory, "_address_space", lambda: 5_000_000)
    assert memory.free_bytes() == 5_000_000


def test_half_of_all_where_no_more_is_told(system: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (system / "meminfo").unlink()
    told = {"SC_PAGE_SIZE": 4096, "SC_PHYS_PAGES": 1000}
    monkeypatch.setattr(memory.os, "sysconf", told.__getitem__)
    assert memory.free_bytes() == 2_048_000

    def unknown(name: str) -> int:
        raise ValueError(name)

    monkeypatch.setattr(memory.os, "sysconf", unknown)
    assert memory.free_bytes() is None


@pytest.mark.skipif(sys.platform != "linux", reason="address space is bounded in another way")
def test_threads_take_addresses_of_their_own(monkeypatch: pytest.MonkeyPatch) -> None:
    import resource

    monkeypatch.setattr(resource, "getrlimit", lambda _: (2**42, resource.RLIM_INFINITY))
    left = []
    for count in (1, 2):
        monkeypatch.setattr(memory, "cores", lambda count=count: count)
        left.append(memory._address_space())
    # malloc(3) and pthread_attr_setstacksize(3): 64 MB of a heap, 8 MB of a stack
    assert left[0] - left[1] == pytest.approx(72 * 2**20, abs=2**20)
