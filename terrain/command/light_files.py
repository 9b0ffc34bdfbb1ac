"""What `terrain light` found on one morning, and the files it writes of it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import terrain
from terrain.command.report import saved
from terrain.command.save import PICTURE, RASTER, layers, raster, save_as
from terrain.errors import TerrainError

if TYPE_CHECKING:
    import geopandas as gpd
    import pandas as pd

    from terrain.show.map.light_pages import LightPages

__all__ = ["LINES", "SHARES", "LightFound", "write_files"]

LINES: Final = (".gpkg", ".geojson")
SHARES: Final = (".csv",)

_MOST_FRAMES: Final = 200
_SHARES_EVERY_MIN: Final = 5.0


@dataclass(frozen=True, kw_only=True)
class LightFound:
    """When the sun comes on one morning, to some valleys and to all the ground."""

    arrival: terrain.Arrival
    valleys: tuple[terrain.Valley, ...]
    ground: Sequence[terrain.Valley]

    @cached_property
    def table(self) -> pd.DataFrame:
        """When each is lit, as `terrain.valley_times` has it."""
        return terrain.valley_times(self.arrival, (*self.valleys, *self.ground))

    @property
    def rows(self) -> list[dict[str, Any]]:
        """The rows of the table, each with its name."""
        return [{"name": str(name), **row} for name, row in self.table.iterrows()]

    def left_out(self) -> Iterator[str]:
        """What the answer does not hold, a sentence each."""
        area_km2, share = self.arrival.unknown()
        if area_km2:
            yield (
                f"Not known when: {area_km2:.1f} km², {100.0 * share:.2g} % of all, to which the "
                "sun comes over unknown ground alone."
            )
        yield self.arrival.left_out().sentence("the first sun")


def write_files(files: list[Path], found: LightFound, pages: LightPages, disc_words: str) -> None:
    """Write each file that was asked for; a picture brings that of each time with it."""
    if any(path.suffix.lower() in PICTURE for path in files):
        _check_frames(pages)
    save_as(
        files,
        {
            PICTURE: lambda path: _draw(found, pages, disc_words, path),
            LINES: layers(lambda: {"first_light": _lines(pages)}),
            SHARES: lambda path: _save_shares(found, pages.every_min, path),
            RASTER: raster(found.arrival.bands, found.arrival.grid),
        },
    )


def _check_frames(pages: LightPages) -> None:
    if pages.every_min is not None and len(pages.times) > _MOST_FRAMES:
        raise TerrainError(
            f"a picture every {pages.every_min:g} minutes makes {len(pages.times)} of them: ask "
            f"for fewer than {_MOST_FRAMES} by a wider step"
        )


def _draw(found: LightFound, pages: LightPages, disc_words: str, path: Path) -> None:
    from terrain.show.files.export import save_picture

    valleys = found.table.iloc[: len(found.valleys)]
    save_picture(pages.contours(valleys, disc_words, list(found.left_out())), path)
    if pages.every_min is None:
        return
    for name, figure in pages.moments():
        frame = path.with_name(f"{path.stem}-{name}{path.suffix}")
        save_picture(figure, frame)
        saved(frame)


def _lines(pages: LightPages) -> gpd.GeoDataFrame:
    lines = pages.arrival.edges(pages.times)
    moments = list(lines["time"])
    clock = [f"{moment:%H:%M:%S}".removesuffix(":00") for moment in moments]
    texts = [moment.isoformat(timespec="seconds") for moment in moments]
    lines = lines.assign(time=texts)
    lines.insert(0, "clock", clock)
    return lines


def _save_shares(found: LightFound, every: float | None, path: Path) -> None:
    from terrain.show.files.export import whole_file

    times = found.arrival.clock_times(every or _SHARES_EVERY_MIN, share=1.0)
    everywhere = (*found.valleys, *found.ground)
    shares = terrain.valley_shares(found.arrival, everywhere, times).round(4)
    shares.index = shares.index.map(lambda time: time.isoformat(timespec="seconds"))
    with whole_file(path) as partial:
        shares.to_csv(partial, index_label="time")
