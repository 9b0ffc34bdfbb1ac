"""The options of a mist of any kind, and the mist that they ask for over some ground."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import terrain
from terrain.command.area import Area
from terrain.command.bounds import DEPTH_M, HEIGHT_M, Bounds
from terrain.command.options import option
from terrain.command.report import aside
from terrain.errors import TerrainError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

_MOST_TOPS = 200

_SOURCE = (
    "Where the mist comes from, instead of everywhere; PLACE=M gives mist along valley floors its "
    "own depth there. May be given more than once."
)


def top_option(several: str, first: str = "--mist-top", other: str = "--top") -> Any:
    """The option of the mist's top: what several heights are for, and how it is written."""
    height = "Height of the mist's top, metres, or LOWEST:HIGHEST:STEP"
    return option("M", f"{height} {several}", first, other)


@dataclass(frozen=True, kw_only=True)
class MistOptions:
    """What a command line can say of a mist."""

    mist_top: str | None = top_option("where it is not known for sure.")
    mist_depth: float | None = option(
        "M",
        "In place of a level top: mist that lies so deep over the valley floors and "
        "slopes down with them, metres.",
        "--mist-depth",
        "--depth",
        above=0.0,
        most=9000.0,
    )
    mist_ceiling: float | None = option(
        "M",
        "Height that such mist never rises above (the inversion), metres.",
        "--mist-ceiling",
        "--ceiling",
        least=HEIGHT_M.least,
        most=HEIGHT_M.most,
    )
    source: list[str] | None = option("PLACE", _SOURCE, "--mist-from", shown=False)

    @property
    def words(self) -> list[str]:
        """The options as they are typed."""
        said = {
            "--mist-top": self.mist_top,
            "--mist-depth": self.mist_depth,
            "--mist-ceiling": self.mist_ceiling,
        }
        alone = [str(word) for key, one in said.items() if one is not None for word in (key, one)]
        return alone + [word for place in self.source or [] for word in ("--mist-from", place)]

    def over(self, area: Area, *, or_default: bool = True) -> MistAsked:
        """The mist that the options ask for, else that of the area's defaults, or none."""
        sources = tuple(_source(area, text) for text in self.source or ())
        has_own = any(source.depth_m is not None for source in sources)
        _check_kind(self, sources, has_own)
        if self.mist_depth is not None or has_own:
            return MistAsked(sources, depth_m=self.mist_depth, ceiling_m=self.mist_ceiling)
        default = area.defaults.get("mist_top_m") if or_default else None
        top = default if self.mist_top is None else self.mist_top
        return MistAsked(sources, tops_m=() if top is None else tops_of(str(top)))


@dataclass(frozen=True)
class Source:
    """Where a mist comes from, and how deep it lies there if that is said, metres."""

    spot: terrain.Spot
    depth_m: float | None


@dataclass(frozen=True)
class MistAsked:
    """A mist that is asked for: level with its top at one of some heights, or along the floors.

    sources: where it comes from, none for everywhere. tops_m: rising, none for mist along the
    valley floors, or for no mist at all. depth_m: over the floors, but for sources of their own
    depth. ceiling_m: what such mist never rises above. hollow_m: least depth of a hollow that level
    mist wells up in by itself, None for the usual one.
    """

    sources: tuple[Source, ...] = ()
    tops_m: tuple[float, ...] = ()
    depth_m: float | None = None
    ceiling_m: float | None = None
    hollow_m: float | None = None

    @property
    def seeds(self) -> list[terrain.Spot | terrain.Hill] | None:
        """The places that it comes from, None for everywhere."""
        return [source.spot for source in self.sources] or None

    @property
    def is_along_floors(self) -> bool:
        """Whether it lies along the valley floors."""
        own = any(source.depth_m is not None for source in self.sources)
        return self.depth_m is not None or own

    def levels_m(self, country: terrain.Country) -> NDArray[np.float32]:
        """The flood levels of level mist over some ground, (rows, cols) metres."""
        if self.hollow_m is not None:
            return terrain.flood_levels(country.dem, min_hollow_m=self.hollow_m)
        if self.seeds is not None:
            return terrain.flood_levels(country.dem, seeds=self.seeds)
        return country.levels_m

    def of(self, country: terrain.Country) -> terrain.Mist | terrain.MistRange | None:
        """The mist over some ground, with one top or with a range of them; None for none."""
        if self.is_along_floors:
            return self.along_floors(country.dem)
        if not self.tops_m:
            return None
        levels = self.levels_m(country)
        if len(self.tops_m) > 1:
            return terrain.mist_range(country.dem, self.tops_m, levels=levels)
        return terrain.level_mist(country.dem, self.tops_m[0], levels=levels)

    def laid_on(self, country: terrain.Country) -> terrain.Country:
        """The country under the mist, of a range under that hoped for: says so."""
        mist = self.of(country)
        if isinstance(mist, terrain.MistRange):
            top = f"the top hoped for, {mist.hoped_m:.0f} m"
            aside(f"of mist from {mist.label} this is about {top}")
            mist = mist.hoped
        return country.under(mist)

    def along_floors(self, dem: terrain.Dem) -> terrain.Mist:
        """The mist along the valley floors of some ground."""
        if all(source.depth_m is None for source in self.sources):
            depth_m = float(self.depth_m or 0.0)
            return terrain.valley_mist(dem, depth_m, ceiling_m=self.ceiling_m, seeds=self.seeds)
        depths: dict[terrain.Spot | terrain.Hill, float] = {
            source.spot: float(self.depth_m or 0.0) if source.depth_m is None else source.depth_m
            for source in self.sources
        }
        return terrain.valley_mist(dem, depths, ceiling_m=self.ceiling_m)


