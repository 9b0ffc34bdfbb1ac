"""Which hills are best in which month, of vantages that come with all their days."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

import pandas as pd

_PLACE = ["hill", "hill_lon_deg", "hill_lat_deg", "hill_height_m"]


def best_by_month(table: pd.DataFrame) -> pd.DataFrame:
    """The best score of each hill in each month and at each end of the day.

    table: vantages of several hills, as a survey has them. Results in one row each: the hill and
    where it is, `month` from 1 to 12, `evening`, `score`, and `days`, how many days at its best
    vantage there.

    >>> one = {"hill": "Hoo", "hill_lon_deg": -24.0, "hill_lat_deg": 54.4, "hill_height_m": 300.0}
    >>> row = {**one, "evening": False, "score": 0.5, "days": "2026-03-30..2026-04-02"}
    >>> best_by_month(pd.DataFrame([row]))[["month", "score", "days"]].values.tolist()
    [[3.0, 0.5, 2.0], [4.0, 0.5, 2.0]]
    """
    rows = [
        {name: row[name] for name in (*_PLACE, "evening", "score")} | {"month": month, "days": days}
        for row in table.to_dict("records")
        for month, days in sorted(_days_a_month(str(row["days"])).items())
    ]
    every = pd.DataFrame(rows, columns=[*_PLACE, "evening", "score", "month", "days"])
    best = every.sort_values("score", ascending=False, kind="stable")
    return best.drop_duplicates([*_PLACE, "month", "evening"]).reset_index(drop=True)


def _days_a_month(days: str) -> dict[int, int]:
    counted: dict[int, int] = {}
    for day in days_in(days):
        counted[day.month] = counted.get(day.month, 0) + 1
    return counted


def days_in(ranges: str) -> Iterator[dt.date]:
    """The days of a text of ranges, such as vantages of a year have.

    >>> [str(day) for day in days_in("2025-04-30..2025-05-01, 2025-09-08")]
    ['2025-04-30', '2025-05-01', '2025-09-08']
    """
    for run in ranges.split(", "):
        first, _, last = run.partition("..")
        begin, end = dt.date.fromisoformat(first), dt.date.fromisoformat(last or first)
        for later in range((end - begin).days + 1):
            yield begin + dt.timedelta(days=later)
