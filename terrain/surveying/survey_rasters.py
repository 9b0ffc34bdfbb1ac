"""Rasters of a whole country, tile by tile."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from os import PathLike
from pathlib import Path
from typing import Any

from terrain.errors import TerrainError
from terrain.ground.features import Features
from terrain.ground.raster.files import RasterFiles
from terrain.ground.relief.prominence import DEFAULT_PROMINENCE_M
from terrain.surveying.question import BEHIND_M
from terrain.surveying.rasters import RasterWork
from terrain.surveying.run import begun
from terrain.surveying.stages import mosaic_of, raster_tasks
from terrain.surveying.tasks import Tell
from terrain.surveying.workers import Workers


@dataclass(frozen=True, kw_only=True)
class SurveyedRasters:
    """Rasters of a whole country.

    Parameters
    ----------
    mosaic : pathlib.Path
        The file that names all tiles.
    tiles : int
        Into how many the country was cut.
    made : int
        How many tasks were done for it now; the others had been before.
    failures : mapping from str to str, optional
        From what a tile is called to why it failed; it is not in the rasters.

    Examples
    --------
    >>> import terrain
    >>> terrain.SurveyedRasters(mosaic="country/light.vrt", tiles=16, made=0).failures
    {}
    """

    mosaic: Path
    tiles: int
    made: int
    failures: Mapping[str, str] = field(default_factory=dict)


def survey_rasters(
    ground: RasterFiles,
    work: RasterWork,
    *,
    name: str,
    save: str | PathLike[str],
    prominence_m: float = DEFAULT_PROMINENCE_M,
    names: Features | None = None,
    margin_m: float = BEHIND_M,
    tile_m: float | None = None,
    workers: Workers | None = None,
    progress: Tell = lambda standing: None,
    **said: Any,
) -> SurveyedRasters:
    """Rasters of a whole country, a file a tile and one that names them all.

    Parameters
    ----------
    ground : path, or sequence of them
        The rasters, as in `read_dem`.
    work : LightOfDay or HillsOfDay
        What is worked out for each cell.
    name : str
        Of the file that names all, `name.vrt`.
    save : path
        The folder, as for `survey`.
    prominence_m : float, optional
        Least of a hill, metres.
    names : path or geopandas.GeoDataFrame, optional
        As for `survey`, of the hills in `summits.parquet`.
    margin_m : float, optional
        How far about a tile the ground is read cell by cell, metres; beyond, the highest of each
        block counts for the skyline.
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
    SurveyedRasters
        Where they are, and what failed.

    Raises
    ------
    TerrainError
        As for `survey`.

    Examples
    --------
    >>> import datetime as dt
    >>> import terrain
    >>> light = terrain.LightOfDay(day=dt.date(2026, 10, 13))
    >>> terrain.survey_rasters("no/such/country.tif", light, name="light", save="out")
    Traceback (most recent call last):
    terrain.errors.TerrainError: there is no file no/such/country.tif
    """
    begin = begun(
        ground,
        Path(save),
        tile_m=tile_m,
        workers=workers,
        told=progress,
        work=work,
        **said,
    )
    with begin(margin_m) as run:
        first, known = run.known(prominence_m, names)
        second = run.send(name, raster_tasks(run.cut, known, first, work, name, margin_m))
        if not second.receipts:
            label, why = next(iter(second.failures.items()))
            raise TerrainError(f"no tile could be worked out; {label}: {why}")
        mosaic = mosaic_of(run.cut, run.folder, second, name)
    return SurveyedRasters(
        mosaic=Path(save) / mosaic.name,
        tiles=run.cut.tiles,
        made=first.made + second.made,
        failures={**first.failures, **second.failures},
    )
