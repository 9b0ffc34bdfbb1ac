"""Rasters that are almost good."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from affine import Affine
from rasterio.io import MemoryFile

from terrain.ground.raster.read import read_dem
from tests.attacks import Case
from tests.attacks.asking import about
from tests.attacks.environment import COMMANDS
from tests.attacks.mutating import Kind, mutants

SIDE = 24


def _heights(side: int = SIDE) -> np.ndarray:
    row, col = np.indices((side, side))
    return (300 + 100 * np.sin(row / 5) * np.cos(col / 4)).astype(np.float32)


def _tif(**more: object) -> bytes:
    profile = {"driver": "GTiff", "width": SIDE, "height": SIDE, "count": 1, "dtype": "float32"}
    profile |= {"crs": "EPSG:32628", "transform": Affine(50, 0, 480_000, 0, -50, 6_040_000)}
    with MemoryFile() as memory:
        with memory.open(**{**profile, **more}) as raster:
            raster.write(_heights(), 1)
        return memory.read()


def _zipped(name: str, content: bytes) -> bytes:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(zipfile.ZipInfo(name), content)
    return packed.getvalue()


_ASC = (
    f"ncols {SIDE}\nnrows {SIDE}\nxllcorner 480000\nyllcorner 6000000\ncellsize 50\n"
    "NODATA_value -9999\n" + "\n".join(" ".join(f"{v:.1f}" for v in row) for row in _heights())
).encode()

_VRT = f"""<VRTDataset rasterXSize="{SIDE}" rasterYSize="{SIDE}"><SRS>EPSG:32628</SRS>
<GeoTransform>480000, 50, 0, 6040000, 0, -50</GeoTransform>
<VRTRasterBand dataType="Float32" band="1"><NoDataValue>-9999</NoDataValue><ComplexSource>
<SourceFilename relativeToVRT="1">beside.tif</SourceFilename><SourceBand>1</SourceBand>
<SrcRect xOff="0" yOff="0" xSize="24" ySize="24"/><DstRect xOff="0" yOff="0" xSize="24" ySize="24"/>
<ScaleOffset>0</ScaleOffset><ScaleRatio>1</ScaleRatio></ComplexSource></VRTRasterBand></VRTDataset>
""".encode()


def _read(path: Path) -> object:
    return read_dem(path)


def _read_beside(path: Path) -> object:
    if not (path.parent / "beside.tif").exists():
        (path.parent / "beside.tif").write_bytes(_tif())
    return read_dem(path)


def kinds() -> list[Kind]:
    """Good rasters of a few kinds."""
    tile = _heights(1201).astype(">i2").tobytes()
    return [
        Kind("plain/a.tif", _tif(), _read),
        Kind("tiled/a.tif", _tif(tiled=True, blockxsize=16, blockysize=16, compress="lzw"), _read),
        Kind("deflated/a.tif", _tif(compress="deflate", nodata=-9999.0), _read),
        Kind("packed/a.zip", _zipped("in/a.tif", _tif()), _read),
        Kind("tile/N54W025.hgt.zip", _zipped("N54W025.hgt", tile), _read),
        Kind("grid/a.asc", _ASC, lambda path: read_dem(path, crs="EPSG:32628"), text=True),
        Kind("virtual/a.vrt", _VRT, _read_beside, text=True),
    ]


_SPOT, _HILL = "54.50452,-15.30423", "54.50184,-15.29957"
_SPOT_OF_GRID, _HILL_OF_GRID = "54.15582,-15.30166", "54.15313,-15.29705"


# over a million cells; the others take a minute and more of them
_OF_TILES = ("summits", "mist", "passes", "skyline")


def cases() -> Iterator[Case]:
    """Mutants of each kind, for each command."""
    for number, command in enumerate(COMMANDS):
        for kind in kinds():
            is_tile = kind.name.startswith("tile")
            each = int(command in _OF_TILES) if is_tile else 2
            in_grid = kind.name.startswith("grid")
            places = (_SPOT_OF_GRID, _HILL_OF_GRID) if in_grid else (_SPOT, _HILL)
            asked = about(command, *places, mist_top_m=300.0)
            crs = ["--crs=EPSG:32628"] if in_grid else []
            first = 1000 + 10 * number
            for name, content in mutants(kind, range(first, first + each)):
                yield Case(
                    f"{command} of {name}",
                    [command, kind.file_name, *crs, *asked],
                    {kind.file_name: content, "beside.tif": _tif()},
                    quick=command == "mist" and name.startswith("plain") and name.endswith("0"),
                )
