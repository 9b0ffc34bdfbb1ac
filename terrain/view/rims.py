"""The rims of the sun's disc over a skyline, when they rise through it, and how wide it need be.

::

                 .-'''-.   <- upper rim                  first light: the largest of
               .'       '.                               (upper rim - ground) over the disc
               |    o    |                               rises through zero
    ----.      '.       .'   <- lower rim
         \\.      '-...-'   ___                          clear: the smallest of
           ''..__     __.--'    the ground               (lower rim - ground) does
                 ''''''
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np

from terrain.arrays import Floats
from terrain.sight.skyline import AZIMUTH_STEP_DEG, Skyline
from terrain.sun.crossings import Crossing, crossings
from terrain.sun.path import SunPath
from terrain.sun.refraction import refract

Height = Callable[[Floats], Floats]
"""From seconds of the path to a rim's height over the ground, degrees."""

DARK_DEG: Final = -6.0
"""Below this true altitude the sun is under any skyline on earth."""

_ACROSS: Final = np.sin(np.linspace(-0.5 * np.pi, 0.5 * np.pi, 61))
_STEP_S: Final = 30.0
_TOLERANCE_S: Final = 0.5
_TICK_S: Final = 300.0
_CLEAR_DEG: Final = 1.0
"""The centre's distance from all of a skyline at which no rim comes near it within half a tick."""

_ASIDE_DEG: Final = 2.0
_STEEP_DEG: Final = 75.0
"""Up to this altitude half a disc spans an azimuth of a degree at most."""


