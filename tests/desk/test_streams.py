"""Answers that take long: they tell how far they are, can be dropped, and hold up nothing else."""

from __future__ import annotations

import asyncio
import datetime as dt
import json
import threading
import time
from pathlib import Path

import pytest
from starlette.testclient import TestClient

import terrain
from terrain.desk.app import app_of
from terrain.desk.asked import Asked
from terrain.desk.desk import Desk
from terrain.desk.guard import Guard
from terrain.desk.warm import warm
from terrain.desk.work import Dropped, Job, Jobs, Kept
from tests.command.conftest import terrain as terrain_command
from tests.desk.conftest import DAY, HERE, PORT, events_of

command = terrain_command
"""Run a command in this process."""

VANTAGES = f"/vantages?hill=Lone Hill&{DAY}&mist=level:120"
WAIT_S = 20.0


def test_vantages_come_in_order_and_are_those_of_the_command(page, command, isle_file: Path):
    events = events_of(page.get(VANTAGES).text)
    names = [name for name, _ in events]
    assert names[0] == "progress"
    assert names == sorted(names, key=["progress", "row", "end"].index)
    assert names.count("end") == 1
    done = [told["done"] for name, told in events if name == "progress"]
    assert done == sorted(set(done))
    rows = [told for name, told in events if name == "row"]
    assert all(row.pop("words") for row in rows)
    said = command("vantages", isle_file, "--json", "--count", "10")
    assert rows == json.loads(said.out)
    assert any("Never look at the sun" in line for line in events[-1][1]["words"])


def test_vantages_of_a_year_come_with_their_days(page, monkeypatch, set_clock):
    set_clock("2026-01-01T03:00")
    find, spans = terrain.find_vantages, []

    def few_days(*asked: object, year, **named: object):
        spans.append(year)
        return find(*asked, year=(dt.date(2026, 3, 7), dt.date(2026, 3, 9)), **named)

    monkeypatch.setattr(terrain, "find_vantages", few_days)
    asked = VANTAGES.replace("date=2026-03-16", "year=2026")
    rows = [told for name, told in events_of(page.get(asked).text) if name == "row"]
    assert spans == [(dt.date(2026, 1, 1), dt.date(2026, 12, 31))]
    assert rows
    assert all(row["day"].startswith("2026-03-0") and row["days"] for row in rows)


def test_a_season_ranks_days_and_says_which_hill_has_none(page):
    events = events_of(page.get("/season?from=2026-03-15&to=2026-03-17&mist=level:120").text)
    rows = [told for name, told in events if name == "row"]
    assert [row["rank"] for row in rows] == list(range(1, len(rows) + 1))
    assert len({row["hill"] for row in rows}) == 1
    assert events[-1][0] == "end"


def test_what_cannot_be_ranked_is_said_in_one_line(page):
    for address, words in (
        (VANTAGES.replace("Lone Hill", "Lost Hill"), "no hill is called"),
        (f"{VANTAGES}&lens_mm=0", "lens_mm=0 is not a number from 1"),
        ("/season?from=2026-03-23&to=2026-03-21", "before"),
        ("/vantages?hill=Lone Hill", "year= was not given"),
    ):
        ((name, told),) = events_of(page.get(address).text)
        assert name == "wrong"
        assert words in told["wrong"]
        assert "\n" not in told["wrong"]


class Slow:
    """A search that goes on until it is told to end, and knows whether it was dropped."""

    def __init__(self) -> None:
        self.begun, self.end, self.dropped = (threading.Event() for _ in range(3))

    def __call__(self, *asked: object, progress, **named: object) -> None:
        self.begun.set()
        until_s = time.monotonic() + WAIT_S
        try:
            while not self.end.wait(0.002) and time.monotonic() < until_s:
                progress(0.5)
        except Dropped:
            self.dropped.set()
            raise
        raise terrain.NoAnswer("nothing was found")


@pytest.fixture
def slow(monkeypatch) -> Slow:
    search = Slow()
    monkeypatch.setattr(terrain, "find_vantages", search)
    yield search
    search.end.set()


def asking(page, address: str) -> tuple[threading.Thread, list[str]]:
    """Ask on another thread; what is answered is put in a list."""
    got: list[str] = []
    thread = threading.Thread(target=lambda: got.append(page.get(address).text))
    thread.start()
    return thread, got


def test_a_job_is_dropped_by_its_number(page, slow):
    thread, got = asking(page, f"{VANTAGES}&job=7")
    assert slow.begun.wait(WAIT_S)
    assert page.post("/drop/8").json() == {"dropped": 0}
    assert not slow.dropped.is_set()
    assert page.post("/drop/7").json() == {"dropped": 1}
    thread.join(WAIT_S)
    assert slow.dropped.is_set()
    name, told = events_of(got[0])[-1]
    assert (name, "dropped" in told["wrong"]) == ("wrong", True)


def test_a_long_answer_holds_up_no_other(page, slow, plane):
    thread, _ = asking(page, f"{VANTAGES}&job=9")
    assert slow.begun.wait(WAIT_S)
    assert plane("/heights/0", 80, 100).any()
    assert page.get(f"/sun.json?{DAY}").status_code == 200
    assert not slow.end.is_set()
    page.post("/drop/9")
    thread.join(WAIT_S)


