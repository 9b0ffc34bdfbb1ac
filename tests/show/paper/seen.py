"""Which colours lie beside each other, and how readers see them."""

from __future__ import annotations

import numpy as np
from matplotlib.colors import to_hex, to_rgb

from terrain.show.paper import palette

# things that lie beside each other and must not be taken for one another
NEIGHBOURS = [
    (palette.SUN, palette.SKY_LOW),
    (palette.SUN, palette.SUN_GLOW),
    (palette.SHORE, palette.MIST),
    (palette.SHORE, palette.GROUND(0.5)),
    (palette.HILL, palette.INK),
    (palette.INK, palette.PAPER),
    (palette.PATH, palette.MIST),
    (palette.PATH, palette.GROUND(0.9)),
    (palette.RIDGE_NEAR, palette.MIST_DEEP),
    (palette.RIDGE_NEAR, palette.SKY_LOW),
]


def linear(colour: object) -> np.ndarray:
    channel = np.array(to_rgb(colour))
    return np.where(channel <= 0.04045, channel / 12.92, ((channel + 0.055) / 1.055) ** 2.4)


def contrast(first: object, second: object) -> float:
    low, high = sorted(linear(c) @ [0.2126, 0.7152, 0.0722] for c in (first, second))
    return float((high + 0.05) / (low + 0.05))


def as_seen(colour: object, matrix: tuple[tuple[float, ...], ...]) -> str:
    seen = np.clip(np.array(matrix) @ linear(colour), 0.0, 1.0)
    encoded = np.where(seen <= 0.0031308, 12.92 * seen, 1.055 * seen ** (1 / 2.4) - 0.055)
    return to_hex(np.clip(encoded, 0.0, 1.0))
