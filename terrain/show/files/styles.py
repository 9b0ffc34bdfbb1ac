"""How QGIS draws the layers of a GeoPackage: by the table `layer_styles` in it.

Its columns and the elements of a style are as QGIS writes them itself when one saves a style in
the file (https://github.com/pka/qgpkg, qgis_geopackage_extension.md).
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from pathlib import Path
from typing import Final
from xml.etree import ElementTree as Xml

import pandas as pd
import pyogrio
from matplotlib.colors import to_rgba

from terrain.show.paper.palette import HILL, INK, MIST, PAPER, SHORE, SUN

TABLE: Final = "layer_styles"
_HEAD: Final = "<!DOCTYPE qgis PUBLIC 'http://mrcc.com/qgis.dtd' 'SYSTEM'>\n"

Style = Callable[[], Xml.Element]


def _symbol(kind: str, layer: str, **properties: str) -> Xml.Element:
    """A style with one symbol for all that is in a layer."""
    top = Xml.Element("qgis", version="3.22", labelsEnabled="0")
    top.set("styleCategories", "Symbology|Labeling")
    renderer = Xml.SubElement(top, "renderer-v2", type="singleSymbol", symbollevels="0")
    symbols = Xml.SubElement(renderer, "symbols")
    symbol = Xml.SubElement(symbols, "symbol", type=kind, name="0", alpha="1")
    drawn = Xml.SubElement(symbol, "layer", {"class": layer}, enabled="1", locked="0")
    options = Xml.SubElement(drawn, "Option", type="Map")
    for name, value in properties.items():
        Xml.SubElement(options, "Option", type="QString", name=name, value=value)
    # versions before 3.20 read these
    for name, value in properties.items():
        Xml.SubElement(drawn, "prop", k=name, v=value)
    return top


def _rgba(colour: str, share: float = 1.0) -> str:
    """A colour as red, green, blue and what it covers, 0 to 255 each."""
    return ",".join(f"{round(255 * part)}" for part in to_rgba(colour, share))


def _discs() -> Xml.Element:
    """Places as numbered discs."""
    style = _symbol(
        "marker",
        "SimpleMarker",
        name="circle",
        color=_rgba(PAPER),
        outline_color=_rgba(INK),
        outline_width="0.5",
        size="5.5",
        size_unit="MM",
    )
    style.set("labelsEnabled", "1")
    labels = Xml.SubElement(style, "labeling", type="simple")
    how = Xml.SubElement(labels, "settings")
    Xml.SubElement(
        how, "text-style", fieldName="rank", isExpression="0", fontSize="8", textColor=_rgba(INK)
    )
    # over the point, on its middle
    Xml.SubElement(how, "placement", placement="1", quadOffset="4")
    Xml.SubElement(how, "rendering", drawLabels="1", obstacle="0")
    return style


def _lines(colour: str, width_mm: str, style: str = "solid") -> Xml.Element:
    return _symbol(
        "line", "SimpleLine", line_color=_rgba(colour), line_width=width_mm, line_style=style
    )


def _mist() -> Xml.Element:
    """Mist as a pale translucent surface with its shoreline drawn."""
    return _symbol(
        "fill",
        "SimpleFill",
        color=_rgba(MIST, 0.6),
        style="solid",
        outline_color=_rgba(SHORE),
        outline_width="0.4",
        outline_style="solid",
    )


_STYLES: Final[Mapping[str, Style]] = {
    "vantages": _discs,
    "sight_lines": lambda: _lines(SUN, "0.3", "dash"),
    "mist": _mist,
    "pours": lambda: _lines(SHORE, "0.6"),
    "outlines": lambda: _lines(HILL, "0.5"),
}
"""For each name of a layer how it is drawn; others are left to the program."""


def write_styles(path: Path, layers: Collection[str]) -> None:
    """Add to a GeoPackage how its layers are drawn, where there is a style for any of them."""
    rows = [_row(layer, _STYLES[layer]()) for layer in layers if layer in _STYLES]
    if rows:
        pyogrio.write_dataframe(
            pd.DataFrame(rows), path, layer=TABLE, driver="GPKG", layer_options={"FID": "id"}
        )


def _row(layer: str, style: Xml.Element) -> dict[str, object]:
    Xml.indent(style)
    return {
        "f_table_catalog": "",
        "f_table_schema": "",
        "f_table_name": layer,
        "f_geometry_column": "geom",
        "styleName": layer,
        "styleQML": _HEAD + Xml.tostring(style, encoding="unicode"),
        "styleSLD": "",
        "useAsDefault": True,
        "description": "",
        "owner": "",
        "ui": "",
        "update_time": pd.Timestamp.now("UTC").floor("s"),
    }
