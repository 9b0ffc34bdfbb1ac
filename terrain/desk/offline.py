"""The desk as one file for a phone without signal: the page, and what it shows, packed into it.

::

    index.html   <style>    the styles that it names
                 packed     heights, floods, light, views, skies: what the server would answer
                 <script>   its modules, each after those that it imports
"""

from __future__ import annotations

import base64
import gzip
import json
import re
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from starlette.responses import Response

import terrain
from terrain.desk import about, air, colours, ground, hill, light, lowsun, seen
from terrain.desk.asked import Asked
from terrain.desk.carry import download
from terrain.desk.mists import MistSaid
from terrain.desk.table import Table, ground_over, table_over
from terrain.desk.work import Job
from terrain.errors import NoAnswer, TerrainError
from terrain.ground.coarse import coarser
from terrain.words.records import for_json

PAGE: Final = Path(__file__).parent / "page"
MOST_BYTES: Final = 5_000_000

_MOST_CELLS: Final = 1024
_SKY_EVERY_MIN: Final = 6
_TOPS_M: Final = (-60.0, -40.0, -20.0, 0.0, 20.0, 40.0, 60.0)
_MOST_SPOTS: Final = 6
_ASIDE_DEG: Final = 12.0
_BELOW_DEG: Final = 8.0
_ABOVE_DEG: Final = 12.0
_FINE_DEG: Final = 0.05
_POLICY: Final = (
    '<meta http-equiv="Content-Security-Policy" content="default-src \'none\'; '
    "script-src 'unsafe-inline'; style-src 'unsafe-inline'; img-src data: blob:\">"
)
_IMPORT: Final = re.compile(r"""^import\s[^;]*?["']\./([\w-]+)\.js["'];\n?""", re.MULTILINE)


def desk(table: Table, asked: Asked, job: Job) -> Response:
    """The desk of a request's state as one file."""
    content = _page(_packed(_within(table), table, asked, job)).encode()
    if len(content) > MOST_BYTES:
        raise TerrainError(
            f"the file would have {len(content) / 1e6:.1f} MB, more than {MOST_BYTES / 1e6:g}: "
            "take fewer views along"
        )
    return download(content, f"desk-{asked.day()}.html", "text/html")


