"""Files of several bands or variables: one is chosen, or all are listed in one line."""

from __future__ import annotations

import warnings
from pathlib import Path

import numpy as np
import pytest
import rasterio
from affine import Affine
from rasterio.enums import ColorInterp
from rasterio.errors import NotGeoreferencedWarning
from scipy.io import netcdf_file

from terrain.errors import TerrainError
from terrain.ground.raster import chosen
from terrain.ground.raster.parts import read_parts
from terrain.ground.raster.read import read_dem

UTM28 = "EPSG:32628"
AT = Affine(50, 0, 480_000, 0, -50, 6_040_000)
GROUND = (100 + np.arange(30).reshape(5, 6)).astype(np.float32)


def several_bands(file: Path, *, void: float | None = None) -> Path:
    """Slopes, heights, and a band that says nothing of itself."""
    profile = {"driver": "GTiff", "crs": UTM28, "transform": AT, "nodata": void}
    with rasterio.open(file, "w", count=3, height=5, width=6, dtype="float32", **profile) as raster:
        raster.write(np.stack([GROUND / 10, GROUND, GROUND - 50]))
        raster.descriptions = ("slope", "height", None)
        raster.units = ("degrees", "m", None)
        raster.scales, raster.offsets = (1, 2, 1), (0, 10, 0)
        raster.colorinterp = [ColorInterp.gray, ColorInterp.undefined, ColorInterp.undefined]
    return file


def netcdf(file: Path, names: dict[str, np.ndarray], times: int = 0) -> Path:
    """NetCDF on degrees, as scipy and not GDAL writes it."""
    with netcdf_file(file, "w") as out:
        for name, count in {"lat": 5, "lon": 6, "time": times}.items():
            if count:
                out.createDimension(name, count)
        axes = [("lat", 54.5 - np.arange(5) / 1200, "degrees_north")]
        axes += [("lon", np.arange(6) / 1200 - 24, "degrees_east")]
        axes += [("time", np.arange(times) * 1.0, "hours since 2020-01-01")] if times else []
        for name, values, unit in axes:
            axis = out.createVariable(name, "f8", (name,))
            axis[:], axis.units = values, unit
        for name, values in names.items():
            about = ("time", "lat", "lon") if times else ("lat", "lon")
            out.createVariable(name, "f4", about)[:] = values
    return file


def layers(file: Path) -> Path:
    profile = {"driver": "GPKG", "crs": UTM28, "transform": AT, "dtype": "float32", "count": 1}
    more: dict[str, str] = {}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        for name, values in (("slope", GROUND / 10), ("dem", GROUND)):
            with rasterio.open(
                file, "w", height=5, width=6, raster_table=name, **more, **profile
            ) as raster:
                raster.write(values, 1)
            more = {"append_subdataset": "YES"}
    return file


def pages(file: Path) -> Path:
    profile = {"driver": "GTiff", "crs": UTM28, "transform": AT, "dtype": "float32", "count": 1}
    more: dict[str, str] = {}
    for values in (GROUND / 10, GROUND):
        with rasterio.open(file, "w", height=5, width=6, **more, **profile) as raster:
            raster.write(values, 1)
        more = {"append_subdataset": "YES"}
    return file


def refusal(file: Path, **choice: object) -> str:
    with pytest.raises(TerrainError) as caught:
        read_dem(file, **choice)
    assert "\n" not in str(caught.value)
    return str(caught.value)


def test_several_bands_are_listed_and_one_is_chosen(tmp_path: Path) -> None:
    file = several_bands(tmp_path / "bands.tif")
    listed = "1 (slope [degrees]), 2 (height [m]), 3"
    assert f"bands.tif has 3 bands: {listed}; say with band" in refusal(file)
    assert f"bands.tif has no band 4 of heights: it has {listed}" in refusal(file, band=4)
    assert "no band 0" in refusal(file, band=0)
    # with the scale and the offset of that band
    np.testing.assert_array_equal(read_dem(file, band=2).heights_m, 2 * GROUND + 10)
    np.testing.assert_array_equal(read_dem(file, band=3).heights_m, GROUND - 50)
    (part,) = read_parts(file, side_m=1_000.0, margin_m=0.0, band=3)
    np.testing.assert_array_equal(part.dem.heights_m, GROUND - 50)


