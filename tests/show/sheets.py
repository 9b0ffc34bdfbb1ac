"""A planned morning in a small world for the tests of the sheet, and a reader of its page."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from html.parser import HTMLParser

import geopandas as gpd
import pandas as pd
from shapely import LineString

from terrain.frame.lens import Kit
from terrain.ground.places import Spot
from terrain.plan.cautions import Air
from terrain.plan.morning import Plan, plan_morning
from tests.show.conftest import DAY, World

TOP_M = 330.0
TOPS_M = (280.0, 305.0, 330.0, 355.0, 410.0)
"""The last of them would drown the spot."""

_VOID = {"meta", "link", "img", "input", "br"}


@dataclass
class Element:
    tag: str
    attrs: dict[str, str]
    text: str = ""
    inside: list[Element] = field(default_factory=list)

    def all(self, tag: str, **attrs: str) -> list[Element]:
        """Elements of a tag inside this one, in the order of the page."""
        found: list[Element] = []
        for part in self.inside:
            if part.tag == tag and all(part.attrs.get(n) == value for n, value in attrs.items()):
                found.append(part)
            found += part.all(tag, **attrs)
        return found

    def one(self, tag: str, **attrs: str) -> Element:
        (found,) = self.all(tag, **attrs)
        return found

    def every(self) -> list[Element]:
        return [self, *(part for child in self.inside for part in child.every())]

    @property
    def words(self) -> str:
        """Its text with single spaces."""
        return " ".join(self.text.split())


class Page(HTMLParser):
    """A page as a tree; each element's text holds that of the elements inside it."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.root = Element("", {})
        self._open = [self.root]
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        element = Element(tag, {name: value or "" for name, value in attrs})
        self._open[-1].inside.append(element)
        if tag not in _VOID and not self.get_starttag_text().endswith("/>"):  # type: ignore[union-attr]
            self._open.append(element)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)

    def handle_endtag(self, tag: str) -> None:
        last = self._open.pop()
        assert last.tag == tag, f"</{tag}> closes <{last.tag}>"

    def handle_data(self, data: str) -> None:
        for element in self._open:
            element.text += data

    def section(self, name: str) -> Element:
        return self.root.one("section", **{"aria-labelledby": name})

    def rows(self, name: str) -> list[list[str]]:
        """The cells of a section's table."""
        body = self.section(name).one("tbody")
        return [[c.words for c in row.inside] for row in body.all("tr")]


def plan_of(
    world: World, *, mist_top_m: float | None = TOP_M, kit: Kit | None = None, name: str = ""
) -> Plan:
    """The morning of the world's day at its spot."""
    lon, lat = world.dem.grid.lonlat([60], [30])
    start = Spot(lon_deg=float(lon[0]), lat_deg=float(lat[0]), name=name or "the Gate")
    return plan_morning(
        world.dem,
        world.spot,
        world.hill,
        DAY,
        start=start,
        mist_top_m=mist_top_m,
        kit=kit or Kit(lenses_mm=(24.0, (70.0, 200.0), 400.0)),
        paths=path_of(world),
        air=Air(temperature_c=3.0, wind_kmh=25.0),
        drive=dt.timedelta(minutes=25),
    )


def path_of(world: World) -> gpd.GeoDataFrame:
    lon, lat = world.dem.grid.lonlat([55, 60, 66], [25, 30, 38])
    line = LineString(list(zip(lon, lat, strict=True)))
    return gpd.GeoDataFrame(pd.DataFrame({"name": ["path"]}), geometry=[line], crs="EPSG:4326")
