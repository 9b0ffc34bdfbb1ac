"""The files that `terrain light` writes of one morning."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Final

import terrain
from terrain.command.light_shown import MOST_CONTOURS, LightShown
from terrain.command.report import saved
from terrain.command.save import PICTURE, RASTER, layers, raster, save_as
from terrain.errors import TerrainError

if TYPE_CHECKING:
    import geopandas as gpd

__all__ = ["LINES", "SHARES", "write_files"]

LINES: Final = (".gpkg", ".geojson")
SHARES: Final = (".csv",)

_MOST_FRAMES: Final = 200
_SHARES_EVERY_MIN: Final = 5.0


def write_files(files: list[Path], shown: LightShown, every: float | None) -> None:
    """Write each file that was asked for; a picture brings the frames with it."""
    if every is not None and any(path.suffix.lower() in PICTURE for path in files):
        _check_frames(shown, every)
    save_as(
        files,
        {
            PICTURE: lambda path: _draw(shown, every, path),
            LINES: layers(lambda: {"first_light": _lines(shown, every)}),
            SHARES: lambda path: _save_shares(shown, every, path),
            RASTER: raster(shown.arrival.bands, shown.dem.grid),
        },
    )


def _check_frames(shown: LightShown, every: float) -> None:
    count = len(shown.times(every))
    if count > _MOST_FRAMES:
        raise TerrainError(
            f"a picture every {every:g} minutes makes {count} of them: ask for fewer than "
            f"{_MOST_FRAMES} by a wider step"
        )


def _draw(shown: LightShown, every: float | None, path: Path) -> None:
    from terrain.show.files.export import save_picture
    from terrain.show.map.light import light_map_figure

    times = shown.times(every)
    contours = times[:: -(-len(times) // (2 * MOST_CONTOURS))]
    step = (contours[1] - contours[0]).total_seconds() / 60.0 if len(contours) > 1 else 0.0
    day = shown.arrival.day
    coming = "when the sun comes"
    figure = light_map_figure(
        shown.dem,
        shown.arrival,
        contours,
        title=f"{shown.area_name}: {coming}" if shown.area_name else coming.capitalize(),
        subtitle=(
            f"{day:%A} {shown.day_words}, by the clock in {shown.zone}; "
            f"{shown.disc_words}, a line every {step:g} min"
        ),
        frame_m=shown.frame_m,
        mist=shown.mist,
        valleys=shown.valleys,
        table=shown.table.iloc[: len(shown.valleys)],
        notes=list(shown.left_out()),
    )
    save_picture(figure, path)
    if every is not None:
        _draw_frames(shown, times, path)


def _draw_frames(shown: LightShown, times: list[dt.datetime], path: Path) -> None:
    from terrain.show.files.export import save_picture
    from terrain.show.map.light_ground import lit_part
    from terrain.show.map.light_moment import light_frame

    part = lit_part(shown.arrival, shown.frame_m)
    title = f"{shown.area_name or 'The light'} on {shown.day_words}"
    for moment, name in zip(times, _names(times), strict=True):
        frame = path.with_name(f"{path.stem}-{name}{path.suffix}")
        figure = light_frame(
            shown.dem,
            shown.arrival,
            moment,
            title=title,
            frame_m=shown.frame_m,
            mist=shown.mist,
            valleys=shown.valleys,
            light=part,
        )
        save_picture(figure, frame)
        saved(frame)


def _names(times: list[dt.datetime]) -> list[str]:
    """A name for each time by its clock, with seconds or the zone where it takes that.

    >>> _names([dt.datetime(2026, 10, 13, 6, 40, tzinfo=dt.UTC)])
    ['0640']
    """
    for pattern in ("%H%M", "%H%M%S"):
        names = [f"{time:{pattern}}" for time in times]
        if len(set(names)) == len(names):
            return names
    # clocks that are put back show an hour twice
    return [f"{time:%H%M%S%z}" for time in times]


def _lines(shown: LightShown, every: float | None) -> gpd.GeoDataFrame:
    lines = shown.arrival.edges(shown.times(every))
    moments = list(lines["time"])
    clock = [f"{moment:%H:%M:%S}".removesuffix(":00") for moment in moments]
    texts = [moment.isoformat(timespec="seconds") for moment in moments]
    lines = lines.assign(time=texts)
    lines.insert(0, "clock", clock)
    return lines


def _save_shares(shown: LightShown, every: float | None, path: Path) -> None:
    from terrain.show.files.export import whole_file

    times = shown.arrival.clock_times(every or _SHARES_EVERY_MIN, share=1.0)
    shares = terrain.valley_shares(shown.arrival, shown.everywhere, times).round(4)
    shares.index = shares.index.map(lambda time: time.isoformat(timespec="seconds"))
    with whole_file(path) as partial:
        shares.to_csv(partial, index_label="time")
