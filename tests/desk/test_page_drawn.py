"""What the page draws is what the library computes: shore, ridge, sky, and both painters alike."""

from __future__ import annotations

import math

import numpy as np
import pytest

import terrain
from terrain.desk.table import Table
from terrain.show.paper import palette
from tests.browser import chromium, needs_browser
from tests.desk.browser import address, browser, let_in

pytestmark = needs_browser
fixtures = (address, browser, chromium, let_in)

SPOT = "54.405600,-24.065800"
SHORE = np.array([int(palette.SHORE[at : at + 2], 16) for at in (1, 3, 5)])

BOTH_PAINTERS = """async (looks) => {
  const { Plane, NONE } = await import("/planes.js");
  const { PlainPainter } = await import("/plain.js");
  const { ShadePainter } = await import("/shade.js");
  const colours = await (await fetch("/colours.json")).json();
  const plane = (value, every = 1) => {
    const made = new Plane({ rows: 60 / every, cols: 80 / every, every });
    made.values = made.values.map((_, at) => value(Math.floor(at / made.cols), at % made.cols));
    return made;
  };
  const wave = (row, col) => 20000 + 9000 * Math.sin(row / 9) * Math.cos(col / 11);
  const planes = {
    heights: plane((row, col) => (row < 8 && col > 70 ? NONE : wave(row, col))),
    flood: plane((row, col) => Math.max(wave(row, col), row > 40 ? 24000 : 0)),
    valley: plane((row, col) => (col % 30 < 20 ? 19000 : NONE)),
    light: plane((row, col) => (row === 3 ? NONE : 40 * row + 10 * col), 4),
    days: plane((row, col) => (row > 30 ? 1 + ((row * col) % 365) : NONE)),
    visible: plane((row, col) => Number(row + col > 70)),
  };
  return looks.map(({ view, look }) => {
    const painters = [new PlainPainter(new OffscreenCanvas(1, 1), colours)];
    painters.push(new ShadePainter(new OffscreenCanvas(1, 1), colours));
    const [plain, shaded] = painters.map((painter) => {
      for (const [kind, each] of Object.entries(planes)) painter.put(kind, each);
      painter.sample(view);
      painter.shade(look);
      return painter.pixels();
    });
    const off = plain.map((value, at) => Math.abs(value - shaded[at]));
    const spread = new Set(plain.filter((_, at) => at % 4 === 0)).size;
    return { far: off.filter((each) => each > 2).length / off.length, spread };
  });
}"""

VIEW = {
    **{"row": 28.3, "col": 41.7, "cells": 0.63, "width": 140, "height": 100},
    **{"cell_m": 50.0, "step_m": 0.05, "line": 1, "isValley": False},
    **{"lowest": 11000, "highest": 29000},
}
LOOK = {
    **{"kind": 1, "top": 21000.0, "minute": 900.0, "evening": False, "sun": [0.7, -0.7, 0.1]},
    **{"dusk": 0.8, "lowest": 11000, "highest": 29000, "step_m": 0.05, "line": 1},
    **{"over": False, "hidden": False},
}


def test_the_shader_draws_what_its_plain_twin_draws(browser):
    valley = {**VIEW, "isValley": True, "cells": 1.7}
    looks = [
        {"view": VIEW, "look": LOOK},
        {"view": VIEW, "look": {**LOOK, "kind": 0, "minute": -1.0, "hidden": True}},
        {"view": {**VIEW, "line": 2}, "look": {**LOOK, "evening": True, "over": True, "line": 2}},
        {"view": valley, "look": {**LOOK, "kind": 2, "dusk": 0.1}},
        {"view": VIEW, "look": {**LOOK, "kind": 0, "dusk": 0.0, "evening": True}},
        {"view": valley, "look": {**LOOK, "kind": 2, "minute": -1.0, "over": True, "hidden": True}},
        {"view": VIEW, "look": {**LOOK, "minute": -1.0}},
    ]
    for found in browser.bare().run(BOTH_PAINTERS, looks):
        assert found["far"] < 0.004
        assert found["spread"] > 40


