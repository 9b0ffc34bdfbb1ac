"""What the dates of a year and the look of one day say of the same spot, hill and day."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import numpy as np
import pytest

from terrain.country import Country
from terrain.errors import NoAnswer, NoGround, NoSun
from terrain.ground.dem import Dem
from terrain.ground.geodesy import destination
from terrain.ground.places import Hill, Spot
from terrain.ground.raster.read import read_dem
from terrain.ground.relief.summits import find_summits, hill_at, hill_in
from terrain.mist.level import level_mist
from terrain.mist.mist import Mist
from terrain.view.backlight import Backlight, backlight
from terrain.view.dates import backlit_dates
from terrain.view.look import look
from terrain.view.scene import Scene
from tests.conftest import MakeDem
from tests.scenes import cone

YEAR = 2026
FIRST = dt.date(YEAR, 1, 1)


def at(dem: Dem, row: float, col: float) -> tuple[float, float]:
    lon, lat = (float(part) for part in dem.grid.lonlat(row, col))
    return lon, lat


def answers(
    scene: Scene, spot: Spot, days: list[dt.date], *, evening: bool = False
) -> dict[dt.date, Backlight | None]:
    """What a look says of each day, None where the sun or the ground toward it is not known."""
    view, found = look(scene, spot), {}
    for day in days:
        try:
            found[day] = backlight(scene, view, day, evening=evening)
        except (NoSun, NoGround):
            found[day] = None
    return found


def check(
    scene: Scene,
    spot: Spot,
    *,
    within_deg: float,
    step_days: int,
    about_days: int = 0,
    evening: bool = False,
) -> int:
    """Hold the table of a year to the looks of some of its days; how many days have a row.

    about_days: days that lie no farther from one that has a row are looked at too.
    """
    table = backlit_dates(
        scene.country, spot, scene.hill, YEAR, tolerance_deg=within_deg, evening=evening
    )
    assert ("evening" in table) == evening
    rows = {row["day"]: row for row in table.to_dict("records")}
    dated = np.array([(day - FIRST).days for day in rows], dtype=int)
    about = (dated[:, np.newaxis] + np.arange(-about_days, about_days + 1)).ravel()
    asked = sorted({*range(0, 365, step_days), *about[(about >= 0) & (about < 365)].tolist()})
    days = [FIRST + dt.timedelta(days=n) for n in asked]
    found = answers(scene, spot, days, evening=evening)
    for day, answer in found.items():
        held = answer is not None and is_held(answer, within_deg)
        assert (day in rows) == held, (day, answer)
        if answer is None:
            continue
        check_reason(answer, table.attrs["hidden_by"])
        if held:
            names = ("offset_deg", "offset_widths", "uncertainty_deg")
            assert [rows[day][name] for name in names] == [getattr(answer, n) for n in names]
            moments = ("appears", "clears", "uncertainty_s")
            assert [rows[day][n] for n in moments] == [getattr(answer.contact, n) for n in moments]
    return sum(day in rows for day in days)


def is_held(answer: Backlight, within_deg: float) -> bool:
    """Near the summit as it appears behind the hill, or at its nearest while it is low."""
    if answer.behind and abs(answer.offset_deg) <= within_deg:
        return True
    nearest = answer.nearest
    if nearest is None or not answer.view.visible:
        return False
    return nearest.apart_deg <= within_deg and nearest.sun_altitude_deg <= 6.0


def check_reason(answer: Backlight, hidden_by: str) -> None:
    """A reason says what the numbers say, and the year says the same of the summit."""
    reason, view, name = answer.reason, answer.view, answer.hill.label
    sun = "the sun goes down" if answer.contact.evening else "the sun appears"
    assert answer.behind == reason.startswith(f"{sun} behind {name}")
    assert (hidden_by == "") == view.visible
    assert reason.startswith(hidden_by)
    side = "right" if answer.offset_widths > 0 else "left"
    told = f"{abs(answer.offset_widths):.1f} sun widths to the {side} of its summit"
    assert told in reason or (abs(answer.offset_widths) < 0.05 and "a twentieth" in reason)
    if not view.visible:
        assert "is hidden by" in reason
        assert view.obstacle is not None
        assert view.obstacle.distance_m < view.distance_m
    elif view.obstacle is not None:
        assert ", over " in reason
        assert view.obstacle.distance_m > view.distance_m - 150.0


def bluff(make_dem: MakeDem, *, mirrored: bool = False) -> tuple[Dem, Hill, Spot]:
    """A long wall that rises gently southward to its summit and ends there, sheer.

    mirrored: seen from the east in place of the west.
    """
    row, _ = np.mgrid[:201, :161]
    heights = np.where(row <= 110, 110.0 + 0.4 * row, 0.0)
    heights[:, :60], heights[:, 100:] = 0.0, 0.0
    near, feet = (60, 3)
    if mirrored:
        heights, near, feet = heights[:, ::-1], 160 - near, 160 - feet
    dem = make_dem(heights, cell_m=10.0)
    # from here the end of the wall stands 10 degrees south of its middle and 14 degrees high
    return (
        dem,
        hill_at(dem, *at(dem, 110, near)),
        Spot(**dict(zip(PLACE, at(dem, 100, feet), strict=True))),
    )


PLACE = ("lon_deg", "lat_deg")


def test_where_the_sun_comes_out_beside_a_sheer_end(make_dem: MakeDem) -> None:
    """The skyline under the sun of a sample is far off its altitude, before and after it."""
    dem, hill, spot = bluff(make_dem)
    scene = Scene(Country(dem), hill)
    assert check(scene, spot, within_deg=0.5, step_days=9, about_days=6) > 15


def test_where_the_sun_goes_beside_a_sheer_end(make_dem: MakeDem) -> None:
    """The same wall in a mirror, on the evenings."""
    dem, hill, spot = bluff(make_dem, mirrored=True)
    scene = Scene(Country(dem), hill)
    assert check(scene, spot, within_deg=0.5, step_days=9, about_days=6, evening=True) > 15


def test_a_morning_over_unknown_ground_does_not_end_the_year(make_dem: MakeDem) -> None:
    heights = cone(121, (60, 60), 400.0, 0.4)
    row, col = np.mgrid[:121, :121]
    toward = np.degrees(np.arctan2(col - 20.0, 53.0 - row))
    heights[(toward > 60.0) & (toward < 96.0)] = np.nan
    dem = make_dem(heights)
    hill, (lon, lat) = hill_at(dem, *at(dem, 60, 60)), at(dem, 53, 20)
    scene = Scene(Country(dem), hill)
    spot = Spot(lon_deg=lon, lat_deg=lat)
    assert answers(scene, spot, [dt.date(YEAR, 5, 1)]) == {dt.date(YEAR, 5, 1): None}
    check(scene, spot, within_deg=8.0, step_days=8)


@pytest.mark.parametrize("evening", [False, True])
@pytest.mark.parametrize("seed", range(4))
def test_on_made_ground(make_dem: MakeDem, seed: int, evening: bool) -> None:
    draw = np.random.default_rng(seed)
    steps = np.kron(draw.uniform(0.0, 60.0, (11, 11)), np.ones((11, 11)))
    heights = cone(121, (60, 60), 400.0, 1.2, cell_m=20.0) + steps
    heights[draw.random(heights.shape) < 0.01 * (seed % 2)] = np.nan
    heights[59:62, 59:62] = np.nan_to_num(heights[59:62, 59:62], nan=380.0)
    dem = make_dem(heights, cell_m=20.0, lat=draw.uniform(-55.0, 62.0))
    hill = hill_at(dem, *at(dem, 60, 60))
    mist = level_mist(dem, 40.0) if seed > 1 else None
    check_about(dem, hill, mist, draw, (300.0, 1150.0), evening=evening)


def check_about(
    dem: Dem,
    hill: Hill,
    mist: Mist | None,
    draw: np.random.Generator,
    away: tuple[float, float],
    evening: bool = False,
) -> None:
    """The first drawn spot to the west of a hill that stands out of the mist on known ground.

    evening: to the east of it.
    """
    scene = Scene(Country(dem, mist=mist), hill)
    for _ in range(40):
        toward, away_m = draw.uniform(55.0, 125.0), draw.uniform(*away)
        toward = 360.0 - toward if evening else toward
        lon, lat = destination(hill.lon_deg, hill.lat_deg, toward + 180.0, away_m)
        spot = Spot(lon_deg=float(lon), lat_deg=float(lat))
        try:
            look(scene, spot)
        except (NoAnswer, NoGround):
            continue
        within_deg = float(draw.choice([0.3, 1.0, 4.0]))
        check(scene, spot, within_deg=within_deg, step_days=13, about_days=1, evening=evening)
        return
    pytest.fail("no spot stands out of the mist on known ground")


def test_on_real_ground(open_data: Path) -> None:
    around = Spot(lon_deg=-3.1, lat_deg=54.5)
    dem = read_dem(open_data / "lakeland_50m.tif", around=around, reach_m=15_000.0)
    summits = find_summits(dem, min_prominence_m=300.0)
    draw = np.random.default_rng(7)
    numbers = draw.choice(len(summits), 2, replace=False)
    for number, mist in zip(numbers, (None, level_mist(dem, 200.0)), strict=True):
        hill = hill_in(summits, int(number))
        check_about(dem, hill, mist, draw, (1500.0, 7000.0))


def test_what_hides_a_hill_is_mist_where_it_is_mist(make_dem: MakeDem) -> None:
    """A bank of mist stands between a spot and a hill, as high as a wall of ground would."""
    heights = cone(121, (60, 60), 100.0, 0.4)
    bank = np.zeros(heights.shape, dtype=bool)
    bank[:, 20:30] = True
    walled = make_dem(np.where(bank, 150.0, heights))
    dem = make_dem(heights)
    hill, (lon, lat) = hill_at(dem, *at(dem, 60, 60)), at(dem, 60, 5)
    mist = Mist(np.where(bank, 150.0, np.nan), dem.grid)
    reasons = []
    for country in (Country(dem, mist=mist), Country(walled)):
        scene = Scene(country, hill)
        view = look(scene, Spot(lon_deg=lon, lat_deg=lat))
        reasons.append(backlight(scene, view, dt.date(YEAR, 3, 20)).reason)
        assert not view.visible
    assert reasons[0].startswith(f"{hill.label} is hidden by mist up to 150 m at")
    assert reasons[1] == reasons[0].replace("mist up to", "ground of")


def test_on_the_demo() -> None:
    dem = read_dem(Path(__file__).parents[2] / "data" / "upland.tif")
    summits = find_summits(dem, min_prominence_m=80.0)
    draw = np.random.default_rng(3)
    for number, mist in enumerate((None, level_mist(dem, 280.0))):
        check_about(dem, hill_in(summits, number), mist, draw, (1200.0, 5000.0))