def test_two_desks_do_not_disturb_each_other(page, table, slow):
    other = Guard(app_of(Desk(lambda show: table)), port=PORT)
    with TestClient(other, base_url=HERE) as there:
        there.get(f"/?t={other.token}")
        thread, got = asking(page, f"{VANTAGES}&job=1")
        assert slow.begun.wait(WAIT_S)
        # a job of that number on the other desk is another job
        assert there.post("/drop/1").json() == {"dropped": 0}
        assert not slow.dropped.is_set()
    # nor is it dropped as the other desk is closed
    assert not slow.dropped.is_set()
    slow.end.set()
    thread.join(WAIT_S)
    assert events_of(got[0])[-1] == ("wrong", {"wrong": "nothing was found"})


def test_closing_a_desk_drops_what_is_at_work(table, slow):
    guard = Guard(app_of(desk := Desk(lambda show: table)), port=PORT)
    with TestClient(guard, base_url=HERE) as there:
        there.get(f"/?t={guard.token}")
        thread, _ = asking(there, VANTAGES)
        assert slow.begun.wait(WAIT_S)
        desk.jobs.drop_all()
        thread.join(WAIT_S)
    assert slow.dropped.is_set()


def test_a_desk_whose_ground_cannot_be_read_says_so():
    failed = threading.Event()

    def lay(show):
        raise terrain.TerrainError("there is no file no.tif")

    guard = Guard(app_of(Desk(lay, failed=failed.set)), port=PORT)
    with TestClient(guard, base_url=HERE) as there:
        there.get(f"/?t={guard.token}")
        assert there.get("/about.json").json() == {"wrong": "there is no file no.tif"}
    assert failed.is_set()


def test_a_number_that_was_dropped_beforehand_stays_dropped():
    jobs, early, other = Jobs(), Job(), Job()
    jobs.drop("3")
    jobs.begin("3", early)
    jobs.begin("", other)
    with pytest.raises(Dropped):
        early.step(0.5)
    other.step(0.5)
    jobs.end(early)
    assert jobs.drop("3") == 0


def test_what_is_kept_is_made_once_for_all_who_ask():
    kept, made, go = Kept(2), [], threading.Event()

    def make() -> int:
        go.wait(WAIT_S)
        made.append(1)
        return len(made)

    got: list[int] = []
    threads = [threading.Thread(target=lambda: got.append(kept.get("a", make))) for _ in range(4)]
    for thread in threads:
        thread.start()
    go.set()
    for thread in threads:
        thread.join(WAIT_S)
    assert got == [1, 1, 1, 1]
    assert kept.values() == [1]


def test_what_was_asked_for_longest_ago_goes_first():
    kept = Kept(2)
    for key in ("a", "b", "a", "c"):
        kept.get(key, lambda key=key: key)
    assert kept.values() == ["a", "c"]


def test_who_waits_for_what_is_dropped_makes_it_himself():
    kept, first, begun = Kept(2), Job(), threading.Event()

    def drops() -> int:
        begun.set()
        while True:
            first.step(0.5)

    def fails() -> None:
        with pytest.raises(Dropped):
            kept.get("a", drops, first)

    thread = threading.Thread(target=fails)
    thread.start()
    assert begun.wait(WAIT_S)
    waits = threading.Thread(target=lambda: got.append(kept.get("a", lambda: 2, Job())))
    got: list[int] = []
    waits.start()
    first.drop()
    thread.join(WAIT_S)
    waits.join(WAIT_S)
    assert got == [2]


def test_what_fails_is_not_kept():
    kept = Kept(2)
    with pytest.raises(ZeroDivisionError):
        kept.get("a", lambda: 1 // 0)
    assert kept.get("a", lambda: 5) == 5


def test_days_of_a_request_are_dates():
    assert Asked({"date": "2026-03-16"}).day() == dt.date(2026, 3, 16)
    with pytest.raises(terrain.TerrainError, match="is not a date"):
        Asked({"date": "tomorrow"}).day()


def test_what_the_page_no_longer_waits_for_is_dropped(table, monkeypatch):
    search, sent = Slow(), []
    monkeypatch.setattr(terrain, "light_arrival", search)
    desk = Desk(lambda show: table)
    query = f"{DAY}&mist=level:90".encode()
    scope = {"type": "http", "method": "GET", "path": "/light/0", "query_string": query}

    async def receive() -> dict[str, str]:
        await asyncio.to_thread(search.begun.wait, WAIT_S)
        return {"type": "http.disconnect"}

    async def send(message: dict[str, object]) -> None:
        sent.append(message)

    async def hung_up() -> None:
        desk.open()
        await app_of(desk)({**scope, "headers": []}, receive, send)

    asyncio.run(hung_up())
    desk.close()
    assert search.dropped.is_set()
    assert sent[0]["status"] == 409


def test_a_desk_is_warmed_with_what_its_page_begins_with(table):
    warm(table, Job())
    asked = Asked({"hill": "Lone Hill", "mist": "level:120"})
    assert table.scene(asked) is table.scene(asked)
    closed = Job()
    closed.drop()
    with pytest.raises(Dropped):
        warm(table, closed)
