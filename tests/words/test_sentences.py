"""What is said of a sunrise, a frame and a mist, from figures that are written down here."""

from __future__ import annotations

import datetime as dt
import math
from types import SimpleNamespace
from typing import Any

import geopandas as gpd
import pytest
from shapely import Point

from terrain.ground.places import Hill, Spot
from terrain.words.clocks import zone_in_hours
from terrain.words.framing import figure_words, framing_lines
from terrain.words.mist import hollow_lines, origin_words, pour_lines
from terrain.words.sunrise import sunrise_rows, warnings
from terrain.words.vantages import more_title, vantages_subtitle, vantages_title

DAY = dt.date(2026, 3, 2)
AT = dt.datetime(2026, 3, 2, 6, 41, 7, tzinfo=dt.UTC)


def sunrise(*, freeboard_m: float = 31.6, strait_m: float = math.nan) -> dict[str, str]:
    """What is said of a morning, by what it is."""
    contact = SimpleNamespace(
        evening=False,
        appears=AT,
        uncertainty_s=41.0,
        clears=AT + dt.timedelta(minutes=4),
        clears_doubt=None,
        later=[SimpleNamespace(appears=AT + dt.timedelta(minutes=9), uncertainty_s=3.0)],
        azimuth_deg=98.765,
        altitude_deg=1.234,
        distance_m=4321.0,
    )
    view = SimpleNamespace(azimuth_deg=98.1, distance_m=4321.0, freeboard_m=freeboard_m)
    hidden = AT + dt.timedelta(seconds=8)
    flash = SimpleNamespace(end=hidden, seconds=8.0, is_flash=True, nearest=())
    answer: Any = SimpleNamespace(
        contact=contact,
        view=view,
        offset_deg=-0.5,
        offset_widths=-0.94,
        uncertainty_deg=0.06,
        passage=(flash,),
    )
    light: Any = SimpleNamespace(
        astronomical_dawn=None,
        nautical_dawn=AT - dt.timedelta(hours=1),
        civil_dawn=AT - dt.timedelta(minutes=30),
        sunrise=AT,
    )
    return dict(sunrise_rows(answer, DAY, light, 88.4, strait_m))


def test_a_sunrise() -> None:
    said = sunrise()
    assert said["date"] == "Monday 2 March 2026"
    assert said["first grey (astronomical dawn)"] == "-"
    assert said["paths without a lamp (civil dawn)"] == "06:11:07 (UTC)"
    assert said["sun appears"] == "06:41 (UTC) ± 41 s"
    assert said["sun clear of the ground"] == "06:45:07 (UTC)"
    assert said["hidden again"] == "06:41 (UTC), a first flash of 8 s"
    assert said["and appears again"] == "06:50:07 (UTC)"
    assert said["over ground"] == "4.32 km away"
    assert said["from the summit"] == "0.50° left ± 0.06°"
    assert said["in sun widths"] == "0.9"
    assert said["of the hill show"] == "the upper 88 m"
    assert said["spot above the mist"] == "32 m"
    strait = "mist between its island and the hill's"
    assert strait not in said
    assert "spot above the mist" not in sunrise(freeboard_m=math.nan)
    assert sunrise(strait_m=999.0)[strait] == "999 m wide"
    assert sunrise(strait_m=1000.0)[strait] == "1.00 km wide"


def test_what_may_be_otherwise() -> None:
    contact = SimpleNamespace(known_to_m=12_600.0, beyond_height_m=871.6, evening=False)
    view, hill = SimpleNamespace(known_between=True), SimpleNamespace(label="Cone")
    answer: Any = SimpleNamespace(contact=contact, view=view, hill=hill)
    first, second = warnings(answer)
    assert "known for 13 km that way; beyond, ground higher than 872 m" in first
    assert "lens" in second
    view.known_between = False
    unknown, *rest = warnings(answer)
    assert "on the way to Cone is not known" in unknown
    assert rest == [first, second]
    contact.beyond_height_m = -0.3
    assert "ground higher than 0 m would delay the sun" in list(warnings(answer))[1]


@pytest.mark.parametrize(
    ("moment", "said"),
    [
        (AT, "UTC"),
        (AT.astimezone(dt.timezone(dt.timedelta(hours=5, minutes=45))), "UTC+5.75"),
        (AT.astimezone(dt.timezone(dt.timedelta(hours=-2), "-02")), "UTC-2"),
        (AT.replace(tzinfo=None), "UTC+0"),
    ],
)
def test_a_zone_has_letters_or_a_distance(moment: dt.datetime, said: str) -> None:
    assert zone_in_hours(moment) == said


def framing(**parts: Any) -> Any:
    frame = SimpleNamespace(
        focal_mm=70.0,
        azimuth_deg=98.4,
        altitude_deg=2.1,
        sensor=SimpleNamespace(orientation="landscape"),
        takes_in=lambda azimuth_deg, altitude_deg: azimuth_deg < 110.0,
        outside_deg=lambda azimuth_deg, altitude_deg: azimuth_deg - 110.0,
    )
    usual = {
        "frame": frame,
        "mist_in": True,
        "takes_all": True,
        "hill_share": 0.284,
        "sun_mm": 0.651,
        "sun_px": 108.6,
        "expect_to_bracket": False,
    }
    return SimpleNamespace(**{**usual, **parts})


