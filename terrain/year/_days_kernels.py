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

import numpy as np
from numpy.typing import NDArray

from terrain.compiling import njit

__all__ = ["days_of_year"]

PARALLAX = math.radians(8.794143 / 3600.0)  # of the sun at the horizontal (IAU 1976), radians
TURN = 2.0 * math.pi

Floats = NDArray[np.float64]
Heights = NDArray[np.float32]
Flags = NDArray[np.bool_]


@njit(cache=True, nogil=True)
def looked_up(values: Floats, first: float, step: float, at: float) -> float:
    """An evenly spaced table at a place, linear between entries, level beyond its ends."""
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
    low: float, best: float, high: float, share: float, north: Floats, south: Floats, length: float
) -> tuple[float, float, float, float]:
    """Best day and number of days of the spell going north, and of that going south.

    low, best, high: where on the way from one solstice to the other, -pi/2 to pi/2. share: of a
    day, from its start at Greenwich to the event. north, south: the days of those places. Days
    count from 0 and may lie beyond the year's ends; NaN where there is no such spell. A spell over
    a solstice is given once, on the side where it begins.
    """
    step = math.pi / (north.size - 1)
    start = -0.5 * math.pi
    north_first = math.ceil(looked_up(north, start, step, low) - share)
    north_last = math.floor(looked_up(north, start, step, high) - share)
    south_first = math.ceil(looked_up(south, start, step, high) - share)
    south_last = math.floor(looked_up(south, start, step, low) - share)
    north_at = looked_up(north, start, step, best) - share
    south_at = looked_up(south, start, step, best) - share
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
    to_row: float,
    to_col: float,
    rise_m: float,
    cell_m: float,
    bend: float,
    density: float,
    place: tuple[float, float, float, float],
    tolerance: float,
    evening: bool,
    air: Floats,
    air_first: float,
    air_step: float,
    year: Floats,
    north: Floats,
    south: Floats,
    clock: Floats,
    wants_days: bool,
) -> tuple[float, float, float, float, float, float, float]:
    """Distance, azimuth and altitude of the summit, and the two spells, of one cell."""
    lat, lon, turned, stretch = place
    distance = math.hypot(to_row, to_col) * cell_m * stretch
    apparent = math.atan(rise_m / distance - bend * distance)
    azimuth = (math.atan2(to_col, -to_row) + turned) % TURN
    true = apparent - density * looked_up(air, air_first, air_step, apparent)
    found = math.nan, math.nan, math.nan, math.nan
    if not wants_days:
        return distance, azimuth, apparent, *found
    # the evening's sun is the morning's in a mirror along the meridian
    side = TURN - azimuth if evening else azimuth
    side = side - TURN if side > 1.5 * math.pi else side
    width = tolerance / math.cos(apparent)
    sin_max, sin_low, sin_high, limb, limb_swing = year
    low, best, high, centre = declinations(side, true, width, lat, limb, limb_swing)
    if low <= sin_high and high >= sin_low:
        side = min(max(side, 0.0), math.pi)
        east = math.sin(side) * math.cos(centre)
        up = math.sin(centre) * math.cos(lat) - math.cos(centre) * math.cos(side) * math.sin(lat)
        hour = math.atan2(east, up) if evening else -math.atan2(east, up)
        share = 0.5 + (hour - lon) / TURN
        low, best, high = way(low, sin_max), way(best, sin_max), way(high, sin_max)
        first, first_days, second, second_days = spells(
            low, best, high, share, north, south, float(clock.size)
        )
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
    bare: Heights,
    sees: Flags,
    on_skyline: Flags,
    row: float,
    col: float,
    height: float,
    cell_m: float,
    bend: float,
    eye_m: float,
    lattice: Floats,
    lattice_step: int,
    tolerance: float,
    evening: bool,
    air: Floats,
    air_first: float,
    air_step: float,
    pressure: Floats,
    pressure_first: float,
    pressure_step: float,
    year: Floats,
    north: Floats,
    south: Floats,
    clock: Floats,
    results: Heights,
) -> None:
    """Fill rows of (7, rows, cols): distance, azimuth, altitude of the summit, then the spells.

    Angles in and out are radians but for the degrees of azimuth and altitude that come out.
    lattice: (4, n, m) every `lattice_step` cells: latitude, longitude, true azimuth of the summit
    less that on the grid, length of the ground over that on the grid. air: refraction at apparent
    altitudes; pressure: density of the air at heights. year: sine of the greatest declination
    either way, of the least and of the greatest; semi-diameter of the sun and its swing. north,
    south: the days of the way between the solstices. clock: what to add to the time of day at
    Greenwich for that on the local clock, for each date. NaN where the summit is not seen, and for
    the spells also where it is not on the skyline.
    """
    cols = bare.shape[1]
    for at_row in range(first_row, end_row):
        lattice_row = at_row / lattice_step
        for result in range(results.shape[0]):
            results[result, at_row, :] = np.nan
        for at_col in range(cols):
            if not sees[at_row, at_col]:
                continue
            lattice_col = at_col / lattice_step
            place = (
                on_lattice(lattice[0], lattice_row, lattice_col),
                on_lattice(lattice[1], lattice_row, lattice_col),
                on_lattice(lattice[2], lattice_row, lattice_col),
                on_lattice(lattice[3], lattice_row, lattice_col),
            )
            eye = float(bare[at_row, at_col]) + eye_m
            found = days_of_cell(
                row - at_row, col - at_col, height - eye, cell_m, bend,
                looked_up(pressure, pressure_first, pressure_step, eye), place, tolerance, evening,
                air, air_first, air_step, year, north, south, clock, on_skyline[at_row, at_col],
            )  # fmt: skip
            results[0, at_row, at_col] = found[0]
            results[1, at_row, at_col] = math.degrees(found[1])
            results[2, at_row, at_col] = math.degrees(found[2])
            for spell in range(4):
                results[3 + spell, at_row, at_col] = found[3 + spell]
