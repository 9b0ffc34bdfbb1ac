"""All vantages of one hill with their dates, at both ends of the day."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import geopandas as gpd
import numpy as np
import pandas as pd

from terrain.country import Country
from terrain.errors import NoAnswer, NoGround, NoSun
from terrain.ground.dem import Dem
from terrain.ground.places import Hill
from terrain.ground.relief.summits import hill_in
from terrain.mist.level import AnyMist, level_mist, mist_range
from terrain.surveying.about import Surround
from terrain.surveying.question import SurveyQuestion
from terrain.vantage.search import hill_columns, search_for
from terrain.vantage.year import vantages_among

LeftOut = dict[str, str]
"""From the name of a hill to why it has no vantage."""

Told = Callable[[int], None]


def vantages_of_all(
    surround: Surround,
    hills: gpd.GeoDataFrame,
    question: SurveyQuestion,
    told: Told = lambda done: None,
) -> tuple[pd.DataFrame, LeftOut]:
    """The vantages of each of some hills, one under the other, and why the others have none.

    hills: rows of a table of summits. told: called with how many are done.
    """
    found: list[pd.DataFrame] = []
    left_out: LeftOut = {}
    for number in range(len(hills)):
        hill = _hill(hills, number, question)
        try:
            about = surround.about(hill, question.about_m, question.refraction)
            rows = vantages_of(about, hill, question)
        except (NoAnswer, NoGround) as error:
            left_out[hill.label] = str(error)
        else:
            also = {name: hills[name].iloc[number] for name in ("prominence_m", "bounded")}
            found.append(rows.assign(**also))
        told(number + 1)
    return (pd.concat(found, ignore_index=True) if found else pd.DataFrame()), left_out


def vantages_of(dem: Dem, hill: Hill, question: SurveyQuestion) -> pd.DataFrame:
    """The vantages of one hill at each end of the day that is asked for.

    NoAnswer where there is none at any; NoGround where the hill stands on none.
    """
    country = Country(dem, refraction=question.refraction, accuracy=question.accuracy)
    country = country.under(_mist_over(country, hill, question))
    found, why = [], ""
    for evening in question.ends:
        try:
            search = search_for(country, hill, question.at_end(evening))
            rows = vantages_among(search, question.days, lambda share: None, evening=evening)
        except (NoAnswer, NoSun) as error:
            why = why or str(error)
        else:
            found.append(rows.drop(columns=["rank", "geometry"]))
    if not found:
        raise NoAnswer(why)
    every = pd.concat(found, ignore_index=True)
    whose = pd.DataFrame(hill_columns(hill, hill.label), index=every.index)
    told: pd.DataFrame = pd.concat([whose, every], axis="columns")
    return told


def _hill(hills: gpd.GeoDataFrame, number: int, question: SurveyQuestion) -> Hill:
    return replace(hill_in(hills, number), min_prominence_m=question.prominence_m)


def _mist_over(country: Country, hill: Hill, question: SurveyQuestion) -> AnyMist | None:
    """The mist about a hill, with those of its tops that lie over some of the ground and not all.

    NoAnswer where none does.
    """
    if not question.tops_m:
        return None
    levels = country.levels_m
    low_m, high_m = float(np.nanmin(levels)), float(np.nanmax(levels))
    tops = [top for top in question.tops_m if low_m < top <= high_m]
    if not tops:
        raise NoAnswer(
            f"the ground for {question.about_m / 1000.0:.0f} km about {hill.label} lies from "
            f"{low_m:.0f} to {high_m:.0f} m: no mist of these tops lies on it with ground clear"
        )
    if len(question.tops_m) == 1:
        return level_mist(country.dem, tops[0], levels=levels)
    hoped_m = min(tops, key=lambda top: abs(top - question.hoped_m))
    return mist_range(country.dem, tops, hoped_m=hoped_m, levels=levels)
