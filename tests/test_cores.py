"""Sharing work out: everything is done once, in order, and what goes wrong is heard."""

from __future__ import annotations

import threading
from collections.abc import Callable
from concurrent.futures import Future

import pytest

from terrain import cores
from terrain.cores import share_out


@pytest.mark.parametrize("count", [0, 1, 2, 7, 8, 9, 1000])
@pytest.mark.parametrize("machine", [1, 2, 3])
def test_every_part_is_done_once_and_told_in_order(
    count: int, machine: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(cores, "cores", lambda: machine)
    parts = share_out(count, lambda first, end: list(range(first, end)))
    assert [number for part in parts for number in part] == list(range(count))


@pytest.mark.parametrize("count", [2, 8])
def test_parts_run_at_once(count: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cores, "cores", lambda: 2)
    both = threading.Barrier(2, timeout=20.0)
    share_out(count, lambda first, end: both.wait())  # a part alone would wait in vain


def test_on_one_core_all_is_done_where_it_is_asked(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cores, "cores", lambda: 1)
    assert set(share_out(9, lambda first, end: threading.get_ident())) == {threading.get_ident()}


def test_what_a_part_raises_is_raised(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cores, "cores", lambda: 2)

    def fail(first: int, end: int) -> None:
        if first <= 5 < end:
            raise ValueError("row 5")

    with pytest.raises(ValueError, match="row 5"):
        share_out(20, fail)


def test_a_part_may_share_out_in_its_turn(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cores, "cores", lambda: 2)

    def outer(first: int, end: int) -> int:
        return sum(share_out(10, lambda low, high: high - low))

    assert share_out(8, outer) == [10] * 8  # and does not wait for threads that wait for it


def test_no_part_is_begun_after_an_error(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cores, "cores", lambda: 2)
    idle, begun = _Idle(), list[int]()
    monkeypatch.setattr(cores, "_threads", lambda: idle)

    def fail(first: int, end: int) -> None:
        begun.append(first)
        raise ValueError("the first of all")

    with pytest.raises(ValueError, match="the first of all"):
        share_out(8, fail)
    idle.late()
    assert begun == [0]


class _Idle:
    """Threads that begin what they are given when told to."""

    def submit(self, work: Callable[[], None]) -> Future[None]:
        self.late = work
        return Future()


def test_cores_are_those_this_process_may_use(monkeypatch: pytest.MonkeyPatch) -> None:
    count = cores._of_machine.__wrapped__  # which keeps its first answer
    monkeypatch.setattr("os.sched_getaffinity", lambda process: {1, 3, 4}, raising=False)
    monkeypatch.setattr("os.cpu_count", lambda: 8)
    assert count() == 3
    monkeypatch.delattr("os.sched_getaffinity")
    assert count() == 8
    monkeypatch.setattr("os.cpu_count", lambda: None)
    assert count() == 1


def test_a_work_among_several_takes_no_more_cores_than_it_is_left(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(cores, "_of_machine", lambda: 3)
    asked = list[int]()
    monkeypatch.setattr(cores, "_threads", lambda: _Counting(asked))
    for most in (1, 2, 9):
        with cores.at_most(most):
            assert cores.cores() == min(most, 3)
            assert sum(share_out(12, lambda first, end: end - first)) == 12
    assert cores.cores() == 3
    assert asked == [1, 1, 1]  # no helper, then one, then two


def test_a_limit_binds_the_thread_that_set_it_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cores, "_of_machine", lambda: 3)
    seen = list[int]()
    with cores.at_most(1):
        other = threading.Thread(target=lambda: seen.append(cores.cores()))
        other.start()
        other.join()
    assert seen == [3]


def test_no_work_is_done_on_no_core() -> None:
    with pytest.raises(ValueError, match="on 0 cores"), cores.at_most(0):
        pass


class _Counting:
    """Threads that are too busy to begin anything, and count how often they are asked."""

    def __init__(self, asked: list[int]) -> None:
        self.asked = asked

    def submit(self, work: Callable[[], None]) -> Future[None]:
        self.asked.append(1)
        return Future()
