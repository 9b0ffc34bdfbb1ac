"""Records keep their arrays from every change, and are equal to themselves alone."""

from __future__ import annotations

import contextlib
import copy
import dataclasses
import importlib
import pickle
import pkgutil
import typing
from collections.abc import Callable, Iterator
from typing import Any

import numpy as np
import pandas as pd
import pytest

import terrain
from terrain.ground.dem import Dem
from terrain.ground.places import Spot
from terrain.mist.level import level_mist
from terrain.sight.skyline import skyline
from tests.conftest import MakeDem

MIDDLE = Spot(lon_deg=-24.0, lat_deg=54.4)


def records() -> Iterator[type]:
    """Every dataclass of the package."""
    for module in pkgutil.walk_packages(terrain.__path__, "terrain."):
        for value in vars(importlib.import_module(module.name)).values():
            is_here = isinstance(value, type) and value.__module__ == module.name
            if is_here and dataclasses.is_dataclass(value):
                yield value


def holds_arrays(record: type) -> bool:
    """Whether a field is an array or a table, of those whose types are known when it runs."""
    known = vars(importlib.import_module(record.__module__))
    for field in dataclasses.fields(record):  # type: ignore[arg-type]
        with contextlib.suppress(NameError):
            kind = eval(str(field.type), dict(known))
            kind = typing.get_origin(kind) or kind
            if isinstance(kind, type) and issubclass(kind, np.ndarray | pd.DataFrame):
                return True
    return False


@pytest.fixture(scope="module")
def dem(make_dem: MakeDem) -> Dem:
    return make_dem(np.hypot(*np.mgrid[-5:5, -5:5]))


@pytest.fixture(params=["ground", "mist", "skyline"])
def record(request: pytest.FixtureRequest, dem: Dem) -> Any:
    made: dict[str, Callable[[], object]] = {
        "ground": lambda: dem,
        "mist": lambda: level_mist(dem, 3.0),
        "skyline": lambda: skyline(
            dem, Spot(lon_deg=-24.0, lat_deg=54.4), azimuths_deg=[0.0, 90.0]
        ),
    }
    return made[request.param]()


def arrays(record: object) -> list[np.ndarray]:
    return [value for value in vars(record).values() if isinstance(value, np.ndarray)]


@pytest.mark.parametrize(
    "again",
    [
        lambda record: record,
        copy.copy,
        copy.deepcopy,
        lambda record: pickle.loads(pickle.dumps(record)),
    ],
    ids=["made", "copied", "copied deeply", "pickled"],
)
def test_arrays_are_read_only_whichever_way_a_record_came_about(
    record: Any, again: Callable[[Any], Any]
) -> None:
    found = again(record)
    assert arrays(found)
    assert not any(values.flags.writeable for values in arrays(found))
    for before, after in zip(arrays(record), arrays(found), strict=True):
        np.testing.assert_array_equal(before, after)


def test_a_record_keeps_its_numbers_when_those_it_was_made_from_change(dem: Dem) -> None:
    heights = np.zeros(dem.shape, dtype=np.float32)
    ground = Dem(heights, dem.grid)
    heights[:] = 9.0
    assert not ground.heights_m.any()


def test_a_record_with_arrays_is_equal_to_itself_alone(record: Any) -> None:
    assert record == record
    assert record != copy.copy(record)
    assert {record: "kept"}[record] == "kept"


def test_no_record_compares_its_arrays() -> None:
    comparing = [
        f"{record.__module__}.{record.__name__}"
        for record in records()
        if holds_arrays(record) and record.__dataclass_params__.eq
    ]
    assert comparing == []