def _within(table: Table) -> Table:
    """The table itself, or over wider cells where it has too many for a phone."""
    by = -(-max(table.country.dem.shape) // _MOST_CELLS)
    if by == 1:
        return table
    dem = coarser(table.country.dem, by)
    country = terrain.Country(dem, refraction=table.country.refraction)
    return table_over(table.opening, ground_over(dem), country)


def _packed(small: Table, table: Table, asked: Asked, job: Job) -> dict[str, Any]:
    """What the page shows without a server. small: of the cells that the file has."""
    when = f"{asked.day()} {'evening' if asked.evening else 'morning'}"
    sun = lowsun.sun(small, asked, job)
    return {
        "about": for_json(about.about(small, asked, job)),
        "colours": colours.colours(small, asked, job),
        "sun": {when: for_json(sun)},
        "planes": {
            "heights": _bytes(ground.heights(small.ground, Asked({"tile": "0"}), job)),
            "flood": _bytes(ground.flood(small, Asked({"tile": "0"}), job)),
            **{f"light {when} {mist}": plane for mist, plane in _lights(small, asked, job)},
        },
        "seen": [_view(small, table, asked, place, job) for place in _places(asked)],
        "skies": list(_skies(asked, sun["minutes"], small, job)),
    }


def _lights(table: Table, asked: Asked, job: Job) -> Iterator[tuple[str, dict[str, Any]]]:
    """The light over the mist of a request, and if it is level over those of tops about its own."""
    for mist in _mists(table.mist_said(asked), asked.text("mist", "none")):
        said = {**asked.said, "mist": mist, "tile": "0", "fine": ""}
        try:
            plane, headers = light.light(table, Asked(said), job)
        except NoAnswer:
            # a mist so low covers nothing
            continue
        size = {"rows": int(headers["X-Rows"]), "cols": int(headers["X-Cols"])}
        yield mist, {"from_utc": headers["X-From-UTC"], **size, "data": _bytes(plane)}


def _mists(said: MistSaid, text: str) -> list[str]:
    if said.top_m is None:
        return [text]
    return [f"level:{said.top_m + by:g}" for by in _TOPS_M]


def _places(asked: Asked) -> list[str]:
    places = [place for place in asked.said.get("spots", "").split(";") if place]
    if len(places) > _MOST_SPOTS:
        raise TerrainError(f"{len(places)} views are too many for a file: take {_MOST_SPOTS}")
    return places


def _view(small: Table, table: Table, asked: Asked, place: str, job: Job) -> dict[str, Any]:
    """What is seen from a place; where a hill is asked about the answer, and a fine view of it."""
    spot = table.tract.spot(place)
    at = {"lat_deg": repr(spot.lat_deg), "lon_deg": repr(spot.lon_deg)}
    there = Asked({**asked.said, **at, "scenes": "0"})
    answer = hill.answer(table, there, job) if asked.said.get("hill") else None
    view = {"name": spot.name, "answer": answer, **_seen(small, there, job), "toward": None}
    if answer is not None:
        view["toward"] = _seen(small, _toward(there, answer["summit"]["azimuth_deg"]), job)
    return view


def _seen(table: Table, there: Asked, job: Job) -> dict[str, Any]:
    """A view: what is told of it, and its planes."""
    told = seen.seen(table, there, job)
    planes = seen.planes(table, Asked({"id": str(told["id"])}), job)
    return {"about": for_json(told), "planes": _bytes(planes)}


def _toward(there: Asked, azimuth_deg: float) -> Asked:
    """The view toward a summit, finely."""
    ends = {"from_deg": azimuth_deg - _ASIDE_DEG, "to_deg": azimuth_deg + _ASIDE_DEG}
    up = {"low_deg": -_BELOW_DEG, "high_deg": _ABOVE_DEG, "step_deg": _FINE_DEG}
    return Asked({**there.said, **{name: repr(value) for name, value in (ends | up).items()}})


def _skies(
    asked: Asked, minutes: Iterable[dict[str, Any]], table: Table, job: Job
) -> Iterator[dict[str, Any]]:
    """The sky every few minutes."""
    for minute in list(minutes)[::_SKY_EVERY_MIN]:
        altitude = str(round(minute["true_altitude_deg"], 1))
        there = Asked({"sun_altitude_deg": altitude, "eye_height_m": "400"})
        sky, says = air.sky(table, there, job)
        yield {
            "altitude_deg": float(altitude),
            "sky": {"headers": says, "data": _bytes(sky)},
        }


def _bytes(values: NDArray[np.generic]) -> str:
    return base64.b64encode(gzip.compress(values.tobytes(), 9, mtime=0)).decode()


def _page(packed: dict[str, Any]) -> str:
    """The page with all that it names put into it."""
    page = (PAGE / "index.html").read_text(encoding="utf-8")
    data = json.dumps(packed, separators=(",", ":")).replace("</", "<\\/")
    held = f'<script type="application/json" id="packed">{data}</script>'
    page = re.sub(
        r'<link rel="stylesheet" href="(?:\./|/)?([\w-]+\.css)"\s*/?>',
        lambda found: f"<style>{(PAGE / found[1]).read_text(encoding='utf-8')}</style>",
        page,
    )
    return re.sub(
        r'<script type="module" src="(?:\./|/)?([\w-]+)\.js"></script>',
        lambda found: f'{held}<script type="module">{_modules(found[1])}</script>',
        page.replace("<head>", f"<head>{_POLICY}", 1),
        count=1,
    )


def _modules(first: str) -> str:
    """A module and all that it imports as one: names are of their own over all files."""
    begun: set[str] = set()
    texts: list[str] = []

    def add(name: str) -> None:
        if name in begun:
            return
        begun.add(name)
        text = (PAGE / f"{name}.js").read_text(encoding="utf-8")
        for needed in _IMPORT.findall(text):
            add(needed)
        texts.append(re.sub(r"^export ", "", _IMPORT.sub("", text), flags=re.MULTILINE))

    add(first)
    return "\n".join(texts).replace("</script", "<\\/script")
