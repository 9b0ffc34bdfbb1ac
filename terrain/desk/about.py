"""What the page is told first: the ground, its places, the kit, and where to begin."""

from __future__ import annotations

from typing import Any, Final

import numpy as np

import terrain
from terrain.desk.asked import Asked
from terrain.desk.ground import told
from terrain.desk.mists import MistSaid
from terrain.desk.table import Table
from terrain.desk.work import Job
from terrain.sun.clock import local_zone
from terrain.words.records import rows_of
from terrain.words.standing import STANDING

_EVERY: Final = 32


def about(table: Table, asked: Asked, job: Job) -> dict[str, Any]:
    """The ground, its places, the kit, and where to begin."""
    dem = table.country.dem
    lon_deg, lat_deg = dem.grid.centre_lonlat
    return {
        "title": table.tract.name or ", ".join(path.name for path in table.tract.rasters[:3]),
        **told(table.ground, asked, job),
        "north_up_deg": float(dem.grid.convergence_deg(lon_deg, lat_deg)),
        "lattice": _lattice(dem.grid),
        "summits": _summits(table),
        "places": [*_places(table, "place"), *_places(table, "start")],
        "kit": {
            "sensor_mm": [table.kit.sensor.width_mm, table.kit.sensor.height_mm],
            "lenses_mm": table.kit.lenses_mm,
        },
        "start": _start(table),
        "has_survey": table.opening.survey is not None,
        "zone": str(local_zone(lon_deg, lat_deg)),
        "credit": f"computed from {', '.join(path.name for path in table.tract.rasters)}",
        "cautions": [*dem.doubts, *STANDING],
    }


def _lattice(grid: terrain.Grid) -> dict[str, Any]:
    """Where the cells lie on the earth, at nodes between which the page may interpolate."""
    rows, cols = (-(-(count - 1) // _EVERY) + 1 for count in grid.shape)
    row, col = (_EVERY * part for part in np.mgrid[:rows, :cols])
    lon, lat = grid.lonlat(row, col)
    return {
        "every": _EVERY,
        "rows": rows,
        "cols": cols,
        "lon_deg": lon.ravel().tolist(),
        "lat_deg": lat.ravel().tolist(),
        "convergence_deg": grid.convergence_deg(lon, lat).ravel().tolist(),
    }


def _summits(table: Table) -> list[dict[str, Any]]:
    found = table.summits[["name", "height_m", "prominence_m", "geometry"]]
    row, col = table.country.dem.grid.rowcol(found.geometry.x, found.geometry.y)
    return rows_of(found.assign(row=row, col=col))


def _places(table: Table, kind: str) -> list[dict[str, Any]]:
    grid = table.country.dem.grid
    known = table.tract.places if kind == "place" else table.tract.starts
    places = []
    for name, spot in known.items():
        row, col = (float(part) for part in grid.rowcol(spot.lon_deg, spot.lat_deg))
        if grid.contains(row, col):
            at = {"lat_deg": spot.lat_deg, "lon_deg": spot.lon_deg, "row": row, "col": col}
            places.append({"name": name, "kind": kind, **at})
    return places


def first_hill(table: Table) -> str | None:
    """The hill that the page begins with: as said, or the area's, or the highest summit."""
    said = table.opening.hill or table.tract.defaults.get("hill")
    if said:
        # the beginning of a name is enough to ask for a hill; the page knows whole names
        return table.tract.hill_place(said).name or said
    if not len(table.summits):
        return None
    highest = table.summits.iloc[0]
    return highest["name"] or f"{highest.geometry.y:.6f},{highest.geometry.x:.6f}"


def first_mist(table: Table) -> MistSaid:
    """The mist that the page begins with: that of the area, or none."""
    top_m = table.tract.defaults.get("mist_top_m")
    return MistSaid() if top_m is None else MistSaid(top_m=float(top_m))


def _start(table: Table) -> dict[str, Any]:
    """Where the page begins."""
    opening, tract = table.opening, table.tract
    lon_deg, lat_deg = table.country.dem.grid.centre_lonlat
    middle = terrain.Spot(lon_deg=lon_deg, lat_deg=lat_deg)
    spot = None if opening.spot is None else tract.spot(opening.spot)
    return {
        "hill": first_hill(table),
        "date": tract.day(opening.date, middle, evening=opening.evening),
        "end": "evening" if opening.evening else "morning",
        "mist": first_mist(table).record,
        "spot": None if spot is None else [spot.lat_deg, spot.lon_deg],
        "lens_mm": _middling(table.kit),
        "eye_m": middle.eye_m,
    }


def _middling(kit: terrain.Kit) -> float:
    """A middling lens of a kit, so that hill and mist are both in the first view."""
    lenses = sorted(np.max(lens) for lens in kit.lenses_mm)
    return float(lenses[len(lenses) // 2])
