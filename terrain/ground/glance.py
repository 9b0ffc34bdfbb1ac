"""What a notebook shows of an object: a few words, and a small picture that needs no other file."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from html import escape
from io import BytesIO
from typing import Final

import numpy as np
from numpy.typing import NDArray

from terrain.arrays import Flags, Floats

_MOST_PIXELS: Final = 320
_WIDTH: Final = 480
_HEIGHT: Final = 120
_GREYS: Final = (70.0, 245.0)
_MIST: Final = 252.0


def picture_of(heights: NDArray[np.floating], mist: Flags | None = None) -> str:
    """An image of heights (rows, cols), lit from the north-west and paler with height, as HTML.

    mist: where a pale cover lies on it. Unknown cells are left clear.
    """
    from PIL import Image

    step = max(1, -(-max(heights.shape) // _MOST_PIXELS))
    small = np.asarray(heights[::step, ::step], dtype=float)
    known = np.isfinite(small)
    grey = _shaded(np.where(known, small, np.nanmin(small) if known.any() else 0.0))
    if mist is not None:
        grey = np.where(mist[::step, ::step], 0.25 * grey + 0.75 * _MIST, grey)
    layers = np.stack([grey.astype(np.uint8), np.where(known, 255, 0).astype(np.uint8)], axis=-1)
    made = BytesIO()
    Image.fromarray(layers, "LA").save(made, "PNG")
    data = base64.b64encode(made.getvalue()).decode("ascii")
    return f'<img alt="" src="data:image/png;base64,{data}" style="max-width: 100%">'


def _shaded(heights: Floats) -> Floats:
    darkest, palest = _GREYS
    span = float(np.ptp(heights)) or 1.0
    level: Floats = (heights - heights.min()) / span
    falls: Floats = np.zeros_like(heights)
    if min(heights.shape) > 1:
        down, right = np.gradient(heights)
        steep = float(np.quantile(np.abs(down + right), 0.98)) or 1.0
        falls = np.asarray(np.clip((down + right) / steep, -1.0, 1.0))
    shaded: Floats = darkest + (palest - darkest) * (0.3 + 0.5 * level + 0.2 * falls)
    return np.clip(shaded, 0.0, 255.0)


def line_of(across: Floats, up: Floats) -> str:
    """A line as a drawing in HTML, filled below; where it is NaN there is none."""
    known = np.isfinite(up)
    if known.sum() < 2:
        return ""
    lowest, highest = float(up[known].min()), float(up[known].max())
    scale = _HEIGHT / max(highest - lowest, 1e-6)
    right = _WIDTH * (across - across[0]) / max(float(across[-1] - across[0]), 1e-6)
    points = " ".join(
        f"{x:.1f},{_HEIGHT - scale * (y - lowest):.1f}"
        for x, y in zip(right[known], up[known], strict=True)
    )
    return (
        f'<svg viewBox="0 -4 {_WIDTH} {_HEIGHT + 8}" width="{_WIDTH}" role="img">'
        f'<polygon points="0,{_HEIGHT} {points} {_WIDTH},{_HEIGHT}" fill="#8a8f94"/></svg>'
    )


def figure_of(words: str, picture: str, rows: Sequence[tuple[str, str]] = ()) -> str:
    """Words over a picture, and a table of things and what they are, as HTML."""
    cells = "".join(f"<tr><th>{escape(one)}</th><td>{escape(is_)}</td></tr>" for one, is_ in rows)
    listed = f"<table>{cells}</table>" if cells else ""
    return f"<figure><figcaption>{escape(words)}</figcaption>{picture}{listed}</figure>"
