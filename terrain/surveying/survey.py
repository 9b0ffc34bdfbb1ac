"""A country of mornings: every hill, vantage and date of many tiles, ranked.

::

    cut -> tile: what it knows -> all hills, with their prominence -> tile: its hills' vantages
                of tops and blocks     and the blocks of the whole          and dates -> all, ranked

Each arrow to a tile is a task, each task one file and one receipt; what is there is not done again.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from os import PathLike
from pathlib import Path
from typing import Any

import geopandas as gpd
from pyproj import CRS

from terrain.ground.features import Features
from terrain.ground.raster.files import RasterFiles
from terrain.ground.relief.prominence import DEFAULT_PROMINENCE_M
from terrain.surveying.question import SurveyQuestion
from terrain.surveying.run import begun
from terrain.surveying.stages import all_vantages, left_out, second_tasks
from terrain.surveying.tables import ranked
from terrain.surveying.tasks import Tell
from terrain.surveying.workers import Workers


@dataclass(frozen=True, kw_only=True, eq=False)
class Survey:
    """What a survey has found, and where it is kept.

    Parameters
    ----------
    folder : pathlib.Path
        Where it is kept.
    table : geopandas.GeoDataFrame
        One row a hill and vantage (points, EPSG:4326), best first.
    summits : geopandas.GeoDataFrame
        Every hill of the whole, highest first, as `find_summits` gives them.
    tiles : int
        Into how many the country was cut.
    made : int
        How many tasks were done for it now; the others had been before.
    left_out : mapping from str to str, optional
        From the name of each hill without a vantage to why it has none.
    failures : mapping from str to str, optional
        From what a tile is called to why it failed; its hills are not in the tables.

    Examples
    --------
    >>> import terrain
    >>> terrain.Survey(folder="country", table=None, summits=None, tiles=16, made=0).failures
    {}
    """

    folder: Path
    table: gpd.GeoDataFrame
    summits: gpd.GeoDataFrame
    tiles: int
    made: int
    left_out: Mapping[str, str] = field(default_factory=dict)
    failures: Mapping[str, str] = field(default_factory=dict)

    @property
    def tables(self) -> dict[str, gpd.GeoDataFrame]:
        """Its tables by name: the vantages, where there are any, and all hills."""
        every = {"survey": self.table, "summits": self.summits}
        return {name: table for name, table in every.items() if len(table)} or every


def survey(
    ground: RasterFiles,
    question: SurveyQuestion,
    *,
    save: str | PathLike[str],
    names: Features | None = None,
    tile_m: float | None = None,
    workers: Workers | None = None,
    crs: CRS | str | None = None,
    height_unit: str | None = None,
    band: int | None = None,
    variable: str | None = None,
    trust: bool = False,
    progress: Tell = lambda standing: None,
) -> Survey:
    """Every hill of a country with its vantages and their dates, ranked, tile by tile.

    Each row is what `find_vantages` gives for a hill of the ground about it, whichever way the
    country is cut. What is done is kept, and not done again: after a power cut, with more days,
    after one of the files has changed, the same call does what is missing. Run from a script, the
    call stands under ``if __name__ == "__main__":``, since workers read the script as well.

    Parameters
    ----------
    ground : path, or sequence of them
        The rasters, as in `read_dem`.
    question : SurveyQuestion
        What is asked of every hill.
    save : path
        The folder where parts, receipts, `summits.parquet` and `survey.parquet` are kept.
    names : path or geopandas.GeoDataFrame, optional
        Named places, as for `read_names`; each name goes to the nearest summit within 300 m.
    tile_m : float, optional
        Side of the tiles, metres; of 4 million cells unless given.
    workers : Workers, optional
        Who is to do the work; this machine unless given.
    crs : pyproj.CRS or str, optional
        As in `read_dem`.
    height_unit : str, optional
        As in `read_dem`.
    band : int, optional
        As in `read_dem`.
    variable : str, optional
        As in `read_dem`.
    trust : bool, optional
        As in `read_dem`.
    progress : callable, optional
        Called with how the work stands, whenever a tile is done.

    Returns
    -------
    Survey
        The tables, what was left out and what failed. `survey.parquet` has moments in UTC, each
        with the clock of the place beside it.

    Raises
    ------
    TerrainError
        Where libraries of a survey are not installed, nothing can be read of any tile, or the disk
        is full; tiles that are done are kept.

    Examples
    --------
    >>> import datetime as dt
    >>> import terrain
    >>> days = dt.date(2026, 10, 1), dt.date(2026, 10, 31)
    >>> question = terrain.SurveyQuestion(days=days, tops_m=[300])
    >>> terrain.survey("no/such/country.tif", question, save="out")
    Traceback (most recent call last):
    terrain.errors.TerrainError: there is no file no/such/country.tif
    """
    said: dict[str, Any] = {"crs": crs, "height_unit": height_unit, "band": band}
    said |= {"variable": variable, "trust": trust}
    begin = begun(ground, Path(save), tile_m=tile_m, workers=workers, told=progress, **said)
    with begin(question.about_m) as run:
        first, known = run.known(question.prominence_m, names)
        second = run.send("vantages", second_tasks(run.cut, known, question))
        table = all_vantages(run.folder, second)
    return Survey(
        folder=Path(save),
        table=table,
        summits=known.summits,
        tiles=run.cut.tiles,
        made=first.made + second.made,
        left_out=left_out(second),
        failures={**first.failures, **second.failures},
    )


def survey_summits(
    ground: RasterFiles,
    *,
    save: str | PathLike[str],
    prominence_m: float = DEFAULT_PROMINENCE_M,
    names: Features | None = None,
    tile_m: float | None = None,
    workers: Workers | None = None,
    progress: Tell = lambda standing: None,
    **said: Any,
) -> Survey:
    """All hills of a country with their exact prominence, tile by tile, and no vantages.

    Parameters
    ----------
    ground : path, or sequence of them
        The rasters, as in `read_dem`.
    save : path
        The folder, as for `survey`.
    prominence_m : float, optional
        Least of a hill, metres.
    names : path or geopandas.GeoDataFrame, optional
        As for `survey`.
    tile_m : float, optional
        As for `survey`.
    workers : Workers, optional
        As for `survey`.
    progress : callable, optional
        As for `survey`.
    said : optional
        `crs`, `height_unit`, `band`, `variable` and `trust`, as for `survey`.

    Returns
    -------
    Survey
        Its table is empty.

    Raises
    ------
    TerrainError
        As for `survey`.

    Examples
    --------
    >>> import terrain
    >>> terrain.survey_summits("no/such/country.tif", save="out")
    Traceback (most recent call last):
    terrain.errors.TerrainError: there is no file no/such/country.tif
    """
    begin = begun(ground, Path(save), tile_m=tile_m, workers=workers, told=progress, **said)
    with begin(0.0) as run:
        first, known = run.known(prominence_m, names)
    return Survey(
        folder=Path(save),
        table=ranked([]),
        summits=known.summits,
        tiles=run.cut.tiles,
        made=first.made,
        failures=first.failures,
    )
