"""What a virtual raster may name: rasters in its own folder and below it.

Its maker may be a stranger, and GDAL opens whatever it names: a file of passwords laid out as
heights, or a server that is told who reads. So every part of it must be one that is known here, and
every source a raster that lies beside it. Whoever trusts the maker says so (`trust`).
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path
from typing import Final
from xml.etree import ElementTree

from terrain.errors import TerrainError

_HEAD_BYTES: Final = 4096
_MOST_BYTES: Final = 200_000_000
_DEEPEST: Final = 8

_PARTS: Final = frozenset(
    (
        *("VRTDataset", "SRS", "GeoTransform", "Metadata", "MDI", "BlockXSize", "BlockYSize"),
        *("VRTRasterBand", "Description", "UnitType", "Offset", "Scale", "ColorInterp"),
        *("NoDataValue", "HideNoDataValue", "ColorTable", "Entry", "CategoryNames", "Category"),
        *("Histograms", "HistItem", "HistMin", "HistMax", "BucketCount", "IncludeOutOfRange"),
        *("Approximate", "HistCounts", "MaskBand", "OverviewList"),
        *("SimpleSource", "ComplexSource", "AveragedSource", "KernelFilteredSource"),
        *("SourceFilename", "SourceBand", "SourceProperties", "SrcRect", "DstRect", "NODATA"),
        *("ScaleOffset", "ScaleRatio", "LUT", "UseMaskBand", "Exponent", "SrcMin", "SrcMax"),
        *("DstMin", "DstMax", "Clamp", "ColorTableComponent", "Kernel", "Size", "Coefs"),
        *("GDALWarpOptions", "WarpMemoryLimit", "ResampleAlg", "WorkingDataType", "Option"),
        *("SourceDataset", "Transformer", "ApproxTransformer", "MaxError", "BaseTransformer"),
        *("GenImgProjTransformer", "SrcGeoTransform", "SrcInvGeoTransform", "DstGeoTransform"),
        *("DstInvGeoTransform", "ReprojectTransformer", "ReprojectionTransformer", "SourceSRS"),
        *("TargetSRS", "SourceCRS", "TargetCRS", "BandList", "BandMapping", "SrcNoDataReal"),
        *("SrcNoDataImag", "DstNoDataReal", "DstNoDataImag", "SrcAlphaBand", "DstAlphaBand"),
        *("InitDest",),
    )
)
_BAND_KINDS: Final = (None, "VRTSourcedRasterBand", "VRTWarpedRasterBand")
_DATASET_KINDS: Final = (None, "VRTWarpedDataset")
_NAMING: Final = ("SourceFilename", "SourceDataset")
_OF_NAMES: Final = frozenset(("relativeToVRT", "shared"))
_ODD_TEXT: Final = re.compile(r"<!DOCTYPE|<!ENTITY|<!\[CDATA", re.IGNORECASE)
_MOSTLY: Final = 0.9
_TRUST: Final = ": give trust if you know who made it"

# what files begin with that no other driver of GDAL takes for its own
_BEGINNINGS: Final = (
    *(b"II*\0", b"MM\0*", b"II+\0", b"MM\0+", b"EHFA_HEADER_TAG", b"\x89HDF", b"CDF", b"GRIB"),
    *(b"UHL1", b"\x89PNG", b"\xff\xd8\xff", b"\0\0\0\x0cjP", b"ncols", b"NCOLS"),
)


def is_virtual(path: str) -> bool:
    """Whether a file is a virtual raster, by what it begins with."""
    return b"<VRTDataset" in _head(path)


def check_virtual(path: str) -> None:
    """Stop at a virtual raster that may lead out of its folder."""
    state = Path(path).stat()
    _check_as_it_is(Path(path).resolve(), path, (state.st_mtime_ns, state.st_size))


@lru_cache(maxsize=256)
def _check_as_it_is(path: Path, called: str, state: tuple[int, int]) -> None:
    """The same; state: tells the file from another of its name."""
    _check(path, path.parent, called, _DEEPEST)


def _check(path: Path, folder: Path, called: str, deep: int) -> None:
    described = _described(path, called)
    for part in described.iter():
        _check_part(part, called)
    for name, is_relative in set(_named(described, called)):
        source = _source(path, folder, name, is_relative, called)
        if is_virtual(str(source)):
            if deep == 0 or source == path:
                raise TerrainError(f"{called} names virtual rasters that name one another")
            _check(source, folder, str(source), deep - 1)
        elif not _is_plain(source):
            raise TerrainError(
                f"{called} names {name!r}, which is no raster by what it begins with{_TRUST}"
            )


def _described(path: Path, called: str) -> ElementTree.Element:
    try:
        if path.stat().st_size > _MOST_BYTES:
            raise TerrainError(f"{called} is too long for a virtual raster")
        text = path.read_text(encoding="utf-8-sig")
        if _ODD_TEXT.search(text):
            raise TerrainError(
                f"{called} declares a document type or entities: no raster needs them"
            )
        builder = ElementTree.TreeBuilder(insert_comments=True, insert_pis=True)
        return ElementTree.fromstring(text, parser=ElementTree.XMLParser(target=builder))
    except (ElementTree.ParseError, ValueError, OSError, RecursionError) as error:
        raise TerrainError(f"{called} cannot be read as a virtual raster: {error}") from error


def _check_part(part: ElementTree.Element, called: str) -> None:
    if not isinstance(part.tag, str):  # a comment
        return
    known = part.tag in _PARTS
    if part.tag == "VRTRasterBand":
        known = part.get("subClass") in _BAND_KINDS
    elif part.tag == "VRTDataset":
        known = part.get("subClass") in _DATASET_KINDS
    elif part.tag == "Metadata":
        known = part.get("domain", "") in ("", "IMAGE_STRUCTURE")
    elif part.tag in _NAMING:
        known = not len(part) and set(part.attrib) <= _OF_NAMES
    if not known:
        what = " ".join([part.tag, *(f'{key}="{value}"' for key, value in part.attrib.items())])
        raise TerrainError(f"{called} has a part that could lead elsewhere ({what[:80]}){_TRUST}")
    for key in part.attrib:
        # GDAL complains of half a letter, and rasterio prints a traceback of that
        if not key.isascii():
            raise TerrainError(
                f"{called} cannot be read as a virtual raster: {part.tag} has no {key[:80]!r}"
            )


def _named(described: ElementTree.Element, called: str) -> Iterator[tuple[str, bool]]:
    for part in described.iter():
        if part.tag in _NAMING:
            relative = part.get("relativeToVRT", "0").strip()
            if relative not in ("0", "1"):
                raise TerrainError(f"{called} says relativeToVRT={relative!r}: it is 0 or 1")
            yield part.text or "", relative == "1"


def _source(path: Path, folder: Path, name: str, is_relative: bool, called: str) -> Path:
    """The file of a source; TerrainError where it is not one in the folder."""
    is_local = bool(name.strip()) and ":" not in name and not name.startswith(("<", "{", "/vsi"))
    within = path.parent / name if is_relative else Path(name)
    try:
        real = within.resolve()
        inside = is_local and real.is_relative_to(folder)
        if inside and not real.is_file():
            raise TerrainError(f"{called} cannot be read: there is no {name} beside it")
    except (OSError, ValueError, RuntimeError):
        inside = False
    if not inside:
        raise TerrainError(
            f"{called} names {name[:200]!r}, which is no file in its own folder{_TRUST}"
        )
    return real


def _is_plain(path: Path) -> bool:
    """Whether no driver of GDAL can take a file for orders to look elsewhere: those are text."""
    head = _head(str(path))
    is_text = sum(32 <= byte < 127 or byte in b"\t\r\n" for byte in head) > _MOSTLY * len(head)
    return head.startswith(_BEGINNINGS) or not is_text


def _head(path: str) -> bytes:
    try:
        with Path(path).open("rb") as file:
            return file.read(_HEAD_BYTES)
    except (OSError, ValueError):
        return b""