def tops_of(text: str) -> tuple[float, ...]:
    """Heights of mist from `300`, or from `LOWEST:HIGHEST:STEP` with both ends.

    >>> tops_of("250:300:25")
    (250.0, 275.0, 300.0)
    """
    try:
        parts = [float(part) for part in text.split(":")]
    except ValueError as error:
        raise TerrainError(
            f"{text[:60]!r} is not a height of mist: give 300, or 250:450:25"
        ) from error
    for height_m in parts[:2]:
        HEIGHT_M.check("the mist's top", height_m)
    if len(parts) == 1:
        return tuple(parts)
    if len(parts) != 3 or not parts[0] < parts[1]:
        raise TerrainError(f"{text[:60]!r} is not a range of heights: give LOWEST:HIGHEST:STEP")
    lowest, highest, step = parts
    Bounds(above=True, least=0.0, most=highest - lowest, unit="m").check("the step", step)
    # a step may be too small to divide by
    if step * _MOST_TOPS <= highest - lowest:
        raise TerrainError(f"{text[:60]!r} asks for more than {_MOST_TOPS} heights: widen the step")
    count = math.floor((highest - lowest) / step + 1e-9) + 1
    return tuple(lowest + step * number for number in range(count))


def trees_of(text: str) -> tuple[float, float]:
    """How high trees are, metres, from `LOW:HIGH`.

    >>> trees_of("5:15")
    (5.0, 15.0)
    """
    from terrain.mist.trees import checked_trees

    try:
        low_m, high_m = (float(part) for part in text.split(":"))
    except ValueError as error:
        raise TerrainError(f"{text!r} are no heights of trees: give LOW:HIGH, as 5:15") from error
    return checked_trees((low_m, high_m))


def _source(area: Area, text: str) -> Source:
    """A source from `PLACE`, or from `PLACE=M` with a depth of its own, metres."""
    place, equals, depth = text.rpartition("=")
    if not equals:
        return Source(area.spot(text), None)
    try:
        depth_m = float(depth)
    except ValueError as error:
        raise TerrainError(
            f"{text[:60]!r} gives no depth after the =: write PLACE=METRES"
        ) from error
    return Source(area.spot(place), DEPTH_M.check(f"the depth of {place[:60]}", depth_m))


def _check_kind(options: MistOptions, sources: tuple[Source, ...], has_own: bool) -> None:
    """TerrainError where options for a level mist and for one along valley floors are mixed."""
    top, depth_m, ceiling_m = options.mist_top, options.mist_depth, options.mist_ceiling
    if top is not None and (depth_m is not None or has_own):
        deep = "but a depth after = is" if depth_m is None else f"--mist-depth {depth_m:g}"
        raise TerrainError(
            f"--mist-top {top} asks for level mist, {deep} for mist along the valley floors: give "
            "one of the two"
        )
    if ceiling_m is not None and depth_m is None and not has_own:
        raise TerrainError(
            f"--mist-ceiling {ceiling_m:g} is a lid on mist along the valley floors: add "
            "--mist-depth, or give the height as --mist-top"
        )
    bare = next((source.spot for source in sources if source.depth_m is None), None)
    if has_own and bare is not None and depth_m is None:
        place = bare.name or f"{bare.lat_deg:g},{bare.lon_deg:g}"
        raise TerrainError(
            f"{place} has no depth: write {place}=M, or add --mist-depth for places without one"
        )
