"""A morning whose best moment comes long after the sun's appearance: its frame, stage and words."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

import terrain
from terrain.frame.lens import Kit
from terrain.frame.shade import SunState
from terrain.plan.frames import over_summit
from terrain.plan.stages import StageKind
from terrain.show.sheet.sheet import sheet_html
from terrain.show.view.moments import best_moment
from terrain.sun.path import sun_path
from terrain.words.cautions import cautions
from terrain.words.moments import finding, verdict
from terrain.words.plan import frame_over_summit, over_words, stage_words
from tests.conftest import MakeDem
from tests.scenes import cone

DAY = dt.date(2026, 3, 29)


def plan_on(make_dem: MakeDem, slope: float, day: dt.date) -> terrain.Plan:
    """A cone above a mist, from a knoll, with two lenses: the longer takes in the cone alone."""
    knoll = cone(161, (80, 15), 60.0, 0.1)
    heights = np.maximum.reduce(
        [cone(161, (80, 150), 300.0, slope), knoll, np.full(knoll.shape, 20.0)]
    )
    dem = make_dem(heights, cell_m=30.0)
    lon, lat = (float(part) for part in dem.grid.lonlat(80, 15))
    spot = terrain.Spot(lon_deg=lon, lat_deg=lat)
    start = terrain.Spot(lon_deg=lon, lat_deg=lat - 0.001)
    hill = terrain.hill_at(dem, *map(float, dem.grid.lonlat(80, 150)), name="Cone")
    kit = Kit(lenses_mm=((100.0, 100.0), (200.0, 200.0)))
    return terrain.plan_morning(
        *(dem, spot, hill, day), start=start, kit=kit, mist_top_m=30.0, other_tops_m=[]
    )


@pytest.fixture(scope="module")
def plan(make_dem: MakeDem) -> terrain.Plan:
    """The sun comes up far beside a steep cone, and half an hour later stands on it."""
    return plan_on(make_dem, 1.3, DAY)


def test_the_frame_of_the_best_moment_takes_in_the_sun_on_the_summit(plan: terrain.Plan) -> None:
    stage, best = plan.stage(StageKind.SUN_OVER_SUMMIT), plan.backlight.best
    assert stage is not None
    assert stage.framing is not None
    assert stage.sun is not None
    assert stage.at == best.at
    assert (stage.at - plan.backlight.contact.appears).total_seconds() > 20 * 60
    view = plan.backlight.view
    path = sun_path(DAY, lon_deg=plan.spot.lon_deg, lat_deg=plan.spot.lat_deg)
    azimuth, altitude = path.at(path.seconds(stage.at))
    away_deg = np.hypot(azimuth - view.azimuth_deg, altitude - view.altitude_deg)
    assert away_deg == pytest.approx(best.away_deg, abs=0.1)
    assert away_deg < 1.0
    assert stage.framing.frame.takes_in(azimuth, altitude + 0.27)
    assert stage.framing.frame.takes_in(view.azimuth_deg, view.altitude_deg)
    assert stage.sun.state is SunState.IN_FRAME
    # the lens is longer than the one that had to take in the sun where it appeared
    assert stage.framing.frame.focal_mm > plan.framing.frame.focal_mm
    assert [each.at for each in plan.stages] == sorted(each.at for each in plan.stages)
    # five metres of the spot and five of the raster, over the 4 km, on the sun's quarter of a
    # degree a minute
    assert stage.uncertainty_s == pytest.approx(np.degrees(np.hypot(5, 5) / 4050) * 240, rel=0.1)


def test_it_is_said_of_when_and_how(plan: terrain.Plan) -> None:
    stage = plan.stage(StageKind.SUN_OVER_SUMMIT)
    assert stage is not None
    clock, off = f"{stage.at:%H:%M}", f"{plan.backlight.best.away_deg:.2f}° off"
    assert finding(plan.backlight).endswith(f"at {clock} it stands over the summit, {off}")
    assert verdict(plan.backlight).startswith("Later: ")
    assert f"{off} it, the best moment; frame 200 mm" in stage_words(plan, stage)
    assert over_words(plan).startswith(f"at {clock}, with the sun over the summit, 200 mm")
    assert any(
        f"At {clock} the sun stands over the summit and dazzles" in each for each in cautions(plan)
    )
    sheet = sheet_html(plan)
    assert "dashed frame" in sheet
    assert 'class="frame over"' in sheet
    assert "sun over the summit" in sheet
    # the picture of the sheet is of that moment
    assert best_moment(plan.backlight) == stage.at


def test_where_the_sun_is_never_over_the_summit_nothing_more_is_framed(make_dem: MakeDem) -> None:
    plan = plan_on(make_dem, 1.3, dt.date(2026, 4, 14))
    assert over_summit(plan.backlight) is None
    assert plan.stage(StageKind.SUN_OVER_SUMMIT) is None
    assert frame_over_summit(plan) is None
    assert over_words(plan) == ""
    assert not any("dazzles" in each for each in cautions(plan))


def test_the_sun_over_the_summit_a_little_later_has_the_same_frame(make_dem: MakeDem) -> None:
    """On a gentle cone it comes up near the summit, and the frame with it takes in both."""
    plan = plan_on(make_dem, 0.55, DAY)
    assert plan.stage(StageKind.SUN_OVER_SUMMIT) is not None
    assert frame_over_summit(plan) is None
