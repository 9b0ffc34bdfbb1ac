"""The bars of a rising mist end where summits drown and darken where they stand alone."""

from __future__ import annotations

from dataclasses import replace

import geopandas as gpd
import numpy as np
import pytest
from shapely import Point

from terrain.ground.relief.summits import find_summits
from terrain.mist.sweep import mist_sweep
from terrain.show.chart.rising_mist import sweep_figure


@pytest.fixture
def sweep(make_dem):
    """Two cones, 300 and 200 m, that meet at 100 m, with the sea round them."""
    row, col = np.mgrid[:41, :81]
    high = 300.0 - 20.0 * np.hypot(row - 20, col - 25)
    low = 200.0 - 20.0 * np.hypot(row - 20, col - 40)
    dem = make_dem(np.maximum(np.maximum(high, low), 0.0))
    return mist_sweep(dem, find_summits(dem), [50.0, 150.0, 250.0])


def test_each_bar_spans_its_own_levels(sweep):
    figure = sweep_figure(sweep, title="Two cones")
    bars = figure.axes[0].patches
    table = sweep.summits
    assert len(bars) == 2 * len(table)
    shared, own = bars[: len(table)], bars[len(table) :]
    for pale, dark, (_, summit) in zip(shared, own, table.iterrows(), strict=True):
        assert pale.get_x() + pale.get_width() == pytest.approx(summit["alone_from_m"])
        assert dark.get_x() + dark.get_width() == pytest.approx(summit["drowns_m"])
    highest_first = [bar.get_y() for bar in shared]
    assert highest_first == sorted(highest_first, reverse=True)


def test_a_summit_without_a_name_is_called_by_its_place(sweep):
    figure = sweep_figure(sweep, title="Two cones")
    labels = [text.get_text() for text in figure.axes[0].get_yticklabels()]
    place = sweep.summits.geometry.iloc[0]
    assert labels[0] == f"{place.y:.3f}, {place.x:.3f}"
    assert isinstance(place, Point)
    assert isinstance(sweep.summits, gpd.GeoDataFrame)


def test_a_long_name_stays_on_the_page(sweep):
    names = ["Crinkle Crags of the Long Top, called the Second Crinkle", "Hoo"]
    named = replace(sweep, summits=sweep.summits.assign(name=names[: len(sweep.summits)]))
    figure = sweep_figure(named, title="Two cones")
    figure.draw_without_rendering()
    left_px = [label.get_window_extent().x0 for label in figure.axes[0].get_yticklabels()]
    assert min(left_px) > 0.0
