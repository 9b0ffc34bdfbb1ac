"""What a stranger's raster may not do: read other files, and speak to a network.

Each fault is played for real: a port of this machine listens, and must not be called.
"""

from __future__ import annotations

import select
import socket
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import rasterio
from affine import Affine

from terrain.errors import TerrainError
from terrain.ground.raster.read import read_dem

UTM28 = "EPSG:32628"
AT = Affine(50, 0, 480_000, 0, -50, 6_040_000)
SECRET = 20


class Ear:
    """A port that listens and answers nothing."""

    def __init__(self) -> None:
        self.socket = socket.create_server(("127.0.0.1", 0))
        self.url = f"http://127.0.0.1:{self.socket.getsockname()[1]}"

    def was_called(self) -> bool:
        called = False
        while select.select([self.socket], [], [], 0.02)[0]:
            self.socket.accept()[0].close()
            called = True
        return called


@pytest.fixture
def ear(monkeypatch: pytest.MonkeyPatch) -> Iterator[Ear]:
    # should the code fail, the test does, and does not hang
    for option in ("GDAL_HTTP_TIMEOUT", "GDAL_HTTP_CONNECTTIMEOUT"):
        monkeypatch.setenv(option, "1")
    monkeypatch.setenv("GDAL_HTTP_MAX_RETRY", "0")
    listening = Ear()
    yield listening
    listening.socket.close()


def sheet(path: Path, height: float = 7.0, **tags: str) -> Path:
    profile = {"driver": "GTiff", "crs": UTM28, "transform": AT, "count": 1, "dtype": "float32"}
    path.parent.mkdir(exist_ok=True)
    with rasterio.open(path, "w", height=SECRET, width=SECRET, **profile) as raster:
        raster.write(np.full((1, SECRET, SECRET), height, dtype=np.float32))
        if tags:
            raster.update_tags(ns="OVERVIEWS", **tags)
    return path


def virtual(path: Path, inside: str, band: str = "", of_set: str = "") -> Path:
    path.parent.mkdir(exist_ok=True)
    path.write_text(
        f'<VRTDataset rasterXSize="{SECRET}" rasterYSize="{SECRET}"{of_set}><SRS>{UTM28}</SRS>'
        "<GeoTransform>480000, 50, 0, 6040000, 0, -50</GeoTransform>"
        f'<VRTRasterBand dataType="Byte" band="1"{band}>{inside}</VRTRasterBand></VRTDataset>',
        encoding="utf-8",
    )
    return path


def source(name: str, relative: int = 1, more: str = "") -> str:
    return (
        f'<SimpleSource><SourceFilename relativeToVRT="{relative}"{more}>{name}</SourceFilename>'
        "<SourceBand>1</SourceBand></SimpleSource>"
    )


RAW = "<ImageOffset>0</ImageOffset><PixelOffset>1</PixelOffset><LineOffset>20</LineOffset>"


def test_a_virtual_raster_does_not_write_a_file_of_another_folder_out_as_heights(
    tmp_path: Path,
) -> None:
    (tmp_path / "secret.txt").write_bytes(bytes(range(100, 200)) * 4)
    inside = f'<SourceFilename relativeToVRT="0">{tmp_path / "secret.txt"}</SourceFilename>{RAW}'
    file = virtual(tmp_path / "given" / "v.vrt", inside, ' subClass="VRTRawRasterBand"')
    with rasterio.open(file) as raster:
        assert raster.read(1)[0, 0] == 100  # GDAL does
    with pytest.raises(TerrainError, match=r"v.vrt has a part .*VRTRawRasterBand.*trust"):
        read_dem(file)
    assert read_dem(file, trust=True).heights_m.max() == 199


