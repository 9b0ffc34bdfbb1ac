"""The rims of the sun's disc over a skyline, and when they rise through it.

::

                 .-'''-.   <- upper rim                  first light: the largest of
               .'       '.                               (upper rim - ground) over the disc
               |    o    |                               rises through zero
    ----.      '.       .'   <- lower rim
         \\.      '-...-'   ___                          clear: the smallest of
           ''..__     __.--'    the ground               (lower rim - ground) does
                 ''''''

The sun may show for seconds only, so between two looks no rim is taken to stay where it was seen.
The disc moves by a known way at most: what a disc so much wider does not reach stays hidden, and
while one so much narrower stands over the ground the sun shows. Only the rest is looked at finely.

All of it follows the path of the sun that it is given: on that of an evening, which goes back in
time, the sun appears where by the clock the last of it goes.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from typing import Final, NamedTuple

import numpy as np

from terrain.arrays import Floats
from terrain.sight.skyline import Skyline
from terrain.sun.crossings import Crossing, crossings
from terrain.sun.path import SunPath, sun_path
from terrain.sun.refraction import refract

Height = Callable[[Floats], Floats]
"""From seconds of the path to a rim's height over the ground, degrees."""

DARK_DEG: Final = -6.0
"""Below this true altitude the sun is under any skyline on earth."""

_ACROSS: Final = np.sin(np.linspace(-0.5 * np.pi, 0.5 * np.pi, 61))
_UPPER: Final = 1.0
_LOWER: Final = -1.0
_SIDES: Final = np.array([_UPPER, 0.0, _LOWER])
_STEP_S: Final = 30.0
_TOLERANCE_S: Final = 0.5
_AT_ONCE_S: Final = 20.0 * _STEP_S
"""The sun is clear minutes after it appears: what comes later is not looked at in vain."""
_FINE_S: Final = 1.875
_MOVES_DEG: Final = 0.08
"""More than the sun moves in half a step, 15.04 arc seconds a second, by the width of a sample."""
_TURNS: Final = 1e-6
"""Change of a skyline's slope, rise over run, that makes a notch."""
_TICK_S: Final = 300.0
_CLEAR_DEG: Final = 1.0
"""The centre's distance from all of a skyline at which no rim comes near it within half a tick."""


