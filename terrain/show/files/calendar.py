"""Mornings as a calendar file, with alarms for leaving and for the colour of the sky.

Or evenings, with alarms for leaving, for the good light, and for the walk back.

All moments are in universal time, for the sun keeps to it: were the clocks at the place changed by
law in the meantime, the alarms would still ring at the right moment.
"""

from __future__ import annotations

import datetime as dt
import uuid
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

import geopandas as gpd
import icalendar
import pandas as pd

from terrain.errors import TerrainError
from terrain.ground.names import plain
from terrain.ground.places import Spot
from terrain.plan.morning import Plan
from terrain.plan.stages import StageKind
from terrain.show.files.plan_places import lines_of
from terrain.show.files.whole import whole_file
from terrain.words.clocks import clock_of_zone
from terrain.words.figures import beside, in_place, spot_label
from terrain.words.plan import sun_at

_NAMES: Final = uuid.UUID("5f0c6bfb-7c0a-4a52-9f0e-0a6b5d1b7f52")
"""The name space of the events' own names, drawn once at random."""


@dataclass(frozen=True, kw_only=True)
class _Event:
    """One entry: aware moments, and an alarm that rings `ahead` of its beginning.

    at: where it begins, at the spot unless given.
    """

    day: dt.date
    hill: tuple[float, float]
    spot: Spot
    begins: dt.datetime
    ends: dt.datetime
    ahead: dt.timedelta
    title: str
    alarm: str
    text: str
    kind: str = "light"
    at: Spot | None = None

    @property
    def uid(self) -> str:
        """The same for the same morning, hill and vantage, so that a newer file takes its place."""
        hill = "{:.4f},{:.4f}".format(*self.hill)
        spot = f"{self.spot.lon_deg:.4f},{self.spot.lat_deg:.4f}"
        return str(uuid.uuid5(_NAMES, f"{self.kind} {self.day} {hill} {spot}"))

    def component(self, stamp: dt.datetime) -> icalendar.Event:
        """The entry as it stands in a file made at a moment."""
        entry, alarm = icalendar.Event(), icalendar.Alarm()
        entry.add("uid", self.uid)
        entry.add("dtstamp", stamp)
        entry.add("dtstart", _second(self.begins))
        if _second(self.ends) > _second(self.begins):
            entry.add("dtend", _second(self.ends))
        at = self.at or self.spot
        entry.add("summary", plain(self.title))
        entry.add("location", plain(f"{at.name} ({in_place(at)})" if at.name else in_place(at)))
        entry.add("geo", (round(at.lat_deg, 6), round(at.lon_deg, 6)))
        entry.add("description", plain(self.text))
        entry.add("status", "TENTATIVE")
        alarm.add("action", "DISPLAY")
        alarm.add("trigger", -self.ahead)
        alarm.add("description", plain(self.alarm))
        entry.add_component(alarm)
        return entry


def save_calendar(
    mornings: Plan | gpd.GeoDataFrame,
    path: str | Path,
    *,
    leave_ahead: dt.timedelta = dt.timedelta(minutes=15),
    colour_ahead: dt.timedelta = dt.timedelta(minutes=5),
    made: dt.datetime | None = None,
) -> None:
    """Write a plan, or the mornings of a season, as an iCalendar file.

    Entries are tentative, for the weather is not computed. The same hill, vantage and day have the
    same name in every file, so that a calendar takes a newer file as a change of the older.

    Parameters
    ----------
    mornings : Plan or geopandas.GeoDataFrame
        A plan, which gives an entry for the way (from leaving to being in place) and one for the
        light (from the first colour to the end of the warm light), of an evening one for the light
        to the end of the colour and one for the walk back, each with an alarm; or a table
        from `plan_season`, which gives one for the light of each row, up to the sun's being clear.
    path : path
        The file, complete or not at all.
    leave_ahead : datetime.timedelta, optional
        How long before leaving the alarm rings.
    colour_ahead : datetime.timedelta, optional
        How long before the colour; of an evening before the good light and the walk back.
    made : datetime, optional
        When the file is made, now unless given.

    Raises
    ------
    TerrainError
        For another ending than .ics, an alarm that would ring late, and where the file cannot be
        written.

    References
    ----------
    RFC 5545.

    Examples
    --------
    >>> import datetime as dt
    >>> import numpy as np
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(100, 0, 5e5, 0, -100, 6e6), shape=(61, 81))
    >>> row, col = np.mgrid[-30:31, -40:41]
    >>> cone = terrain.Dem(np.maximum(300.0 - 40.0 * np.hypot(row, col), 0.0), grid)
    >>> hill = terrain.hill_at(cone, *map(float, grid.lonlat(30, 40)), name="Cone")
    >>> lon, lat = (float(part) for part in grid.lonlat(30, 10))
    >>> spot = terrain.Spot(lon_deg=lon, lat_deg=lat, name="the stile")
    >>> knoll = 120.0 - 20.0 * np.hypot(row, col + 30)
    >>> isles = terrain.Dem(np.maximum(cone.heights_m, knoll), grid)
    >>> start = terrain.Spot(lon_deg=lon, lat_deg=lat + 0.002, name="the car park")
    >>> day = dt.date(2025, 3, 25)
    >>> plan = terrain.plan_morning(
    ...     isles, spot, hill, day, start=start, mist_top_m=50.0, other_tops_m=[]
    ... )
    >>> import tempfile
    >>> from pathlib import Path
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     terrain.save_calendar(plan, Path(folder) / "plan.ics")
    ...     (Path(folder) / "plan.ics").read_text().count("BEGIN:VEVENT")
    2
    """
    for ahead in (leave_ahead, colour_ahead):
        if ahead < dt.timedelta(0):
            raise TerrainError(f"an alarm {-ahead} late is of no use: give 0 or more ahead")
    calendar = icalendar.Calendar()
    calendar.add("prodid", "-//terrain//mornings//EN")
    calendar.add("version", "2.0")
    if isinstance(mornings, Plan):
        found = _of_plan(mornings, leave_ahead, colour_ahead)
    else:
        found = [_of_row(row, colour_ahead) for row in mornings.to_dict("records")]
    stamp = _second(made or dt.datetime.now(dt.UTC))
    for event in found:
        calendar.add_component(event.component(stamp))
    with whole_file(path, "write a calendar as", ".ics") as partial:
        partial.write_bytes(calendar.to_ical())


