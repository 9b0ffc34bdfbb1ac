"""What is said of sheets that do not fit one another."""

from __future__ import annotations

from collections.abc import Sequence

from terrain.errors import TerrainError
from terrain.ground.grid import Grid
from terrain.ground.raster.mosaic import holds
from terrain.ground.raster.seams import Seam
from terrain.ground.raster.sheet import Sheet


def doubts_of(sheet: Sheet, laid: Sequence[Sheet], grid: Grid, seams: Sequence[Seam]) -> list[str]:
    """A sentence for each of the sheets laid before that another does not fit, on the worst place.

    TerrainError where the one is in feet, by its heights, and not everybody said units.
    """
    worst: dict[int, Seam] = {}
    for seam in seams:
        under = [at for at, other in enumerate(laid) if holds(grid, other.placing, *seam.cell)]
        if under:
            # where both know the ground, no slope need be guessed
            worst[under[0]] = max(
                seam, worst.get(under[0], seam), key=lambda one: (one.overlaps, one.apart_m)
            )
    for at, seam in worst.items():
        _ask_for_feet(sheet, laid[at], seam)
    return [_sentence(sheet, laid[at], grid, seam) for at, seam in worst.items()]


def _ask_for_feet(sheet: Sheet, other: Sheet, seam: Seam) -> None:
    if seam.is_foot and None in (sheet.height_unit, other.height_unit):
        high, low = (sheet, other) if seam.ratio > 1.0 else (other, sheet)
        raise TerrainError(
            f"{high.name} reads {max(seam.ratio, 1.0 / seam.ratio):.2f} times as high as "
            f"{low.name} where they meet: is one in feet? let each file say the unit of its band, "
            "or leave one out"
        )


def _sentence(sheet: Sheet, other: Sheet, grid: Grid, seam: Seam) -> str:
    lon, lat = (float(part) for part in grid.lonlat(*seam.cell))
    return (
        f"{sheet.name} and {other.name} do not fit where they meet: heights there are up to "
        f"{seam.apart_m:.0f} m apart, the most at {lat:.4f}, {lon:.4f}"
    )
