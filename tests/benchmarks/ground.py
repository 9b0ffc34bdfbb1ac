"""Rugged ground of any size from a seed, for measuring on."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from typing import Final

import numpy as np
from affine import Affine
from numpy.typing import NDArray
from scipy import fft

from terrain.ground.dem import Dem
from terrain.ground.geodesy import local_transverse_mercator
from terrain.ground.grid import Grid
from terrain.ground.places import Hill, Spot
from terrain.ground.relief.summits import hill_at

CELL_M: Final = 30.0
LON_DEG, LAT_DEG = -24.0, 54.4
OCTAVES: Final = 8
BROADEST: Final = 500
"""Length of the broadest undulations, cells; those of the finest are 4 cells long."""
TALLEST_M: Final = 700.0
FADING: Final = 0.5
"""How much lower the ridges of each octave are than those of the one before."""


@lru_cache(maxsize=2)
def rugged(size: int, seed: int = 20) -> Dem:
    """Ridges and valleys, the same kind of ground at any size: `size` x `size` cells of 30 m.

    Octaves of noise, each folded at zero into ridges and weighted by those above it, so that
    ridges branch and valley floors stay smooth: the ridged multifractal of F. K. Musgrave (in
    Ebert and others, Texturing and Modeling: A Procedural Approach). Some 1300 m from foot to top,
    half of it steeper than 17 degrees.
    """
    heights = np.zeros((size, size), dtype=np.float32)
    weight = np.ones((size, size), dtype=np.float32)
    for octave, noise in enumerate(octaves(size, seed)):
        ridge = np.maximum(1.0 - np.abs(noise), 0.0) ** 2 * weight
        weight = np.clip(2.0 * ridge, 0.0, 1.0)
        heights += np.float32(TALLEST_M * FADING**octave) * ridge
    heights.flags.writeable = False
    edge_m = size * CELL_M / 2
    return Dem(
        heights,
        Grid(
            crs=local_transverse_mercator(LON_DEG, LAT_DEG),
            transform=Affine(CELL_M, 0, -edge_m, 0, -CELL_M, edge_m),
            shape=(size, size),
        ),
    )


def octaves(size: int, seed: int) -> Iterator[NDArray[np.float32]]:
    """Noise (size, size) of mean 0 and deviation 1/2 that undulates the same in all directions.

    Each comes from its own octave of the same white noise, so they are independent.
    """
    white = np.random.default_rng(seed).standard_normal((size, size), dtype=np.float32)
    spectrum = fft.rfft2(white, workers=-1)
    along, across = np.fft.fftfreq(size)[:, np.newaxis], np.fft.rfftfreq(size)[np.newaxis]
    wave_number = np.hypot(along, across).astype(np.float32)
    wave_number[0, 0] = np.float32(1e-9)
    for octave in range(OCTAVES):
        apart = np.log2(wave_number * np.float32(BROADEST / 2**octave))
        noise = fft.irfft2(spectrum * np.exp(-2.0 * apart * apart), s=white.shape, workers=-1)
        yield noise * np.float32(0.5 / noise.std())


def middle(dem: Dem) -> Spot:
    """A camera on the highest cell of the middle tenth: a place with a view."""
    row, col = top_of_middle(dem)
    lon, lat = dem.grid.lonlat(row, col)
    return Spot(lon_deg=float(lon), lat_deg=float(lat))


def hill(dem: Dem) -> Hill:
    """The hill of the highest cell of the middle tenth."""
    spot = middle(dem)
    return hill_at(dem, spot.lon_deg, spot.lat_deg)


def top_of_middle(dem: Dem) -> tuple[int, int]:
    first, count = int(0.45 * dem.shape[0]), max(dem.shape[0] // 10, 1)
    part = dem.heights_m[first : first + count, first : first + count]
    row, col = np.unravel_index(np.argmax(part), part.shape)
    return first + int(row), first + int(col)
