"""Lists of places, paths and areas that are almost good."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from pathlib import Path

import geopandas as gpd
import shapely

from terrain.ground.features import read_areas, read_names, read_paths
from tests.attacks import AREA, Case, island
from tests.attacks.environment import COMMANDS
from tests.attacks.mutating import Kind, mutants

_POINTS = b"""{"type":"FeatureCollection","crs":{"type":"name","properties":{"name":"EPSG:4326"}},
"features":[{"type":"Feature","properties":{"name":"Knoll","kind":"x"},
"geometry":{"type":"Point","coordinates":[-24.1,54.4,310.0]}},
{"type":"Feature","properties":{"name":"Scar"},
"geometry":{"type":"Polygon","coordinates":[[[-24.1,54.4],[-24.0,54.4],[-24.0,54.5],[-24.1,54.4]]]}}]}
"""
_LINES = b"""{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"name":"way"},
"geometry":{"type":"LineString","coordinates":[[-24.1,54.4],[-24.0,54.4],[-24.0,54.5]]}}]}"""
_GPX = b"""<?xml version="1.0" encoding="UTF-8"?>
<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1"><trk><name>way</name>
<trkseg><trkpt lat="54.4" lon="-24.1"><ele>3</ele><time>2026-01-01T05:00:00Z</time></trkpt>
<trkpt lat="54.5" lon="-24.2"/></trkseg></trk></gpx>"""
_KML = b"""<kml xmlns="http://www.opengis.net/kml/2.2"><Document><Placemark><name>Knoll</name>
<Point><coordinates>-24.1,54.4,3</coordinates></Point></Placemark><Placemark><name>dale</name>
<Polygon><outerBoundaryIs><LinearRing><coordinates>-24.1,54.4 -24.0,54.4 -24.0,54.5 -24.1,54.4
</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark></Document></kml>"""
_CSV = b'name,lat,lon,height\nKnoll,54.4,-24.1,310\n"Long, Scar",54.41,-24.2,290\nLow,54,-24,3\n'


def _packed() -> bytes:
    table = gpd.GeoDataFrame({"name": ["a"]}, geometry=[shapely.Point(-24, 54)], crs="EPSG:4326")
    with tempfile.TemporaryDirectory() as folder:
        table.to_file(Path(folder, "a.gpkg"), driver="GPKG")
        return Path(folder, "a.gpkg").read_bytes()


def kinds() -> list[Kind]:
    """Good lists of a few kinds."""
    return [
        Kind("points/a.geojson", _POINTS, read_names, text=True),
        Kind("outlines/a.geojson", _POINTS, read_areas, text=True),
        Kind("lines/a.geojson", _LINES, read_paths, text=True),
        Kind("track/a.gpx", _GPX, read_paths, text=True),
        Kind("marks/a.kml", _KML, read_names, text=True),
        Kind("dales/a.kml", _KML, read_areas, text=True),
        Kind("table/a.csv", _CSV, read_names, text=True),
        Kind("packed/a.gpkg", _packed(), read_names),
    ]


def cases() -> Iterator[Case]:
    """Mutants of each kind as names, areas or paths of the commands that read such."""
    paths = AREA.replace("[places]", 'paths = "FILE"\n[places]')
    for number, command in enumerate(COMMANDS):
        for kind in kinds():
            file, role = kind.file_name, kind.name.partition("/")[0]
            words, laid = [command, "area.toml", *COMMANDS[command]], island()
            if role in ("outlines", "dales"):
                if command != "light":
                    continue
                words.append(f"--areas={file}")
            elif role in ("lines", "track"):
                if command not in ("plan", "vantages", "season"):
                    continue
                laid = island(area__toml=paths.replace("FILE", file))
            else:
                words.append(f"--names={file}")
            first = 2000 + 10 * number
            each = 6 if role in ("outlines", "dales", "lines", "track") else 2
            for name, content in mutants(kind, range(first, first + each)):
                yield Case(
                    f"{command} with {name}",
                    words,
                    laid | {file: content},
                    quick=command == "summits" and name.startswith("table") and name.endswith("0"),
                )
