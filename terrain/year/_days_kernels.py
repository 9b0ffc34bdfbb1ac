"""From a hill in view to the days of a year on which the sun passes it, cell by cell.

The sun stands at azimuth A and true altitude a, seen from latitude phi, at the declination d of

    sin d = sin phi sin a + cos phi cos a cos A

In the course of a day it runs along the circle of its declination, so how far its way passes from
a point of the sky is the difference of the two declinations, and a tolerance about the point is
one range of them. The air presses the sky near the horizon flat, and so makes the range wider: by
the share of the way across that is upward. The sun runs through its declinations twice a year,
once going north and once going south::

     d |        _.-'''-._            range of d  --> days going north, days going south
       |     .-'         '-.
    -- | --.'- - - - - - - -'. -- upper end          where the range reaches over a solstice
    -- | -/- - - - - - - - - -\\ -- lower end          the two are one spell
       | /     north   south    \\
       +------------------------------- day

Days are counted in apparent solar time at Greenwich, so that the equation of time is in the table
of the year and an event at hour angle H, seen from longitude L, falls on day n + 1/2 + (H - L)/2pi
of it, n being the day of the place's own sun. Source of the formula: any textbook of spherical
astronomy, e.g. Green (1985), Spherical Astronomy, on the astronomical triangle.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from terrain.arrays import Flags, Floats, Singles
from terrain.compiling import inner, njit

PARALLAX = math.radians(8.794143 / 3600.0)  # of the sun at the horizontal (IAU 1976), radians
TURN = 2.0 * math.pi


class EvenTable(NamedTuple):
    """Values at `first`, and then at each `step`."""

    values: Floats
    first: float
    step: float


class Asked(NamedTuple):
    """What an atlas is asked of one hill.

    row, col, height_m: of the summit. eye_m: of eyes over the ground. tolerance: radians on the
    sky. evening: whether of the setting sun. cell_m: side of a cell; bend: of a line of sight, its
    drop over the square of the distance.
    """

    row: float
    col: float
    height_m: float
    eye_m: float
    tolerance: float
    evening: bool
    cell_m: float
    bend: float


class Place(NamedTuple):
    """Where an eye is, radians; true azimuth less that on the grid; true length over that."""

    lat: float
    lon: float
    turned: float
    stretch: float


class Year(NamedTuple):
    """The sun through a calendar year, which is taken as a ring, and the air; see `sun_year`.

    bounds: (5,) sine of the greatest declination either way, of the least and of the greatest;
        semi-diameter of the sun half way between, radians, and what it falls by for each unit of
        the sine (the sun is nearest in January, two weeks after the solstice, so that this is
        right to 0.001 degrees).
    north, south: (knots,) the day, from 0, in apparent solar time at Greenwich, on which the sine
        of the declination is the greatest times the sine of an angle that goes evenly from -90 to
        90 degrees; going north the days before the first of January are negative.
    clock: (days of the year,) what the local clock of that date is ahead of apparent solar time
        at Greenwich, in days.
    lift: refraction at apparent altitudes, radians; density: of the air at heights, metres.
    """

    bounds: Floats
    north: Floats
    south: Floats
    clock: Floats
    lift: EvenTable
    density: EvenTable


@inner()
def looked_up(table: EvenTable, at: float) -> float:
    """An evenly spaced table at a place, linear between entries, level beyond its ends."""
    values, first, step = table
    place = min(max((at - first) / step, 0.0), values.size - 1.0)
    entry = min(int(place), values.size - 2)
    found: float = values[entry] + (place - entry) * (values[entry + 1] - values[entry])
    return found


@inner()
def on_lattice(lattice: Floats | Singles, row: float, col: float) -> float:
    """A coarse lattice at a fractional row and column of its own, bilinear."""
    top, left = min(int(row), lattice.shape[0] - 2), min(int(col), lattice.shape[1] - 2)
    down, along = row - top, col - left
    first = lattice[top, left] + along * (lattice[top, left + 1] - lattice[top, left])
    top += 1
    second = lattice[top, left] + along * (lattice[top, left + 1] - lattice[top, left])
    found: float = first + down * (second - first)
    return found


@inner(error_model="numpy")
def declinations(
    azimuth: float, altitude: float, spread: float, lat: float, year: Year, tolerance: float
) -> tuple[float, float, float, float]:
    """The sun's declinations within a tolerance of a point: least, best and greatest, radians.

    azimuth: 0 to pi; altitude: true, of the point; spread: what the true altitude there grows by
    for each unit of the apparent. Best is where the upper edge of the disc passes through the
    point; the range is that of the edge and of the centre together. The last result is the
    altitude of the centre at the best.
    """
    limb, limb_swing = year.bounds[3], year.bounds[4]
    sin_lat, along = math.sin(lat), math.cos(lat) * math.cos(azimuth)
    rough = sin_lat * math.sin(altitude) + along * math.cos(altitude)
    # from the centre of the earth the sun stands a little higher than from the ground
    raised = altitude + PARALLAX * math.cos(altitude)
    centre = raised - limb + limb_swing * rough
    middle = math.asin(sin_lat * math.sin(raised) + along * math.cos(raised))
    edge = math.asin(sin_lat * math.sin(centre) + along * math.cos(centre))
    upward = (sin_lat * math.cos(raised) - along * math.sin(raised)) / math.cos(middle)
    across = tolerance * math.sqrt(1.0 + upward * upward * (spread * spread - 1.0))
    least = max(min(edge, middle) - across, -0.5 * math.pi)
    return least, edge, min(max(edge, middle) + across, 0.5 * math.pi), centre


@inner()
def way(declination: float, greatest: float) -> float:
    """How far from one solstice to the other the sun is, by its declination."""
    return math.asin(min(max(math.sin(declination) / greatest, -1.0), 1.0))


@inner()
def nearest_day(at: float, first: float, last: float) -> float:
    """The whole day nearest to a moment, within a spell."""
    return min(max(math.floor(at + 0.5), first), last)


@inner()
def spells(
    low: float, best: float, high: float, share: float, year: Year
) -> tuple[float, float, float, float]:
    """Best day and number of days of the spell going north, and of that going south.

    low, best, high: where on the way from one solstice to the other, -pi/2 to pi/2. share: of a
    day, from its start at Greenwich to the event. Days count from 0 and may lie beyond the year's
    ends; NaN where there is no such spell. A spell over a solstice is given once, on the side
    where it begins.
    """
    start, length = -0.5 * math.pi, float(year.clock.size)
    north = EvenTable(year.north, start, math.pi / (year.north.size - 1))
    south = EvenTable(year.south, start, math.pi / (year.south.size - 1))
    north_first = math.ceil(looked_up(north, low) - share)
    north_last = math.floor(looked_up(north, high) - share)
    south_first = math.ceil(looked_up(south, high) - share)
    south_last = math.floor(looked_up(south, low) - share)
    north_at = looked_up(north, best) - share
    south_at = looked_up(south, best) - share
    north_best = nearest_day(north_at, north_first, north_last)
    south_best = nearest_day(south_at, south_first, south_last)
    north_days = max(north_last - north_first + 1.0, 0.0)
    south_days = max(south_last - south_first + 1.0, 0.0)
    if north_days > 0.0 and south_days > 0.0:
        both = min(north_days + south_days, length)
        if south_first <= north_last + 1.0:
            north_days, south_days = both, 0.0
        elif north_first + length <= south_last + 1.0:
            north_days, south_days = 0.0, both
    if north_days == 0.0:
        north_best, north_days = math.nan, math.nan
    if south_days == 0.0:
        south_best, south_days = math.nan, math.nan
    return north_best, north_days, south_best, south_days


@inner()
def dated(day: float, share: float, clock: Floats) -> float:
    """The date on the calendar, counted from 1, of a day of the place's own sun."""
    length = clock.size
    day += math.floor(share + clock[int(day) % length])
    return day % length + 1.0


