"""Whether a saved file can be read by those that it was made for."""

from __future__ import annotations

import io
import json
import tomllib
import warnings
import xml.etree.ElementTree as ET
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Final

import icalendar
import numpy as np
import pandas as pd
import PIL.Image
import pyogrio
import rasterio


def unreadable(path: Path) -> Iterator[str]:
    """Why a saved file cannot be read by those that it was made for; nothing where it can."""
    read = _READERS.get(path.suffix.lower())
    if read is None or not path.is_file():
        return
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            read(path)
    except Exception as error:
        yield f"{path.name} cannot be read: {type(error).__name__}: {str(error)[:120]}"


def _raster(path: Path) -> None:
    with rasterio.open(path) as file:
        if not np.isfinite(file.read()).any():
            raise ValueError("every cell is unknown")


def _layers(path: Path) -> None:
    for name, _ in pyogrio.list_layers(path):
        pyogrio.read_dataframe(path, layer=name)


def _arrays(path: Path) -> None:
    found = np.load(path)
    for name in getattr(found, "files", ()):
        found[name]


def _pdf(path: Path) -> None:
    if b"%%EOF" not in path.read_bytes()[-64:]:
        raise ValueError("no end")


def _page(path: Path) -> None:
    if not path.read_text(encoding="utf-8").rstrip().endswith("</html>"):
        raise ValueError("no end")


_READERS: Final[dict[str, Callable[[Path], Any]]] = {
    **dict.fromkeys((".tif", ".tiff"), _raster),
    **dict.fromkeys((".gpkg", ".geojson", ".kml"), _layers),
    ".csv": pd.read_csv,
    ".parquet": pd.read_parquet,
    **dict.fromkeys((".npy", ".npz"), _arrays),
    ".json": lambda path: json.loads(path.read_text(encoding="utf-8")),
    ".png": lambda path: PIL.Image.open(path).load(),
    **dict.fromkeys((".svg", ".gpx"), lambda path: ET.parse(path)),
    ".pdf": _pdf,
    ".html": _page,
    ".ics": lambda path: icalendar.Calendar.from_ical(path.read_bytes()),
    ".toml": lambda path: tomllib.loads(path.read_text(encoding="utf-8")),
    ".zip": lambda path: zipfile.ZipFile(io.BytesIO(path.read_bytes())).testzip(),
}
