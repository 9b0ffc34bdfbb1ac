"""The invented upland as its maker drew it: coast, ridges, valleys, lake and crags.

Places are (east, north) in kilometres from the south-west corner of the map.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Final

import numpy as np
import shapely
from erosion import Field, Mask
from scipy.ndimage import distance_transform_edt, label

CELLS: Final = 720
CELL_M: Final = 25.0
WEST_M: Final = 296_200.0
SOUTH_M: Final = 6_023_500.0
CRS: Final = "EPSG:32627"
"""UTM zone 27: grid north is some 2.4 degrees off true north here."""

Line = list[tuple[float, ...]]

COAST: Final[Line] = [
    *[(2.2, 6.4), (1.5, 5.0), (1.9, 3.4), (3.2, 2.9), (4.1, 1.5), (5.6, 1.1), (7.0, 1.9)],
    *[(7.7, 3.0), (8.4, 3.5), (9.0, 2.7), (9.6, 1.6), (11.4, 0.9), (12.6, 1.7), (13.9, 1.5)],
    *[(15.2, 2.4), (15.4, 3.8), (16.8, 4.9), (16.6, 5.8), (15.2, 6.2), (14.3, 7.2), (15.0, 8.1)],
    *[(16.3, 8.6), (17.2, 9.9), (16.3, 11.4), (16.0, 12.9), (14.6, 13.6), (14.6, 15.2)],
    *[(13.0, 16.0), (11.6, 15.2), (10.6, 15.7), (9.9, 17.1), (8.4, 16.9), (7.8, 15.7)],
    *[(6.8, 16.3), (5.3, 17.0), (4.4, 16.0), (3.7, 14.5), (2.9, 14.3), (2.1, 14.7)],
    *[(1.1, 13.3), (1.8, 12.0), (2.1, 11.2), (1.0, 10.2), (1.1, 8.9), (2.0, 8.1)],
]

RIDGES: Final[list[tuple[float, Line]]] = [
    # half-width in km, then (east, north, strength)
    (1.5, [(6.6, 12.2, 0.6), (7.6, 12.9, 0.65), (8.9, 12.6, 1.3), (10.3, 12.2, 1.05)]),
    (1.5, [(10.3, 12.2, 1.05), (11.6, 12.0, 0.75), (13.2, 11.2, 0.65), (14.8, 10.4, 0.45)]),
    (1.1, [(8.9, 12.6, 0.9), (9.3, 14.2, 0.7), (9.0, 15.4, 0.35)]),
    (1.1, [(11.6, 12.0, 0.5), (12.5, 13.6, 0.7), (12.8, 14.8, 0.4)]),
    (1.1, [(7.6, 12.9, 0.5), (6.4, 14.3, 0.5), (5.9, 15.4, 0.35)]),
    (1.15, [(2.9, 12.0, 0.4), (3.6, 11.0, 0.5), (3.9, 9.9, 0.52), (3.6, 8.7, 0.45)]),
    (1.15, [(3.6, 8.7, 0.45), (3.9, 7.3, 0.48), (4.7, 6.3, 0.42)]),
    (0.8, [(3.9, 9.9, 0.4), (4.9, 9.5, 0.5)]),
    (1.2, [(4.0, 5.2, 0.5), (5.2, 4.6, 0.75), (6.4, 4.6, 0.65), (7.0, 3.4, 0.4)]),
    (1.25, [(9.6, 4.9, 0.5), (10.6, 4.4, 0.75), (12.0, 4.0, 0.8), (13.4, 4.3, 0.6)]),
    (1.25, [(13.4, 4.3, 0.6), (14.8, 4.6, 0.4)]),
    (0.9, [(12.0, 4.0, 0.6), (12.2, 2.8, 0.5)]),
    (0.5, [(10.2, 7.9, 1.15), (10.35, 8.0, 1.15)]),
    (0.4, [(10.3, 8.0, 0.6), (10.9, 8.5, 0.3)]),
    (0.4, [(10.3, 8.0, 0.6), (10.8, 7.4, 0.3)]),
]

VALLEYS: Final[list[Line]] = [
    # (east, north, half the width of slow ground in m)
    [(5.5, 11.0, 130), (6.1, 9.8, 260), (7.2, 9.0, 400), (8.8, 9.4, 350), (10.6, 9.35, 380)],
    [(10.6, 9.35, 380), (12.4, 8.5, 480), (13.6, 7.7, 500), (14.3, 7.3, 500)],
    [(5.9, 6.9, 120), (7.2, 7.1, 260), (8.6, 6.9, 330), (10.4, 6.4, 330), (12.0, 7.3, 380)],
    [(12.0, 7.3, 380), (13.0, 8.0, 420)],
    [(7.6, 8.9, 250), (8.3, 7.1, 250)],
    [(8.6, 8.6, 200), (9.7, 8.9, 250), (10.9, 9.1, 250)],
    [(5.5, 11.0, 130), (4.95, 12.1, 230), (4.2, 13.3, 370), (3.5, 14.1, 400), (3.2, 14.6, 350)],
    [(8.2, 6.2, 120), (8.0, 5.4, 200), (8.2, 4.4, 300), (8.4, 3.5, 340)],
]

LAKE: Final[Line] = [(6.1, 9.85, 190), (6.6, 9.5, 260), (7.1, 9.2, 200)]
"""(east, north, half its width in m): dug below the valley floor, then filled to its rim."""

CRAGS: Final[Line] = [
    # (east, north, radius in m, height of the crag's middle in m)
    (10.45, 7.8, 350, 430),
    (9.7, 13.05, 500, 700),
    (9.85, 11.5, 500, 640),
    (7.25, 12.95, 450, 540),
    (6.35, 12.0, 400, 500),
    (5.5, 5.05, 450, 500),
    (4.3, 9.6, 350, 480),
]


def map_places() -> tuple[Field, Field]:
    """East and north of each cell's centre, metres from the south-west corner."""
    along = (np.arange(CELLS) + 0.5) * CELL_M
    east, north = np.meshgrid(along, along[::-1])
    return east, north