@njit(cache=True, nogil=True, error_model="numpy")
def passing(
    azimuth: float,
    apparent: float,
    eye: float,
    lat: float,
    lon: float,
    tolerance: float,
    evening: bool,
    year: Year,
) -> tuple[float, float, float, float]:
    """As `declinations` has them of a point of the sky, and the share of the day till then.

    All NaN where the sun on its way up (in the evening down) comes by no such azimuth.
    """
    # the evening's sun is the morning's in a mirror along the meridian
    side = TURN - azimuth if evening else azimuth
    side = side - TURN if side > 1.5 * math.pi else side
    if max(-side, side - math.pi) > tolerance / math.cos(apparent):
        return math.nan, math.nan, math.nan, math.nan
    side = min(max(side, 0.0), math.pi)
    air, lift = looked_up(year.density, eye), year.lift
    true = apparent - air * looked_up(lift, apparent)
    fall = looked_up(lift, apparent + tolerance) - looked_up(lift, apparent - tolerance)
    spread = 1.0 - air * fall / (2.0 * tolerance)
    low, best, high, centre = declinations(side, true, spread, lat, year, tolerance)
    east = math.sin(side) * math.cos(centre)
    up = math.sin(centre) * math.cos(lat) - math.cos(centre) * math.cos(side) * math.sin(lat)
    hour = math.atan2(east, up) if evening else -math.atan2(east, up)
    return low, best, high, 0.5 + (hour - lon) / TURN


