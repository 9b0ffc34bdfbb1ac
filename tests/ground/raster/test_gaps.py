"""Cells that nobody wrote are unknown, though GDAL reads them as ground at 0 m."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import rasterio
from affine import Affine
from hypothesis import given, settings
from hypothesis import strategies as st
from rasterio.windows import Window

from terrain.errors import TerrainError
from terrain.ground.geodesy import destination
from terrain.ground.places import Spot
from terrain.ground.raster.read import read_dem

UTM28 = "EPSG:32628"
SIDE = 64
AT = Affine(50, 0, 480_000, 0, -50, 6_040_000)


def sheet(
    file: Path, height: float = 7.0, shape: tuple[int, int] = (20, 30), **more: object
) -> Path:
    profile = {"driver": "GTiff", "crs": UTM28, "transform": AT, "count": 1, "dtype": "float32"}
    rows, cols = shape
    with rasterio.open(file, "w", height=rows, width=cols, **{**profile, **more}) as raster:
        raster.write(np.full((1, rows, cols), height, dtype=profile["dtype"]))
    return file


def source(name: str, onto: tuple[float, ...] = (), of: tuple[float, ...] = ()) -> str:
    """A source of a virtual raster; onto, of: column, row, columns, rows."""
    rectangles = "".join(
        '<{} xOff="{}" yOff="{}" xSize="{}" ySize="{}"/>'.format(tag, *rectangle)
        for tag, rectangle in (("SrcRect", of), ("DstRect", onto))
        if rectangle
    )
    return (
        f'<SimpleSource><SourceFilename relativeToVRT="1">{name}</SourceFilename>'
        f"<SourceBand>1</SourceBand>{rectangles}</SimpleSource>"
    )


def virtual(file: Path, *sources: str, nodata: str = "", size: int = SIDE) -> Path:
    file.write_text(
        f"""<VRTDataset rasterXSize="{size}" rasterYSize="{size}"><SRS>{UTM28}</SRS>
        <GeoTransform>480000, 50, 0, 6040000, 0, -50</GeoTransform>
        <VRTRasterBand dataType="Float32" band="1">{nodata}{"".join(sources)}</VRTRasterBand>
        </VRTDataset>"""
    )
    return file


def sparse(file: Path, *, tiled: bool, nodata: float | None = None) -> np.ndarray:
    """A file of 64 by 64 cells of which two parts were written, 0 m in one corner of them."""
    blocks = {"tiled": True, "blockxsize": 16, "blockysize": 16} if tiled else {"blockysize": 8}
    heights = np.full((SIDE, SIDE), np.nan, dtype=np.float32)
    profile = {"driver": "GTiff", "crs": UTM28, "transform": AT, "count": 1, "dtype": "int16"}
    profile |= {"height": SIDE, "width": SIDE, "sparse_ok": True, "nodata": nodata}
    with rasterio.open(file, "w", **profile, **blocks) as raster:
        for row, rows in ((0, 16), (48, 8)):
            part = np.full((rows, 16 if tiled else SIDE), 7, dtype=np.int16)
            part[0, 0] = 0
            window = Window(16 if tiled else 0, row, part.shape[1], rows)
            raster.write(part, 1, window=window)
            if tiled:
                # the rest of the block is written with it
                heights[row : row + 16, 16:32] = 0 if nodata is None else np.nan
            heights[row : row + rows, window.col_off : window.col_off + part.shape[1]] = part
    return heights


def test_a_gap_between_the_sources_of_a_virtual_raster_is_unknown(tmp_path: Path) -> None:
    sheet(tmp_path / "a.tif")
    (tmp_path / "sub").mkdir()
    low = sheet(tmp_path / "sub" / "sea.tif", 0.0)
    assert low.exists()
    expected = np.full((SIDE, SIDE), np.nan)
    expected[0:20, 0:30], expected[30:50, 20:50] = 7.0, 0.0
    sources = source("a.tif"), source("sub/sea.tif", (20, 30, 30, 20), (0, 0, 30, 20))
    for nodata in ("", "<NoDataValue>-99</NoDataValue>"):
        file = virtual(tmp_path / "gap.vrt", *sources, nodata=nodata)
        dem = read_dem(file)
        np.testing.assert_array_equal(dem.heights_m, expected)
    lon, lat = (float(place) for place in dem.grid.lonlat(35, 30))
    part = read_dem(file, around=Spot(lon_deg=lon, lat_deg=lat), reach_m=500)
    np.testing.assert_array_equal(part.heights_m, expected[25:46, 20:41])


def test_a_virtual_raster_named_from_its_own_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    sheet(tmp_path / "a.tif")
    virtual(tmp_path / "gap.vrt", source("a.tif"))
    monkeypatch.chdir(tmp_path)
    assert np.isfinite(read_dem("gap.vrt").heights_m).sum() == 600


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.tuples(st.floats(-10, 60), st.floats(-10, 60), st.floats(1.5, 70), st.floats(1.5, 70)),
        max_size=4,
    )
)
def test_what_gdal_filled_with_nothing_is_unknown(
    tmp_path_factory: pytest.TempPathFactory, places: list[tuple[float, ...]]
) -> None:
    # sources that lie anywhere, of larger and smaller cells; they hold no 0, so GDAL's own 0 tells
    folder = tmp_path_factory.mktemp("virtual")
    sheet(folder / "a.tif")
    sources = [source("a.tif", place, (0, 0, 30, 20)) for place in places]
    halves = [source("a.tif", (50, 50, 9, 9)), source("a.tif", of=(0, 0, 9, 9))]
    file = virtual(folder / "v.vrt", *sources, *halves)
    # GDAL takes nothing from one with but one rectangle
    with rasterio.open(file) as raster:
        is_filled = raster.read(1) == 0.0
    if is_filled.all():
        with pytest.raises(TerrainError, match="no known height"):
            read_dem(file)
        return
    np.testing.assert_array_equal(np.isnan(read_dem(file).heights_m), is_filled)


@pytest.mark.parametrize("tiled", [True, False])
@pytest.mark.parametrize("nodata", [None, -5.0])
def test_missing_blocks_are_unknown(tmp_path: Path, tiled: bool, nodata: float | None) -> None:
    heights = sparse(tmp_path / "sparse.tif", tiled=tiled, nodata=nodata)
    dem = read_dem(tmp_path / "sparse.tif")
    np.testing.assert_array_equal(dem.heights_m, heights)
    assert (dem.heights_m == 0.0).any()
    lon, lat = (float(place) for place in dem.grid.lonlat(12, 20))
    part = read_dem(tmp_path / "sparse.tif", around=Spot(lon_deg=lon, lat_deg=lat), reach_m=400)
    np.testing.assert_array_equal(part.heights_m, heights[4:21, 12:29])


def test_missing_blocks_of_a_stack_are_each_bands_own(tmp_path: Path) -> None:
    file = tmp_path / "stack.tif"
    profile = {"driver": "GTiff", "crs": UTM28, "transform": AT, "count": 2, "dtype": "int16"}
    profile |= {"height": 32, "width": 16, "sparse_ok": True, "interleave": "band"}
    profile |= {"tiled": True, "blockxsize": 16, "blockysize": 16}
    with rasterio.open(file, "w", **profile) as raster:
        raster.write(np.full((16, 16), 7, dtype=np.int16), 1, window=Window(0, 0, 16, 16))
        raster.write(np.full((16, 16), 8, dtype=np.int16), 2, window=Window(0, 16, 16, 16))
    first, second = (read_dem(file, band=band).heights_m for band in (1, 2))
    assert (first[:16] == 7).all()
    assert np.isnan(first[16:]).all()
    assert (second[16:] == 8).all()
    assert np.isnan(second[:16]).all()


@pytest.mark.parametrize("nodata", ["", "<NoDataValue>-99</NoDataValue>"])
def test_gaps_of_a_source_are_gaps_of_the_virtual_raster(tmp_path: Path, nodata: str) -> None:
    heights = sparse(tmp_path / "sparse.tif", tiled=True)
    inner = source("sparse.tif")
    virtual(tmp_path / "inner.vrt", inner)
    outer = source("inner.vrt")
    dem = read_dem(virtual(tmp_path / "outer.vrt", outer, nodata=nodata))
    np.testing.assert_array_equal(dem.heights_m, heights)
    # at half the size: cells of the source two by two
    half = source("sparse.tif", (0, 0, SIDE / 2, SIDE / 2), (0, 0, SIDE, SIDE))
    dem = read_dem(virtual(tmp_path / "half.vrt", half, nodata=nodata, size=SIDE // 2))
    np.testing.assert_array_equal(np.isnan(dem.heights_m), np.isnan(heights[::2, ::2]))


def test_voids_of_a_source_are_voids_of_the_virtual_raster(tmp_path: Path) -> None:
    heights = sparse(tmp_path / "void.tif", tiled=True, nodata=0.0)
    file = virtual(tmp_path / "v.vrt", source("void.tif"))
    np.testing.assert_array_equal(
        np.isnan(read_dem(file).heights_m), np.isnan(heights) | (heights == 0)
    )


def test_a_source_that_is_not_there(tmp_path: Path) -> None:
    file = virtual(tmp_path / "v.vrt", source("none.tif", (0, 0, 9, 9), (0, 0, 9, 9)))
    with pytest.raises(TerrainError, match=r"v.vrt cannot be read"):
        read_dem(file)


def test_a_place_in_a_gap_has_no_height(tmp_path: Path) -> None:
    sheet(tmp_path / "a.tif")
    dem = read_dem(virtual(tmp_path / "v.vrt", source("a.tif")))
    lon, lat = (float(place) for place in dem.grid.lonlat(10, 20))
    assert dem.height_at(lon, lat) == 7.0
    assert np.isnan(dem.heights_at(*destination(lon, lat, 180.0, 1500.0)))
