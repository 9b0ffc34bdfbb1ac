"""The sheet: what it says is the plan's, it needs nothing else, and everyone can read it."""

from __future__ import annotations

import base64
import dataclasses
import datetime as dt
import hashlib
import io
import itertools
import math
import re
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

import terrain
from terrain.country import Country
from terrain.errors import TerrainError
from terrain.frame.lens import Kit
from terrain.glow.spectrum import LUMINANCE
from terrain.ground.geodesy import drop_m
from terrain.ground.places import Spot
from terrain.plan.good_days import GoodDay
from terrain.plan.in_view import scenes_of, spells_of
from terrain.plan.morning import FallBack, Plan
from terrain.plan.stages import StageKind
from terrain.plan.what_if import mist_steps
from terrain.show.paper import palette
from terrain.show.sheet import pictures as drawing
from terrain.show.sheet.daylight import sky_lux, tint
from terrain.show.sheet.pictures import CONTOUR_M, Pictures, draw_pictures
from terrain.show.sheet.sheet import save_sheet, sheet_html
from terrain.show.sheet.view_marks import _Placing, _ticks, view_marks
from terrain.show.view._scenery_kernels import FEET_M
from terrain.show.view.moment import moment_at
from terrain.show.view.moments import best_moment
from terrain.show.view.window import Window
from terrain.view.scene import Scene
from terrain.words.cautions import cautions
from terrain.words.clocks import supported, to_second
from terrain.words.moments import pose_in_short, spells_line, turns
from terrain.words.plan import note
from terrain.words.scenes import scene_lens, scene_name, scene_wide
from tests.authorities.colour_vision import lightness
from tests.authorities.daylight import CIVIL_DUSK_LUX
from tests.show.conftest import DAY, World
from tests.show.sheets import TOP_M, TOPS_M, Page, plan_of
from tests.show.sheets import path_of as lines_of

MOST_BYTES = 3_000_000
UTC_2 = dt.timezone(dt.timedelta(hours=-2))


@pytest.fixture(scope="module")
def plan(world: World) -> Plan:
    return plan_of(world)


@pytest.fixture(scope="module")
def pictures(plan: Plan) -> Pictures:
    return draw_pictures(plan, mist_tops_m=TOPS_M)


@pytest.fixture(scope="module")
def html(plan: Plan, pictures: Pictures, world: World) -> str:
    return sheet_html(plan, pictures=pictures, summits=world.summits)


@pytest.fixture(scope="module")
def page(html: str) -> Page:
    return Page(html)


def figure(text: str) -> float:
    """The first number in a text."""
    return float(figure_text(text).replace("−", "-"))


SPELT_S = 3.1
"""A spell in tenths of a minute is as near as that."""


def seconds(text: str) -> float:
    """A spell of time as it is told, in seconds."""
    return figure(text) * (60.0 if text.split(figure_text(text))[1].startswith(" min") else 1.0)


def figure_text(text: str) -> str:
    """The first number in a text, as it stands there."""
    found = re.search(r"[+−-]?\d+(\.\d+)?", text)
    assert found, text
    return found.group()


def pixels(picture: bytes) -> NDArray[np.float64]:
    return np.asarray(Image.open(io.BytesIO(picture)), dtype=float)


def told_clock(moment: dt.datetime, doubt_s: float) -> str:
    """To the second, or to the nearest minute beside a ± of ten seconds or more."""
    if doubt_s < 10.0:
        return f"{to_second(moment):%H:%M:%S}"
    return f"{moment + dt.timedelta(seconds=30):%H:%M}"


def test_timeline_is_that_of_the_plan(page: Page, plan: Plan) -> None:
    lines = page.section("times").all("li")
    assert [line.one("strong").words for line in lines] == [stage.kind for stage in plan.stages]
    for line, stage in zip(lines, plan.stages, strict=True):
        shown = line.one("time")
        assert dt.datetime.fromisoformat(shown.attrs["datetime"]) == to_second(stage.at)
        if math.isnan(stage.uncertainty_s):
            assert shown.words == f"{to_second(stage.at):%H:%M}"
            assert "±" not in line.words
        else:
            assert shown.words == told_clock(stage.at, stage.uncertainty_s)
            told_s = seconds(line.words.split("±")[1])
            assert told_s == pytest.approx(stage.uncertainty_s, abs=SPELT_S)
        assert note(plan, stage) in line.words
        assert len(line.all("p", **{"class": "framing"})) == (stage.framing is not None)
    assert "UTC−02" in page.section("times").words