def test_a_frame() -> None:
    assert list(framing_lines(framing())) == [
        "Frame: 70 mm, landscape, toward 98.4°, tilt +2.1°.",
        "It takes in hill, sun and mist; the hill fills 28 % of its width.",
        "The sun's image is 0.7 mm wide, 109 pixels.",
    ]
    lines = list(framing_lines(framing(takes_all=False, mist_in=False, expect_to_bracket=True)))
    assert lines[1] == "No lens of the kit takes in hill and sun: this is the widest."
    assert lines[2] == "The sun's image is 0.7 mm wide, 109 pixels. Expect to bracket."


@pytest.mark.parametrize(
    ("azimuth_deg", "seen", "said"),
    [
        (99.0, 1.0, "41 pixels tall, against the sky (sky 70 %, mist 30 %, ground 1 %)"),
        (100.0, 1.0, "41 pixels tall, against the sky (sky 70 %, mist 30 %)"),
        (100.0, 0.9, "41 pixels tall, against the sky (sky 70 %, mist 30 %), 10 % of them hidden"),
        (112.5, 1.0, "2.5° outside the frame, against the sky (sky 70 %, mist 30 %)"),
        (100.0, 0.0, "hidden by ground or mist"),
    ],
)
def test_a_figure_in_a_frame(azimuth_deg: float, seen: float, said: str) -> None:
    least = 0.006 if azimuth_deg < 100.0 else 0.004
    figure: Any = SimpleNamespace(
        height_m=1.75,
        distance_m=312.4,
        azimuth_deg=azimuth_deg,
        foot_deg=1.0,
        seen=seen,
        against="sky" if seen else None,
        share=lambda name: {"sky": 0.7, "mist": 0.3}.get(str(name), least),
        height_px=lambda frame: 41.2,
    )
    where = f"312 m away toward {azimuth_deg:.1f}°"
    assert figure_words(framing(), figure) == f"A figure 1.75 m tall, {where}: {said}."


def test_where_a_mist_comes_from() -> None:
    lake, tarn = Spot(lon_deg=-3.0, lat_deg=54.5, name="the Lake"), Spot(lon_deg=-3.1, lat_deg=54.4)
    both = "It comes from the Lake and 54.4000, -3.1000 alone"
    assert origin_words([lake, tarn], False, 20.0) == (
        f"{both}; the raster's edge is a wall to it."
    )
    assert origin_words([lake, tarn], True, 20.0).startswith(f"{both} and lies along the floors")
    assert origin_words([], True, 20.0).startswith("It lies along the floors of valleys")
    everywhere = origin_words([], False, 20.0)
    assert everywhere.startswith("It comes in over every edge")
    assert "more than 20 m deep" in everywhere


@pytest.mark.parametrize(("count", "lines"), [(1, 2), (5, 6), (7, 7)])
def test_no_more_than_five_hollows_are_told_one_by_one(count: int, lines: int) -> None:
    table = gpd.GeoDataFrame(
        {"area_km2": 0.25, "floor_m": 120.4, "depth_m": 79.6},
        geometry=[Point(-3.0, 54.5 + 0.01 * n) for n in range(count)],
        index=range(count),
        crs="EPSG:4326",
    )
    said = list(hollow_lines(table))
    assert len(said) == lines
    assert said[1] == "  0.25 km² about 54.5000, -3.0000, down to 120 m, 80 m below the top"
    if count > 5:
        assert said[-1] == f"  and {count - 5} more, {0.25 * (count - 5):.2f} km² together"


def test_passes_beyond_the_most_are_counted() -> None:
    nothing = gpd.GeoDataFrame({"over_m": []}, geometry=[], crs="EPSG:4326")
    assert list(pour_lines(nothing, 3)) == []
    many = gpd.GeoDataFrame({"over_m": [1.0, 2.0]}, geometry=[Point(0, 0)] * 2, crs="EPSG:4326")
    assert list(pour_lines(many, 0)) == ["And over 2 more passes."]
    assert list(pour_lines(many.head(1), 0)) == ["And over 1 more pass."]


def test_what_a_map_and_a_table_of_vantages_are_about() -> None:
    one = gpd.GeoDataFrame({"score": [0.5]}, geometry=[Point(0, 0)], crs="EPSG:4326")
    sea: Any = SimpleNamespace(label="200 m")
    assert vantages_subtitle(one, "on 2 March", None) == (
        "one place with the rising sun behind it or over it on 2 March"
    )
    assert vantages_subtitle(one, "on 2 March", sea) == (
        "one place with the rising sun behind it or over it on 2 March, mist up to 200 m"
    )
    ranged = one.assign(mist_top_m=200.0)
    two = gpd.GeoDataFrame({"mist_top_m": [1.0, 2.0]}, geometry=[Point(0, 0)] * 2)
    assert vantages_subtitle(two, "then", sea) == (
        "2 places with the rising sun behind it or over it then, "
        "mist with its top anywhere from 200 m"
    )
    assert vantages_subtitle(ranged, "then", None).endswith("over it then")
    assert more_title(one.assign(mist_share=0.1)) == "The mist in view"
    assert more_title(one.assign(walk_min=10.0)) == "The walk in"
    assert (
        more_title(one.assign(mist_share=0.1, walk_min=10.0)) == "The mist in view and the walk in"
    )


def test_the_map_of_an_evening_is_of_the_sunset() -> None:
    hill = Hill(lon_deg=0.0, lat_deg=54.0, height_m=300.0, name="Cone")
    rows = [
        gpd.GeoDataFrame({"evening": [late]}, geometry=[Point(0, 54)]) for late in (True, False)
    ]
    assert vantages_title(hill, rows[0]) == "Cone at sunset: where to stand"
    assert vantages_title(hill, rows[1]) == "Cone at sunrise: where to stand"