def test_the_shore_on_the_screen_is_where_the_flood_levels_have_it(browser, table: Table):
    page = browser.open("#mist=level:150&time=12:00&tab=take", size=(900, 700))
    page.settle()
    image, at = page.pixels("#map"), page.data("#map canvas")
    # the frame of a pixel about the picture, and the signs over it, are not of the ground
    down, across = np.nonzero((np.abs(image - SHORE) <= 3).all(axis=-1))
    half_down, half_across = (np.array(image.shape[:2]) - 2) / 2
    row = at["row"] + (down - 0.5 - half_down) * at["cells"]
    col = at["col"] + (across - 0.5 - half_across) * at["cells"]
    wet = table.country.levels_m <= 150.0
    edges = np.argwhere((wet ^ np.roll(wet, 1, 0)) | (wet ^ np.roll(wet, 1, 1)))
    found = np.column_stack([row, col])
    assert len(found) > 200
    assert nearest(found, edges).max() < 1.5
    inside = (edges > 2).all(axis=1) & (edges < np.array(wet.shape) - 2).all(axis=1)
    # a sign of a summit or place may stand on the shore
    assert np.mean(nearest(edges[inside], found) < 1.5) > 0.97


def nearest(these: np.ndarray, those: np.ndarray) -> np.ndarray:
    """Distance from each of these to the nearest of those."""
    gaps = these[:, np.newaxis, :] - those[np.newaxis, :, :]
    return np.hypot(gaps[..., 0], gaps[..., 1]).min(axis=1)


def test_the_ridge_on_the_screen_is_the_skyline(browser, table: Table):
    page = browser.open(f"#spot={SPOT}&mist=none&lens=200&look=86,2&time=05:30", size=(920, 600))
    page.settle(view=True)
    image = page.run(
        """() => {
          const canvas = document.querySelector("#view canvas");
          const { width, height } = canvas;
          const { data } = canvas.getContext("2d").getImageData(0, 0, width, height);
          return { width, height, data: [...data] };
        }"""
    )
    rgb = np.array(image["data"]).reshape(image["height"], image["width"], 4)[..., :3].astype(int)
    at = page.data("#view canvas")
    step = at["field_deg"] / image["width"]
    jump = np.abs(np.diff(rgb, axis=0)).sum(axis=-1)
    # the first strong step from above is from sky to ground
    first = np.argmax(jump > 40, axis=0) + 1
    altitude = at["altitude_deg"] + (image["height"] / 2 - first) * step
    azimuth = at["azimuth_deg"] + (np.arange(image["width"]) + 0.5 - image["width"] / 2) * step
    lat, lon = map(float, SPOT.split(","))
    camera = table.camera(terrain.Spot(lat_deg=lat, lon_deg=lon))
    line = terrain.skyline(table.country.dem, camera)
    hill = np.interp(azimuth, line.azimuth_deg, line.altitude_deg) > 0.2
    assert hill.sum() > 80
    fine = np.arange(azimuth[0], azimuth[-1], step / 4)
    ridge = np.column_stack([fine, np.interp(fine, line.azimuth_deg, line.altitude_deg)])
    off = nearest(np.column_stack([azimuth, altitude])[hill], ridge)
    assert off.max() < 0.05


def test_the_ground_is_drawn_while_all_else_is_still_awaited(browser, table: Table):
    held: list = []
    hold = ("**/about.json", lambda route: held.append(route))
    page = browser.open("#map=40,50,12.5&tab=take", size=(1000, 700), route=hold)
    page.page.wait_for_selector("body.drawn:not(.laid)", state="attached")
    page.wait("document.getElementById('reading').offsetParent === null")
    bright = page.pixels("#map").mean(axis=-1)
    middle_row, middle_col = np.array(bright.shape) // 2
    row, col = np.mgrid[20:60, 30:70]
    # four pixels to a cell
    seen = bright[middle_row + 4 * (row - 40), middle_col + 4 * (col - 50)]
    south, east = np.gradient(table.country.dem.heights_m, 50.0)
    steep = np.hypot(np.hypot(south, east), 0.5)
    relief = ((east + south) / steep)[20:60, 30:70]
    isle = table.country.dem.heights_m[20:60, 30:70] > 60.0
    assert np.corrcoef(seen[isle], relief[isle])[0, 1] > 0.8
    held[0].continue_()
    page.settle()