def test_each_stage_in_place_says_how_to_frame_it(page: Page, plan: Plan) -> None:
    for line, stage in zip(page.section("times").all("li"), plan.stages, strict=True):
        if stage.framing is None:
            continue
        words = line.one("p", **{"class": "framing"}).words
        frame, sun = stage.framing.frame, stage.sun
        assert words.startswith(f"{frame.focal_mm:.0f} mm, {stage.framing.orientation}, ")
        azimuth, tilt = words.split("toward")[1].split("tilt")
        assert figure(azimuth) == pytest.approx(frame.azimuth_deg, abs=0.051)
        assert figure(tilt) == pytest.approx(frame.altitude_deg, abs=0.051)
        assert f"sun {sun.state}" in words
        assert ("bracket" in words) == stage.sun.expect_to_bracket


def test_the_band_is_as_bright_as_the_sky(page: Page, plan: Plan) -> None:
    lines = page.section("times").all("li")
    bands = [dict(part.split(":") for part in line.attrs["style"].split(";")) for line in lines]
    # each goes on to the tint of the next, and brightens with the morning
    for band, following in pairwise(bands):
        assert band["--to"] == following["--from"]
        assert lightness(band["--from"]) <= lightness(band["--to"])
    assert lightness(bands[-1]["--to"]) - lightness(bands[0]["--from"]) > 40.0
    for band, stage in zip(bands, plan.stages, strict=True):
        assert band["--from"] == tint(sky_lux(plan, stage.at))


def test_the_light_of_the_sky_at_civil_dawn_is_the_published_one(plan: Plan) -> None:
    assert plan.light.civil_dawn is not None
    darkest, brightest = CIVIL_DUSK_LUX["ends"]
    assert darkest < sky_lux(plan, plan.light.civil_dawn) < 1.5 * brightest
    day = sky_lux(plan, plan.stages[-1].at)
    assert day > 1000.0
    # an hour before civil dawn there is next to none
    night = plan.light.civil_dawn - dt.timedelta(hours=1)
    assert sky_lux(plan, night) < 0.01


def test_a_stage_is_as_bright_as_the_whole_sky_of_a_picture(plan: Plan) -> None:
    path = plan.backlight.sun_path
    for stage in plan.stages:
        moment = moment_at(plan.backlight, path.seconds(stage.at))
        whole = float(moment.sky.irradiance() @ LUMINANCE)
        assert sky_lux(plan, stage.at) == pytest.approx(whole, rel=0.005)


def test_tints_go_by_the_logarithm_of_the_light() -> None:
    steps = [lightness(tint(lux)) for lux in (0.01, 0.1, 1.0, 10.0, 100.0, 1000.0, 10_000.0)]
    assert np.all(np.diff(steps) > 8.0)
    assert tint(0.0) == tint(0.001) == palette.INK
    assert tint(1e5) == palette.PAPER


def test_the_map_says_how_far_its_contours_are_apart(page: Page) -> None:
    assert f"A thin line every {CONTOUR_M:.0f} m of height." in page.section("map").words


def test_walk_is_that_of_the_plan(page: Page, plan: Plan) -> None:
    walk = plan.walk
    section = page.section("walk")
    said = {
        name.words: figures.words
        for name, figures in zip(section.all("dt"), section.all("dd"), strict=True)
    }
    assert figure(said["in"]) == round(walk.there_s / 60.0)
    assert f"{walk.dark_s / 60.0:.0f} min of it before civil dawn" in said["in"]
    assert figure(said["back, by day"]) == round(walk.back_s / 60.0)
    assert figure(said["length"]) == pytest.approx(walk.length_m / 1000.0, abs=0.051)
    assert said["up and down"] == f"{walk.ascent_m:.0f} m and {walk.descent_m:.0f} m"
    assert figure(said["steepest bit"]) == round(abs(walk.steepest.slope_deg))
    assert ("up" in said["steepest bit"]) == (walk.steepest.slope_deg > 0.0)
    assert figure(said["steepest ground"]) == round(walk.steepest_ground.ground_deg)
    assert plan.cold is not None
    assert figure(said["air at the spot"]) == round(plan.cold.temperature_c)
    assert f"feels like {plan.cold.feels_c:.0f} °C".replace("-", "−") in said["air at the spot"]


