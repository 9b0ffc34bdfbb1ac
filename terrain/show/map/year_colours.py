"""A colour for each date of the year.

::

               Jun                     lightness says how far the sun is from the December
           .-''   ''-.                 solstice, hue on which of its two ways it is: so each map
     Mar  /           \\  Sep          can be read in grey, and the two are told apart by anyone
          \\           /               who tells blue from orange, as nearly everybody can
           '-._   _.-'
               Dec
"""

from __future__ import annotations

from typing import Final

import numpy as np
from matplotlib.colors import LinearSegmentedColormap
from numpy.typing import ArrayLike

from terrain.arrays import Floats

YEAR_RING: Final = LinearSegmentedColormap.from_list(
    "year ring",
    [
        (0.0, "#2b1f3b"),
        (0.125, "#27457e"),
        (0.25, "#2f75ad"),
        (0.375, "#62aecb"),
        (0.44, "#a4d6bd"),
        (0.5, "#fbe68c"),
        (0.56, "#f4c064"),
        (0.625, "#e5974a"),
        (0.75, "#b85a2b"),
        (0.875, "#752c33"),
        (1.0, "#2b1f3b"),
    ],
    N=730,
)
"""Colour of the date, from one December solstice (0) over that of June (1/2) to the next (1)."""

_DECEMBER, _JUNE = 355.0, 172.0  # days of the year of the solstices, to a day either way


def ring_place(day_of_year: ArrayLike, year_days: int = 365) -> Floats:
    """Where on the ring of the year days lie, 0 to 1, any shape; NaN stays NaN.

    >>> ring_place([355, 172, 80]).round(2).tolist()
    [0.0, 0.5, 0.25]
    """
    day = np.asarray(day_of_year, dtype=float)
    since = np.mod(day - _DECEMBER, year_days)
    north = _JUNE - _DECEMBER + year_days
    return np.where(
        since <= north, 0.5 * since / north, 0.5 + 0.5 * (since - north) / (year_days - north)
    )
