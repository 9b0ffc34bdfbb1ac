"""Which files of features are opened: those that begin as a few kinds of them do.

The library that reads them opens many more, and some are a few lines of text, under any ending,
that say where to fetch the features from.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Final
from xml.etree import ElementTree

from terrain.errors import TerrainError

_HEAD_BYTES: Final = 65_536
_ODD_XML: Final = re.compile(rb"<!DOCTYPE|<!ENTITY|\0", re.IGNORECASE)
# a link to a reference system, spelled out or in escapes; and orders to compute
_MAY_LINK: Final = re.compile(rb"href|\\u00|gdal_streamed_alg", re.IGNORECASE)


def check_features(path: str, kind: str) -> None:
    """Stop at a file that is not of the kind its ending says; kind: what it should hold."""
    check = _CHECKS.get(Path(path).suffix.lower())
    if check is None:
        raise TerrainError(
            f"{path} cannot be read as {kind}: its name must end in {', '.join(_CHECKS)}"
        )
    try:
        reason = check(Path(path))
    except (OSError, ValueError, LookupError, RecursionError) as error:
        reason = str(error).splitlines()[0] if str(error) else type(error).__name__
    if reason:
        raise TerrainError(f"{path} cannot be read as {kind}: {reason}")


def _of_json(path: Path) -> str:
    text = path.read_bytes()
    if text.removeprefix(b"\xef\xbb\xbf").lstrip()[:1] != b"{":
        return "it is no GeoJSON"
    if _MAY_LINK.search(text):
        content = json.loads(text, object_pairs_hook=_without_links)
        if content.get("type") == "gdal_streamed_alg":
            return "it is no GeoJSON"
    return ""


def _without_links(pairs: list[tuple[str, object]]) -> dict[str, object]:
    for key, value in pairs:
        is_link = isinstance(value, dict) and any(
            str(part).lower() in ("link", "url") for part in value.values()
        )
        if key.lower() == "crs" and is_link:
            raise ValueError("its reference system is a link: write out its name")
    return dict(pairs)


def _of_xml(root: str) -> Callable[[Path], str]:
    def check(path: Path) -> str:
        if _ODD_XML.search(path.read_bytes()):
            return "it declares a document type or entities, or is not plain text"
        try:
            _, first = next(ElementTree.iterparse(path, events=("start",)))
        except (ElementTree.ParseError, StopIteration) as error:
            return str(error) or "it is empty"
        is_root = str(first.tag).rpartition("}")[2].lower() == root
        return "" if is_root else f"it begins with {first.tag[:80]!r}, not with {root}"

    return check


def _begins(*starts: bytes) -> Callable[[Path], str]:
    def check(path: Path) -> str:
        with path.open("rb") as file:
            return "" if file.read(_HEAD_BYTES).startswith(starts) else "it does not begin as such"

    return check


_CHECKS: Final[dict[str, Callable[[Path], str]]] = {
    ".geojson": _of_json,
    ".json": _of_json,
    ".gpkg": _begins(b"SQLite format 3\0"),
    ".gpx": _of_xml("gpx"),
    ".kml": _of_xml("kml"),
    ".shp": _begins(b"\0\0\x27\x0a"),
    ".fgb": _begins(b"fgb"),
}