@dataclass(frozen=True, kw_only=True)
class Rims:
    """The rims of the disc on one day's path of the sun, over a skyline."""

    skyline: Skyline
    path: SunPath

    def upper(self, times_s: Floats) -> Floats:
        """Height of the disc's highest part over the ground, degrees, at seconds of the path."""
        azimuth, upper, _ = self._across(times_s)
        return np.asarray((upper - self._ground(azimuth)).max(axis=-1))

    def lower(self, times_s: Floats) -> Floats:
        """Height of the disc's lowest part over the ground, degrees, at seconds of the path."""
        azimuth, _, lower = self._across(times_s)
        return np.asarray((lower - self._ground(azimuth)).min(axis=-1))

    def meeting_azimuth(self, *, evening: bool) -> float | None:
        """Where the disc first appears, or where it last disappears; None where it does not."""
        if evening:
            times_s = [passage.t_s for passage in self._passages(self.upper) if not passage.rising]
            return self.touching_azimuth(times_s[-1], rising=False) if times_s else None
        first_s = next(self.risings(self.upper), None)
        return None if first_s is None else self.touching_azimuth(first_s)

    def touching_azimuth(self, time_s: float, *, rising: bool = True) -> float:
        """Where the disc stands highest over the ground just after it appears, 0 to 360 degrees.

        Just before, the sun behind the end of the known ground would seem nearest somewhere else;
        so it would just after it disappears, and of a setting sun the moment before counts.
        """
        in_view_s = time_s + (_TOLERANCE_S if rising else -_TOLERANCE_S)
        azimuth, upper, _ = self._across(min(max(in_view_s, 0.0), self.path.length_s))
        return float(azimuth[np.argmax(upper - self._ground(azimuth))]) % 360.0

    def leaving_azimuth(self, time_s: float) -> float:
        """Where the ground leaves the disc last, 0 to 360 degrees."""
        azimuth, _, lower = self._across(time_s)
        return float(azimuth[np.argmin(lower - self._ground(azimuth))]) % 360.0

    def risings(self, height: Height, after_s: float = 0.0) -> Iterator[float]:
        """The moments at which a rim rises through the skyline, in order, seconds of the path.

        What ends before `after_s` is not searched.
        """
        passages = self._passages(height, after_s)
        return (passage.t_s for passage in passages if passage.rising)

    def first_clear(self, start_s: float, end_s: float) -> float | None:
        """When the lower rim first rises between two moments; None where it does not."""
        risings = self.risings(self.lower, start_s)
        return next((time_s for time_s in risings if start_s <= time_s < end_s), None)

    def rate(self, height: Height, time_s: float) -> float:
        """Change per second, over ten seconds either side so that one skyline step is bridged."""
        times = np.clip([time_s - 10.0, time_s + 10.0], 0.0, self.path.length_s)
        before, after = height(times)
        return float((after - before) / (times[1] - times[0]))

    def _passages(self, height: Height, after_s: float = 0.0) -> Iterator[Crossing]:
        for first_s, last_s in self._spans:
            if after_s < last_s:
                yield from crossings(
                    height, first_s, last_s, step_s=_STEP_S, tolerance_s=_TOLERANCE_S
                )

    @cached_property
    def _spans(self) -> list[tuple[float, float]]:
        """Spans of time outside which the sun stands above all of the skyline, or below it."""
        ticks = _ticks(self.path)
        ground = np.nan_to_num(self.skyline.altitude_deg, nan=0.0)
        light = self.path.true_at(ticks)[1] > DARK_DEG
        _, altitude = self.path.at(ticks)
        near = (altitude > ground.min() - _CLEAR_DEG) & (altitude < ground.max() + _CLEAR_DEG)
        changes = np.flatnonzero(np.diff(near & light, prepend=False, append=False))
        first, end = np.maximum(changes[::2] - 1, 0), np.minimum(changes[1::2], ticks.size - 1)
        return list(zip(ticks[first].tolist(), ticks[end].tolist(), strict=True))

    def _across(self, times_s: Floats | float) -> tuple[Floats, Floats, Floats]:
        """Azimuths across the disc, and apparent altitudes of its upper and its lower rim there.

        The air lifts the lower rim more than the upper, and so flattens the disc: by a sixth at
        the horizontal, where a round one would seem to rise 0.05 degrees too high. Within the disc
        the apparent altitude is a parabola of the true one to better than 0.001 degrees.
        """
        path = self.path
        azimuth, true = path.true_at(times_s)
        half = path.semidiameter_deg
        # in the tropics a rim can pass the zenith, and the nadir
        rims = np.clip(np.stack([true + half, true, true - half]), -90.0, 90.0)
        top, middle, bottom = refract(
            rims, pressure_hpa=path.pressure_hpa, temperature_c=path.temperature_c
        )[..., np.newaxis]
        share = np.sqrt(1.0 - _ACROSS**2)
        tilt, bend = 0.5 * share * (top - bottom), 0.5 * share**2 * (top - 2.0 * middle + bottom)
        aside = azimuth[..., np.newaxis] + half * _ACROSS / np.cos(np.radians(middle))
        return aside, middle + tilt + bend, middle - tilt + bend

    def _ground(self, azimuth_deg: Floats) -> Floats:
        """The skyline's altitude; where no ground is known the horizontal stands in for it."""
        return np.nan_to_num(self.skyline.at(azimuth_deg), nan=0.0)


def azimuths_under(path: SunPath, toward_deg: float) -> Floats | None:
    """Azimuths (n,) in the steps of a skyline that a day's sun passes over, and a little more.

    toward_deg: an azimuth that must be among them. None where all round is needed: where the sun
    goes all round or not at all, passes near the zenith, or is never near that azimuth::

                  N                   the sun's way from dark to dark in autumn, seen from above:
                  |                   what lies to the north of it need not be scanned
             W ---+--- E
            /     |     '\\
          dark    S      dark
    """
    azimuth, true = path.true_at(_ticks(path))
    light = np.flatnonzero(true > DARK_DEG)
    if light.size == 0 or true.max() > _STEEP_DEG:
        return None
    way = azimuth[max(light[0] - 1, 0) : light[-1] + 2]
    low, high = float(way.min()) - _ASIDE_DEG, float(way.max()) + _ASIDE_DEG
    if not np.mod(toward_deg - low, 360.0) < high - low < 360.0 - AZIMUTH_STEP_DEG:
        return None
    first, last = np.floor(low / AZIMUTH_STEP_DEG), np.ceil(high / AZIMUTH_STEP_DEG)
    return np.asarray(np.arange(first, last + 1.0) * AZIMUTH_STEP_DEG)


def _ticks(path: SunPath) -> Floats:
    """Moments of a day from its beginning to its end, seconds."""
    return np.append(np.arange(0.0, path.length_s, _TICK_S), path.length_s)