def test_the_voids_of_a_band_are_its_own(tmp_path: Path) -> None:
    dem = read_dem(several_bands(tmp_path / "bands.tif", void=70.0), band=3)
    assert np.argwhere(np.isnan(dem.heights_m)).tolist() == [[3, 2]]


def test_a_file_of_one_band_may_be_asked_for_it(tmp_path: Path) -> None:
    file = tmp_path / "alpha.tif"
    profile = {"driver": "GTiff", "crs": UTM28, "transform": AT, "dtype": "int16", "count": 2}
    with rasterio.open(file, "w", height=5, width=6, **profile) as raster:
        raster.write(np.stack([GROUND, np.full_like(GROUND, 255)]).astype("int16"))
    with rasterio.open(file, "r+") as raster:
        raster.colorinterp = (ColorInterp.gray, ColorInterp.alpha)
    np.testing.assert_array_equal(read_dem(file, band=1).heights_m, GROUND)
    assert "no band 2 of heights: it has 1" in refusal(file, band=2)


def test_a_long_list_is_cut_before_it_is_made(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[int] = []
    monkeypatch.setattr(chosen, "_band", lambda _, number: asked.append(number) or str(number))
    file = tmp_path / "many.tif"
    profile = {"driver": "GTiff", "crs": UTM28, "transform": AT, "dtype": "int16", "count": 300}
    with rasterio.open(file, "w", height=1, width=1, **profile):
        pass
    assert "has 300 bands: 1, 2, 3, " in refusal(file)
    assert "19, 20 and 280 more;" in refusal(file)
    assert max(asked) == 20


def test_variables_of_netcdf(tmp_path: Path) -> None:
    file = netcdf(tmp_path / "vars.nc", {"slope": GROUND / 10, "z": GROUND})
    listed = refusal(file, crs="EPSG:4326")
    assert "vars.nc holds 2 variables: slope, z; say with variable" in listed
    missing = refusal(file, crs="EPSG:4326", variable="height")
    assert "vars.nc has no variable 'height': it holds slope, z" in missing
    dem = read_dem(file, crs="EPSG:4326", variable="z")
    np.testing.assert_array_equal(dem.delivered.heights_m, GROUND)
    # without a place on the earth the file is named, not the variable in it
    assert "vars.nc does not say its coordinate" in refusal(file, variable="z")


def test_one_variable_of_netcdf(tmp_path: Path) -> None:
    file = netcdf(tmp_path / "one.nc", {"z": GROUND})
    for choice in ({}, {"variable": "z"}):
        dem = read_dem(file, crs="EPSG:4326", **choice)
        np.testing.assert_array_equal(dem.delivered.heights_m, GROUND)
    assert "no variable 'dem': it holds 'z'" in refusal(file, crs="EPSG:4326", variable="dem")


def test_moments_of_a_variable_are_bands(tmp_path: Path) -> None:
    file = netcdf(tmp_path / "t.nc", {"z": np.stack([GROUND, GROUND + 7])}, times=2)
    assert "has 2 bands: 1 (time 0), 2 (time 1);" in refusal(file, crs="EPSG:4326")
    dem = read_dem(file, crs="EPSG:4326", band=2, variable="z")
    np.testing.assert_array_equal(dem.delivered.heights_m, GROUND + 7)


def test_layers_and_pages(tmp_path: Path) -> None:
    gpkg, tif = layers(tmp_path / "l.gpkg"), pages(tmp_path / "p.tif")
    assert "l.gpkg holds 2 variables: slope, dem;" in refusal(gpkg)
    assert "p.tif holds 2 variables: 1, 2;" in refusal(tif)
    np.testing.assert_array_equal(read_dem(gpkg, variable="dem").heights_m, GROUND)
    np.testing.assert_array_equal(read_dem(tif, variable="2").heights_m, GROUND)
    plain = several_bands(tmp_path / "plain.tif")
    assert "no variable 'z': leave variable out" in refusal(plain, variable="z", band=1)