@inner(error_model="numpy")
def days_of_cell(
    row: int, col: int, eye: float, under: float, asked: Asked, place: Place, year: Year
) -> tuple[float, float, float, float, float, float, float]:
    """Distance, azimuth and altitude of the summit, degrees, and the two spells, of one cell.

    under: how far it stands under the skyline behind it, radians; NaN where no days are asked.
    """
    to_row, to_col = asked.row - row, asked.col - col
    distance = math.hypot(to_row, to_col) * asked.cell_m * place.stretch
    apparent = math.atan((asked.height_m - eye) / distance - asked.bend * distance)
    azimuth = (math.atan2(to_col, -to_row) + place.turned) % TURN
    found = math.nan, math.nan, math.nan, math.nan
    if math.isnan(under):
        return distance, math.degrees(azimuth), math.degrees(apparent), *found
    bounds, clock, at = year.bounds, year.clock, (place.lat, place.lon)
    aim, late = (azimuth, apparent + under, eye), asked.evening
    low, best, high, share = passing(*aim, *at, asked.tolerance, late, year)
    if math.sin(low) <= bounds[2] and math.sin(high) >= bounds[1]:
        low, best, high = way(low, bounds[0]), way(best, bounds[0]), way(high, bounds[0])
        first, first_days, second, second_days = spells(low, best, high, share, year)
        if not math.isnan(first):
            first = dated(first, share, clock)
        if not math.isnan(second):
            second = dated(second, share, clock)
        found = first, first_days, second, second_days
    return distance, math.degrees(azimuth), math.degrees(apparent), *found


@njit(cache=True, nogil=True, error_model="numpy")
def days_of_year(
    first_row: int,
    end_row: int,
    bare: Singles,
    sees: Flags,
    under: Singles,
    asked: Asked,
    lattice: Floats,
    lattice_step: int,
    year: Year,
    results: Singles,
) -> None:
    """Fill rows of (7, rows, cols): distance, azimuth, altitude of the summit, then the spells.

    Metres, degrees, days; NaN where the summit is not seen. under: as for `days_of_cell`, but in
    degrees. lattice: (4, n, m) every `lattice_step` cells, the parts of a `Place`.
    """
    cols = bare.shape[1]
    for row in range(first_row, end_row):
        lattice_row = row / lattice_step
        for result in range(results.shape[0]):
            results[result, row, :] = np.nan
        for col in range(cols):
            if not sees[row, col]:
                continue
            lattice_col = col / lattice_step
            place = Place(
                on_lattice(lattice[0], lattice_row, lattice_col),
                on_lattice(lattice[1], lattice_row, lattice_col),
                on_lattice(lattice[2], lattice_row, lattice_col),
                on_lattice(lattice[3], lattice_row, lattice_col),
            )
            eye = float(bare[row, col]) + asked.eye_m
            sunk = math.radians(under[row, col])
            found = days_of_cell(row, col, eye, sunk, asked, place, year)
            for value in range(results.shape[0]):
                results[value, row, col] = found[value]
