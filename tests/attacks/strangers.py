"""Files that a stranger hands over: damaged archives, orders to fetch; an ear hears nothing."""

from __future__ import annotations

import functools
import io
import itertools
import socket
import warnings
import zipfile
from collections.abc import Iterable, Iterator
from typing import Final

from tests.attacks import AREA, Case, Laid, Left, ground, island
from tests.attacks.environment import COMMANDS


@functools.cache
def _ear() -> socket.socket:
    """A port of this machine that nobody may speak to."""
    ear = socket.create_server(("127.0.0.1", 0))
    ear.setblocking(False)
    return ear


def _address(name: str) -> str:
    return f"http://127.0.0.1:{_ear().getsockname()[1]}/{name}"


def _is_silent(left: Left) -> Iterable[str]:
    try:
        _ear().accept()[0].close()
    except BlockingIOError:
        return
    yield "it speaks to a network"


def _zip(*names: str, content: bytes | None = None) -> bytes:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive, warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of a name that is there twice
        for name in names:
            archive.writestr(zipfile.ZipInfo(name), ground() if content is None else content)
    return packed.getvalue()


def _spoilt(content: bytes, at: float) -> bytes:
    """With sixteen bytes changed at a share of its length."""
    first = int(at * (len(content) - 16))
    changed = bytes(one ^ 0x5A for one in content[first : first + 16])
    return content[:first] + changed + content[first + 16 :]


def _archives() -> dict[str, bytes]:
    good = _zip("isle.tif")
    return {
        "cut at half": good[: len(good) // 2],
        "cut at its end": good[:-10],
        "without a beginning": good[100:],
        **{f"spoilt at {at}": _spoilt(good, at) for at in (0.0, 0.1, 0.5, 0.9, 0.97, 1.0)},
        "of nothing": _zip(),
        "of text": _zip("readme.txt", content=b"nothing"),
        "of an empty raster": _zip("isle.tif", content=b""),
        "in an archive": _zip("in.zip", content=good),
        "that leads out": _zip("../../isle.tif"),
        "with a name from the root": _zip("/etc/isle.tif"),
        "with a name of signs": _zip("is\x1ble\u202e.tif"),
        "with one name twice": _zip("isle.tif", "isle.tif"),
        "of many": _zip(*(f"{number}.tif" for number in range(60))),
        "of noughts": _zip("isle.tif", content=bytes(50_000_000)),
        "empty": b"",
        "that is none": b"PK\x03\x04",
    }


_BAND: Final = '<VRTDataset rasterXSize="100" rasterYSize="80"><SRS>EPSG:32627</SRS>'
_ORDERS: Final = {
    "a file of the system": "/etc/hostname",
    "a file above": "../isle.tif",
    "itself": "isle.vrt",
    "what is not there": "gone.tif",
    "a device": "/dev/zero",
    "a pipe of a shell": "/vsistdin/",
    "an archive afar": "/vsizip//vsicurl/ADDRESS",
    "a network": "ADDRESS",
    "a network by GDAL": "/vsicurl/ADDRESS",
    "a network of streams": "/vsicurl_streaming/ADDRESS",
    "a network by a driver": "WMS:ADDRESS?request=GetMap",
    "another text": '&lt;GDAL_WMS&gt;&lt;Service name="TMS"&gt;&lt;ServerUrl&gt;ADDRESS'
    "&lt;/ServerUrl&gt;&lt;/Service&gt;&lt;/GDAL_WMS&gt;",
}


def _virtual(source: str) -> str:
    source = source.replace("ADDRESS", _address("isle.tif"))
    return (
        f"{_BAND}<GeoTransform>300000,50,0,6035000,0,-50</GeoTransform>"
        f'<VRTRasterBand dataType="Float32" band="1"><SimpleSource>'
        f'<SourceFilename relativeToVRT="0">{source}</SourceFilename><SourceBand>1</SourceBand>'
        f"</SimpleSource></VRTRasterBand></VRTDataset>"
    )


def _lists() -> dict[str, tuple[str, Laid]]:
    far = _address("names.geojson")
    return {
        "a link for a system": (
            "names.geojson",
            '{"type":"FeatureCollection","crs":{"type":"link","properties":{"href":"' + far + '"}},'
            '"features":[]}',
        ),
        "a feature service": ("names.geojson", '{"type":"FeatureCollection","href":"' + far + '"}'),
        "a list of addresses": ("names.geojson", f'"{far}"'),
        "a link in KML": (
            "names.kml",
            f'<kml xmlns="http://www.opengis.net/kml/2.2"><NetworkLink><Link><href>{far}</href>'
            "</Link></NetworkLink></kml>",
        ),
        "an entity": (
            "names.gpx",
            f'<!DOCTYPE gpx [<!ENTITY a SYSTEM "{far}">]><gpx version="1.1">'
            '<wpt lat="54" lon="-24"><name>&a;</name></wpt></gpx>',
        ),
        "a thousand laughs": (
            "names.gpx",
            '<!DOCTYPE gpx [<!ENTITY a "ha">'
            + "".join(f'<!ENTITY {b} "{f"&{a};" * 20}">' for a, b in itertools.pairwise("abcdefgh"))
            + ']><gpx version="1.1"><wpt lat="54" lon="-24"><name>&h;</name></wpt></gpx>',
        ),
        "a virtual table": (
            "names.geojson",
            f'<OGRVRTDataSource><OGRVRTLayer name="a"><SrcDataSource>{far}</SrcDataSource>'
            "</OGRVRTLayer></OGRVRTDataSource>",
        ),
        "no ground under it": ("names.csv", "name,lat,lon\n" + "far,0,0\n" * 20_000),
    }


_SPEAKERS: Final = ("summits", "mist", "skyline", "vantages", "season", "survey")


def cases() -> Iterator[Case]:
    """All of them."""
    for how, content in _archives().items():
        for command in ("summits", "mist"):
            yield Case(
                f"{command} of an archive {how}",
                [command, "isle.zip", *(["--mist-top=150"] if command == "mist" else [])],
                {"isle.zip": content},
                quick=(command, how) == ("summits", "spoilt at 0.5"),
            )
    for what, source in _ORDERS.items():
        for command in _SPEAKERS:
            words = [command, "area.toml", *COMMANDS[command]]
            laid = island(
                area__toml=AREA.replace("isle.tif", "isle.vrt"), isle__vrt=_virtual(source)
            )
            quick = (command, what) == ("summits", "a network by GDAL")
            yield Case(f"{command} of {what}", words, laid, holds=_is_silent, quick=quick)
    for what, (name, content) in _lists().items():
        for command in _SPEAKERS:
            yield Case(
                f"{command} with names of {what}",
                [command, "area.toml", *COMMANDS[command], f"--names={name}"],
                island() | {name: content},
                holds=_is_silent,
            )
    for key in ("rasters", "summits", "paths"):
        far = _address("isle.tif")
        value = f'["{far}"]' if key == "rasters" else f'"{far}"'
        area = f"{key} = {value}\n" + "\n".join(
            line for line in AREA.splitlines() if not line.startswith(f"{key} =")
        )
        for command in _SPEAKERS:
            words = [command, "area.toml", *COMMANDS[command]]
            laid = island(area__toml=area)
            yield Case(f"{command}: {key} at an address", words, laid, holds=_is_silent)