@dataclass(frozen=True, kw_only=True)
class Rims:
    """The rims of the disc on one day's path of the sun, over a skyline."""

    skyline: Skyline
    path: SunPath
    _found: dict[float, list[Crossing]] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )

    def upper(self, times_s: Floats) -> Floats:
        """Height of the disc's highest part over the ground, degrees, at seconds of the path."""
        return np.asarray(self._over(times_s, _UPPER)[1].max(axis=-1))

    def lower(self, times_s: Floats) -> Floats:
        """Height of the disc's lowest part over the ground, degrees, at seconds of the path."""
        return np.asarray(self._over(times_s, _LOWER)[1].min(axis=-1))

    def touching_azimuth(self, time_s: float, *, rising: bool = True) -> float:
        """Where the disc stands highest over the ground just after it appears, 0 to 360 degrees.

        Just before, the sun behind the end of the known ground would seem nearest somewhere else;
        so it would just after it disappears again, and there the moment before counts.
        """
        in_view_s = time_s + (_TOLERANCE_S if rising else -_TOLERANCE_S)
        azimuth, over = self._over(min(max(in_view_s, 0.0), self.path.length_s), _UPPER)
        return float(azimuth[np.argmax(over)]) % 360.0

    def leaving_azimuth(self, time_s: float) -> float:
        """Where the ground leaves the disc last, 0 to 360 degrees."""
        azimuth, over = self._over(time_s, _LOWER)
        return float(azimuth[np.argmin(over)]) % 360.0

    def edges(self, first_s: float = 0.0, last_s: float = np.inf) -> Iterator[Crossing]:
        """The moments of a span at which any of the disc begins or ceases to show, in order."""
        for near_s, far_s in self._spans:
            if near_s < last_s and far_s > first_s:
                if near_s not in self._found:
                    self._found[near_s] = self._edges_between(near_s, far_s)
                yield from (each for each in self._found[near_s] if first_s <= each.t_s <= last_s)

    def spells(self, first_s: float, last_s: float) -> Iterator[tuple[float | None, float | None]]:
        """From when to when any of the disc shows within a span, in order.

        None for the beginning of what shows when the span begins, and for the end of what shows
        when it ends.
        """
        begin_s, shows = None, bool(self.upper(np.array([first_s]))[0] >= 0.0)
        for edge in self.edges(first_s, last_s):
            if edge.rising:
                begin_s = edge.t_s
            elif shows:
                yield begin_s, edge.t_s
            shows = edge.rising
        if shows:
            yield begin_s, None

    def first_clear(self, start_s: float, end_s: float) -> float | None:
        """When the lower rim first rises between two moments; None where it does not."""
        for first_s, last_s in self._spans:
            begin_s = first_s + _STEP_S * max((start_s - first_s) // _STEP_S, 0.0)
            while begin_s < min(last_s, end_s):
                until_s = min(begin_s + _AT_ONCE_S, last_s)
                for each in self._crossings(self.lower, begin_s, until_s, _STEP_S):
                    if each.rising and start_s <= each.t_s < end_s:
                        return each.t_s
                begin_s = until_s
        return None

    def rate(self, height: Height, time_s: float) -> float:
        """Change per second, over ten seconds either side so that one skyline step is bridged."""
        times = np.clip([time_s - 10.0, time_s + 10.0], 0.0, self.path.length_s)
        before, after = height(times)
        return float((after - before) / (times[1] - times[0]))

    @staticmethod
    def _crossings(height: Height, first_s: float, last_s: float, step_s: float) -> list[Crossing]:
        return crossings(height, first_s, last_s, step_s=step_s, tolerance_s=_TOLERANCE_S)

    def _edges_between(self, first_s: float, last_s: float) -> list[Crossing]:
        parts = self._doubtful(first_s, last_s)
        return [each for part in parts for each in self._crossings(self.upper, *part, _FINE_S)]

    def _doubtful(self, first_s: float, last_s: float) -> Iterator[tuple[float, float]]:
        """The parts of a span in which the disc may begin or cease to show."""
        times = np.linspace(first_s, last_s, 1 + max(2, int(np.ceil((last_s - first_s) / _STEP_S))))
        azimuth, true = self.path.true_at(times)
        # the air only lifts the sun: a centre that stands over the ground without it does so
        shows = true > self._ground(azimuth)
        hidden = np.zeros_like(shows)
        rest = np.flatnonzero(~shows)
        either_way = np.array([[_MOVES_DEG], [-_MOVES_DEG]])
        _, over = self._over(times[rest], _UPPER, wider_deg=either_way)
        wider, narrower = over.max(axis=-1)
        hidden[rest], shows[rest] = wider < 0.0, narrower > 0.0
        sure = (shows[1:] & shows[:-1]) | (hidden[1:] & hidden[:-1])
        changes = np.flatnonzero(np.diff(~sure, prepend=False, append=False))
        return zip(times[changes[::2]].tolist(), times[changes[1::2]].tolist(), strict=True)

    @cached_property
    def _spans(self) -> list[tuple[float, float]]:
        """Spans of time outside which the sun stands above all of the skyline, or below it."""
        moments_s = ticks(self.path)
        shape = self._shape
        light = self.path.true_at(moments_s)[1] > DARK_DEG
        _, altitude = self.path.at(moments_s)
        near = (altitude > shape.lowest_deg - _CLEAR_DEG) & (
            altitude < shape.highest_deg + _CLEAR_DEG
        )
        changes = np.flatnonzero(np.diff(near & light, prepend=False, append=False))
        first, end = np.maximum(changes[::2] - 1, 0), np.minimum(changes[1::2], moments_s.size - 1)
        return list(zip(moments_s[first].tolist(), moments_s[end].tolist(), strict=True))

    def _over(
        self, times_s: Floats | float, side: float, *, wider_deg: Floats | float = 0.0
    ) -> tuple[Floats, Floats]:
        """Azimuths across the disc, and how far over the ground one of its rims stands there.

        wider_deg: how much farther out than it is the rim is taken to lie. The air lifts the lower
        rim more than the upper, and so flattens the disc: by a sixth at the horizontal, where a
        round one would seem to rise 0.05 degrees too high. Within the disc the apparent altitude
        is a parabola of the true one to better than 0.001 degrees.
        """
        path = self.path
        azimuth, true = path.true_at(times_s)
        half = path.semidiameter_deg + np.asarray(wider_deg)
        # in the tropics a rim can pass the zenith, and the nadir
        sides = _SIDES.reshape(-1, *(1,) * max(true.ndim, half.ndim))
        rims = np.minimum(np.maximum(true + sides * half, -90.0), 90.0)
        top, middle, bottom = refract(
            rims, pressure_hpa=path.pressure_hpa, temperature_c=path.temperature_c
        )[..., np.newaxis]
        wide = half[..., np.newaxis] / np.cos(np.radians(middle))
        azimuth = azimuth[..., np.newaxis]
        across = self._with_notches(azimuth, wide) if side == _UPPER else _ACROSS
        share = np.sqrt(1.0 - across**2)
        aside = azimuth + across * wide
        tilt, bend = 0.5 * side * (top - bottom), 0.5 * (top - 2.0 * middle + bottom)
        return aside, middle + share * tilt + share**2 * bend - self._ground(aside)

    def _with_notches(self, azimuth: Floats, wide: Floats) -> Floats:
        """Parts of the disc's half width, -1 to 1, and among them where notches of the ground are.

        In a notch the rim is seen at its lowest point or not at all.
        """
        start, known = self.skyline.azimuth_deg[0], self._shape.notches_deg
        from_deg = np.mod(azimuth - wide - start, 360.0)
        first = np.searchsorted(known, from_deg)
        number = int(np.max(np.searchsorted(known, from_deg + 2.0 * wide) - first, initial=0))
        if number == 0:
            return _ACROSS
        at = np.minimum(first + np.arange(number), known.size - 1)
        notches = (known[at] - from_deg) / wide - 1.0
        across = np.empty((*notches.shape[:-1], _ACROSS.size + number))
        across[..., : _ACROSS.size] = _ACROSS
        across[..., _ACROSS.size :] = np.minimum(np.maximum(notches, -1.0), 1.0)
        return across

    def _ground(self, azimuth_deg: Floats) -> Floats:
        """The skyline's altitude; where no ground is known the horizontal stands in for it."""
        altitude = self.skyline.at(azimuth_deg)
        return altitude if self._shape.known else np.where(np.isnan(altitude), 0.0, altitude)

    @cached_property
    def _shape(self) -> _Shape:
        return _shape_of(self.skyline)


class _Shape(NamedTuple):
    """What every day asks of a skyline.

    lowest_deg, highest_deg: of it, the horizontal standing in where it is unknown. known: whether
    it is all round. notches_deg: where it turns upwards, degrees from its start, over two turns.
    """

    lowest_deg: float
    highest_deg: float
    known: bool
    notches_deg: Floats


@lru_cache(maxsize=4)
def _shape_of(skyline: Skyline) -> _Shape:
    azimuth, ground = skyline.azimuth_deg, np.nan_to_num(skyline.altitude_deg, nan=0.0)
    slope = np.diff(ground) / np.diff(azimuth)
    turns = np.diff(slope, prepend=-np.inf, append=np.inf) > _TURNS
    notches = azimuth[turns] - azimuth[0]
    return _Shape(
        lowest_deg=float(ground.min()),
        highest_deg=float(ground.max()),
        known=skyline.is_round and not np.isnan(skyline.altitude_deg).any(),
        notches_deg=np.concatenate([notches, notches + 360.0]),
    )


@lru_cache(maxsize=4)
def rims_over(skyline: Skyline, path: SunPath) -> Rims:
    """The rims of a day over a skyline; the last are kept, for they are asked more than once."""
    return Rims(skyline=skyline, path=path)


def rims_on(
    skyline: Skyline,
    day: dt.date,
    *,
    pressure_hpa: float | None = None,
    temperature_c: float = 10.0,
    evening: bool = False,
) -> Rims:
    """The rims of the disc over a skyline on a day, through the air that `sun_path` has."""
    path = sun_path(
        day,
        lon_deg=skyline.spot.lon_deg,
        lat_deg=skyline.spot.lat_deg,
        height_m=skyline.eye_height_m,
        pressure_hpa=pressure_hpa,
        temperature_c=temperature_c,
        evening=evening,
    )
    return rims_over(skyline, path)


def ticks(path: SunPath) -> Floats:
    """Moments of a day from its beginning to its end, seconds."""
    return np.append(np.arange(0.0, path.length_s, _TICK_S), path.length_s)
