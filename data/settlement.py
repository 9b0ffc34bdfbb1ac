"""What people made of the invented upland: names, car parks, a road, tracks and footpaths.

All names are invented. Places are (east, north) in kilometres from the map's south-west corner.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from itertools import pairwise
from pathlib import Path
from typing import Final

import numpy as np
import shapely
from erosion import Field
from pyproj import Transformer
from scipy.ndimage import label, maximum_filter, uniform_filter
from scipy.sparse import csr_array
from scipy.sparse.csgraph import dijkstra
from skeleton import CELL_M, CELLS, CRS, SOUTH_M, WEST_M, rough

Place = tuple[float, float]
Cell = tuple[int, int]

SUMMITS: Final[dict[str, Place]] = {
    "Gavrant": (10.49, 12.41),
    "Tamsket": (9.66, 11.59),
    "Hovrin Edge": (9.74, 12.56),
    "Lunnarel": (11.41, 11.71),
    "Dreffa Top": (7.36, 13.09),
    "Nubrath": (12.39, 12.89),
    "Yessock": (5.19, 5.21),
    "Ubbaran": (6.16, 12.11),
    "Bravennor": (12.09, 3.81),
    "Issomer": (4.09, 9.74),
    "Wethra Head": (3.86, 10.84),
    "Orrasel": (10.34, 7.94),
    "Pellisk": (10.14, 4.51),
    "Ombrith": (13.16, 10.11),
    "Koldavar": (4.56, 6.51),
}

PLACES: Final[dict[str, Place]] = {
    "Ferrun Scar": (4.62, 9.50),
    "Hessick Spur": (4.97, 9.60),
    "Gannock Shoulder": (4.35, 10.20),
    "Ashket Gap": (5.30, 11.35),
    "Ivveren shore": (7.02, 9.60),
    "Ilverk": (8.75, 6.95),
    "Haffra": (13.30, 8.05),
    "Addrun Farm": (7.05, 10.15),
}

STARTS: Final[dict[str, Place]] = {
    "Ashket Gap car park": (5.35, 11.25),
    "Ivveren Water car park": (7.55, 9.30),
    "Ilverk car park": (8.55, 6.90),
    "Sallowend car park": (6.00, 6.90),
    "Haffra Quay car park": (13.45, 7.95),
}

WAYS: Final[list[tuple[str, str, list[str | Place]]]] = [
    (
        "road",
        "Ilverk road",
        [
            *["Haffra Quay car park", "Ilverk car park", (7.7, 8.2), "Ivveren Water car park"],
            *[(5.75, 10.3), "Ashket Gap car park", (4.6, 12.9), (3.7, 13.9)],
        ],
    ),
    ("track", "Sallowend track", ["Ilverk car park", "Sallowend car park"]),
    ("track", "Addrun track", ["Ivveren Water car park", "Addrun Farm"]),
    (
        "path",
        "Issomer ridge path",
        [
            *["Ashket Gap car park", "Wethra Head", (4.30, 10.35), "Gannock Shoulder", "Issomer"],
            *[(3.74, 8.61), (4.2, 8.05), (4.4, 7.2), "Koldavar", "Sallowend car park"],
        ],
    ),
    ("path", "Gannock path", ["Ashket Gap car park", "Gannock Shoulder"]),
    (
        "path",
        "Hessick path",
        ["Ivveren Water car park", (5.6, 9.2), "Hessick Spur", "Ferrun Scar", "Issomer"],
    ),
    ("path", "Orrasel path", ["Ilverk car park", (9.3, 7.95), "Orrasel"]),
    ("path", "Gavrant horseshoe", ["Ashket Gap car park", "Ubbaran", "Dreffa Top", "Hovrin Edge"]),
    ("path", "Gavrant horseshoe", ["Hovrin Edge", "Gavrant", "Tamsket", "Addrun Farm"]),
    ("path", "Lunnarel path", ["Gavrant", "Lunnarel", "Nubrath"]),
    ("path", "Yessock path", ["Sallowend car park", "Yessock"]),
    ("path", "Ombrith path", ["Haffra Quay car park", "Ombrith"]),
    ("path", "Bravennor ridge path", ["Ilverk car park", "Pellisk", "Bravennor"]),
]

FOOTING_SEED: Final = 25

EASY_SLOPE: Final = {"road": 0.03, "track": 0.07, "path": 0.18}
"""The slope along the way that doubles what a stretch of it costs."""

DEFAULTS: Final = {"hill": "Orrasel", "mist_top_m": 280, "date": "2026-10-13"}


def cell_at(place: Place) -> Cell:
    """Row and column of the cell a place lies in."""
    return int(CELLS - place[1] * 1e3 / CELL_M), int(place[0] * 1e3 / CELL_M)


def around(place: Place, reach_m: float) -> tuple[slice, slice]:
    """The square of cells within reach of a place."""
    (row, col), reach = cell_at(place), int(reach_m / CELL_M)
    return slice(row - reach, row + reach + 1), slice(col - reach, col + reach + 1)


def best_cell(field: Field, place: Place, reach_m: float) -> Cell:
    """The cell with the highest value within reach of a place."""
    rows, cols = around(place, reach_m)
    window = field[rows, cols]
    row, col = divmod(int(window.argmax()), window.shape[1])
    return rows.start + row, cols.start + col


def lon_lat(cells: Iterable[Cell]) -> list[tuple[float, float]]:
    """Longitude and latitude of the middles of cells, to about a decimetre."""
    rows, cols = np.array(list(cells), dtype=float).T
    return to_lon_lat((cols + 0.5) * CELL_M, (CELLS - rows - 0.5) * CELL_M)


def to_lon_lat(east_m: Field, north_m: Field) -> list[tuple[float, float]]:
    """Longitude and latitude of places in metres from the map's south-west corner."""
    transform = Transformer.from_crs(CRS, "EPSG:4326", always_xy=True).transform
    lon, lat = transform(WEST_M + np.asarray(east_m), SOUTH_M + np.asarray(north_m))
    return [(round(float(x), 6), round(float(y), 6)) for x, y in zip(lon, lat, strict=True)]


