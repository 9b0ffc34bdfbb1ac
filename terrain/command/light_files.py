"""What `terrain light` found on one morning, and the files it writes of it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from terrain.errors import NoAnswer, TerrainError

if TYPE_CHECKING:
    from collections.abc import Callable

    import pandas as pd

    from terrain.command.area import Place
    from terrain.command.save import Endings
    from terrain.ground.dem import Dem
    from terrain.light.arrival import Arrival
    from terrain.light.valleys import Valley
    from terrain.mist.mist import Mist
    from terrain.show.map.extent import Frame

__all__ = ["LINES", "SHARES", "Morning", "write_files"]

LINES: Final = (".gpkg", ".geojson")
SHARES: Final = (".csv",)

_STEPS_MIN: Final = (1.0, 2.0, 5.0, 10.0, 15.0, 20.0, 30.0, 60.0)
_MOST_CONTOURS, _MOST_FRAMES = 24, 200
_SHARES_EVERY_MIN: Final = 5.0
_DISC_WORDS: Final = {
    "any": "any part of the disc",
    "half": "half of the disc",
    "full": "all of the disc",
}


@dataclass(frozen=True, kw_only=True)
class Morning:
    """The light of one morning on some ground, and what is to be shown of it.

    around, across_m: the place in the middle of the pictures and how far round it they reach;
    unless both are given, the valleys are shown, or else all the ground.
    """

    area_name: str
    dem: Dem
    mist: Mist | None
    arrival: Arrival
    valleys: tuple[Valley, ...]
    disc: str
    around: Place | None
    across_m: float | None

    @property
    def disc_words(self) -> str:
        """How much of the sun counts."""
        return _DISC_WORDS[self.disc]

    @property
    def day_words(self) -> str:
        """The date as one writes it."""
        return f"{self.arrival.day.day} {self.arrival.day:%B %Y}"

    @cached_property
    def zone(self) -> str:
        """The zone of the clock, by its letters or its distance from UTC."""
        noon = self.arrival.moment(43200.0)
        name = noon.tzname() or ""
        hours = (noon.utcoffset() or dt.timedelta()).total_seconds() / 3600.0
        return name if name.isalpha() else f"UTC{hours:+g}"

    @cached_property
    def everywhere(self) -> tuple[Valley, ...]:
        """The valleys, and after them all ground, or all mist and all ground clear of it."""
        import numpy as np

        from terrain.light.valleys import Valley

        known = ~np.isnan(self.dem.heights_m)
        whole = {"all ground": known}
        if self.mist is not None:
            covers = self.mist.covers
            whole = {"all mist": covers, "all clear ground": known & ~covers}
        rest = [Valley(name=name, grid=self.dem.grid, cells=cells) for name, cells in whole.items()]
        return (*self.valleys, *rest)

    @cached_property
    def table(self) -> pd.DataFrame:
        """When each is lit, as `terrain.valley_times` has it."""
        from terrain.light.valleys import valley_times

        return valley_times(self.arrival, self.everywhere)

    @cached_property
    def frame_m(self) -> Frame:
        """What the pictures show, in map coordinates."""
        from terrain.show.map.extent import map_places
        from terrain.show.map.light_ground import frame_of

        if self.around is None or self.across_m is None:
            return frame_of(self.dem, self.valleys)
        if not self.across_m > 0.0:
            raise TerrainError(f"a map that reaches {self.across_m / 1000.0:g} km is none")
        east, north = map_places(self.dem.grid, self.around.lon_deg, self.around.lat_deg)[0]
        turn, (rows, cols) = self.dem.transform, self.dem.shape
        return (
            max(float(east) - self.across_m, turn.c),
            min(float(east) + self.across_m, turn.c + turn.a * cols),
            max(float(north) - self.across_m, turn.f + turn.e * rows),
            min(float(north) + self.across_m, turn.f),
        )

    def times(self, every: float | None) -> list[dt.datetime]:
        """The clock times of the contours: at that step, or at one that suits the map."""
        from terrain.show.map.light_ground import cells_in

        shown = cells_in(self.dem, self.frame_m)
        steps = _STEPS_MIN if every is None else (every,)
        times: list[dt.datetime] = []
        for step in steps:
            times = self.arrival.clock_times(step, cells=shown)
            if len(times) <= _MOST_CONTOURS:
                break
        if not times:
            raise NoAnswer(
                f"the sun comes to no ground of the map on {self.day_words}: nothing to draw"
            )
        return times

    def left_out(self) -> Iterator[str]:
        """What the answer does not hold, a sentence each."""
        import numpy as np

        arrival = self.arrival
        void = np.isnan(arrival.surface.heights_m)
        unasked = ~arrival.is_known & ~void
        cell_km2 = self.dem.cell_m**2 / 1e6
        if unasked.any():
            yield (
                f"Not known when: {unasked.sum() * cell_km2:.1f} km², "
                f"{100.0 * unasked.sum() / (~void).sum():.2g} % of all, to which the sun comes "
                "over unknown ground alone."
            )
        yield arrival.left_out().sentence("the first sun")

    def fields(self) -> dict[str, Any]:
        """For scripts."""
        rows = [
            {"name": name, **{key: None if value != value else value for key, value in row.items()}}
            for name, row in self.table.iterrows()
        ]
        return {
            "date": self.arrival.day,
            "disc": self.disc,
            "mist_top_m": None if self.mist is None else self.mist.range_m[1],
            "valleys": rows,
        }


def write_files(files: list[Path], morning: Morning, every: float | None) -> None:
    """Write each file that was asked for; a picture brings the frames with it."""
    from terrain.command.save import PICTURE, RASTER, save_as

    writers: dict[Endings, Callable[[Path], None]] = {
        PICTURE: lambda path: _draw(morning, every, path),
        LINES: lambda path: _save_lines(morning, every, path),
        SHARES: lambda path: _save_shares(morning, every, path),
        RASTER: lambda path: _save_moments(morning, path),
    }
    if every is not None and any(path.suffix.lower() in PICTURE for path in files):
        _check_frames(morning, every)
    save_as(files, writers)


def _check_frames(morning: Morning, every: float) -> None:
    count = len(morning.times(every))
    if count > _MOST_FRAMES:
        raise TerrainError(
            f"a picture every {every:g} minutes makes {count} of them: ask for fewer than "
            f"{_MOST_FRAMES} by a wider step"
        )


def _draw(morning: Morning, every: float | None, path: Path) -> None:
    from terrain.show.files.export import save_picture
    from terrain.show.map.light import light_map_figure

    times = morning.times(every)
    contours = times[:: -(-len(times) // (2 * _MOST_CONTOURS))]
    step = (contours[1] - contours[0]).total_seconds() / 60.0 if len(contours) > 1 else 0.0
    day = morning.arrival.day
    coming = "when the sun comes"
    figure = light_map_figure(
        morning.dem,
        morning.arrival,
        contours,
        title=f"{morning.area_name}: {coming}" if morning.area_name else coming.capitalize(),
        subtitle=(
            f"{day:%A} {morning.day_words}, by the clock in {morning.zone}; "
            f"{morning.disc_words}, a line every {step:g} min"
        ),
        frame_m=morning.frame_m,
        mist=morning.mist,
        valleys=morning.valleys,
        table=morning.table.iloc[: len(morning.valleys)],
        notes=list(morning.left_out()),
    )
    save_picture(figure, path)
    if every is not None:
        _draw_frames(morning, times, path)


def _draw_frames(morning: Morning, times: list[dt.datetime], path: Path) -> None:
    from terrain.command.report import saved
    from terrain.show.files.export import save_picture
    from terrain.show.map.light_ground import lit_part
    from terrain.show.map.light_moment import light_frame

    part = lit_part(morning.arrival, morning.frame_m)
    title = f"{morning.area_name or 'The light'} on {morning.day_words}"
    for moment, name in zip(times, _names(times), strict=True):
        frame = path.with_name(f"{path.stem}-{name}{path.suffix}")
        figure = light_frame(
            morning.dem,
            morning.arrival,
            moment,
            title=title,
            frame_m=morning.frame_m,
            mist=morning.mist,
            valleys=morning.valleys,
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


def _save_lines(morning: Morning, every: float | None, path: Path) -> None:
    from terrain.show.files.export import save_table

    lines = morning.arrival.edges(morning.times(every))
    moments = list(lines["time"])
    clock = [f"{moment:%H:%M:%S}".removesuffix(":00") for moment in moments]
    texts = [moment.isoformat(timespec="seconds") for moment in moments]
    lines = lines.assign(time=texts)
    lines.insert(0, "clock", clock)
    save_table(lines, path, layer="first_light")


def _save_shares(morning: Morning, every: float | None, path: Path) -> None:
    from terrain.light.valleys import valley_shares
    from terrain.show.files.export import whole_file

    times = morning.arrival.clock_times(every or _SHARES_EVERY_MIN, share=1.0)
    shares = valley_shares(morning.arrival, morning.everywhere, times).round(4)
    shares.index = shares.index.map(lambda time: time.isoformat(timespec="seconds"))
    with whole_file(path) as partial:
        shares.to_csv(partial, index_label="time")


def _save_moments(morning: Morning, path: Path) -> None:
    import numpy as np

    from terrain.show.files.export import save_raster

    arrival = morning.arrival
    comes = np.isfinite(arrival.arrives_s)
    local = np.where(comes, arrival.arrives_s, np.nan)
    midnight = dt.datetime.combine(arrival.day, dt.time(), tzinfo=dt.UTC)
    ahead_h = (arrival.since.astimezone(dt.UTC) - midnight).total_seconds() / 3600.0
    state = np.select(
        [
            np.isnan(arrival.surface.heights_m),
            comes,
            np.isneginf(arrival.arrives_s),
            arrival.is_known,
        ],
        [np.nan, 0.0, 1.0, 2.0],
        3.0,
    )
    bands = {
        f"first sun, seconds after {arrival.since.isoformat(timespec='seconds')}": local,
        f"first sun, hours after {midnight:%Y-%m-%dT%H:%MZ}": local / 3600.0 + ahead_h,
        "azimuth of the sun then, degrees from true north": np.where(
            comes, arrival.azimuth_deg, np.nan
        ),
        "altitude of the ground it comes over, degrees": np.where(
            comes, arrival.altitude_deg, np.nan
        ),
        "0 the sun comes, 1 up all night, 2 no sun that day, 3 not known": state,
    }
    save_raster(bands, morning.dem.grid, path)
