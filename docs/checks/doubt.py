"""What ± means, tried: the spread of a moment where every input is drawn at random."""

from __future__ import annotations

from collections.abc import Iterator

from docs.checks.check import Check, Row, numbers
from tests.drawn_doubts import CAUSES, DRAWS, SLANTS, drawn_parts, drawn_together

_SURE = "How sure a time is"


def checks() -> Iterator[Check]:
    """All checks of the ±."""
    yield from (_together(), _parts())


def _together() -> Check:
    rows = []
    for slant in SLANTS:
        found, sloped = drawn_together(slant), _sloped(slant)
        seconds = {f"first appearance, skyline {sloped}, s": (found.drawn_s, found.told_s)}
        degrees = {f"its azimuth, skyline {sloped}, °": (found.drawn_deg, found.told_deg)}
        rows += numbers(seconds, 1) + numbers(degrees, 3)
    but = (
        f"Not a table but chance: {DRAWS} draws (seeded) of the heights, the spot, and both "
        "refractions, the sun by another program. Published stands for one standard deviation of "
        "what the draws give, ours for the ± that is told."
    )
    return Check("The ± against draws", _SURE, "", (), "in each row's unit", 2, rows, but)


def _parts() -> Check:
    rows = []
    for slant in (0.0, -0.25):
        for causes in CAUSES:
            for part in drawn_parts(slant, causes):
                cause = "all" if " " in causes else causes
                what = f"{part.moment}, {cause}, skyline {_sloped(slant)}"
                off = part.told_s - part.drawn_s
                rows.append(Row(what, f"{part.drawn_s:.1f}", f"{part.told_s:.1f}", off))
    but = "The same for each cause by itself, and for the moment at which all of the disc is clear."
    return Check("Each part of the ± against draws", _SURE, "", (), "s", 1, rows, but)


def _sloped(slant: float) -> str:
    if slant == 0.0:
        return "level"
    return f"{'rising' if slant > 0 else 'falling'} {abs(slant):g}° a degree"