def passable(height_m: Field) -> Field:
    """1 on dry ground, 0 on the sea and on the lake, with a cell of shore around them."""
    north, east = np.gradient(height_m, CELL_M)
    open_water = maximum_filter(np.hypot(north, east), 5) == 0.0
    levels = np.unique(height_m[open_water])
    water = np.zeros(height_m.shape, dtype=bool)
    for level_m in levels:
        patches, _ = label(height_m == level_m)
        water |= np.isin(patches, np.unique(patches[open_water & (height_m == level_m)]))
    return 1.0 - maximum_filter(water | (height_m <= 0.0), 3)


def flattest_cell(height_m: Field, place: Place) -> Cell:
    """The flattest dry cell within 150 m of a place."""
    north, east = np.gradient(height_m, CELL_M)
    slope = uniform_filter(np.hypot(north, east), 3)
    return best_cell(np.where(passable(height_m) > 0.0, -slope, -9.0), place, 150.0)


def known_cells(height_m: Field) -> dict[str, Cell]:
    """The cell of every named place: summits at their highest, car parks where it is flat."""
    summits = {name: best_cell(height_m, place, 200.0) for name, place in SUMMITS.items()}
    starts = {name: flattest_cell(height_m, place) for name, place in STARTS.items()}
    return summits | starts | {name: cell_at(place) for name, place in PLACES.items()}


def footing(height_m: Field) -> Field:
    """How much harder than firm level ground each cell is to cross: bog, boulders, crags."""
    north, east = np.gradient(height_m, CELL_M)
    tangled = np.exp(0.35 * rough(np.random.default_rng(FOOTING_SEED), 500.0, 2.2))
    return np.asarray(tangled * (1.0 + (np.hypot(north, east) / 0.6) ** 4))


def effort(height_m: Field, hard: Field, easy_slope: float) -> csr_array:
    """The cost of every step between neighbouring dry cells, including knight's moves."""
    rows, cols = height_m.shape
    index = np.arange(rows * cols).reshape(rows, cols)
    dry = passable(height_m) > 0.0
    starts, ends, costs = [], [], []
    for down, right in [(0, 1), (1, 0), (1, 1), (1, -1), (1, 2), (2, 1), (1, -2), (2, -1)]:
        here = (slice(0, rows - down), slice(max(0, -right), cols - max(0, right)))
        there = (slice(down, rows), slice(max(0, right), cols + min(0, right)))
        length = np.hypot(down, right) * CELL_M
        slope = np.abs(height_m[there] - height_m[here]) / length
        open_way = dry[here] & dry[there]
        starts.append(index[here][open_way])
        ends.append(index[there][open_way])
        ease = 0.5 * (hard[here] + hard[there])
        costs.append((length * ease * (1.0 + (slope / easy_slope) ** 2))[open_way])
    edges = np.concatenate(costs), (np.concatenate(starts), np.concatenate(ends))
    return csr_array(edges, shape=(rows * cols, rows * cols))


