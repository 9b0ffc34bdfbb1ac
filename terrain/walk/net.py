"""The ground and its paths as a net of steps, each with the seconds it takes on foot.

Open ground is the cells' centres with steps to sixteen others; a path keeps its own vertices, so
that its bends and its gradient are its own and not the raster's. Between the two, and to places,
short links lead over open ground::

      .   16   .   16   .         16  a knight's step, open where the two cells that its line
     16  8   8   8  16            passes through are open
      .   8   o   8   .           8   a king's step, open where all cells about it are
     16  8   8   8  16
      .   16   .   16   .         ~~o~~o~~ a path's vertices, joined whatever the ground is

Sixteen directions make a way at most 2.8 % longer than the straight line, and 1.4 % on average.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import csr_array
from shapely.ops import substring

from terrain.arrays import Flags, Floats, Numbers, Singles
from terrain.errors import NoAnswer
from terrain.ground.dem import Dem
from terrain.ground.grid import nearest_cells
from terrain.ground.places import Spot
from terrain.ground.relief.slope import slope_deg
from terrain.walk.graph import Steps, graph_of, index_of, quickest, step_numbers
from terrain.walk.pace import Going

# half of the sixteen, in the order of where they lead; the others are these walked back
_STEPS: Final = ((0, 1), (1, -2), (1, -1), (1, 0), (1, 1), (1, 2), (2, -1), (2, 1))
# a recorded track wavers, and on a slope each waver would be climbed
_SMOOTH_CELLS, _SMOOTH_M = 0.2, 5.0
_LEAST_LEG_M: Final = 0.05


@dataclass(frozen=True, kw_only=True, eq=False)
class Nodes:
    """The nodes of a net, and how one gets from one to another.

    row, col: (nodes,) in a window with cells of `cell_m` metres; height_m: (nodes,), NaN where
    the ground is unknown.
    """

    going: Going
    cell_m: float
    row: Floats
    col: Floats
    height_m: Floats

    def legs(
        self, first: Numbers, second: Numbers, away: Floats | None = None
    ) -> tuple[Floats, Floats]:
        """Lengths on the map and rises between pairs of nodes, metres; away: cells, if known."""
        if away is None:
            away = np.hypot(self.row[second] - self.row[first], self.col[second] - self.col[first])
        distance_m, rise_m = away * self.cell_m, self.height_m[second] - self.height_m[first]
        # two points that are one but for rounding have no slope between them
        return distance_m, np.where(distance_m < _LEAST_LEG_M, 0.0, rise_m)

    def steps(
        self, first: Numbers, second: Numbers, away: Floats | None = None, *, on_path: bool = False
    ) -> tuple[Steps, Steps]:
        """Steps between pairs of nodes, there and back; over open ground none that is steep."""
        distance_m, rise_m = self.legs(first, second, away)
        if not on_path:
            steepest = math.tan(math.radians(self.going.max_slope_deg))
            fit = np.abs(rise_m) <= steepest * distance_m + 1e-9
            first, second = first[fit], second[fit]
            distance_m, rise_m = distance_m[fit], rise_m[fit]
        there = self.going.seconds(distance_m, rise_m, on_path)
        back = self.going.seconds(distance_m, -rise_m, on_path)
        return (first, second, there), (second, first, back)


@dataclass(frozen=True, kw_only=True, eq=False)
class Net:
    """The net over one window of ground.

    Nodes are the cells, row by row, then the places asked for, then the vertices of the paths.
    ground: the window. places: those asked for. is_open: (rows, cols), where one may walk without
    a path; slope_deg: of the ground. graph: (nodes, nodes), seconds by day. path_steps: sorted
    numbers of the steps that lead along a path; see `is_path`.
    """

    ground: Dem
    places: Sequence[Spot]
    is_open: Flags
    slope_deg: Singles
    nodes: Nodes
    graph: csr_array[np.float64]
    path_steps: Numbers

    def place(self, index: int) -> int:
        """The node of the place that was given `index`-th."""
        return self.is_open.size + index

    def check_open(self, index: int) -> None:
        """Raise NoAnswer where no step leads from the place that was given `index`-th."""
        first, last = self.graph.indptr[self.place(index) : self.place(index) + 2]
        if first == last:
            raise NoAnswer(
                f"{self.places[index].label} cannot be walked to or from: it lies on water, or on "
                f"ground steeper than {self.nodes.going.max_slope_deg:.0f} degrees without a path"
            )

    def is_path(self, nodes: Numbers) -> Flags:
        """Whether each step of a route (n,) leads along a path, (n - 1,)."""
        return np.isin(step_numbers(nodes[:-1], nodes[1:], self.nodes.row.size), self.path_steps)


def lay_net(ground: Dem, places: Sequence[Spot], going: Going) -> Net:
    """The net over a window of ground, with places and paths in it.

    going: with the water of the window; paths that lead out of it are cut off.
    """
    slope = slope_deg(ground)
    is_open = ~np.isnan(ground.heights_m) & (slope <= going.max_slope_deg)
    if going.water is not None:
        is_open &= ~going.water
    row, col, first, second = _points(ground, places, going.paths)
    heights = ground.heights_at(*ground.grid.lonlat(row, col))
    cell_row, cell_col = np.divmod(np.arange(is_open.size), ground.shape[1])
    nodes_row, nodes_col = np.append(cell_row, row), np.append(cell_col, col)
    node_m = np.append(ground.heights_m.ravel().astype(float), heights)
    offset = is_open.size
    known = ~np.isnan(heights[first] + heights[second])
    along = np.stack([first[known], second[known]]) + offset
    links = _links(is_open, row, col, len(places))
    made = Nodes(going=going, cell_m=ground.cell_m, row=nodes_row, col=nodes_col, height_m=node_m)
    there, back = zip(*(made.steps(*alike) for alike in _cell_steps(is_open)), strict=True)
    near = [*made.steps(*links), *made.steps(*along, on_path=True)]
    graph = graph_of([*back[::-1], *there], quickest(near, node_m.size), node_m.size)
    both_ways = np.concatenate([along, along[::-1]], axis=1)
    return Net(
        ground=ground,
        places=places,
        is_open=is_open,
        slope_deg=slope,
        nodes=made,
        graph=graph,
        path_steps=np.sort(step_numbers(both_ways[0], both_ways[1], node_m.size)),
    )


def _points(
    ground: Dem, places: Sequence[Spot], paths: gpd.GeoDataFrame | None
) -> tuple[Floats, Floats, Numbers, Numbers]:
    """Rows and columns of places and path vertices, and the pairs that a path joins."""
    lon, lat = [place.lon_deg for place in places], [place.lat_deg for place in places]
    row, col = (np.asarray(part, dtype=float) for part in ground.grid.rowcol(lon, lat))
    if paths is None or not len(paths):
        return row, col, np.empty(0, np.int64), np.empty(0, np.int64)
    lines = _with_feet(_in_window(ground, paths), row, col)
    vertex, of_line = shapely.get_coordinates(shapely.segmentize(lines, 1.0), return_index=True)
    vertices, number = np.unique(vertex.round(3), axis=0, return_inverse=True)
    number = number.ravel() + len(places)
    joined = of_line[:-1] == of_line[1:]
    return (
        np.append(row, vertices[:, 1]),
        np.append(col, vertices[:, 0]),
        number[:-1][joined],
        number[1:][joined],
    )


def _in_window(ground: Dem, paths: gpd.GeoDataFrame) -> NDArray[np.object_]:
    """The paths in columns and rows of the window, joined where they meet."""
    (rows, cols), shapes = ground.shape, paths.geometry.to_numpy()
    lonlat, of_line = shapely.get_coordinates(shapes, return_index=True)
    row, col = ground.grid.rowcol(lonlat[:, 0], lonlat[:, 1])
    finite = np.isfinite(row) & np.isfinite(col)
    counts = np.bincount(of_line[finite], minlength=len(shapes))
    finite &= counts[of_line] > 1
    _, of_line = np.unique(of_line[finite], return_inverse=True)
    lines = shapely.linestrings(np.column_stack([col[finite], row[finite]]), indices=of_line)
    inside = shapely.get_parts(shapely.clip_by_rect(lines, -0.5, -0.5, cols - 0.5, rows - 0.5))
    inside = inside[shapely.get_dimensions(inside) == 1]
    pieces = shapely.get_parts(shapely.line_merge(shapely.union_all(inside)))
    return np.asarray(shapely.simplify(pieces, min(_SMOOTH_CELLS, _SMOOTH_M / ground.cell_m)))


def _with_feet(lines: NDArray[np.object_], row: Floats, col: Floats) -> NDArray[np.object_]:
    """The lines, cut at the point nearest to each place that lies within a cell of one."""
    for place in map(shapely.Point, col, row):
        away = shapely.distance(lines, place)
        if not away.size or away.min() > 1.0:
            continue
        at = int(np.argmin(away))
        along = shapely.line_locate_point(lines[at], place)
        parts = substring(lines[at], 0.0, along), substring(lines[at], along, lines[at].length)
        cut = [part for part in parts if part.geom_type == "LineString"]
        lines = np.array([*np.delete(lines, at), *cut], dtype=object)
    return lines


def _cell_steps(is_open: Flags) -> list[tuple[Numbers, Numbers, Floats]]:
    """Pairs of cells that a step leads between without touching a closed one, and how far off."""
    number = np.arange(is_open.size, dtype=index_of(is_open.size)).reshape(is_open.shape)
    pairs = []
    for down, along in _STEPS:
        fit = np.logical_and.reduce(
            [_moved(is_open, *cell, down, along) for cell in _touched(down, along)]
        )
        first = _moved(number, 0, 0, down, along)[fit]
        second = _moved(number, down, along, down, along)[fit]
        pairs.append((first, second, np.full(first.size, np.hypot(down, along))))
    return pairs


def _touched(down: int, along: int) -> list[tuple[int, int]]:
    """The cells that the line of a step passes through, or whose corner it passes."""
    side = 1 if along > 0 else -1
    if abs(along) == 2:
        return [(0, 0), (0, side), (1, side), (1, along)]
    if down == 2:
        return [(0, 0), (1, 0), (1, along), (2, along)]
    return [(0, 0), (down, 0), (0, along), (down, along)]


def _moved(cells: NDArray[np.generic], row: int, col: int, down: int, along: int) -> NDArray:  # type: ignore[type-arg]
    """The cells (row, col) away from those that a step (down, along) can begin at."""
    rows, cols = cells.shape
    left = max(-along, 0)
    width, depth = max(cols - abs(along), 0), max(rows - down, 0)
    return cells[row : row + depth, left + col : left + col + width]


def _links(is_open: Flags, row: Floats, col: Floats, places: int) -> tuple[Numbers, Numbers]:
    """Pairs of nodes that short links over open ground lead between.

    From every point to the nine centres about it, and to the points within a cell. A place
    within a cell of a path stands on it, whatever the ground is: car parks lie beside roads.
    """
    at_row, at_col = nearest_cells(row, col, is_open.shape)
    first: list[Numbers] = []
    second: list[Numbers] = []
    for down in (-1, 0, 1):
        for along in (-1, 0, 1):
            to_row, to_col = at_row + down, at_col + along
            fit = _is_clear(is_open, at_row, at_col, to_row, to_col)
            first.append(np.flatnonzero(fit) + is_open.size)
            second.append((to_row * is_open.shape[1] + to_col)[fit])
    if row.size > 1:
        points = np.asarray(shapely.points(col, row))
        one, other = shapely.STRtree(points).query(points, predicate="dwithin", distance=1.0)
        one, other = one[one < other], other[one < other]
        fit = _is_clear(is_open, at_row[one], at_col[one], at_row[other], at_col[other])
        fit |= (one < places) & (other >= places)
        first.append(one[fit] + is_open.size)
        second.append(other[fit] + is_open.size)
    return np.concatenate(first), np.concatenate(second)


def _is_clear(
    is_open: Flags, row: Numbers, col: Numbers, to_row: Numbers, to_col: Numbers
) -> Flags:
    """Whether the block that two cells span is open; False off the window."""
    rows, cols = is_open.shape
    inside = (to_row >= 0) & (to_row < rows) & (to_col >= 0) & (to_col < cols)
    to_row, to_col = np.clip(to_row, 0, rows - 1), np.clip(to_col, 0, cols - 1)
    corners = is_open[row, col] & is_open[to_row, to_col]
    return np.asarray(inside & corners & is_open[row, to_col] & is_open[to_row, col])
