"""A sounding: what one ascent through the air measured, level by level."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from os import PathLike
from pathlib import Path
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from terrain.air.physics import dewpoint_c, humidity_percent, potential_temperature_k
from terrain.air.sounding_text import read_columns
from terrain.arrays import Floats, frozen_arrays, sealed
from terrain.errors import TerrainError
from terrain.ground.stored import check_file

_FEWEST_LEVELS: Final = 3
_DEW_POINT_ERROR_K: Final = 1.0

# what no air on earth exceeds, with room to spare, and the slip that gives such a number
_PLAUSIBLE: Final = {
    "pressure_hpa": (0.0, 1100.0, "hPa", "is it in pascal?"),
    "height_m": (-500.0, 60_000.0, "m", "is it in feet?"),
    "temperature_c": (-120.0, 60.0, "°C", "is it in kelvin or Fahrenheit?"),
    "dewpoint_c": (-150.0, 60.0, "°C", "is it in kelvin or Fahrenheit?"),
    "wind_speed_ms": (0.0, 150.0, "m/s", "is it in knots or km/h?"),
    "wind_from_deg": (0.0, 360.0, "degrees", "it must be 0 to 360"),
}


def _unknown() -> Floats:
    return np.array(np.nan)


@dataclass(frozen=True, kw_only=True, eq=False)
@frozen_arrays(copy=False)
class Sounding:
    """The air over one place, from the ground up.

    Every array is (levels,) float64 and read-only, NaN where a value is unknown; heights are
    known and strictly rise. At least three levels have a temperature.

    Parameters
    ----------
    pressure_hpa : (levels,) array, hPa
        Air pressure; never rises with height.
    height_m : (levels,) array, metres
        Above sea level.
    temperature_c : (levels,) array, degrees Celsius
        Of the air.
    dewpoint_c : (levels,) array, degrees Celsius
        The dew point of the air, over water.
    wind_speed_ms : (levels,) array, metres a second, optional
        Unknown where it is left out.
    wind_from_deg : (levels,) array, degrees, optional
        Where the wind comes from, clockwise from true north; unknown where it is left out.
    station : str, optional
        The source's own words for where, "" where it does not say.
    time : str, optional
        The source's own words for when.

    Raises
    ------
    TerrainError
        For a value that the air does not have.
    ValueError
        For unlike shapes.

    Examples
    --------
    >>> night = Sounding(
    ...     pressure_hpa=np.array([1000, 990, 960]), height_m=np.array([110, 195, 450]),
    ...     temperature_c=np.array([2.0, 5.0, 4.0]), dewpoint_c=np.array([2.0, 1.0, -3.0]),
    ... )
    >>> night.ground_m, night.humidity_percent.round().tolist()
    (110.0, [100.0, 75.0, 60.0])
    """

    pressure_hpa: Floats
    height_m: Floats
    temperature_c: Floats
    dewpoint_c: Floats
    wind_speed_ms: Floats = field(default_factory=_unknown)
    wind_from_deg: Floats = field(default_factory=_unknown)
    station: str = ""
    time: str = ""

    def __post_init__(self) -> None:
        shape = np.shape(self.height_m)
        if len(shape) != 1:
            raise ValueError(f"the heights of a sounding must be (levels,), got shape {shape}")
        for name in _PLAUSIBLE:
            values = np.broadcast_to(np.asarray(getattr(self, name), np.float64), shape).copy()
            object.__setattr__(self, name, values)
        self._check_heights()
        for name, (lowest, highest, unit, hint) in _PLAUSIBLE.items():
            values = getattr(self, name)
            wrong = (values < lowest) | (values > highest)
            if wrong.any():
                raise TerrainError(
                    f"{name.rsplit('_', 1)[0].replace('_', ' ')} {values[wrong][0]:g} {unit} at "
                    f"{self.height_m[wrong][0]:g} m is not of this air: {hint}"
                )
        self._check_together()

    @property
    def ground_m(self) -> float:
        """The lowest height with a temperature, metres: listings give pressure levels below it."""
        return float(self.height_m[~np.isnan(self.temperature_c)][0])

    @property
    def top_m(self) -> float:
        """The highest height with a temperature, metres."""
        return float(self.height_m[~np.isnan(self.temperature_c)][-1])

    @cached_property
    def humidity_percent(self) -> Floats:
        """Relative humidity over water at each level, %, (levels,); read-only."""
        return sealed(humidity_percent(self.temperature_c, self.dewpoint_c))

    @cached_property
    def potential_temperature_k(self) -> Floats:
        """Potential temperature at each level, K, (levels,); read-only."""
        return sealed(potential_temperature_k(self.pressure_hpa, self.temperature_c))

    def wind_at(self, height_m: float) -> tuple[float, float]:
        """The wind at a height, metres a second toward the east and toward the north.

        Each is interpolated between the levels that have a wind, NaN outside them. A calm needs
        no direction.
        """
        toward = np.radians(np.where(self.wind_speed_ms == 0.0, 0.0, self.wind_from_deg) + 180.0)
        east = interpolate(self.height_m, self.wind_speed_ms * np.sin(toward), height_m)
        north = interpolate(self.height_m, self.wind_speed_ms * np.cos(toward), height_m)
        return float(east), float(north)

    def _check_heights(self) -> None:
        heights = self.height_m
        if np.isnan(heights).any():
            raise TerrainError("every level of a sounding must have a height")
        if (np.diff(heights) <= 0.0).any():
            above = int(np.argmax(np.diff(heights) <= 0.0)) + 1
            raise TerrainError(
                "the heights of a sounding must rise from level to level: "
                f"{heights[above]:g} m comes after {heights[above - 1]:g} m"
            )

    def _check_together(self) -> None:
        measured = int(np.sum(~np.isnan(self.temperature_c)))
        if measured < _FEWEST_LEVELS:
            raise TerrainError(
                f"a sounding needs at least {_FEWEST_LEVELS} levels with height and temperature, "
                f"this one has {measured}"
            )
        known = ~np.isnan(self.pressure_hpa)
        rises = np.diff(self.pressure_hpa[known]) > 0.0
        if rises.any():
            height = self.height_m[known][1:][rises][0]
            raise TerrainError(f"pressure must fall with height, and rises at {height:g} m")
        above = self.dewpoint_c > self.temperature_c + _DEW_POINT_ERROR_K
        if above.any():
            raise TerrainError(
                f"the dew point {self.dewpoint_c[above][0]:g} °C at {self.height_m[above][0]:g} m "
                f"lies above the temperature {self.temperature_c[above][0]:g} °C: are the columns "
                "swapped?"
            )


def interpolate(height_m: Floats, values: Floats, at_m: ArrayLike) -> Floats:
    """Values at heights, linear between the levels where they are known, NaN outside those.

    height_m: (levels,) metres, rising. values: (levels,). at_m: any shape, that of the result.

    >>> interpolate(np.array([0.0, 50.0, 100.0]), np.array([1.0, np.nan, 3.0]), [25, 100, 101])
    array([1.5, 3. , nan])
    """
    known = ~np.isnan(values)
    if not known.any():
        return np.full(np.shape(at_m), np.nan)
    at_m = np.asarray(at_m, np.float64)
    return np.asarray(np.interp(at_m, height_m[known], values[known], left=np.nan, right=np.nan))


def read_sounding(path: str | PathLike[str]) -> Sounding:
    """The sounding in a text file: a table with headings, or the fixed-width listing.

    A table has one line of headings, in any order, each with its unit (`height_m`,
    `temperature (K)`, `pressure_Pa`, `wind speed [kt]`), its fields separated by commas,
    semicolons or tabs. A listing has PRES HGHT TEMP DWPT among its headings and the units below
    them. Pressure, height, temperature and dew point (or relative humidity) are needed, wind is
    not; other columns are passed over. Blank fields, usual words for nothing and numbers of -999
    and lower are unknown. Levels may be listed from the top down; lines of one height are one
    level, with the first known value of each column; a line without a height is left out.

    Parameters
    ----------
    path : path
        The file.

    Returns
    -------
    Sounding
        Its levels rise.

    Raises
    ------
    TerrainError
        Where the file cannot be read, is no sounding, lacks a column or its unit, or its heights go
        up and down.

    Examples
    --------
    >>> read_sounding("no/such/ascent.csv")
    Traceback (most recent call last):
    terrain.errors.TerrainError: there is no file no/such/ascent.csv
    """
    file = Path(path)
    text = _text(file)
    try:
        columns = read_columns(text)
        values = _levels(columns)
        humidity = values.pop("humidity_percent", _unknown())
        if "dewpoint_c" not in values:
            values["dewpoint_c"] = _from_humidity(values["temperature_c"], humidity)
        return Sounding(**values, station=columns.attrs["station"], time=columns.attrs["time"])
    except TerrainError as error:
        raise TerrainError(f"{file}: {error}") from error


def _text(file: Path) -> str:
    check_file(str(file), or_folder=True, or_pipe=True)
    try:
        content = file.read_bytes()
    except OSError as error:
        raise TerrainError(f"cannot read {file}: {error.strerror or error}") from error
    if b"\0" in content:
        raise TerrainError(f"{file} is not a sounding: it is not plain text")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        # the degree sign as spreadsheets of old wrote it
        return content.decode("cp1252", errors="replace")


def _levels(columns: pd.DataFrame) -> dict[str, Floats]:
    """The columns of a text as levels with rising heights."""
    levels = columns[columns["height_m"].notna()]
    steps = np.diff(levels["height_m"])
    if len(steps) and (steps <= 0.0).all():
        levels = levels[::-1]
    elif (steps < 0.0).any():
        at = int(np.argmax(steps < 0.0))
        before, after = levels["height_m"].iloc[at : at + 2]
        raise TerrainError(
            f"line {levels.index[at + 1]}: the height falls from {before:g} m to {after:g} m; the "
            "heights of one sounding must rise from line to line"
        )
    # one level for each height, with the first known value there in each column
    merged = levels.groupby("height_m", as_index=False).first()
    return {str(key): merged[key].to_numpy(dtype=np.float64) for key in merged}


def _from_humidity(temperature_c: Floats, humidity: Floats) -> Floats:
    wrong = (humidity < 0.0) | (humidity > 105.0)
    if wrong.any():
        raise TerrainError(f"relative humidity {humidity[wrong][0]:g} % is not between 0 and 100")
    return dewpoint_c(temperature_c, humidity)
