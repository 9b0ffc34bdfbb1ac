"""Where to stand: places that see a hill clear of the mist with the sun coming up behind it.

The cells of the tile are sifted (`terrain.vantage.candidates`), scored (`criteria`), and the best
of them, spread out, looked at again with nothing left out (`backlight`).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping, Sequence

import geopandas as gpd
import pandas as pd

from terrain.constants import TERRESTRIAL_REFRACTION
from terrain.errors import NoAnswer, TerrainError
from terrain.ground.accuracy import Accuracy
from terrain.ground.dem import Dem
from terrain.ground.places import Hill, Spot
from terrain.mist.surface import Mist
from terrain.vantage.access import Access
from terrain.vantage.candidates import Limits, sift
from terrain.vantage.search import Row, answer_on, make_search, pick
from terrain.vantage.sun_line import sun_line
from terrain.vantage.tops import MistRange, Seas, sift_range
from terrain.view.backlight import Backlight
from terrain.view.scene import Scene, make_scene

__all__ = ["Limits", "find_vantages"]


def find_vantages(
    dem: Dem,
    hill: Hill,
    *,
    day: dt.date | None = None,
    year: int | None = None,
    mist: Mist | MistRange | None = None,
    starts: Sequence[Spot] | None = None,
    access: Access | None = None,
    passes: gpd.GeoDataFrame | None = None,
    limits: Limits | None = None,
    count: int = 10,
    weights: Mapping[str, float] | None = None,
    accuracy: Accuracy | None = None,
    refraction: float = TERRESTRIAL_REFRACTION,
    progress: Callable[[float], None] = lambda share: None,
) -> gpd.GeoDataFrame:
    """Vantages from which the sun first appears behind a hill, best first.

    dem: ground that holds the hill and the country round it. day: the date at the hill; or else
    year: the calendar year, and every vantage comes with its best day (see
    `terrain.vantage.year` for its further columns). mist: lies over the ground; without
    it any height will do; its top may be a range (see `mist_range`). starts: where a walk can
    begin; the nearest is named for each vantage. access: how far one will walk from a start;
    places farther off are left out. passes: as `terrain.passes` gives them for this ground, to be
    told which of them mist is seen to pour over. limits: what a vantage must keep to. count: how
    many, at most. weights: of the criteria, by name. progress: called with the share done, 0 to 1.

    Returns one row a vantage (points, EPSG:4326): its height, `appears` and `clears` (aware
    datetimes), what `check_backlight` found, and for each criterion of `terrain.vantage.criteria`
    its value and its score, with `score` over all. Every row has been looked at in full. Further

    - with a mist, of the view within 8 degrees of the summit, to the sides and up and down:
      `mist_share`, of mist in what is seen of ground and mist, as areas in the view;
      `islands_in_view`, how many others than its own show 0.02 square degrees or more; and with
      passes `pours_in_view`, how many the mist is seen to pour over, `pours_over`, which
    - with a range of tops: `mist_top_m`, the top that all the rest of the row is about: the one
      hoped for, or the nearest to it at which the place works; `mist_from_m` and `mist_to_m`, the
      lowest and the highest top about it at which it works, and `mist_band_m` from one to the
      other. It works at a top if it keeps to the limits, the sun appears behind the hill, and 1 %
      of what is seen is mist
    - with starts: `start`, the nearest, and `start_m`, how far that is as the crow flies; with
      access `start` is the one from which the walk in is quickest and `walk_min` its minutes by
      the clock, so as to be in place before the colour begins; `attrs["starts_left_out"]` says
      at which starts no walk begins, and why

    Raises NoAnswer, with what was lacking, where there is none; NoSun where the sun does not
    rise; TerrainError for limits, weights or access that make no sense.
    """
    if year is not None and day is None:
        # it builds on what this module does
        from terrain.vantage.year import find_year_vantages

        return find_year_vantages(
            dem,
            hill,
            year=year,
            mist=mist,
            starts=starts,
            access=access,
            passes=passes,
            limits=limits,
            count=count,
            weights=weights,
            accuracy=accuracy,
            refraction=refraction,
            progress=progress,
        )
    if day is None or year is not None:
        raise TerrainError("vantages are for a day or for a year: give one of the two")
    search = make_search(
        dem,
        hill,
        make_scene,
        mist=mist,
        starts=starts,
        access=access,
        passes=passes,
        limits=limits,
        count=count,
        weights=weights,
        accuracy=accuracy,
        refraction=refraction,
    )
    limits, sea, line = search.limits, search.sea, sun_line(day, dem, hill)
    sifted = (
        sift_range(sea, line, limits) if isinstance(sea, Seas) else sift(sea.scene, line, limits)
    )
    sifted = search.within(sifted, [day])
    progress(0.3)

    def best(scene: Scene, cell: pd.Series) -> tuple[Row, Backlight] | None:
        answer = answer_on(scene, search.spot_of(cell), day, limits, accuracy)
        return None if answer is None else ({}, answer)

    def take(cell: pd.Series) -> Row | None:
        return search.row(cell, best)

    found = pick(search.ranked(sifted), dem.cell_m, limits, count, take, progress)
    if not found:
        raise NoAnswer(
            f"none of the likeliest of {len(sifted)} places that promised it has, in a full look, "
            f"the sun appear within {limits.tolerance_deg} degrees of {hill.label} on {day} by a "
            f"sure margin{search.also}: try another date"
        )
    return search.table(found)
