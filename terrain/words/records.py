"""Answers as records: what JSON and tables hold of them, for scripts and for the desk."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import geopandas as gpd


def for_json(value: Any) -> Any:
    """A value as JSON has it: a record by its fields, times in ISO 8601, unknown numbers as null.

    >>> for_json({"at": dt.date(2026, 10, 13), "height_m": math.nan})
    {'at': '2026-10-13', 'height_m': None}
    """
    if is_dataclass(value):
        value = {part.name: getattr(value, part.name) for part in fields(value)}
    if isinstance(value, Mapping):
        return {str(key): for_json(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [for_json(item) for item in value]
    if isinstance(value, dt.datetime):
        # of a table a moment may be none at all, which does not equal itself
        return value.isoformat(timespec="milliseconds") if value == value else None
    if isinstance(value, dt.date):
        return value.isoformat()
    if hasattr(value, "item"):
        value = value.item()
    if isinstance(value, float):
        return round(value, 6) if math.isfinite(value) else None
    return value


def picked(thing: object, *names: str) -> dict[str, Any]:
    """Some parts of an answer by their names."""
    return {name: getattr(thing, name) for name in names}


def rows_of(table: gpd.GeoDataFrame) -> list[dict[str, Any]]:
    """The rows of a table with places, each with lon_deg and lat_deg."""
    points = table.geometry
    without = table.drop(columns=points.name).assign(lon_deg=points.x, lat_deg=points.y)
    records: list[dict[str, Any]] = without.to_dict("records")
    return records