def test_lenses_are_those_of_the_plan(page: Page, plan: Plan) -> None:
    rows = page.rows("lenses")
    assert len(rows) == len(plan.framing.lenses)
    for row, fit in zip(rows, plan.framing.lenses, strict=True):
        assert row[0].startswith(str(fit.lens))
        assert ("suits best" in row[0]) == (fit.lens == plan.framing.lens)
        assert row[1] == fit.orientation
        width, height = (figure(part) for part in row[2].split("×"))
        assert width == pytest.approx(fit.width_deg, abs=0.051)
        assert height == pytest.approx(fit.height_deg, abs=0.051)
        assert figure(row[3]) == round(100.0 * fit.hill_share)
        assert row[4] == ("all" if fit.takes_all else "not all")
    words = page.section("lenses").one("p").words
    assert f"Aim {plan.framing.frame.azimuth_deg:.1f}°" in words
    assert f"{plan.framing.sun_px:.0f} pixels" in words


def test_sun_is_that_of_the_plan_where_something_turns(page: Page, plan: Plan) -> None:
    rows, kept = page.rows("sun"), turns(plan.framing.sun)
    assert 3 <= len(rows) == len(kept) < len(plan.framing.sun)
    for row, minute in zip(rows, kept, strict=True):
        at = told_clock(minute.moment, plan.backlight.contact.uncertainty_s)
        minutes = f"{to_second(minute.moment):%H:%M}"
        assert row[0] == (f"{at} {minute.event}" if minute.event else minutes)
        assert row[1] == minute.state
        assert row[2] == pose_in_short(minute)
        assert figure(row[3]) == pytest.approx(minute.azimuth_deg, abs=0.051)
        assert figure(row[4]) == pytest.approx(minute.altitude_deg, abs=0.051)
        assert row[5] == ("–" if math.isnan(minute.shade) else f"{100.0 * minute.shade:.0f} %")
    assert {row[1] for row in rows} >= {"hidden", "in frame"}
    assert {row[2] for row in rows} >= {"rim", "over"}
    said = spells_line(spells_of(plan), plan.hill.label)
    assert said
    assert said in page.section("sun").text


def test_small_scenes_are_those_of_the_spot(plan: Plan, pictures: Pictures) -> None:
    trees_m = (1.0, 60.0)
    expected = scenes_of(plan, trees_m=trees_m)
    assert len(expected)
    rows = Page(sheet_html(plan, pictures=pictures, trees_m=trees_m)).rows("scenes")
    assert len(rows) == len(expected)
    for row, scene in zip(rows, expected.to_dict("records"), strict=True):
        assert row[0] == scene_name(scene)
        assert figure(row[1].split()[1]) == pytest.approx(scene["azimuth_deg"], abs=0.51)
        assert row[3:] == [scene_wide(scene), scene_lens(scene)]
    bare = dataclasses.replace(plan, scene=Scene(plan.scene.country.under(None), plan.hill))
    assert scenes_of(bare).empty


def test_doubt_is_that_of_the_plan(page: Page, plan: Plan) -> None:
    contact = plan.backlight.contact
    *rows, offset = page.rows("sure")
    told = [stage for stage in plan.stages if stage.doubt is not None]
    assert [row[0] for row in rows] == [stage.kind for stage in told]
    for row, stage in zip(rows, told, strict=True):
        doubt = stage.doubt
        assert doubt is not None
        parts = [doubt.raster_s, doubt.position_s, doubt.refraction_s, doubt.hidden_s]
        assert [*map(seconds, row[1:5])] == pytest.approx(parts, abs=SPELT_S)
        assert seconds(row[5]) == pytest.approx(stage.uncertainty_s, abs=SPELT_S)
        assert math.hypot(*map(seconds, row[1:5])) == pytest.approx(seconds(row[5]), abs=6.0)
    beside = plan.offset_doubt
    parts = [beside.raster_deg, beside.position_deg, beside.refraction_deg, beside.hidden_deg]
    *of_parts, of_all = offset[1:]
    assert of_parts == [f"{part:.2f}°" for part in parts]
    assert of_all == f"± {plan.backlight.uncertainty_deg:.2f}°"
    words = page.section("sure").words
    said = words.split(f"{told_clock(contact.appears, contact.uncertainty_s)} ±")[1]
    assert seconds(said) == pytest.approx(contact.uncertainty_s, abs=SPELT_S)
    assert f"± {plan.backlight.uncertainty_deg:.2f}°" in words
    away_km = contact.known_to_m / 1000.0
    assert (
        f"hidden ground higher than {contact.beyond_height_m:.0f} m beyond {away_km:.1f} km "
        "would delay this"
    ) in words
    # each time of the morning that has no ± is named with its reason
    without = words.split("Without ±:")[1]
    assert all(stage.kind in without for stage in plan.stages if stage.doubt is None)