def test_the_sky_on_the_page_is_that_of_the_model(browser):
    script = """async (ways) => {
      const { asking } = await import("/ask.js");
      const { SkyTable } = await import("/sky.js");
      const sky = new SkyTable(await asking().sky(1.5, { eye_height_m: 400 }));
      return ways.map(([aside, up]) => sky.colour(aside, up));
    }"""
    ways = [(0.0, 1.0), (3.0, 2.0), (25.0, 0.4), (90.0, 10.0), (-140.0, 35.0)]
    drawn = np.array(browser.bare().run(script, ways)) * 255.0
    sky = terrain.sky(terrain.ClearAir(), sun_altitude_deg=1.5, eye_height_m=400.0)
    aside, up = np.array(ways).T
    light = sky.radiance(azimuth_from_sun_deg=aside, altitude_deg=up)
    # half floats, and no rounding to bytes on the page
    np.testing.assert_allclose(drawn, terrain.develop(light, sky.exposure()), atol=1.5)


def test_cells_lie_where_the_grid_has_them(browser, table: Table):
    script = """async (places) => {
      const { Lattice } = await import("/planes.js");
      const lattice = new Lattice((await (await fetch("/about.json")).json()).lattice);
      const cells = places.map(([lat, lon]) => lattice.rowcol(lat, lon));
      return cells.map((cell) => [...cell, lattice.convergence(...cell)]);
    }"""
    grid = table.country.dem.grid
    lon, lat = grid.lonlat(np.array([3.2, 40.0, 77.9]), np.array([97.5, 50.0, 1.1]))
    row, col, turned = np.array(browser.bare().run(script, np.column_stack([lat, lon]).tolist())).T
    np.testing.assert_allclose(row, [3.2, 40.0, 77.9], atol=0.01)
    np.testing.assert_allclose(col, [97.5, 50.0, 1.1], atol=0.01)
    np.testing.assert_allclose(turned, grid.convergence_deg(lon, lat), atol=1e-3)


def test_a_ray_meets_level_mist_where_the_bent_ground_has_it(browser):
    script = """async (rays) => {
      const { distanceToLevel, altitudeOf } = await import("/seen.js");
      return rays.map(([eye, top, up]) => {
        const away = distanceToLevel(eye, top, up);
        return [away, altitudeOf(eye, top, away)];
      });
    }"""
    rays = [(500.0, 280.0, -1.0), (500.0, 280.0, -0.6), (1200.0, 300.0, -8.0)]
    for (eye, top, up), (away, again) in zip(rays, browser.bare().run(script, rays), strict=True):
        drop = away**2 * (1.0 - 0.13) / (2.0 * 6_371_000.0)
        assert math.degrees(math.atan2(top - drop - eye, away)) == pytest.approx(up, abs=1e-9)
        assert again == pytest.approx(up, abs=1e-9)


def test_an_eye_in_the_mist_sees_no_farther_than_that(browser):
    def spread(mist: str) -> float:
        state = f"#spot=54.4061,-24.0428&mist={mist}&time=07:00&tab=seen"
        page = browser.open(state, size=(920, 600), refused=mist != "none")
        page.settle(view=True)
        blue = page.page.locator("#view canvas").evaluate(
            """(canvas) => {
              const { width, height } = canvas;
              const { data } = canvas.getContext("2d").getImageData(0, 0, width, height / 2);
              return [...data].filter((_, at) => at % 4 === 2);
            }"""
        )
        return float(np.std(blue))

    assert spread("level:200") < 8.0 < spread("none")
