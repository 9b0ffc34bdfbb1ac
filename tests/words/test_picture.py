"""What is said of a hill in its frame, with mist and without."""

from __future__ import annotations

import math
from dataclasses import replace

from terrain.view.picture import picture
from terrain.words.picture import picture_rows
from tests.conftest import MakeDem
from tests.view.test_picture import isle, ridge_to, seen

OUTLINE, FOOT = "of the hill's outline meets mist", "summit over the mist at its foot"


def test_an_island_from_above(make_dem: MakeDem) -> None:
    scene, view = seen(make_dem(isle()), 500.0)
    found = picture(scene, view, field_deg=(20.0, 20.0))
    rows = dict(picture_rows(view, found))
    assert rows["summit against"].startswith("mist up to 100 m at ")
    assert rows["summit against"].endswith(f"; the skyline is {view.under_skyline_deg:.2f}° higher")
    assert rows["mist, of all below the sky"] == f"{100.0 * found.mist_share:.0f} %"
    assert rows[OUTLINE] == "all of it: an island"
    assert rows[FOOT] == f"{found.over_mist_deg:.1f}°"


def test_a_foot_behind_a_ridge(make_dem: MakeDem) -> None:
    scene, view = seen(make_dem(isle(ridge_to(80))), 9.0)
    found = picture(scene, view, field_deg=(20.0, 20.0))
    rows = dict(picture_rows(view, found))
    assert rows["summit against"] == "the sky"
    assert rows[OUTLINE] == f"{100.0 * found.waterline:.0f} %"


def test_what_is_not_there_is_not_spoken_of(make_dem: MakeDem) -> None:
    scene, view = seen(make_dem(isle()), 9.0, top_m=None)
    assert dict(picture_rows(view, picture(scene, view))) == {"summit against": "the sky"}
    scene, view = seen(make_dem(isle()), 9.0)
    nothing = replace(picture(scene, view), waterline=math.nan, over_mist_deg=math.nan)
    hidden = replace(view, visible=False, on_skyline=False)
    rows = dict(picture_rows(hidden, nothing))
    assert list(rows) == ["summit against", "mist, of all below the sky"]
    assert rows["summit against"] == "nothing: it is hidden"