def test_cautions_and_fall_backs_are_those_of_the_plan(page: Page, plan: Plan) -> None:
    assert [line.words for line in page.section("care").all("li")] == list(cautions(plan))
    heads = [head.words for head in page.section("backs").all("h3")]
    assert [figure(head.split("up to")[1]) for head in heads] == [
        back.mist_top_m for back in plan.fall_backs
    ]
    for head, back in zip(heads, plan.fall_backs, strict=True):
        assert back.stays == ("still works" in head)


def test_fall_back_elsewhere_is_numbered_on_the_map(plan: Plan, pictures: Pictures) -> None:
    appears = plan.backlight.contact.appears
    there = Spot(lon_deg=plan.spot.lon_deg, lat_deg=plan.spot.lat_deg - 0.01)
    by = Spot(lon_deg=there.lon_deg + 0.0003, lat_deg=there.lat_deg)
    near = Spot(lon_deg=plan.spot.lon_deg, lat_deg=plan.spot.lat_deg + 0.0003)
    backs = tuple(
        FallBack(
            mist_top_m=top,
            stays=stays,
            note="it is so",
            spot=spot,
            appears=appears,
            offset_deg=0.5,
            walk=plan.walk,
        )
        for top, stays, spot in ((280.0, False, near), (380.0, True, there), (400.0, True, by))
    )
    other = dataclasses.replace(plan, fall_backs=backs)
    assert [back.spot for back in other.elsewhere] == [there]
    section = Page(sheet_html(other, pictures=pictures)).section("backs")
    said = [part.words for part in section.all("p")]
    assert "within 100 m" in said[0]
    assert len(section.all("dl")) == 2
    for facts in section.all("dl"):
        pairs = zip(facts.all("dt"), facts.all("dd"), strict=True)
        named = {term.words: said.words for term, said in pairs}
        assert named["place"].startswith("2 on the map, ")
        assert named["sun appears"].startswith(f"{to_second(appears):%H:%M:%S}")
    (first, _) = section.all("dl")
    assert f"{there.lat_deg:.5f}" in first.words
    keys = Page(sheet_html(other, pictures=pictures)).section("map").all("li")
    assert [key.words for key in keys if "fall-back" in key.words] == [
        f"2 fall-back, {there.lat_deg:.5f}, {there.lon_deg:.5f}"
    ]


def test_fall_backs_are_timed_as_the_plan_has_them(page: Page, plan: Plan) -> None:
    section = page.section("backs")
    places = [back for back in plan.fall_backs if back.walk is not None]
    assert places
    for facts, back in zip(section.all("dl"), places, strict=True):
        times, on_foot, sun = (part.words for part in facts.all("dd")[1:])
        walk, doubt = back.walk, back.doubt
        assert walk is not None
        assert doubt is not None
        assert f"leave at {to_second(back.leaves):%H:%M}" in times
        assert f"start walking at {to_second(walk.sets_out):%H:%M}" in times
        assert f"be in place at {to_second(walk.arrives):%H:%M}" in times
        sooner_min = (plan.walk.sets_out - walk.sets_out) / dt.timedelta(minutes=1)
        assert f"({sooner_min:.0f} min sooner than planned)" in times
        assert figure(on_foot) == round(walk.there_s / 60.0)
        assert f"{walk.dark_s / 60.0:.0f} min of it before civil dawn" in on_foot
        assert f"{supported(back.appears, doubt.total_s)} ± {doubt.total_s:.0f} s" in sun
        offset = f"{back.offset_deg:+.2f}°".replace("-", "−")
        assert f"{offset} ± {back.uncertainty_deg:.2f}°" in sun


def test_other_good_mornings_are_listed_best_first(plan: Plan, pictures: Pictures) -> None:
    begins = plan.backlight.contact.appears
    days = tuple(
        GoodDay(
            day=plan.day + dt.timedelta(days=n),
            appears=begins,
            uncertainty_s=20.0 + n,
            offset_deg=0.1 * n,
            offset_widths=0.2 * n,
            uncertainty_deg=0.1,
        )
        for n in range(1, 11)
    )
    page = Page(sheet_html(dataclasses.replace(plan, other_days=days), pictures=pictures))
    lines = [line.words for line in page.section("days").all("li")]
    assert len(lines) == 8
    for line, good in zip(lines, days, strict=False):
        assert f"{good.day:%a} {good.day.day} {good.day:%B %Y}" in line
        assert f"± {good.uncertainty_s:.0f} s" in line
        assert f"{good.offset_widths:.1f} sun widths to the right" in line
    assert "2 more are not shown" in page.section("days").words