def easiest_way(
    height_m: Field, hard: Field, start: Cell, end: Cell, easy_slope: float
) -> list[Cell]:
    """Cells of the least-cost way between two cells, within 2 km of the box around them."""
    reach = int(2000.0 / CELL_M)
    top, left = (max(0, min(a, b) - reach) for a, b in zip(start, end, strict=True))
    bottom, right = (max(a, b) + reach for a, b in zip(start, end, strict=True))
    window = (slice(top, bottom), slice(left, right))
    width = height_m[window].shape[1]
    first, last = ((row - top) * width + col - left for row, col in (start, end))
    graph = effort(height_m[window], hard[window], easy_slope)
    _, before = dijkstra(graph, directed=False, indices=first, return_predecessors=True)
    way = [last]
    while way[-1] != first:
        way.append(int(before[way[-1]]))
        if way[-1] < 0:
            raise ValueError(f"no dry way from cell {start} to cell {end}")
    return [(top + at // width, left + at % width) for at in reversed(way)]


def rounded(points: Field) -> Field:
    """Cut every corner of a line twice (Chaikin 1974), keeping its ends."""
    for _ in range(2):
        early, late = 0.75 * points[:-1] + 0.25 * points[1:], 0.25 * points[:-1] + 0.75 * points[1:]
        inner = np.stack([early, late], axis=1).reshape(-1, 2)
        points = np.vstack([points[:1], inner, points[-1:]])
    return points


def way_line(height_m: Field, cells: list[Cell], kind: str) -> list[tuple[float, float]]:
    """Longitudes and latitudes of a road, track or path through the given cells."""
    line: list[tuple[float, float]] = []
    hard = footing(height_m)
    for start, end in pairwise(cells):
        way = np.array(easiest_way(height_m, hard, start, end, EASY_SLOPE[kind]), dtype=float)
        metres = np.column_stack([way[:, 1] + 0.5, CELLS - way[:, 0] - 0.5]) * CELL_M
        plain = np.array(shapely.LineString(metres).simplify(20.0).coords)
        smooth = shapely.LineString(rounded(plain)).simplify(3.0)
        leg = to_lon_lat(*np.array(smooth.coords).T)
        line += leg[1:] if line else leg
    return line


def feature(form: str, coordinates: object, **properties: object) -> dict[str, object]:
    """One GeoJSON feature (RFC 7946)."""
    geometry = {"type": form, "coordinates": coordinates}
    return {"type": "Feature", "properties": properties, "geometry": geometry}


def write_features(features: list[dict[str, object]], path: Path) -> None:
    """Write a GeoJSON collection, one feature to a line."""
    lines = ",\n".join(json.dumps(one) for one in features)
    head = '{"type": "FeatureCollection", "features": [\n'
    path.write_text(f"{head}{lines}\n]}}\n", encoding="utf-8")


def toml_places(names: Iterable[str], cells: dict[str, Cell]) -> str:
    """Named places as lines of TOML, latitude before longitude."""
    chosen = list(names)
    spots = zip(chosen, lon_lat(cells[name] for name in chosen), strict=True)
    return "\n".join(f"{json.dumps(name)} = [{lat:.5f}, {lon:.5f}]" for name, (lon, lat) in spots)


def area_toml(cells: dict[str, Cell]) -> str:
    """The area file: what there is, where it is, and a question worth asking first."""
    return f"""# An invented island upland. Places are [latitude, longitude], WGS 84.
name = "Tovrane"
rasters = ["upland.tif"]
summits = "summits.geojson"
paths = "paths.geojson"

[places]
{toml_places(PLACES, cells)}

[starts]
{toml_places(STARTS, cells)}

[kit]
sensor_mm = [36, 24]
lenses_mm = [24, 70, 200, 400]

[defaults]
hill = "{DEFAULTS["hill"]}"
mist_top_m = {DEFAULTS["mist_top_m"]}
date = {DEFAULTS["date"]}
"""


def write_settlement(height_m: Field, folder: Path) -> None:
    """Write summits.geojson, paths.geojson and area.toml beside the raster."""
    cells = known_cells(height_m)
    points = lon_lat(cells[name] for name in SUMMITS)
    heights = [float(height_m[cells[name]]) for name in SUMMITS]
    named = zip(SUMMITS, points, heights, strict=True)
    summits = [feature("Point", list(at), name=name, height_m=high) for name, at, high in named]
    write_features(summits, folder / "summits.geojson")
    ways = []
    for kind, name, stops in WAYS:
        route = [cells[stop] if isinstance(stop, str) else cell_at(stop) for stop in stops]
        ways.append(feature("LineString", way_line(height_m, route, kind), kind=kind, name=name))
    write_features(ways, folder / "paths.geojson")
    (folder / "area.toml").write_text(area_toml(cells), encoding="utf-8")
