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
import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from terrain.air.column_headings import QUANTITIES, meaning_of
from terrain.errors import TerrainError

_MISSING: Final = ("", "-", "--", "---", "/", "//", "///", "m", "na", "n/a", "nan", "none", "null")
_SEPARATORS: Final = ",;\t"
_MISSING_BELOW: Final = -999.0
_NUMBER: Final = r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?"
_LISTING: Final = frozenset({"PRES", "HGHT", "TEMP"})
_NEEDED: Final = ("pressure_hpa", "height_m", "temperature_c")


def read_columns(text: str) -> pd.DataFrame:
    """The columns of a sounding's text that mean something here, told apart by their headings.

    A column for each quantity found, by its key in `QUANTITIES`, in the unit of that key, NaN
    where a field is blank or marked as missing; the index is the number of each line in the text,
    from 1. The attributes station and time are the words of the text for where and when, "" where
    it does not say. Of two columns of one quantity the first is taken.

    Raises TerrainError, without the name of the file, where the text is neither layout, a column
    that is needed is missing or does not say its unit, or a field is no number.

    >>> columns = read_columns("height_ft,temp_K,dewpoint_C,pressure_Pa\\n1000,280.15,6,98000\\n")
    >>> columns.round(2).to_dict("list")
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


def _listing(lines: Sequence[str], start: int) -> pd.DataFrame:
    ends = [match.end() for match in re.finditer(r"\S+", lines[start])]
    units = [""] * len(ends)
    rows: dict[int, list[str]] = {}
    for number, text in enumerate(lines[start + 1 :], start=start + 2):
        words = text.split()
        if words and _is_number(words[0]):
            rows[number] = _slices(text, ends)
        elif rows:
            break
        elif words and not any(units) and set(text.strip()) != {"-"}:
            units = _slices(text, ends)
    table = _table(_joined(lines[start].split(), units), rows)
    table.attrs["station"], table.attrs["time"] = _title(lines[:start])
    return table


def _table(headings: list[str], rows: Mapping[int, list[str]]) -> pd.DataFrame:
    """Headings, and below them the fields of each line by its number, all as text."""
    return pd.DataFrame(list(rows.values()), index=list(rows), columns=headings, dtype=object)


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


def _plain(lines: Sequence[str]) -> pd.DataFrame:
    numbered = [
        (number, line)
        for number, line in enumerate(lines, start=1)
        if line.strip() and not line.lstrip().startswith("#")
    ]
    if not numbered:
        raise TerrainError("it is empty")
    separator = max(_SEPARATORS, key=numbered[0][1].count)
    (_, first), *rest = [(number, _parted(line, separator)) for number, line in numbered]
    headings = [heading.strip() for heading in first]
    rows = {number: _filled(fields, len(headings), separator) for number, fields in rest}
    table = _table(headings, rows)
    if rows and any(table.iloc[0]) and not any(map(_is_number, table.iloc[0])):
        table = table.set_axis(_joined(headings, table.iloc[0]), axis="columns").iloc[1:]
    # where and when, from the first line of columns with those names
    said = {str(name).casefold(): text for name, fields in table.items() for text in fields[:1]}
    table.attrs = {key: said.get(key, "") for key in ("station", "time")}
    return table


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


def _joined(names: Sequence[str], units: Iterable[str]) -> list[str]:
    pairs = zip(names, units, strict=True)
    return [f"{name} [{unit}]" if unit else name for name, unit in pairs]


def _measured(table: pd.DataFrame) -> pd.DataFrame:
    values = pd.DataFrame(index=table.index)
    values.attrs = table.attrs
    troubles: dict[str, str] = {}
    for heading, fields in table.items():
        meaning = meaning_of(str(heading))
        if meaning is None or meaning.quantity.key in values:
            continue
        if meaning.trouble:
            troubles[meaning.quantity.key] = meaning.trouble
            continue
        values[meaning.quantity.key] = meaning.convert(_numbers(fields))
    for key, trouble in troubles.items():
        if key not in values:
            raise TerrainError(trouble)
    _check_needed(values, table.columns)
    return values


def _check_needed(found: pd.DataFrame, headings: Iterable[str]) -> None:
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


def _numbers(fields: pd.Series[str]) -> NDArray[np.float64]:
    is_missing = fields.str.casefold().isin(_MISSING)
    wrong = fields[~is_missing & ~fields.str.fullmatch(_NUMBER)]
    if len(wrong):
        raise TerrainError(
            f"line {wrong.index[0]}: {wrong.iloc[0]!r} under {fields.name!r} is not a number"
        )
    numbers = fields.mask(is_missing).astype(float)
    return np.asarray(numbers.mask(numbers <= _MISSING_BELOW), dtype=np.float64)


def _is_number(text: str) -> bool:
    return re.fullmatch(_NUMBER, text) is not None