def test_numbers_are_those_of_the_library_s_own_calls(page: Page, world: World) -> None:
    """Worked out afresh from the ground, the spot and the date, without the plan."""
    mist = terrain.level_mist(world.dem, TOP_M)
    scene = Scene(Country(world.dem, mist=mist), world.hill)
    answer = terrain.check_backlight(world.dem, world.spot, world.hill, DAY, mist=mist)
    contact = answer.contact
    lines = page.section("times").all("li")
    times = {line.one("strong").words: line.one("time").words for line in lines}
    assert times["sun appears"] == told_clock(contact.appears, contact.uncertainty_s)
    assert contact.clears is not None
    (clear,) = (line.words for line in lines if line.one("strong").words == "sun clear")
    assert times["sun clear"] == told_clock(contact.clears, seconds(clear.split("±")[1]))
    light = terrain.twilight(DAY, lon_deg=world.spot.lon_deg, lat_deg=world.spot.lat_deg)
    moments = {"no lamp needed": light.civil_dawn, "warm light over": light.morning_golden_ends}
    for name, moment in moments.items():
        assert moment is not None
        said = dt.datetime.strptime(times[name], "%H:%M").time()
        apart = dt.datetime.combine(DAY, said, moment.tzinfo) - moment
        assert abs(apart) <= dt.timedelta(minutes=1)
    kit = Kit(lenses_mm=(24.0, (70.0, 200.0), 400.0))
    framing = terrain.frame_view(scene, answer, kit=kit)
    words = page.section("lenses").one("p").words
    assert f"Aim {framing.frame.azimuth_deg:.1f}°" in words
    assert f"{framing.sun_mm:.1f} mm wide, {framing.sun_px:.0f} pixels" in words
    lon, lat = world.dem.grid.lonlat([60], [30])
    start = Spot(lon_deg=float(lon[0]), lat_deg=float(lat[0]))
    by_day = terrain.walk_in(world.dem, start, world.spot, paths=lines_of(world))
    section = page.section("walk")
    said_of = zip(section.all("dt"), section.all("dd"), strict=True)
    walk = {name.words: figures.words for name, figures in said_of}
    assert figure(walk["back, by day"]) == round(by_day.back_s / 60.0)
    assert figure(walk["length"]) == pytest.approx(by_day.length_m / 1000.0, abs=0.051)
    assert f"{by_day.ascent_m:.0f} m and {by_day.descent_m:.0f} m" == walk["up and down"]
    dark = figure(walk["in"].split(",")[1])
    assert figure(walk["in"]) == pytest.approx(by_day.there_s / 60.0 + 0.2 * dark, abs=0.8)
    for row in page.rows("sun"):
        clock, _, event = row[0].partition(" ")
        at_clock = dt.datetime.combine(DAY, dt.time.fromisoformat(clock), UTC_2)
        # beside a ± the clock is rounded, the sun's place is that of the moment itself
        moment = {"sun appears": contact.appears, "sun clear": contact.clears}.get(event, at_clock)
        assert abs(moment - at_clock) <= dt.timedelta(seconds=30)
        place = {"lon_deg": world.spot.lon_deg, "lat_deg": world.spot.lat_deg}
        sun = terrain.sun_position([moment], **place, height_m=400.0)
        assert figure(row[3]) == pytest.approx(float(sun.azimuth_deg[0]), abs=0.06)
        assert figure(row[4]) == pytest.approx(float(sun.apparent_altitude_deg[0]), abs=0.06)


def test_numbers_agree_with_one_another(page: Page) -> None:
    lines = page.section("times").all("li")
    times = {line.one("strong").words: line.one("time").words for line in lines}
    appears = times["sun appears"]
    assert f"at {appears} ±" in page.section("sure").words
    assert f"at {appears}" in page.section("view").words
    assert [row[0] for row in page.rows("sun") if "appears" in row[0]] == [f"{appears} sun appears"]
    doubted = [line for line in lines if line.all("span", **{"class": "doubt"})]
    doubt = {
        line.one("strong").words: line.one("span", **{"class": "doubt"}).words for line in doubted
    }
    assert doubt == {row[0]: row[5] for row in page.rows("sure")[:-1]}


def test_page_needs_nothing_else(html: str, page: Page) -> None:
    for element in page.root.every():
        for name in ("src", "href", "srcset", "poster", "action", "data", "xlink:href"):
            target = element.attrs.get(name, "data:")
            assert target.startswith(("data:", "#")), f"<{element.tag} {name}={target[:80]}>"
    style = page.root.one("style").text
    assert "@import" not in style
    assert "url(" not in style
    assert not re.search(r"(https?|wss?|file):|srcset|fetch\(|import\(", html)


