"""The light of the air worked out slowly: bent rays by scipy, straight ones by plain sums."""

from __future__ import annotations

import itertools
import math

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from terrain.glow._path_kernels import Media

Floats = NDArray[np.float64]
RADIUS_M = 6_371_000.0
TOP_M = 100_000.0
UNITS = np.array([1.0, 1e5, 1e-18])  # so that columns are of one size


def bent_ray(layers: Floats, height_m: float, altitude: float) -> Floats:
    """Columns of molecules, haze and ozone along a ray out of the air, and its true altitude."""
    heights = 100.0 * np.arange(layers.shape[0])

    def slope(_: float, state: Floats) -> list[float]:
        there = np.array([np.interp(state[0], heights, layers[:, kind]) for kind in range(4)])
        along = math.cos(state[1]) / (RADIUS_M + state[0])
        return [
            math.sin(state[1]),
            along - there[3] * math.cos(state[1]),
            along,
            *(there[:3] * UNITS),
        ]

    def out(_: float, state: Floats) -> float:
        return float(state[0] - TOP_M)

    out.terminal = True  # type: ignore[attr-defined]
    start = [height_m, altitude, 0.0, 0.0, 0.0, 0.0]
    found = solve_ivp(slope, (0.0, 3e6), start, events=out, rtol=1e-8, atol=1e-10, max_step=2e3)
    end = found.y[:, -1]
    return np.array([*(end[3:] / UNITS), end[1] - end[2]])


def straight_columns(layers: Floats, height_m: float, sine: float, end_m: float) -> Floats:
    """Columns along a straight ray on the round earth, in 10 000 steps."""
    way = (np.arange(10_000) + 0.5) / 10_000 * end_m
    radius = RADIUS_M + height_m
    height = np.sqrt(radius**2 + way**2 + 2.0 * radius * way * sine) - RADIUS_M
    grid = 100.0 * np.arange(layers.shape[0])
    step = end_m / way.size
    return np.array([np.interp(height, grid, layers[:, kind]).sum() * step for kind in range(3)])


def to_top_m(height_m: float, sine: float) -> float:
    radius = RADIUS_M + height_m
    return -radius * sine + math.sqrt((radius * sine) ** 2 + (RADIUS_M + TOP_M) ** 2 - radius**2)


def scattered_once(
    media: Media, asymmetry: float, sun: float, altitude: float, azimuth: float
) -> tuple[Floats, Floats]:
    """Sunlight that straight rays scatter once to an eye at sea level, by molecules and by haze.

    That of haze is before the share of its direction. Angles in radians.
    """
    sine = math.sin(altitude)
    cosine = math.sin(sun) * sine + math.cos(sun) * math.cos(altitude) * math.cos(azimuth)
    # Rayleigh's shares with the spread of Bucholtz 1995, Appl. Opt. 34, 2765, eq. 12
    shares = 3.0 * (1.0432 + 0.9856 * cosine**2) / (16.0 * math.pi * 1.0288)
    edges = to_top_m(0.0, sine) * np.linspace(0.0, 1.0, 161) ** 2
    molecules, haze = (np.zeros(media.molecules.size) for _ in range(2))

    def left(columns: Floats) -> Floats:
        return np.exp(
            -columns[0] * media.molecules - columns[1] * media.passed - columns[2] * media.ozone
        )

    for near, far in itertools.pairwise(edges):
        middle = 0.5 * (near + far)
        radius = math.sqrt(RADIUS_M**2 + middle**2 + 2.0 * RADIUS_M * middle * sine)
        east = middle * math.cos(altitude)
        up = RADIUS_M + middle * sine
        sun_sine = (up * math.sin(sun) + east * math.cos(azimuth) * math.cos(sun)) / radius
        height = radius - RADIUS_M
        own = [np.interp(height, 100.0 * np.arange(1001), media.layers[:, k]) for k in range(2)]
        light = left(straight_columns(media.layers, 0.0, sine, middle))
        light *= left(straight_columns(media.layers, height, sun_sine, to_top_m(height, sun_sine)))
        molecules += light * own[0] * (far - near) * media.molecules * shares
        haze += light * own[1] * (far - near) * media.scattered
    return molecules, haze