@pytest.mark.parametrize("way", ["absolute", "up", "link", "from_here", "nested"])
def test_a_virtual_raster_stays_in_its_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, way: str
) -> None:
    outside, given = sheet(tmp_path / "outside.tif", 70.0), tmp_path / "given"
    given.mkdir()
    monkeypatch.chdir(tmp_path)
    (given / "link.tif").symlink_to(outside)
    virtual(given / "sub" / "inner.vrt", source("../../outside.tif"))
    inside = {
        "absolute": source(str(outside), 0),
        "up": source("../outside.tif"),
        "link": source("link.tif"),
        "from_here": source("outside.tif", 0),
        "nested": source("sub/inner.vrt"),
    }[way]
    file = virtual(given / "v.vrt", inside)
    with pytest.raises(TerrainError, match=r"\.vrt names .* own folder: give trust") as caught:
        read_dem(file)
    assert "\n" not in str(caught.value)
    assert read_dem(file, trust=True).heights_m.max() == 70.0


def test_a_virtual_raster_reads_what_lies_beside_it_and_below(tmp_path: Path) -> None:
    sheet(tmp_path / "below" / "a.tif", 7.0)
    virtual(tmp_path / "below" / "inner.vrt", source("a.tif"))
    by_name = virtual(tmp_path / "n.vrt", source(str(tmp_path / "below" / "a.tif"), 0))
    for file in (by_name, virtual(tmp_path / "v.vrt", source("below/inner.vrt"))):
        assert (read_dem(file).heights_m == 7.0).all()


def test_a_virtual_raster_within_itself_ends(tmp_path: Path) -> None:
    virtual(tmp_path / "a.vrt", source("b.vrt"))
    with pytest.raises(TerrainError, match="name one another"):
        read_dem(virtual(tmp_path / "b.vrt", source("a.vrt")))


@pytest.mark.parametrize(
    "inside",
    [
        source("a.tif", more=' relativetovrt="0"'),
        source("a.tif").replace("SourceFilename", "sourcefilename"),
        source("a<!-- -->.tif"),
        source("a.tif") + "<PixelFunctionCode>import os</PixelFunctionCode>",
        source("a.tif")
        + '<Metadata domain="OVERVIEWS"><MDI key="OVERVIEW_FILE">x</MDI></Metadata>',
        source("a.tif") + "<Overview><SourceFilename>/etc/hostname</SourceFilename></Overview>",
        source("<![CDATA[<GDAL_WMS></GDAL_WMS>]]>"),
        source("NETCDF:a.tif:z"),
        source("vrt://a.tif"),
        source(""),
        source("none.tif"),
        source("a.tif", more=' é="1"'),
        source("a.tif") + '<Metadata é="1"></Metadata>',
    ],
)
def test_a_virtual_raster_of_odd_parts_is_refused(tmp_path: Path, inside: str) -> None:
    sheet(tmp_path / "a.tif")
    with pytest.raises(TerrainError, match=r"v.vrt"):
        read_dem(virtual(tmp_path / "v.vrt", inside))


def test_entities_are_not_unfolded(tmp_path: Path) -> None:
    file = virtual(tmp_path / "v.vrt", source("&lol;"))
    bomb = '<!DOCTYPE x [<!ENTITY lol SYSTEM "file:///etc/hostname">]>'
    file.write_text(bomb + file.read_text())
    with pytest.raises(TerrainError, match="entities"):
        read_dem(file)


def wms(url: str) -> str:
    return (
        f"<GDAL_WMS><Service name='TMS'><ServerUrl>{url}/${{z}}/${{x}}/${{y}}.png</ServerUrl>"
        "</Service><DataWindow><UpperLeftX>0</UpperLeftX><UpperLeftY>10</UpperLeftY>"
        "<LowerRightX>10</LowerRightX><LowerRightY>0</LowerRightY><TileLevel>1</TileLevel>"
        "</DataWindow><Projection>EPSG:32628</Projection><BandsCount>1</BandsCount></GDAL_WMS>"
    )