def test_page_forbids_itself_all_requests(page: Page) -> None:
    (policy,) = (
        meta.attrs["content"]
        for meta in page.root.all("meta")
        if meta.attrs.get("http-equiv") == "Content-Security-Policy"
    )
    assert "default-src 'none'" in policy
    assert "http" not in policy
    script = page.root.one("script").text
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    assert f"script-src 'sha256-{digest}'" in policy


def test_page_is_small_enough_for_a_phone(html: str, pictures: Pictures) -> None:
    size = len(html.encode())
    assert 30_000 < size < MOST_BYTES
    # with as many heights as there are without a word, all as rich as the richest here
    richest = max(len(look.view) + len(look.map) for look in pictures.looks)
    assert size + len(mist_steps(TOP_M)) * richest * 4 / 3 < MOST_BYTES


def test_headings_are_in_order(page: Page) -> None:
    levels = [int(e.tag[1]) for e in page.root.every() if re.fullmatch("h[1-6]", e.tag)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after - before <= 1 for before, after in itertools.pairwise(levels))
    assert page.root.one("html").attrs["lang"] == "en"


def test_every_section_is_named_by_its_heading(page: Page) -> None:
    for section in page.root.all("section"):
        assert section.one("h2").attrs["id"] == section.attrs["aria-labelledby"]
    names = [e.attrs["id"] for e in page.root.every() if "id" in e.attrs]
    assert len(names) == len(set(names))


def test_pictures_say_what_they_show(page: Page, plan: Plan, pictures: Pictures) -> None:
    views = page.root.all("img", **{"class": "view-picture"})
    maps = page.root.all("img", **{"class": "map-picture"})
    assert len(views) == len(maps) == len(pictures.looks)
    for view, map_, look in zip(views, maps, pictures.looks, strict=True):
        for words in (view.attrs["alt"], map_.attrs["alt"]):
            assert plan.hill.label in words
            assert f"{look.morning.mist_top_m:.0f} m" in words
        assert (
            f"{look.morning.backlight.view.freeboard_m:.0f} m above the mist" in view.attrs["alt"]
        )
        contact = look.morning.backlight.contact
        assert told_clock(contact.appears, contact.uncertainty_s) in view.attrs["alt"]
        assert plan.start.name in map_.attrs["alt"]
        for words in (view.attrs["alt"], map_.attrs["alt"]):
            assert plan.spot.name in words


def test_only_the_planned_mist_shows_at_first(page: Page, pictures: Pictures) -> None:
    for element in page.root.every():
        if "data-look" in element.attrs:
            assert ("hidden" in element.attrs) == (
                element.attrs["data-look"] != str(pictures.what_ifs.planned)
            )


def test_slider_has_a_stop_for_every_height(page: Page, pictures: Pictures) -> None:
    slider = page.root.one("input", type="range")
    assert (slider.attrs["min"], slider.attrs["step"]) == ("0", "1")
    assert slider.attrs["max"] == str(len(pictures.looks) - 1)
    assert slider.attrs["value"] == str(pictures.what_ifs.planned)
    assert slider.attrs["aria-valuetext"] == f"{TOP_M:.0f} m"
    assert page.root.one("label").attrs["for"] == slider.attrs["id"]
    stops = page.root.one("datalist").all("option")
    for stop, look in zip(stops, pictures.looks, strict=True):
        assert stop.attrs["data-words"].startswith(f"{look.morning.mist_top_m:.0f} m")


def test_heights_end_where_the_spot_drowns(page: Page, pictures: Pictures) -> None:
    assert [look.morning.mist_top_m for look in pictures.looks] == list(TOPS_M[:-1])
    assert pictures.looks[pictures.what_ifs.planned].morning.mist_top_m == TOP_M
    assert pictures.what_ifs.lower == ""
    assert "under the mist" in pictures.what_ifs.higher
    assert pictures.what_ifs.higher in page.section("view").words


def test_pictures_are_of_their_own_mist(pictures: Pictures) -> None:
    views = [pixels(look.view) for look in pictures.looks]
    maps = [pixels(look.map) for look in pictures.looks]
    for view, map_ in zip(views, maps, strict=True):
        assert view.shape[1::-1] == pictures.view_px
        assert map_.shape[1::-1] == pictures.map_px
    # higher mist leaves less dark ground
    dark = [float((view.mean(axis=2) < 150.0).mean()) for view in views]
    assert dark == sorted(dark, reverse=True)
    assert dark[0] > dark[-1] + 0.01
    land = [float((map_[..., 0] > map_[..., 2] + 8.0).mean()) for map_ in maps]
    assert land == sorted(land, reverse=True)
    assert land[0] > land[-1] + 0.01


