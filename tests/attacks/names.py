"""Attacks by names: markup, formulas, control characters, and texts without end."""

from __future__ import annotations

import csv
import functools
import itertools
import json
import re
import xml.etree.ElementTree as ET
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Final

import icalendar
import pyogrio

from tests.attacks import AREA, Case, Laid, Left, island
from tests.attacks.environment import COMMANDS

NAMES: Final = {
    "rich markup": "[east top] [bold]",
    "an end tag of rich": "[/]",
    "mathematics": r"$\frac{1}{0}$ $x",
    "one dollar": r"5\$ hill_2^",
    "TeX": r"\input{passwd} % & # ~",
    "a tag": "<script>alert(1)</script> & 'so' \"on\"",
    "the end of CDATA": "]]> --> ?>",
    "a template": "{{ 7*7 }} {% raw %} ${x} %s {0}",
    "an escape": "Red\x1b[31m hill\x07\x00",
    "lines": "one\ntwo\r\nthree\u2028four",
    "writing turned about": "hill\u202egnp.exe",
    "a formula": "=cmd|'/c calc'!A1",
    "plus": "+44 hill",
    "minus": "-hill",
    "at": "@SUM(A1)",
    "emoji": "hill \U0001f3d4\ufe0f :smile:",
    "quotes and commas": 'the "big", one; two',
    "a calendar's line": "hill\r\nEND:VEVENT\r\nBEGIN:VEVENT",
    "300 letters": "long hill " * 30,
    "300 letters without a space": "o" * 300,
    "four megabytes": "o" * 4_000_000,
    "accents of all kinds": "Z̸̡a̷l̴g̵o" * 5,
    "none that is seen": "\u200b\u00ad",
}
_QUICK: Final = {
    "summits": ("an end tag of rich",),
    "plan": (),
    "--json": ("four megabytes",),
}


def cases() -> Iterator[Case]:
    """All of them."""
    turn = itertools.cycle(_IN_TURN)
    for kind, name in NAMES.items():
        laid = _laid(name)
        held = functools.partial(_held, name)
        for words, ends in _SAVED:
            saves = [part for ending in ends for part in ("--save", f"out.{ending}")]
            quick = kind in _QUICK[words[0]]
            told = f"{kind} in {words[0]}"
            yield Case(told, [*words, *saves], laid, holds=held, quick=quick)
        for words, ends in itertools.islice(turn, 2):
            saves = [part for ending in ends for part in ("--save", f"out.{ending}")]
            yield Case(f"{kind} in {words[0]}", [*words, *saves], laid, holds=_is_text)
        quick = kind in _QUICK["--json"]
        words = ["summits", "area.toml", "--json"]
        yield Case(f"{kind} as JSON", words, laid, holds=_is_json, quick=quick)
        words = ["summits", name[:500]]
        yield Case(f"{kind} on the command line", words, laid, quick=kind == "an escape")


_SAVED: Final[tuple[tuple[list[str], tuple[str, ...]], ...]] = (
    (["summits", "area.toml"], ("png", "svg", "pdf", "csv", "geojson", "gpkg")),
    (["plan", "area.toml", "--spot", "54.4058,-24.0580"], ("html", "gpx", "ics", "kml", "gpkg")),
)
_SPOT: Final = "--spot=54.4058,-24.0580"
_IN_TURN: Final[tuple[tuple[list[str], tuple[str, ...]], ...]] = (
    (["mist", "area.toml"], ("svg", "csv", "gpkg")),
    (["season", "area.toml", *COMMANDS["season"]], ("svg", "csv", "ics")),
    (["sunrise", "area.toml", _SPOT], ("svg", "csv")),
    (["vantages", "area.toml", *COMMANDS["vantages"]], ("svg", "csv", "geojson")),
    (["skyline", "area.toml", _SPOT], ("svg", "csv")),
    (["hills", "area.toml", *COMMANDS["hills"]], ("csv", "gpkg")),
    (["survey", "area.toml", *COMMANDS["survey"]], ("csv",)),
    (["atlas", "area.toml"], ("svg",)),
    (["light", "area.toml"], ("svg",)),
    (["passes", "area.toml"], ("svg", "csv")),
    (["frame", "area.toml", _SPOT], ("csv",)),
)


def _laid(name: str) -> Mapping[str, Laid]:
    quoted = json.dumps(name, ensure_ascii=False)
    rows = [["name", "lat", "lon"], [name, "54.4065", "-24.0274"], ["b", "54.4057", "-24.0589"]]
    text = "\n".join(
        ",".join('"{}"'.format(cell.replace('"', '""')) for cell in row) for row in rows
    )
    area = AREA.replace('name = "Two Hills"', f"name = {quoted}")
    # of the name of a place an area file takes no more than 200 letters
    start = json.dumps(name[:200], ensure_ascii=False)
    area = area.replace('"quay" =', f"{start} =").replace(
        'hill = "Knoll"', 'hill = "54.4065,-24.0274"'
    )
    return island(area__toml=area) | {"names.csv": text.encode("utf-8", "surrogatepass")}


def _is_json(left: Left) -> Iterable[str]:
    try:
        json.loads(left.out)
    except ValueError as error:
        yield f"no JSON: {error}"


def _held(name: str, left: Left) -> Iterable[str]:
    if left.code != 0:
        yield f"ended with {left.code}: {left.err[:200]}"
        return
    yield from _is_text(left)
    for path in left.folder.glob("out.svg"):
        yield from _svg(name, path)


def _is_text(left: Left) -> Iterable[str]:
    if re.search(r"[\x00-\x08\x0b-\x1f\x7f\u202e]", left.out + left.err):
        yield "a control character is printed"
    for path in left.folder.glob("out.*"):
        yield from _HELD.get(path.suffix, lambda _: ())(path)


def _csv(path: Path) -> Iterable[str]:
    with path.open(encoding="utf-8", newline="") as file:
        for row in csv.reader(file):
            for cell in row:
                if (cell[:1] in "=+@" and cell) or re.match(r"-[^\d.]", cell):
                    yield f"a cell begins as a formula does: {cell[:20]!r}"


def _svg(name: str, path: Path) -> Iterable[str]:
    words = "".join(ET.parse(path).getroot().itertext())
    start = " ".join(name.split())[:12]
    if start.isprintable() and len(start) == 12 and start not in " ".join(words.split()):
        yield f"{start!r} is not in the picture's words"


def _html(path: Path) -> Iterable[str]:
    if "<script>alert" in path.read_text(encoding="utf-8"):
        yield "a name is run"


def _ics(path: Path) -> Iterable[str]:
    calendar = icalendar.Calendar.from_ical(path.read_bytes())
    for event in calendar.walk("VEVENT"):
        if not {"UID", "DTSTART", "SUMMARY"} <= set(event):
            yield "a name ends an event"


def _geojson(path: Path) -> Iterable[str]:
    # vantages have no name of their own, but that of a start
    for column, cells in pyogrio.read_dataframe(path).drop(columns="geometry").items():
        longest = max((len(cell) for cell in cells if isinstance(cell, str)), default=0)
        if longest > 200:
            yield f"{column} of {longest} letters"


_HELD: Final = {".csv": _csv, ".html": _html, ".ics": _ics, ".geojson": _geojson}
