"""Which vantages are kept: the best first, then such as offer something else of the hill."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from terrain.vantage.pick import LOOKS_PER_PLACE, Row, pick

HILL = (200.0, 200.0)


def cells_at(places: list[tuple[float, float, float]]) -> pd.DataFrame:
    """Cells by their bearing from the hill, degrees, distance in cells and score, best first."""
    bearing, far, score = np.array(places).T
    row = HILL[0] - far * np.cos(np.radians(bearing))
    col = HILL[1] + far * np.sin(np.radians(bearing))
    table = pd.DataFrame({"row": row, "col": col, "bearing": bearing, "far": far, "score": score})
    return table.sort_values("score", ascending=False, ignore_index=True)


def as_row(cell: pd.Series) -> Row:
    return {"bearing": float(cell["bearing"]), "far": float(cell["far"])}


def picked(cells: pd.DataFrame, count: int, **asked: object) -> list[tuple[float, float]]:
    options = {"apart_cells": 3.0, "missed_cells": 0.3, "about": HILL} | asked
    found = pick([cells], asked.pop("take", as_row), count=count, **options)  # type: ignore[arg-type]
    return [(row["bearing"], row["far"]) for row in found]


# one ridge, its best places side by side, and two others that are not quite so good
RIDGE = [
    (290.0 + step / 2.0, 100.0 + 3 * step, 0.9 - 0.01 * step) for step in (-3.0, -1.0, 0.0, 1.0)
]
FARTHER, ELSEWHERE, POOR = (290.0, 160.0, 0.8), (310.0, 100.0, 0.79), (90.0, 100.0, 0.5)


def test_another_view_goes_before_a_little_better_one_of_the_same() -> None:
    cells = cells_at([*RIDGE, FARTHER, ELSEWHERE, POOR])
    best = max(RIDGE, key=lambda place: place[2])
    assert picked(cells, 1) == [best[:2]]
    assert picked(cells, 3) == [pytest.approx(one[:2]) for one in (best, FARTHER, ELSEWHERE)]
    # then the ridge again, the best first; much worse is not taken for being elsewhere
    again = sorted((one for one in RIDGE if one != best), key=lambda one: -one[2])
    assert picked(cells, 5)[3:] == [pytest.approx(one[:2]) for one in again[:2]]
    assert picked(cells, 7)[-1] == pytest.approx(POOR[:2])


def test_without_a_hill_by_their_order_alone() -> None:
    cells = cells_at([*RIDGE, FARTHER, ELSEWHERE])
    ordered = [tuple(one) for one in cells[["bearing", "far"]].to_numpy()]
    assert picked(cells, 6, about=None) == ordered


def test_bearings_go_round() -> None:
    cells = cells_at([(359.0, 100.0, 0.9), (2.0, 100.0, 0.89), (8.0, 100.0, 0.8)])
    assert [round(one) for one, _ in picked(cells, 2, apart_cells=1.0)] == [359, 8]


def test_where_one_fails_its_like_go_no_longer_first() -> None:
    """A far ridge that promises and never holds costs one look, not all that there are."""
    far = [(320.0, 150.0 + 0.5 * step, 0.85 - 0.001 * step) for step in range(60)]
    looked: list[float] = []

    def take(cell: pd.Series) -> Row | None:
        looked.append(float(cell["far"]))
        return as_row(cell) if cell["far"] < 140.0 else None

    cells = cells_at([*RIDGE, *far])
    found = pick([cells], take, count=4, apart_cells=3.0, missed_cells=0.3, about=HILL)
    assert {row["far"] for row in found} == {one[1] for one in RIDGE}
    assert len(looked) <= LOOKS_PER_PLACE * 4


def test_all_stand_apart_over_batches_too() -> None:
    first, second = cells_at([(290.0, 100.0, 0.9)]), cells_at([(290.5, 100.0, 0.8)])
    second.loc[len(second)] = cells_at([(300.0, 100.0, 0.7)]).loc[0]
    asked = {"count": 5, "apart_cells": 3.0, "missed_cells": 0.3, "about": HILL}
    found = pick([first, second], as_row, **asked)  # type: ignore[arg-type]
    assert [row["bearing"] for row in found] == [290.0, 300.0]


@pytest.mark.parametrize("count", [1, 3])
def test_no_more_looks_than_are_allowed(count: int) -> None:
    looked = []
    cells = cells_at([(float(at), 100.0, 1.0 - at / 500.0) for at in range(0, 300, 2)])
    options = {"apart_cells": 1.0, "missed_cells": 0.3, "about": HILL}
    found = pick([cells], lambda cell: looked.append(cell), count=count, **options)  # type: ignore[arg-type]
    assert not found
    assert len(looked) == LOOKS_PER_PLACE * count
