"""From a hill in view to the days of a year on which the sun passes it, cell by cell.

The sun stands at azimuth A and true altitude a, seen from latitude phi, at the declination d of

    sin d = sin phi sin a + cos phi cos a cos A

so the azimuths within the tolerance of a summit answer to one range of declinations. The sun runs
through its declinations twice a year, once going north and once going south::

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
from terrain.compiling import njit

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
    """Where an eye is, radians: `turned` is the true azimuth of the summit less that on the grid.

    stretch: length of the ground over that on the grid.
    """

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


@njit(cache=True, nogil=True)
def looked_up(table: EvenTable, at: float) -> float:
    """An evenly spaced table at a place, linear between entries, level beyond its ends."""
    values, first, step = table
    place = min(max((at - first) / step, 0.0), values.size - 1.0)
    entry = min(int(place), values.size - 2)
    found: float = values[entry] + (place - entry) * (values[entry + 1] - values[entry])
    return found


@njit(cache=True, nogil=True)
def on_lattice(lattice: Floats, row: float, col: float) -> float:
    """A coarse lattice at a fractional row and column of its own, bilinear."""
    top, left = min(int(row), lattice.shape[0] - 2), min(int(col), lattice.shape[1] - 2)
    down, along = row - top, col - left
    first = lattice[top, left] + along * (lattice[top, left + 1] - lattice[top, left])
    top += 1
    second = lattice[top, left] + along * (lattice[top, left + 1] - lattice[top, left])
    found: float = first + down * (second - first)
    return found


@njit(cache=True, nogil=True)
def declinations(
    azimuth: float, altitude: float, width: float, lat: float, limb: float, limb_swing: float
) -> tuple[float, float, float, float]:
    """Sines of the sun's declination at the low end, the middle and the high end of a range.

    azimuth: 0 to pi, of the middle; width: half of the range. altitude: true, of the point that
    the upper limb touches. limb: semi-diameter in the middle of the year's range, limb_swing: how
    much it falls for each unit of the sine. The last result is the altitude of the centre. All
    NaN where the range holds no azimuth of a rising sun.
    """
    first, last = max(azimuth - width, 0.0), min(azimuth + width, math.pi)
    if first > last:
        return math.nan, math.nan, math.nan, math.nan
    sin_lat, cos_lat = math.sin(lat), math.cos(lat)
    middle = math.cos(min(max(azimuth, 0.0), math.pi))
    centre = altitude - limb
    rough = sin_lat * math.sin(centre) + cos_lat * math.cos(centre) * middle
    centre += limb_swing * rough
    # from the centre of the earth the sun stands a little higher than from the ground
    raised = centre + PARALLAX * math.cos(centre)
    fixed, turning = sin_lat * math.sin(raised), cos_lat * math.cos(raised)
    low, high = fixed + turning * math.cos(last), fixed + turning * math.cos(first)
    return low, fixed + turning * middle, high, raised


@njit(cache=True, nogil=True)
def way(sine: float, greatest: float) -> float:
    """How far from one solstice to the other the sun is, by the sine of its declination."""
    return math.asin(min(max(sine / greatest, -1.0), 1.0))


@njit(cache=True, nogil=True)
def nearest_day(at: float, first: float, last: float) -> float:
    """The whole day nearest to a moment, within a spell."""
    return min(max(math.floor(at + 0.5), first), last)


@njit(cache=True, nogil=True)
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


@njit(cache=True, nogil=True)
def dated(day: float, share: float, clock: Floats) -> float:
    """The date on the calendar, counted from 1, of a day of the place's own sun."""
    length = clock.size
    day += math.floor(share + clock[int(day) % length])
    return day % length + 1.0


@njit(cache=True, nogil=True, error_model="numpy")
def days_of_cell(
    row: int, col: int, eye: float, asked: Asked, place: Place, year: Year, wants_days: bool
) -> tuple[float, float, float, float, float, float, float]:
    """Distance, azimuth and altitude of the summit, and the two spells, of one cell."""
    to_row, to_col = asked.row - row, asked.col - col
    distance = math.hypot(to_row, to_col) * asked.cell_m * place.stretch
    apparent = math.atan((asked.height_m - eye) / distance - asked.bend * distance)
    azimuth = (math.atan2(to_col, -to_row) + place.turned) % TURN
    true = apparent - looked_up(year.density, eye) * looked_up(year.lift, apparent)
    found = math.nan, math.nan, math.nan, math.nan
    if not wants_days:
        return distance, azimuth, apparent, *found
    # the evening's sun is the morning's in a mirror along the meridian
    side = TURN - azimuth if asked.evening else azimuth
    side = side - TURN if side > 1.5 * math.pi else side
    width = asked.tolerance / math.cos(apparent)
    sin_max, sin_low, sin_high, limb, limb_swing = year.bounds
    lat, clock = place.lat, year.clock
    low, best, high, centre = declinations(side, true, width, lat, limb, limb_swing)
    if low <= sin_high and high >= sin_low:
        side = min(max(side, 0.0), math.pi)
        east = math.sin(side) * math.cos(centre)
        up = math.sin(centre) * math.cos(lat) - math.cos(centre) * math.cos(side) * math.sin(lat)
        hour = math.atan2(east, up) if asked.evening else -math.atan2(east, up)
        share = 0.5 + (hour - place.lon) / TURN
        low, best, high = way(low, sin_max), way(best, sin_max), way(high, sin_max)
        first, first_days, second, second_days = spells(low, best, high, share, year)
        if not math.isnan(first):
            first = dated(first, share, clock)
        if not math.isnan(second):
            second = dated(second, share, clock)
        found = first, first_days, second, second_days
    return distance, azimuth, apparent, *found


@njit(cache=True, nogil=True, error_model="numpy")
def days_of_year(
    first_row: int,
    end_row: int,
    bare: Singles,
    sees: Flags,
    on_skyline: Flags,
    asked: Asked,
    lattice: Floats,
    lattice_step: int,
    year: Year,
    results: Singles,
) -> None:
    """Fill rows of (7, rows, cols): distance, azimuth, altitude of the summit, then the spells.

    Metres, degrees and days. lattice: (4, n, m) every `lattice_step` cells, the parts of a
    `Place`. NaN where the summit is not seen, and for the spells also where it is not on the
    skyline.
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
            found = days_of_cell(row, col, eye, asked, place, year, on_skyline[row, col])
            results[0, row, col] = found[0]
            results[1, row, col] = math.degrees(found[1])
            results[2, row, col] = math.degrees(found[2])
            for spell in range(4):
                results[3 + spell, row, col] = found[3 + spell]
