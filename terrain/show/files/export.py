"""Files for other programs: tables with places, and pictures, each complete or not at all."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Mapping
from contextlib import closing
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd

from terrain.show.files.rows import no_formulas
from terrain.show.files.styles import write_styles
from terrain.show.files.whole import whole_file
from terrain.show.paper.style import own_style
from terrain.sight.skyline import Skyline

if TYPE_CHECKING:
    from matplotlib.figure import Figure

PICTURES: Final = (".png", ".jpg", ".jpeg", ".webp", ".svg", ".pdf")
"""How the name of a picture may end."""


def save_table(table: gpd.GeoDataFrame, path: str | Path, *, layer: str) -> None:
    """Write a table with places as GeoPackage, GeoJSON or CSV, by the ending of the path.

    A CSV has the longitude and latitude as columns, and an apostrophe before a text that a
    spreadsheet would take for a formula. Moments keep the offset of the local clock;
    a GeoPackage has only UTC, so there each column of moments is in UTC, and beside it stands
    one named `..._clock` with the local clock and its offset as text.

    Parameters
    ----------
    table : geopandas.GeoDataFrame
        With places in EPSG:4326.
    path : path
        The file, complete or not at all.
    layer : str
        Name of the layer of a GeoPackage.

    Raises
    ------
    TerrainError
        For another ending, and where the file cannot be written.

    Examples
    --------
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(50, 0, 5e5, 0, -50, 6e6), shape=(3, 7))
    >>> heights = [[0, 0, 0, 0, 0, 0, 0], [0, 90, 40, 40, 40, 70, 0], [0, 0, 0, 0, 0, 0, 0]]
    >>> dem = terrain.Dem(heights, grid)
    >>> import tempfile
    >>> from pathlib import Path
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     terrain.save_table(terrain.find_summits(dem), Path(folder) / "tops.csv", layer="tops")
    ...     len((Path(folder) / "tops.csv").read_text().splitlines())
    3
    """
    save_layers({layer: table}, path)


def save_layers(layers: Mapping[str, gpd.GeoDataFrame], path: str | Path) -> None:
    """Write tables with places as the layers of a GeoPackage; GeoJSON and CSV hold the first.

    Moments are written as by `save_table`.

    Parameters
    ----------
    layers : mapping from str to geopandas.GeoDataFrame
        From the name of each, one or more; those without a row are left out, unless it is the
        first.
    path : path
        The file, complete or not at all.

    Raises
    ------
    TerrainError
        For another ending, and where the file cannot be written.

    Examples
    --------
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(50, 0, 5e5, 0, -50, 6e6), shape=(3, 7))
    >>> heights = [[0, 0, 0, 0, 0, 0, 0], [0, 90, 40, 40, 40, 70, 0], [0, 0, 0, 0, 0, 0, 0]]
    >>> dem = terrain.Dem(heights, grid)
    >>> import tempfile
    >>> from pathlib import Path
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     terrain.save_layers({"tops": terrain.find_summits(dem)}, Path(folder) / "all.geojson")
    ...     [file.name for file in Path(folder).iterdir()]
    ['all.geojson']
    """
    first, *_ = layers
    kept = {name: table for name, table in layers.items() if name == first or len(table)}
    writers: dict[str, Callable[[Path], None]] = {
        ".gpkg": lambda to: _write_layers(kept, to),
        ".geojson": lambda to: write_layer(layers[first], to, layer=first, driver="GeoJSON"),
        ".csv": lambda to: _flat(layers[first]).to_csv(to, index=False),
    }
    with whole_file(path, "write a table as", *writers) as partial:
        writers[Path(path).suffix.lower()](partial)


@own_style()
def save_picture(figure: Figure, path: str | Path, *, dpi: int = 150) -> None:
    """Write a figure as PNG, JPEG, WebP, SVG or PDF, by the ending of the path.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        The page.
    path : path
        The file, complete or not at all.
    dpi : int, optional
        Dots an inch, of a picture in dots.

    Raises
    ------
    TerrainError
        For another ending, and where the file cannot be written.

    Examples
    --------
    >>> import tempfile
    >>> from pathlib import Path
    >>> from matplotlib.figure import Figure
    >>> import terrain
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     terrain.save_picture(Figure((1.0, 1.0)), Path(folder) / "page.svg")
    ...     [file.name for file in Path(folder).iterdir()]
    ['page.svg']
    """
    with whole_file(path, "draw", *PICTURES) as partial:
        drawn = BytesIO()
        kind = partial.suffix[1:].lower()
        # edges of letters and lines need more than the usual quality
        fine: dict[str, Any] = (
            {"pil_kwargs": {"quality": 92}} if kind in ("jpg", "jpeg", "webp") else {}
        )
        figure.savefig(drawn, dpi=dpi, format=kind, **fine)
        partial.write_bytes(drawn.getbuffer())


def skyline_table(sky: Skyline) -> gpd.GeoDataFrame:
    """Every direction of a skyline as a row: a point where its ground is, in EPSG:4326.

    Parameters
    ----------
    sky : Skyline
        As `skyline` gives it.

    Returns
    -------
    geopandas.GeoDataFrame
        Directions, altitudes in degrees and distances in metres, for `save_table`.

    Examples
    --------
    >>> import terrain
    >>> grid = terrain.Grid(crs=32628, transform=(100, 0, 5e5, 0, -100, 6e6), shape=(61, 81))
    >>> row, col = np.mgrid[-30:31, -40:41]
    >>> cone = terrain.Dem(np.maximum(300.0 - 40.0 * np.hypot(row, col), 0.0), grid)
    >>> hill = terrain.hill_at(cone, *map(float, grid.lonlat(30, 40)), name="Cone")
    >>> lon, lat = (float(part) for part in grid.lonlat(30, 10))
    >>> spot = terrain.Spot(lon_deg=lon, lat_deg=lat, name="the stile")
    >>> len(terrain.skyline_table(terrain.skyline(cone, spot, azimuths_deg=[80.0, 90.0])))
    2
    """
    known = np.isfinite(sky.altitude_deg)
    fields = ("azimuth_deg", "altitude_deg", "distance_m", "known_to_m")
    columns = {name: getattr(sky, name)[known] for name in fields}
    points = gpd.points_from_xy(*sky.place_at(sky.azimuth_deg[known]))
    return gpd.GeoDataFrame(columns, geometry=points, crs="EPSG:4326")


def write_layer(table: gpd.GeoDataFrame, path: Path, *, layer: str, driver: str) -> None:
    """Write a table in a format of text, made in memory first: GDAL tells no end that failed."""
    made = BytesIO()
    table.to_file(made, layer=layer, driver=driver)
    path.write_bytes(made.getbuffer())


def check_database(path: Path) -> None:
    """OSError where a GeoPackage just written has not come whole to the disk."""
    try:
        with closing(sqlite3.connect(path)) as database:
            found = database.execute("PRAGMA quick_check(1)").fetchone()[0]
    except sqlite3.Error as error:
        raise OSError(str(error)) from error
    if found != "ok":
        raise OSError(found)


def _write_layers(layers: Mapping[str, gpd.GeoDataFrame], path: Path) -> None:
    for name, table in layers.items():
        in_utc(table).to_file(path, layer=name, driver="GPKG")
    write_styles(path, layers)
    check_database(path)


def in_utc(table: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """The table with its moments in UTC, each column followed by the local clock as text."""
    columns: dict[str, Any] = {}
    for name in table.columns:
        columns[name] = table[name]
        moments = [value for value in table[name] if getattr(value, "tzinfo", None) is not None]
        if moments:
            columns[name] = pd.to_datetime(table[name], utc=True)
            columns[f"{name}_clock"] = [_clock(value) for value in table[name]]
    return gpd.GeoDataFrame(columns, geometry=table.geometry.name, crs=table.crs)


def _clock(moment: Any) -> str | None:
    return None if pd.isna(moment) else moment.isoformat(sep=" ", timespec="seconds")


def _flat(table: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    points = table.geometry
    plain = no_formulas(table.drop(columns=table.geometry.name))
    return plain.assign(lon_deg=points.x.round(6), lat_deg=points.y.round(6))