def test_shore_of_each_view_is_at_its_own_height(plan: Plan, pictures: Pictures) -> None:
    view = plan.backlight.view
    eye_m = view.spot_height_m + plan.spot.eye_m
    col = round(pictures.view_px[0] * view_share(pictures, view.azimuth_deg))
    low, high = pictures.window.altitude_deg
    for lower, look in itertools.pairwise(pictures.looks):
        # the cone falls by 9 m in 50 m
        away_m = view.distance_m - (plan.hill.height_m - look.morning.mist_top_m) * 50.0 / 9.0
        rise_m = look.morning.mist_top_m - eye_m - float(drop_m(away_m))
        shore_deg = math.degrees(math.atan2(rise_m, away_m))
        column, before = (pixels(each.view)[:, col].astype(float) for each in (look, lower))
        summit = round((high - view.altitude_deg) / (high - low) * len(column))
        other = np.abs(column - before).max(axis=1)[summit + 4 :] > 12.0
        foot = summit + 4 + int(np.argmax(other))
        seen_deg = high - (foot + 0.5) / len(column) * (high - low)
        # the foot of the cone melts into the mist over some metres
        melts_deg = math.degrees(3.0 * FEET_M / away_m)
        assert shore_deg - 0.1 < seen_deg < shore_deg + melts_deg + 0.1


def view_share(pictures: Pictures, azimuth_deg: float) -> float:
    window = pictures.window
    return float(window.turned(azimuth_deg) - window.azimuth_deg[0]) / window.width_deg


def test_walk_is_drawn_on_the_map(plan: Plan, monkeypatch: pytest.MonkeyPatch) -> None:
    alone = dataclasses.replace(plan, fall_backs=())
    with_walk = pixels(draw_pictures(alone, mist_tops_m=()).looks[0].map)
    monkeypatch.setattr(drawing, "_draw_walk", lambda *args, **kwargs: None)
    without = pixels(draw_pictures(alone, mist_tops_m=()).looks[0].map)
    changed = np.abs(with_walk - without).max(axis=2) > 60.0
    assert 150 < changed.sum() < 20_000


def test_marks_lie_where_the_plan_has_them(plan: Plan, pictures: Pictures) -> None:
    window = pictures.window
    marks = view_marks(plan, window)

    def share(azimuth_deg: float, altitude_deg: float) -> tuple[float, float]:
        across = float(window.turned(azimuth_deg)) - window.azimuth_deg[0]
        down = window.altitude_deg[1] - altitude_deg
        return 100.0 * across / window.width_deg, 100.0 * down / window.height_deg

    view = plan.backlight.view
    hill = marks.marks[0]
    assert hill.label == "▲"
    assert (hill.true_across, hill.true_down) == pytest.approx(
        share(view.azimuth_deg, view.altitude_deg)
    )
    edge = plan.framing.frame.edge_deg
    for corner, azimuth, altitude in zip(marks.frame, *edge, strict=True):
        assert tuple(corner) == pytest.approx(share(azimuth, altitude))
    assert (marks.frame >= 0.0).all()
    assert (marks.frame <= 100.0).all()


def test_the_view_is_of_the_best_moment(plan: Plan, pictures: Pictures) -> None:
    best = best_moment(plan.backlight)
    assert pictures.at == best
    said = Page(sheet_html(plan, pictures=pictures)).section("view").words
    at = told_clock(best, plan.backlight.contact.uncertainty_s)
    assert f"Computed light at {at}, in clear air" in said
    azimuth, altitude = plan.backlight.sun_path.at(plan.backlight.sun_path.seconds(best))
    assert pictures.window.holds(float(azimuth), float(altitude), 0.0)
    with Image.open(io.BytesIO(pictures.looks[pictures.what_ifs.planned].view)) as image:
        assert image.size == pictures.view_px
        bright = np.asarray(image.convert("L"), dtype=float)
    # the sky over the ground, and neither washed out
    assert bright[:20].mean() > 1.5 * bright[-20:].mean()
    assert 2.0 < bright.mean() < 230.0