def rough(dice: np.random.Generator, wave_m: float, power: float, finest_m: float = 50.0) -> Field:
    """Random relief of mean 0 and deviation 1, rough up to `wave_m`, smooth below `finest_m`."""
    frequency = np.fft.fftfreq(CELLS, CELL_M)
    squared = frequency[:, None] ** 2 + frequency[None, :] ** 2
    strength = (squared + wave_m**-2) ** (-power / 2) * np.exp(-squared * finest_m**2)
    white = np.fft.fft2(dice.standard_normal((CELLS, CELLS)))
    relief = np.fft.ifft2(white * strength).real
    return (relief - relief.mean()) / relief.std()


def along_line(east_m: Field, north_m: Field, line: Line) -> tuple[Field, list[Field]]:
    """Distance in metres to a line, and what its points carry, blended between its parts."""
    nearest = np.full(east_m.shape, np.inf)
    carried = [np.zeros(east_m.shape) for _ in line[0][2:]]
    total = np.zeros(east_m.shape)
    for (e0, n0, *start), (e1, n1, *end) in pairwise(line):
        run, rise = (e1 - e0) * 1e3, (n1 - n0) * 1e3
        part = ((east_m - e0 * 1e3) * run + (north_m - n0 * 1e3) * rise) / (run**2 + rise**2)
        part = np.clip(part, 0.0, 1.0)
        distance = np.hypot(east_m - e0 * 1e3 - part * run, north_m - n0 * 1e3 - part * rise)
        nearest = np.minimum(nearest, distance)
        weight = (distance + 60.0) ** -4.0
        total += weight
        for value, first, last in zip(carried, start, end, strict=True):
            value += weight * (first + part * (last - first))
    return nearest, [value / total for value in carried]


def dry_land(east_m: Field, north_m: Field) -> Mask:
    """Cells on the main island, its coast drawn through bent coordinates."""
    outline = shapely.Polygon(np.array(COAST) * 1e3).buffer(250).buffer(-250)
    inside = shapely.contains_xy(outline, east_m.ravel(), north_m.ravel()).reshape(east_m.shape)
    islands, _ = label(inside)
    return np.asarray(islands == 1 + np.argmax(np.bincount(islands.ravel())[1:]))


def inland_m(dry: Mask) -> Field:
    """Distance from the coast of each cell of land, metres; 0 at sea."""
    return np.asarray(distance_transform_edt(dry) * CELL_M)


def uplift(east_m: Field, north_m: Field, dry: Mask) -> Field:
    """How strongly each cell rises: along the ridges most, in the valleys and by the sea least."""
    ridges = np.zeros(east_m.shape)
    for width_km, line in RIDGES:
        distance, (strength,) = along_line(east_m, north_m, line)
        ridges += (strength * np.exp(-((distance / (width_km * 1e3)) ** 1.6))) ** 3
    beside = np.full(east_m.shape, np.inf)
    for line in VALLEYS:
        distance, (half_m,) = along_line(east_m, north_m, line)
        beside = np.minimum(beside, np.maximum(distance - 0.6 * half_m, 0.0))
    rising = (ridges ** (0.7 / 3) + 0.17) * (1.0 - 0.35 * np.exp(-((beside / 350.0) ** 2)))
    return rising * np.clip(inland_m(dry) / 1300.0, 0.02, 1.0) ** 0.8
