"""The peaks of a rising mist stand from where hills become islands to where they drown."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from matplotlib.figure import Figure
from matplotlib.patches import Polygon
from matplotlib.text import Text

from terrain.ground.dem import Dem
from terrain.ground.relief.summits import find_summits
from terrain.mist.sweep import MistSweep, mist_sweep
from terrain.show.chart.rising_mist import shown_summits, sweep_figure

Make = Callable[[list[float]], MistSweep]


@pytest.fixture
def sweeps(make_dem: Callable[..., Dem]) -> Make:
    """Two cones, 300 and 200 m, that meet at 100 m, with the sea round them."""
    row, col = np.mgrid[:41, :81]
    high = 300.0 - 20.0 * np.hypot(row - 20, col - 25)
    low = 200.0 - 20.0 * np.hypot(row - 20, col - 40)
    dem = make_dem(np.maximum(np.maximum(high, low), 0.0))
    return lambda tops: mist_sweep(dem, find_summits(dem), tops)


def names_of(figure: Figure) -> list[str]:
    return [text.get_text() for text in figure.axes[0].get_xticklabels()]


def test_each_peak_spans_its_own_levels(sweeps: Make) -> None:
    sweep = sweeps([50.0, 150.0, 250.0])
    figure = sweep_figure(sweep, title="Two cones")
    peaks = [part for part in figure.axes[0].patches if isinstance(part, Polygon)]
    table = shown_summits(sweep)
    assert len(peaks) == len(table) == 2
    for place, (peak, (_, summit)) in enumerate(zip(peaks, table.iterrows(), strict=True)):
        left, right, top = np.asarray(peak.get_xy())[:3]
        assert left[1] == right[1] == pytest.approx(summit["alone_from_m"])
        assert tuple(top) == pytest.approx((place, summit["drowns_m"]))
    assert names_of(figure) == ["top 300", "top 200"]


@pytest.mark.parametrize(
    ("tops", "names"),
    [([120.0, 180.0], []), ([150.0, 250.0], ["top 200"]), ([250.0, 350.0], ["top 300"])],
)
def test_only_hills_that_change_within_the_tops_are_shown(
    sweeps: Make, tops: list[float], names: list[str]
) -> None:
    figure = sweep_figure(sweeps(tops), title="Two cones")
    assert names_of(figure) == names
    said = [text.get_text() for text in figure.findobj(Text) if isinstance(text, Text)]
    assert any("no hill becomes an island" in words for words in said) == (not names)


def test_a_long_name_stays_on_the_page(sweeps: Make) -> None:
    sweep = sweeps([50.0, 250.0])
    named = sweep.summits.assign(name=["The Long Top of Hoo, called the Second Hoo", "Hoo"])
    figure = sweep_figure(replace(sweep, summits=named), title="Two cones")
    figure.draw_without_rendering()
    boxes = [label.get_window_extent() for label in figure.axes[0].get_xticklabels()]
    assert min(box.x0 for box in boxes) > 0.0
    assert min(box.y0 for box in boxes) > 0.0