def _of_plan(plan: Plan, leave_ahead: dt.timedelta, colour_ahead: dt.timedelta) -> list[_Event]:
    at = {stage.kind: stage.at for stage in plan.stages}
    where = spot_label(plan.spot, "the vantage")
    part, met = "evening " if plan.evening else "", clock_of_zone(plan.backlight.contact.appears)
    begins, ends = _light_of(plan, at)
    light = _Event(
        day=plan.day,
        hill=(plan.hill.lon_deg, plan.hill.lat_deg),
        spot=plan.spot,
        begins=begins,
        ends=ends,
        ahead=colour_ahead,
        title=f"{plan.hill.label} at {sun_at(plan)}",
        alarm=f"Good light soon; sun gone at {met}"
        if part
        else f"Colour soon; sun appears at {met}",
        text="\n".join(lines_of(plan, plan.fall_backs)),
        kind=f"{part}light",
    )
    way = replace(
        light,
        kind=f"{part}way",
        at=plan.start,
        begins=at.get(StageKind.LEAVE, at[StageKind.START_WALKING]),
        ends=at[StageKind.IN_PLACE],
        ahead=leave_ahead,
        title=f"To {where} for {plan.hill.label}",
        alarm=f"Leave for {spot_label(plan.start, 'the start')}"
        if StageKind.LEAVE in at
        else f"Start walking to {where}",
    )
    if StageKind.WALK_BACK not in at:
        return [way, light]
    back = replace(
        light,
        kind=f"{part}back",
        begins=at[StageKind.WALK_BACK],
        ends=at[StageKind.BACK],
        title=f"Back to {spot_label(plan.start, 'the start')}",
        alarm="Walk back soon; lamp at hand",
    )
    return [way, light, back]


def _light_of(plan: Plan, at: dict[StageKind, dt.datetime]) -> tuple[dt.datetime, dt.datetime]:
    """From when to when the light of a plan is good."""
    if not plan.evening:
        ends = at.get(StageKind.WARM_LIGHT_OVER, at[StageKind.SUN_APPEARS])
        return at[StageKind.COLOUR_BEGINS], ends
    firsts = (StageKind.LIGHT_LEAVES_MIST, StageKind.WARM_LIGHT_BEGINS, StageKind.SUN_TOUCHES)
    begun = [at[kind] for kind in firsts if kind in at] or [at[StageKind.SUN_GONE]]
    return min(begun, key=dt.datetime.timestamp), at[StageKind.COLOUR_ENDS]


def _of_row(row: dict[Any, Any], colour_ahead: dt.timedelta) -> _Event:
    appears, evening = _moment(row["appears"]), bool(row.get("evening"))
    sun = "sun gone" if evening else "sun appears"
    last = appears if pd.isna(row["clears"]) else _moment(row["clears"])
    return _Event(
        day=row["day"],
        hill=(row["hill_lon_deg"], row["hill_lat_deg"]),
        spot=Spot(lon_deg=row["lon_deg"], lat_deg=row["lat_deg"]),
        begins=_moment(row["light_begins"]),
        ends=max(appears, last),
        ahead=colour_ahead,
        title=f"{row['hill']} at {'sunset' if evening else 'sunrise'}",
        alarm=f"{'Warm light' if evening else 'Colour'} soon; {sun} at {clock_of_zone(appears)}",
        text=(
            f"{clock_of_zone(appears)} {sun}, {beside(row['offset_deg'])} of "
            f"the summit of {row['hill']}\n{_nearest(row)}score {row['score']:.2f}, "
            f"rank {row['rank']}"
        ),
        kind="evening light" if evening else "light",
    )


def _nearest(row: dict[Any, Any]) -> str:
    if "start" not in row:
        return ""
    return f"nearest start: {row['start']}, {row['start_m'] / 1000.0:.1f} km as the crow flies\n"


def _moment(value: Any) -> dt.datetime:
    """A cell of a table without its nanoseconds."""
    moment: dt.datetime = pd.Timestamp(value).to_pydatetime(warn=False)
    return moment


def _second(moment: dt.datetime) -> dt.datetime:
    """In universal time, to the nearest second: calendars know no smaller part."""
    nearest = moment.astimezone(dt.UTC) + dt.timedelta(seconds=0.5)
    return nearest.replace(microsecond=0)
