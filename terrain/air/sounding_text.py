"""A sounding as text: its columns found by their headings, its numbers in our units.

Two layouts are read. A plain table, separated by commas, semicolons or tabs, has one line of
headings that name the quantity and its unit, in any order (or the units in a second line)::

    height_m, pressure_hPa, temperature_C, dew point (C), wind speed [m/s]

The fixed-width listing has headings over right-aligned columns, and the units in a line of their
own. A field may be blank there, so a column is known by where it ends, not by counting words::

       PRES   HGHT   TEMP   DWPT   DRCT   SKNT
        hPa     m      C      C     deg   knot
     1002.0     31    6.2    6.0
           |      |      |      |      |      |   a column ends where its heading ends
"""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from terrain.air.column_headings import QUANTITIES, meaning_of
from terrain.errors import TerrainError

__all__ = ["Columns", "read_columns"]

Floats = NDArray[np.float64]

_MISSING: Final = ("", "-", "--", "---", "/", "//", "///", "m", "na", "n/a", "nan", "none", "null")
_SEPARATORS: Final = ",;\t"
_MISSING_BELOW: Final = -999.0
_LISTING: Final = frozenset({"PRES", "HGHT", "TEMP"})
_NEEDED: Final = ("pressure_hpa", "height_m", "temperature_c")


@dataclass(frozen=True, kw_only=True, eq=False)
class Columns:
    """The columns of a sounding's text that mean something here, in the order of its lines.

    values: for each quantity found, by its key in `QUANTITIES`, (lines,) numbers in the unit of
        that key, NaN where a field is blank or marked as missing.
    line: (lines,) the number of each line in the text, from 1.
    station, time: the words of the text for where and when, "" where it does not say.
    """

    values: Mapping[str, Floats]
    line: NDArray[np.int_]
    station: str = ""
    time: str = ""


@dataclass(frozen=True, kw_only=True)
class _Table:
    """Headings, and below them lines of as many fields, with the number of each line."""

    headings: list[str]
    rows: list[list[str]]
    line: list[int]
    station: str = ""
    time: str = ""


def read_columns(text: str) -> Columns:
    """The columns of a sounding's text, told apart by their headings.

    Of two columns of one quantity the first is taken. Raises TerrainError, without the name of
    the file, where the text is neither layout, a column that is needed is missing or does not say
    its unit, or a field is no number.

    >>> columns = read_columns("height_ft,temp_K,dewpoint_C,pressure_Pa\\n1000,280.15,6,98000\\n")
    >>> {key: values.round(2).tolist() for key, values in columns.values.items()}
    {'height_m': [304.8], 'temperature_c': [7.0], 'dewpoint_c': [6.0], 'pressure_hpa': [980.0]}
    """
    lines = text.splitlines()
    starts = [number for number, line in enumerate(lines) if _heads_listing(line)]
    if len(starts) > 1:
        raise TerrainError(
            f"it holds {len(starts)} soundings (lines {starts[0] + 1} and {starts[1] + 1} are "
            "headings): keep one"
        )
    return _measured(_listing(lines, starts[0]) if starts else _plain(lines))


def _heads_listing(line: str) -> bool:
    return set(line.split()) >= _LISTING and not any(separator in line for separator in _SEPARATORS)


def _listing(lines: Sequence[str], start: int) -> _Table:
    ends = [match.end() for match in re.finditer(r"\S+", lines[start])]
    units = [""] * len(ends)
    rows: list[list[str]] = []
    line: list[int] = []
    for number, text in enumerate(lines[start + 1 :], start=start + 2):
        words = text.split()
        if words and _is_number(words[0]):
            rows.append(_slices(text, ends))
            line.append(number)
        elif rows:
            break
        elif words and not any(units) and set(text.strip()) != {"-"}:
            units = _slices(text, ends)
    station, time = _title(lines[:start])
    headings = _joined(lines[start].split(), units)
    return _Table(headings=headings, rows=rows, line=line, station=station, time=time)


def _slices(text: str, ends: Sequence[int]) -> list[str]:
    return [text[start:end].strip() for start, end in zip([0, *ends], ends, strict=False)]


