"""Cells of a raster file that nobody wrote, and that GDAL reads as 0 where no nodata is declared.

No mask tells them: in a virtual raster they lie between its sources, in a GeoTIFF they are the
blocks that have no place in the file (GDAL's SPARSE_OK)::

    .---------.
    | source  |   gap:  0        .-----.-----.
    |    .----+----.             |block| 0   |
    '----|    source            |-----+-----|
         '---------'             | 0   |block|
                                 '-----'-----'
"""

from __future__ import annotations

from contextlib import AbstractContextManager
from typing import Any, NamedTuple
from xml.etree import ElementTree

import numpy as np
from rasterio.enums import MaskFlags
from rasterio.errors import RasterioIOError
from rasterio.windows import Window

from terrain.arrays import Flags, Numbers, Singles
from terrain.ground.raster.files import nodata_of, open_raster

# GDAL's own allowance where a source ends a little inside a cell
# (VRTSimpleSource::GetSrcDstWindow in frmts/vrt/vrtsources.cpp)
_INSIDE_CELL = 0.001
_SOURCES = ("SimpleSource", "ComplexSource", "AveragedSource", "KernelFilteredSource")


def unwritten(dataset: Any, band: int, raw: Singles, window: Window) -> Flags:
    """The cells of what was read from a window that read 0 because nobody wrote them."""
    is_zero = raw == 0.0
    if is_zero.any():
        (top, bottom), (left, right) = window.toranges()
        known = _written(dataset, band, np.arange(top, bottom), np.arange(left, right), is_zero)
        if known is not None:
            return np.asarray(is_zero & ~known)
    return np.zeros(raw.shape, dtype=bool)


def _written(dataset: Any, band: int, rows: Numbers, cols: Numbers, asked: Flags) -> Flags | None:
    """Whether the cells of rows by columns that are asked for were written; None where all were."""
    if dataset.driver == "GTiff":
        return _of_blocks(dataset, band, rows, cols)
    if dataset.driver == "VRT":
        return _of_sources(dataset, band, rows, cols, asked)
    return None


def _of_blocks(dataset: Any, band: int, rows: Numbers, cols: Numbers) -> Flags | None:
    height, width = dataset.block_shapes[band - 1]
    (down, row), (along, col) = (
        np.unique(cells // side, return_inverse=True)
        for cells, side in ((rows, height), (cols, width))
    )
    there = np.array(
        [
            [dataset.get_tag_item(f"BLOCK_OFFSET_{x}_{y}", "TIFF", bidx=band) for x in along]
            for y in down
        ]
    ).astype(bool)
    return None if there.all() else there[np.ix_(row, col)]


class _Rectangle(NamedTuple):
    """Columns and rows from the left upper corner of a raster, whole or not."""

    left: float
    top: float
    width: float
    height: float


def _of_sources(
    dataset: Any, band: int, rows: Numbers, cols: Numbers, asked: Flags
) -> Flags | None:
    """What any of the sources of a virtual raster wrote; each is asked for its own gaps."""
    described = ElementTree.fromstring(dataset.tags(ns="xml:VRT")["xml:VRT"])
    of_band = described.findall("VRTRasterBand")[band - 1]
    sources = [part for part in of_band if part.tag.endswith("Source")]
    if described.get("subClass") or any(part.tag not in _SOURCES for part in sources):
        return None  # warped or computed: there is nothing between sources
    if of_band.get("subClass") == "VRTRawRasterBand":
        return None
    has_nodata = nodata_of(dataset, band) is not None
    found = np.zeros((rows.size, cols.size), dtype=bool)
    for source in sources:
        placed = _placed(dataset, source)
        if placed is None:
            continue
        onto, _ = placed
        down, along = _within(rows, onto.top, onto.height), _within(cols, onto.left, onto.width)
        if (asked[down, along] & ~found[down, along]).any():
            with _opened(dataset, source) as inner:
                cells = _cells_of(inner, placed, rows[down], cols[along])
                found[down, along] |= _of_source(inner, source, has_nodata, *cells)
    return None if found.all() else found


def _of_source(
    dataset: Any, source: ElementTree.Element, has_nodata: bool, rows: Numbers, cols: Numbers
) -> Flags:
    """What one source wrote of its rows by columns; has_nodata: of the virtual raster."""
    everywhere = np.ones((rows.size, cols.size), dtype=bool)
    band = source.findtext("SourceBand") or "1"
    if not band.isdecimal():
        return everywhere  # "mask,1": a mask taken for heights
    known = _written(dataset, int(band), rows, cols, everywhere)
    known = everywhere if known is None else known
    # its voids are taken for heights where the virtual raster declares none
    if not has_nodata and MaskFlags.all_valid not in dataset.mask_flag_enums[int(band) - 1]:
        known &= _masked(dataset, int(band), rows, cols)
    return known


def _placed(dataset: Any, source: ElementTree.Element) -> tuple[_Rectangle, _Rectangle] | None:
    """Where a source lies, and what of it; None where only one is said and GDAL takes nothing."""
    onto, of = _rectangle(source, "DstRect"), _rectangle(source, "SrcRect")
    if onto is None and of is None:
        # cell upon cell
        with _opened(dataset, source) as inner:
            whole = _Rectangle(0, 0, inner.width, inner.height)
        return whole, whole
    return None if onto is None or of is None else (onto, of)


def _cells_of(
    dataset: Any, placed: tuple[_Rectangle, _Rectangle], rows: Numbers, cols: Numbers
) -> tuple[Numbers, Numbers]:
    """The rows and columns of a source under those of the virtual raster."""
    onto, of = placed
    down = of.top + (rows + 0.5 - onto.top) * of.height / onto.height
    along = of.left + (cols + 0.5 - onto.left) * of.width / onto.width
    return (
        np.clip(np.floor(down), 0, dataset.height - 1).astype(np.int64),
        np.clip(np.floor(along), 0, dataset.width - 1).astype(np.int64),
    )


def _masked(dataset: Any, band: int, rows: Numbers, cols: Numbers) -> Flags:
    window = Window.from_slices((rows[0], rows[-1] + 1), (cols[0], cols[-1] + 1))
    mask = dataset.read_masks(band, window=window, out_shape=(rows.size, cols.size))
    return np.asarray(mask > 0)


def _opened(dataset: Any, source: ElementTree.Element) -> AbstractContextManager[Any]:
    # what a virtual raster may name was looked at when it was opened
    return open_raster(_file_of(dataset, source), trust=True)


def _file_of(dataset: Any, source: ElementTree.Element) -> str:
    named = source.find("SourceFilename")
    if named is None or not named.text:
        raise RasterioIOError("a source of a virtual raster has no name")
    if named.get("relativeToVRT") != "1":
        return named.text
    folder, slash, _ = dataset.name.rpartition("/")
    return f"{folder}{slash}{named.text}"


def _rectangle(source: ElementTree.Element, name: str) -> _Rectangle | None:
    said = source.find(name)
    if said is None:
        return None
    return _Rectangle(*(float(said.get(key, 0)) for key in ("xOff", "yOff", "xSize", "ySize")))


def _within(cells: Numbers, first: float, count: float) -> slice:
    """Which rows or columns GDAL takes from a source that lies at `first` and `count` of them."""
    begin, end = np.floor(first + _INSIDE_CELL), np.ceil(first + count - _INSIDE_CELL)
    return slice(*np.searchsorted(cells, (begin, end)).tolist())
