"""Rasters of tiles as one: a virtual raster that names them, for any program that GDAL is in."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from pathlib import Path
from xml.etree import ElementTree as Tree

from terrain.ground.grid import Grid
from terrain.ground.raster.cuts import Cells
from terrain.show.files.whole import whole_file


def save_mosaic(path: Path, grid: Grid, bands: Sequence[str], tiles: Mapping[Path, Cells]) -> None:
    """Write the virtual raster of some tiles on a grid.

    bands: what each says. tiles: the file of each, and the cells of the grid that it holds.
    """
    rows, cols = grid.shape
    root = Tree.Element("VRTDataset", rasterXSize=str(cols), rasterYSize=str(rows))
    Tree.SubElement(root, "SRS").text = grid.crs.to_wkt()
    west_to_east = ", ".join(repr(float(part)) for part in grid.transform.to_gdal())
    Tree.SubElement(root, "GeoTransform").text = west_to_east
    for number, says in enumerate(bands, start=1):
        band = Tree.SubElement(root, "VRTRasterBand", dataType="Float32", band=str(number))
        Tree.SubElement(band, "Description").text = says
        Tree.SubElement(band, "NoDataValue").text = "nan"
        for file, cells in tiles.items():
            _add_source(band, os.path.relpath(file, path.parent), number, cells)
    with whole_file(path) as partial:
        Tree.ElementTree(root).write(partial, encoding="utf-8")


def _add_source(band: Tree.Element, file: str, number: int, cells: Cells) -> None:
    source = Tree.SubElement(band, "SimpleSource")
    Tree.SubElement(source, "SourceFilename", relativeToVRT="1").text = Path(file).as_posix()
    Tree.SubElement(source, "SourceBand").text = str(number)
    rows, cols = (str(count) for count in cells.shape)
    Tree.SubElement(source, "SrcRect", xOff="0", yOff="0", xSize=cols, ySize=rows)
    place = {"xOff": str(cells.left), "yOff": str(cells.top)}
    Tree.SubElement(source, "DstRect", place, xSize=cols, ySize=rows)