def _title(lines: Sequence[str]) -> tuple[str, str]:
    """Where and when, from the line `STATION Observations at TIME` over a listing."""
    for line in lines:
        # the listing is often saved with the page it stood on
        station, found, time = re.sub(r"<[^>]*>", "", line).partition("Observations at")
        if found:
            return station.strip(), time.strip()
    return "", ""


def _plain(lines: Sequence[str]) -> _Table:
    numbered = [
        (number, line)
        for number, line in enumerate(lines, start=1)
        if line.strip() and not line.lstrip().startswith("#")
    ]
    if not numbered:
        raise TerrainError("it is empty")
    separator = max(_SEPARATORS, key=numbered[0][1].count)
    first, *rest = (_parted(line, separator) for _, line in numbered)
    headings = [heading.strip() for heading in first]
    rows = [_filled(fields, len(headings), separator) for fields in rest]
    table = _Table(headings=headings, rows=rows, line=[number for number, _ in numbered[1:]])
    if rows and any(rows[0]) and not any(map(_is_number, rows[0])):
        table = replace(
            table, headings=_joined(headings, rows[0]), rows=rows[1:], line=table.line[1:]
        )
    return _with_title(table)


def _parted(line: str, separator: str) -> list[str]:
    """The fields of one line; by itself, so that a stray quotation mark ends with its line."""
    try:
        return next(csv.reader([line], delimiter=separator))
    except csv.Error as error:
        raise TerrainError(f"it is not a sounding: {error}") from error


def _filled(fields: Sequence[str], count: int, separator: str) -> list[str]:
    """The fields of a line, as many as there are headings, with a point for the decimals."""
    plain = [field.strip() for field in fields]
    if separator != ",":
        plain = [field.replace(",", ".") for field in plain]
    return [*plain, *[""] * (count - len(plain))][:count]


def _joined(names: Sequence[str], units: Sequence[str]) -> list[str]:
    pairs = zip(names, units, strict=True)
    return [f"{name} [{unit}]" if unit else name for name, unit in pairs]


def _with_title(table: _Table) -> _Table:
    """Where and when, from the first line of columns with those names."""
    if not table.rows:
        return table
    first = dict(zip(map(str.casefold, table.headings), table.rows[0], strict=True))
    return replace(table, station=first.get("station", ""), time=first.get("time", ""))


def _measured(table: _Table) -> Columns:
    values: dict[str, Floats] = {}
    troubles: dict[str, str] = {}
    for place, heading in enumerate(table.headings):
        meaning = meaning_of(heading)
        if meaning is None or meaning.quantity.key in values:
            continue
        if meaning.trouble:
            troubles[meaning.quantity.key] = meaning.trouble
            continue
        values[meaning.quantity.key] = meaning.convert(_numbers(table, place))
    for key, trouble in troubles.items():
        if key not in values:
            raise TerrainError(trouble)
    _check_needed(values, table.headings)
    line = np.array(table.line, dtype=int)
    return Columns(values=values, line=line, station=table.station, time=table.time)


def _check_needed(found: Mapping[str, Floats], headings: Sequence[str]) -> None:
    example = {quantity.key: quantity.example for quantity in QUANTITIES}
    lacking = [example[key] for key in _NEEDED if key not in found]
    if len(lacking) == len(_NEEDED):
        raise TerrainError(
            "it is not a sounding: no line of headings names pressure, height and temperature"
        )
    if "dewpoint_c" not in found and "humidity_percent" not in found:
        lacking.append(f"{example['dewpoint_c']} or {example['humidity_percent']}")
    if lacking:
        raise TerrainError(
            f"it has no column for {', '.join(lacking)}: its columns are {', '.join(headings)}"
        )


def _numbers(table: _Table, place: int) -> Floats:
    fields = [row[place] for row in table.rows]
    wrong = [f for f in fields if f.casefold() not in _MISSING and not _is_number(f)]
    if wrong:
        line = table.line[fields.index(wrong[0])]
        raise TerrainError(
            f"line {line}: {wrong[0]!r} under {table.headings[place]!r} is not a number"
        )
    numbers = [math.nan if field.casefold() in _MISSING else float(field) for field in fields]
    values = np.array(numbers, dtype=np.float64)
    return np.where(values <= _MISSING_BELOW, np.nan, values)


def _is_number(text: str) -> bool:
    return re.fullmatch(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?", text) is not None
