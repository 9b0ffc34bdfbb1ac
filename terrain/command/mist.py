"""`terrain mist`: which summits stand above a mist, and as what islands."""

from __future__ import annotations

from dataclasses import dataclass, replace

from terrain.command.area import Area
from terrain.command.mist_asked import MistAsked, MistOptions, top_option, trees_of
from terrain.command.options import Asked, Count, Hollow, Names, Near, Prominence, Trees, option
from terrain.command.report import progress
from terrain.command.room import MIST
from terrain.command.saves import PICTURE, RASTER, TABLE
from terrain.errors import TerrainError


@dataclass(frozen=True, kw_only=True)
class _MistOptions(MistOptions):
    """The options of a mist that may be shown as it rises."""

    mist_top: str | None = top_option("for several.", "--top", "--mist-top")
    hollow: Hollow = None

    def over(self, area: Area, *, or_default: bool = True) -> MistAsked:
        """The mist that the options ask for, refused where they ask for none."""
        asked = replace(super().over(area, or_default=or_default), hollow_m=self.hollow)
        if not (asked.tops_m or asked.is_along_floors):
            raise TerrainError(
                "no mist was given: add --top with the height of its top, or --depth with its "
                "depth over the valley floors, in metres"
            )
        if self.hollow is not None and (asked.sources or asked.is_along_floors):
            other = "--mist-from" if asked.sources else "--mist-depth"
            raise TerrainError(
                f"--hollow {self.hollow:g} says where level mist wells up by itself, which it does "
                f"not with {other}: leave out one of the two"
            )
        return asked


def mist(
    *,
    mist: _MistOptions,
    trees: Trees = "5:15",
    spot: str | None = option(
        "PLACE",
        "Where you would stand: adds the width of the mist between its island and that "
        "of each summit.",
    ),
    near: Near = None,
    prominence: Prominence = 30.0,
    names: Names = None,
    count: Count = 25,
    asked: Asked,
) -> None:
    """Fill the valleys with mist and list the summits that stand clear of it.

    Level mist to a height (--top), or mist that slopes down with the valley floors (--depth).
    Saves a map (.png, .jpg, .webp, .svg, .pdf), the islands (.gpkg, there with the mist's outline
    and where it pours over passes, .geojson, .csv), or the mist as a raster (.tif: its top and its
    depth).
    """
    from terrain.command.mist_case import MistCase
    from terrain.command.mist_report import show_mist
    from terrain.command.mist_sweep import show_sweep

    asked.check_saves(PICTURE, TABLE, RASTER)
    area = asked.area(names, MIST)
    over, trees_m = mist.over(area), trees_of(trees)
    around = None if near is None else area.spot(near)
    camera = None if spot is None else area.spot(spot)
    with progress("reading the ground", quiet=asked.as_json) as done:
        country = area.country(around, progress=lambda share: done(0.3 * share))
        summits = country.summits(min_prominence_m=prominence, names=area.summits)
    case = MistCase(
        area=area,
        country=country,
        summits=summits,
        wanted=over,
        spot=camera,
        least_pass_m=prominence,
        trees_m=trees_m,
    )
    show = show_sweep if len(over.tops_m) > 1 else show_mist
    show(case, count, asked)
