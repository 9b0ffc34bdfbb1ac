"""The best rows of the survey that a desk was opened with, to go to each of them."""

from __future__ import annotations

import datetime as dt
from typing import Any, Final

import numpy as np

from terrain.desk.asked import Asked
from terrain.desk.mists import MistSaid
from terrain.desk.on_ground import on_ground
from terrain.desk.rankings import words_of
from terrain.desk.table import Table
from terrain.desk.work import Job
from terrain.errors import TerrainError
from terrain.words.clocks import hour_minute
from terrain.words.records import rows_of
from terrain.words.surveys import told_of

_MOST: Final = 200


def rows(table: Table, asked: Asked, job: Job) -> dict[str, Any]:
    """The best rows on the ground, and where these are few the best of those off it after them."""
    found = table.opening.survey
    if found is None:
        raise TerrainError("no survey lies on this desk: open it with --survey FOLDER")
    is_here = on_ground(found, table.country.dem)
    # a stable order: the table is ranked
    chosen = np.argsort(~is_here, kind="stable")[:_MOST]
    shown = rows_of(found.iloc[chosen])
    here = int(is_here.sum())
    return {
        "rows": [_told(row, bool(is_here[at])) for row, at in zip(shown, chosen, strict=True)],
        "words": told_of(len(found), min(here, _MOST), len(found) - here),
    }


def _told(row: dict[str, Any], is_here: bool) -> dict[str, Any]:
    """A row as the page has it: where and when, by the address's own words, and what is said."""
    moment = row["best_at_clock"]
    at = None if moment is None else dt.datetime.fromisoformat(moment)
    names = ("rank", "hill", "hill_lat_deg", "hill_lon_deg", "hill_height_m", "lat_deg", "lon_deg")
    return {
        **{name: row[name] for name in (*names, "height_m", "distance_m", "score")},
        "date": row["day"],
        "end": "evening" if row["evening"] else "morning",
        "time": "" if at is None else hour_minute(at),
        "mist": _mist(row).text,
        "words": words_of({**row, "best_at": at}),
        "is_here": is_here,
    }


def _mist(row: dict[str, Any]) -> MistSaid:
    """The mist that a row was found under; none where the survey was asked of none.

    Where it was asked of one top alone, that is not in the row, but how far the place stands over
    it is: to a tenth of a metre, for heights are kept in 32 bits.
    """
    top_m = row.get("mist_top_m", np.nan)
    if not np.isfinite(top_m):
        top_m = row["height_m"] - row.get("freeboard_m", np.nan)
    return MistSaid(top_m=round(top_m, 1)) if np.isfinite(top_m) else MistSaid()
