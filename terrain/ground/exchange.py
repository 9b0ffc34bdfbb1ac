"""Ground to and from xarray, with the reference system where rioxarray looks for it.

That is a coordinate without a size, `spatial_ref`, whose attributes are the system as text
(`crs_wkt`) and the corner and the cells as GDAL has them (`GeoTransform`); `grid_mapping` in the
encoding of the array names it (CF conventions, section 5.6).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np
from affine import Affine
from pyproj import CRS

from terrain.errors import TerrainError
from terrain.ground.grid import Grid

if TYPE_CHECKING:
    from xarray import DataArray

    from terrain.ground.dem import Dem

_SYSTEM: Final = "spatial_ref"
_EVEN: Final = 1e-6


def to_xarray(dem: Dem) -> DataArray:
    """The heights of some ground as an array with coordinates; see `Dem.to_xarray`."""
    xarray = _xarray()
    (rows, cols), transform = dem.grid.shape, dem.grid.transform
    system = {
        **dem.grid.crs.to_cf(),
        _SYSTEM: dem.grid.crs.to_wkt(),
        "GeoTransform": " ".join(map(repr, map(float, transform.to_gdal()))),
    }
    heights: DataArray = xarray.DataArray(
        np.array(dem.heights_m),
        dims=("y", "x"),
        coords={
            "y": transform.f + transform.e * (np.arange(rows) + 0.5),
            "x": transform.c + transform.a * (np.arange(cols) + 0.5),
            _SYSTEM: xarray.Variable((), 0, attrs=system),
        },
        name="height",
        attrs={"units": "m", "long_name": "height above the datum"},
    )
    heights.encoding["grid_mapping"] = _SYSTEM
    return heights


def from_xarray(heights: DataArray) -> Dem:
    """Ground from an array with coordinates; see `Dem.from_xarray`."""
    from terrain.ground.dem import Dem

    others = [one for one in heights.dims if one not in ("x", "y") and heights.sizes[one] == 1]
    flat = heights.squeeze(others, drop=True)
    if set(flat.dims) != {"y", "x"}:
        raise TerrainError(
            f"the array has the dimensions {', '.join(map(str, heights.dims))}: give (y, x)"
        )
    flat = flat.transpose("y", "x")
    # some have the south first
    if flat.sizes["y"] > 1 and float(flat.y[0]) < float(flat.y[-1]):
        flat = flat.isel(y=slice(None, None, -1))
    nodata = flat.attrs.get("_FillValue", np.nan)
    values = np.asarray(flat.values, dtype=np.float32)
    values = np.where(values == np.float32(nodata), np.float32(np.nan), values)
    cell_x, cell_y = _step(flat, "x"), _step(flat, "y")
    west, north = float(flat.x[0]) - cell_x / 2.0, float(flat.y[0]) - cell_y / 2.0
    transform = Affine(cell_x, 0.0, west, 0.0, cell_y, north)
    return Dem(values, Grid(crs=_crs(heights), transform=transform, shape=values.shape))


def _step(heights: DataArray, axis: str) -> float:
    """From one coordinate to the next; TerrainError where they are not even."""
    at = heights[axis].values.astype(float)
    if len(at) < 2:
        raise TerrainError(f"the array has one coordinate {axis}: its cells have no size")
    steps = np.diff(at)
    step = float(steps.mean())
    if not np.allclose(steps, step, rtol=_EVEN, atol=_EVEN * abs(step)):
        raise TerrainError(f"the coordinates {axis} of the array are not evenly spaced")
    return step


def _crs(heights: DataArray) -> CRS:
    name = heights.encoding.get("grid_mapping", heights.attrs.get("grid_mapping", _SYSTEM))
    known: Any = heights.coords.get(name)
    text = None if known is None else known.attrs.get("crs_wkt", known.attrs.get(_SYSTEM))
    if text is None:
        raise TerrainError(
            "the array has no reference system: write it with rioxarray's rio.write_crs"
        )
    return CRS.from_wkt(text)


def _xarray() -> Any:
    try:
        import xarray
    except ImportError as error:
        raise TerrainError(
            "xarray is not installed: pip install 'terrain[xarray]' brings it"
        ) from error
    return xarray
