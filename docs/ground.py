"""The folder that every page takes for granted: the demo's ground, names, ways and places."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Final

import geopandas as gpd

DATA: Final = Path(__file__).resolve().parents[1] / "data"


def lay_out(folder: Path, ground: Path) -> None:
    """Put some ground there as `ground.tif`, with names in `names.csv` and ways in `paths.gpx`."""
    shutil.copy(ground, folder / "ground.tif")
    names = gpd.read_file(DATA / "summits.geojson")
    names = names.assign(lat=names.geometry.y, lon=names.geometry.x)
    names[["name", "lat", "lon"]].to_csv(folder / "names.csv", index=False)
    ways = gpd.read_file(DATA / "paths.geojson")
    (folder / "paths.gpx").unlink(missing_ok=True)
    ways[["geometry"]].to_file(folder / "paths.gpx", driver="GPX", layer="tracks")