def test_the_light_is_shown_before_the_colour_at_its_best_and_ten_minutes_on(
    page: Page, plan: Plan, pictures: Pictures
) -> None:
    before, best, after = pictures.passing
    begins = next(stage for stage in plan.stages if stage.kind is StageKind.COLOUR_BEGINS)
    assert before.at < begins.at
    assert best.at == pictures.at
    assert after.at == best.at + dt.timedelta(minutes=10)
    lit = []
    for each in pictures.passing:
        with Image.open(io.BytesIO(each.view)) as image:
            assert image.size == pictures.passing_px
            lit.append(np.asarray(image.convert("RGB"), dtype=float).mean(axis=(0, 1)))
    # before the colour the light is bluer than with the sun low in the frame
    assert lit[0][2] / lit[0][0] > lit[1][2] / lit[1][0]
    (shown,) = (each for each in page.root.all("ol") if each.attrs.get("class") == "passing")
    said = [item.words for item in shown.all("li")]
    assert [words.partition(" ")[2] for words in said] == [each.words for each in pictures.passing]


def test_a_plan_without_mist_has_no_slider(world: World) -> None:
    plan = plan_of(world, mist_top_m=None, kit=Kit(lenses_mm=(18.0,)))
    page = Page(sheet_html(plan, summits=world.summits))
    assert not page.root.all("input")
    looks = [img for img in page.root.all("img") if "data-look" in img.attrs]
    assert len(looks) == 2
    assert "mist" not in page.section("view").words.lower()
    assert "nan" not in page.root.one("main").words.lower()
    assert not [s for s in page.root.all("section") if s.attrs["aria-labelledby"] == "backs"]
    # without mist the knoll is seen, and numbered
    (knoll,) = page.section("view").all("ol")[0].all("li")
    assert "320 m" in knoll.words
    assert [mark.words for mark in page.section("view").all("b", **{"class": "mark"})] == ["1", "1"]


def test_names_are_words_and_not_markup(plan: Plan, pictures: Pictures) -> None:
    hostile = "<script>alert(\"1\")</script> & 'x'"
    named = dataclasses.replace(
        plan,
        hill=dataclasses.replace(plan.hill, name=hostile),
        start=dataclasses.replace(plan.start, name=hostile),
    )
    html = sheet_html(named, pictures=pictures)
    page = Page(html)
    assert len(page.root.all("script")) == 1
    assert hostile in page.root.one("h1").words
    assert hostile in page.section("map").words


def test_file_is_whole_or_not_there(
    plan: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "morning" / "sheet.html"
    done: list[float] = []
    save_sheet(plan, file, mist_tops_m=(305.0,), progress=done.append)
    text = file.read_text(encoding="utf-8")
    assert text.rstrip().endswith("</html>")
    assert done == sorted(done)
    assert done[-1] == 1.0

    def fails(*args: object, **kwargs: object) -> str:
        raise RuntimeError("half way")

    monkeypatch.setattr("terrain.show.sheet.sheet.sheet_html", fails)
    with pytest.raises(RuntimeError):
        save_sheet(plan, file, mist_tops_m=())
    assert file.read_text(encoding="utf-8") == text
    assert list(file.parent.iterdir()) == [file]


def test_unwritable_folder_is_told_before_anything_is_drawn(
    plan: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("terrain.show.sheet.sheet.draw_pictures", None)
    (tmp_path / "file").write_text("")
    with pytest.raises(TerrainError, match="cannot write"):
        save_sheet(plan, tmp_path / "file" / "sheet.html")


def test_mist_steps_are_about_the_planned_height() -> None:
    assert mist_steps(280.0)[0] == 180.0
    assert mist_steps(280.0)[-1] == 380.0
    assert len(mist_steps(280.0)) == 9
    assert mist_steps(math.nan) == ()


def test_a_degree_on_a_picture_is_as_high_as_it_is_wide() -> None:
    place = _Placing(Window(azimuth_deg=(80.0, 100.0), altitude_deg=(-2.0, 6.0)))
    across, down = place.px(700.0)
    assert 100.0 * across == pytest.approx(700.0)
    (left, low), (right, high) = place.one(85.0, 0.0), place.one(86.0, 1.0)
    assert (right - left) * across == pytest.approx((low - high) * down)


def test_a_scale_has_the_finest_steps_that_leave_room() -> None:
    for width_deg, step_deg in ((3.0, 0.5), (6.0, 1.0), (12.0, 2.0), (30.0, 5.0), (60.0, 10.0)):
        ticks = _ticks((0.0, width_deg), 6.5, lambda degrees: f"{degrees:g}")
        shares = [share for share, _ in ticks]
        assert np.diff(shares) == pytest.approx(100.0 * step_deg / width_deg)
