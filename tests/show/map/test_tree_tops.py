"""Tree tops on a map: where the mist is as shallow as they are high, apart, and with room."""

from __future__ import annotations

import numpy as np
import pytest
from matplotlib.figure import Figure
from scipy.spatial.distance import pdist

from terrain.ground.dem import Dem
from terrain.mist.level import level_mist
from terrain.show.map.contents import MapContents
from terrain.show.map.extent import map_cells, whole_extent
from terrain.show.map.map import draw_map, map_figure
from terrain.show.map.tree_tops import TreeTops
from terrain.show.paper.marks import corners_pt
from tests.conftest import MakeDem

SIZE, TOP_M = 200, 100.0
TREES_M = (5.0, 15.0)


def ground(make_dem: MakeDem, bank: float) -> Dem:
    """Deep mist in the west, a bank of that width under it, and dry ground; nowhere level."""
    row, col = np.mgrid[:SIZE, :SIZE].astype(float)
    heights = np.select([col < 100 - bank, col < 100], [0.0, 90.0], 300.0)
    return make_dem(heights + 0.01 * col + 0.003 * row)


def drawn(dem: Dem, contents: MapContents) -> np.ndarray:
    """Where the spikes of a map are, and the points on the page to a metre."""
    ax = Figure(figsize=(5.0, 5.0)).add_axes((0.0, 0.0, 1.0, 1.0))
    draw_map(ax, dem, contents)
    (spikes,) = [line for line in ax.lines if line.get_gid() == "tree-tops"]
    assert float(np.ptp(corners_pt(ax)[:, 0])) == pytest.approx(360.0)
    return spikes.get_xydata()


def test_they_stand_in_the_shallows_and_apart(make_dem: MakeDem) -> None:
    dem = ground(make_dem, 40.0)
    mist = level_mist(dem, TOP_M)
    places = drawn(dem, MapContents(mist=mist, trees_m=TREES_M))
    turn = dem.grid.transform
    depth = mist.depth(dem)[
        ((places[:, 1] - turn.f) / turn.e).astype(int),
        ((places[:, 0] - turn.c) / turn.a).astype(int),
    ]
    assert ((depth >= 5.0) & (depth <= 15.0)).all()
    per_m = 360.0 / (SIZE * dem.cell_m)
    assert pdist(places).min() * per_m > 3.5
    # as many as the rows of so wide a bank hold, about one in 5.4 by 4.6 points
    assert len(places) == pytest.approx(72.0 * 360.0 / (5.4 * 4.6), rel=0.3)


@pytest.mark.parametrize(("bank", "has_room"), [(40.0, True), (0.5, False)])
def test_a_thin_rim_has_no_room_and_no_line_in_the_legend(
    make_dem: MakeDem, bank: float, has_room: bool
) -> None:
    dem = ground(make_dem, bank)
    mist = level_mist(dem, TOP_M)
    cells = map_cells(dem, whole_extent(dem.grid))
    tops = TreeTops(dem=dem, mist=mist, trees_m=TREES_M)
    assert (len(tops.places(cells, 360.0 / (SIZE * dem.cell_m))) > 0) == has_room
    said = [
        text.get_text()
        for ax in map_figure(dem, MapContents(mist=mist, trees_m=TREES_M), title="A bank").axes
        for text in ax.texts
    ]
    assert ("tree tops: mist 5 to 15 m deep" in said) == has_room


def test_none_without_their_heights(make_dem: MakeDem) -> None:
    dem = ground(make_dem, 40.0)
    mist = level_mist(dem, TOP_M)
    assert MapContents(mist=mist).tree_tops(dem) is None
    assert MapContents(trees_m=TREES_M).tree_tops(dem) is None