def test_a_file_that_is_an_order_to_fetch_is_no_raster(tmp_path: Path, ear: Ear) -> None:
    orders = {
        "wms.tif": wms(ear.url),
        "wcs.tif": f"<WCS_GDAL><ServiceURL>{ear.url}/w?</ServiceURL>"
        "<CoverageName>x</CoverageName></WCS_GDAL>",
        "wmts.tif": f"<GDAL_WMTS><GetCapabilitiesUrl>{ear.url}/w</GetCapabilitiesUrl></GDAL_WMTS>",
        "mrf.tif": f"<MRF_META><CachedSource><Source>/vsicurl/{ear.url}/a.tif</Source>"
        "</CachedSource><Raster><Size x='20' y='20'/></Raster></MRF_META>",
        "stac.json": '{"type":"Feature","stac_version":"1.0.0","assets":{"a":{"href":"'
        + ear.url
        + '/a.tif"}}}',
    }
    for name, order in orders.items():
        (tmp_path / name).write_text(order, encoding="utf-8")
        with pytest.raises(TerrainError, match="cannot be read as an elevation raster"):
            read_dem(tmp_path / name)
        assert not ear.was_called(), name
        with pytest.raises(TerrainError, match=rf"names '{name}', which is no raster"):
            read_dem(virtual(tmp_path / "v.vrt", source(name)))
        assert not ear.was_called(), name


@pytest.mark.parametrize("way", ["", "/vsicurl/", "/vsicurl_streaming/"])
def test_a_virtual_raster_does_not_fetch(tmp_path: Path, ear: Ear, way: str) -> None:
    file = virtual(tmp_path / "v.vrt", source(f"{way}{ear.url}/a.tif", 0))
    with pytest.raises(TerrainError, match="give trust"):
        read_dem(file)
    assert not ear.was_called()
    with pytest.raises(TerrainError):
        read_dem(file, trust=True)
    assert ear.was_called()  # so the ear hears


@pytest.mark.parametrize("order", ["/vsicurl/{url}/o.tif", "<GDAL_WMS>", "/etc/hostname"])
def test_overviews_are_in_the_file(tmp_path: Path, ear: Ear, order: str) -> None:
    order = wms(ear.url) if order == "<GDAL_WMS>" else order.format(url=ear.url)
    file = sheet(tmp_path / "a.tif", OVERVIEW_FILE=order)
    with pytest.raises(TerrainError, match="its overviews are in"):
        read_dem(file)
    assert not ear.was_called()


def test_the_reference_system_of_a_file_is_not_fetched(tmp_path: Path, ear: Ear) -> None:
    file = virtual(tmp_path / "v.vrt", source("a.tif"))
    sheet(tmp_path / "a.tif")
    file.write_text(file.read_text().replace(UTM28, f"{ear.url}/crs"))
    with pytest.raises(TerrainError):
        read_dem(file)
    assert not ear.was_called()


def test_what_the_user_names_by_an_address_is_fetched(ear: Ear) -> None:
    for address in (f"{ear.url}/a.tif", f"/vsicurl/{ear.url}/b.tif"):
        with pytest.raises(TerrainError, match="cannot be read"):
            read_dem(address)
        assert ear.was_called()


def test_a_variable_is_in_the_file_that_lists_it(tmp_path: Path) -> None:
    other, file = sheet(tmp_path / "other.tif", 70.0), sheet(tmp_path / "a.tif")
    with rasterio.open(file, "r+") as raster:
        raster.update_tags(
            ns="SUBDATASETS", SUBDATASET_1_NAME=f"GTIFF_DIR:1:{other}", SUBDATASET_1_DESC="z"
        )
    with pytest.raises(TerrainError) as caught:
        read_dem(file, variable=f"1:{other}".strip("/"))
    assert "a.tif" in str(caught.value)


def test_a_pipe_is_not_waited_for(tmp_path: Path) -> None:
    import os

    os.mkfifo(tmp_path / "p.tif")
    with pytest.raises(TerrainError, match="a device or a pipe"):
        read_dem(tmp_path / "p.tif")
