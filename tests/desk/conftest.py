"""A desk over a small island, asked as its page asks, without a socket."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from starlette.testclient import TestClient

from terrain.command.area import Area, stand_on
from terrain.command.area_file import open_area
from terrain.command.days import days_of_year
from terrain.command.kit_asked import KitOptions
from terrain.desk.app import app_of
from terrain.desk.desk import Desk
from terrain.desk.guard import Guard
from terrain.desk.table import Opening, Table, lay
from tests.scenes import written

PORT = 8765
HERE = f"http://127.0.0.1:{PORT}"
DAY = "date=2026-03-16&end=morning"
SPOT = "lat_deg=54.4056&lon_deg=-24.0658"

Ask = Callable[[str], Any]


@pytest.fixture(scope="session")
def isle_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An area file over an island of 5 km: a hill in the east, a ridge that looks at it."""
    folder = tmp_path_factory.mktemp("desk")
    row, col = np.mgrid[:80, :100] * 50.0
    east, south = col - 2500.0, row - 2000.0
    shore = np.clip(np.minimum.reduce([col, row, col.max() - col, row.max() - row]) / 20.0, 0, 40)
    peak = 420.0 * np.exp(-(((east - 1300.0) / 400.0) ** 2) - (south / 400.0) ** 2)
    ridge = 300.0 * np.exp(-(((east + 1500.0) / 350.0) ** 2) - (south / 1500.0) ** 4)
    written(folder / "isle.tif", shore + peak + ridge)
    (folder / "area.toml").write_text(
        'name = "Small Isle"\nrasters = ["isle.tif"]\n'
        '[places]\n"the ridge" = [54.4056, -24.0658]\n"Lone Hill" = [54.4066, -24.0228]\n'
        '[starts]\n"the quay" = [54.4061, -24.0428]\n'
        '[defaults]\nhill = "Lone Hill"\nmist_top_m = 120\ndate = 2026-03-16\n',
        encoding="utf-8",
    )
    return folder / "area.toml"


def opening_of(area: Area) -> Opening:
    """What a desk over an area is opened with."""
    return Opening(
        tract=area,
        kit=lambda: KitOptions(lens=None, sensor=None).over(area),
        stand_on=lambda country, place: stand_on(country, area, place),
        days_of_year=lambda year, place, late: days_of_year(year, place, evening=late),
    )


@pytest.fixture(scope="session")
def table(isle_file: Path) -> Table:
    """The table of a desk over the island."""
    return lay(opening_of(open_area([isle_file])))


@pytest.fixture
def guard(table: Table) -> Guard:
    """A desk over the island behind its guard."""
    return Guard(app_of(Desk(lambda show: table)), port=PORT)


@pytest.fixture
def page(guard: Guard) -> Iterator[TestClient]:
    """The page, let in."""
    with TestClient(guard, base_url=HERE) as client:
        client.get(f"/?t={guard.token}")
        yield client


@pytest.fixture
def ask(page: TestClient) -> Ask:
    """Ask for a record as the page does; the answer must be good."""

    def answer(address: str) -> Any:
        got = page.get(address)
        assert got.status_code == 200, got.text
        return got.json()

    return answer


@pytest.fixture
def plane(page: TestClient) -> Callable[..., np.ndarray]:
    """Fetch the planes of an address as whole numbers, in a shape."""

    def fetched(address: str, *shape: int) -> np.ndarray:
        got = page.get(address)
        assert got.status_code == 200, got.text
        return np.frombuffer(got.content, "<u2").astype(int).reshape(shape)

    return fetched


def events_of(text: str) -> list[tuple[str, Any]]:
    """The events of a stream: their names and what they say."""
    blocks = [block.split("\n", 1) for block in text.strip().split("\n\n")]
    return [(name.removeprefix("event: "), json.loads(data[6:])) for name, data in blocks]
