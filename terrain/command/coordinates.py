"""Places as people write them: degrees in every form, and metres of a grid."""

from __future__ import annotations

import math
import re
from typing import Final, NamedTuple

from terrain.errors import TerrainError


class OnGrid(NamedTuple):
    """A place by easting and northing, metres; crs: of which grid, "" for that of the ground."""

    easting_m: float
    northing_m: float
    crs: str = ""


_NUMBER: Final = r"[-+−]?\d+(?:\.\d+)?"
_PAIR: Final = re.compile(rf"({_NUMBER})(?:\s*[,;]\s*|\s+)({_NUMBER})")
_ANGLE: Final = r"[-+−]?\d+(?:\.\d+)?(?:[°º:\s]+\d+(?:\.\d+)?){0,2}[°º:\s]*"
_SIDED: Final = re.compile(
    rf"({_ANGLE})([NS])[\s,;]*({_ANGLE})([EW])|([NS])\s*({_ANGLE})[,;]?\s*([EW])\s*({_ANGLE})", re.I
)
_MARKED: Final = re.compile(rf"({_ANGLE})[,;]\s*({_ANGLE})")
_MINUTES: Final = str.maketrans(dict.fromkeys("'′’\"″”", " "))
_ZONE: Final = re.compile(rf"(\d{{1,2}})\s*([C-HJ-NP-X])\s+({_NUMBER})[,\s]\s*({_NUMBER})", re.I)
_SQUARE: Final = re.compile(r"([A-HJ-Z]{1,2})\s*((\d{2,5})\s+(\d{2,5})|(?:\d\d){2,5})", re.I)
_SQUARES: Final = "ABCDEFGHJKLMNOPQRSTUVWXYZ"
_SQUARE_M: Final = 100_000.0
_BRITISH: Final = "EPSG:27700"
_IRISH: Final = "EPSG:29903"
_LEAST_METRES: Final = 1000.0


def degrees_in(text: str) -> tuple[float, float] | None:
    """Latitude and longitude from degrees, with minutes and seconds or without; None for others.

    >>> degrees_in("54.4066 -24.0638")
    (54.4066, -24.0638)
    >>> degrees_in("54°24'36\\"N 24°03.6'W")
    (54.41, -24.06)
    """
    plain = " ".join(text.translate(_MINUTES).split()).replace("−", "-")
    if (sided := _SIDED.fullmatch(plain)) is not None:
        lat, north, lon, east = sided.group(1, 2, 3, 4)
        if lat is None:
            north, lat, east, lon = sided.group(5, 6, 7, 8)
        return _on_side(_angle(lat), north, "S"), _on_side(_angle(lon), east, "W")
    found = _PAIR.fullmatch(plain) or _MARKED.fullmatch(plain)
    if found is None:
        return None
    lat_deg, lon_deg = (_angle(part) for part in found.groups())
    is_metres = max(abs(lat_deg), abs(lon_deg)) >= _LEAST_METRES
    return None if is_metres else (lat_deg, lon_deg)


def _angle(text: str) -> float:
    whole, *parts = re.findall(_NUMBER, text.replace("−", "-"))
    share = sum(float(part) / 60.0 ** (at + 1) for at, part in enumerate(parts))
    if any(float(part) >= 60.0 for part in parts):
        raise TerrainError(f"{text.strip()} is no angle: minutes and seconds go up to 60")
    return round(math.copysign(abs(float(whole)) + share, -1.0 if whole[0] == "-" else 1.0), 9)


def _on_side(angle_deg: float, letter: str, negative: str) -> float:
    return -angle_deg if letter.upper() == negative else angle_deg


def on_grid(text: str) -> OnGrid | None:
    """Easting and northing from metres of the ground's grid, UTM or a national grid reference.

    A reference with letters means the middle of its square.

    >>> on_grid("30U 512345 6012345")
    OnGrid(easting_m=512345.0, northing_m=6012345.0, crs='EPSG:32630')
    >>> on_grid("NY 2345 6789")
    OnGrid(easting_m=323455.0, northing_m=567895.0, crs='EPSG:27700')
    """
    plain = " ".join(text.split()).replace("−", "-")
    if (zone := _ZONE.fullmatch(plain)) is not None:
        number, band = int(zone[1]), zone[2].upper()
        if not 1 <= number <= 60:
            raise TerrainError(f"{text[:60]!r} is no place of UTM: its zones are 1 to 60")
        return OnGrid(float(zone[3]), float(zone[4]), f"EPSG:{32600 + 100 * (band < 'N') + number}")
    if (square := _SQUARE.fullmatch(plain)) is not None:
        return _in_square(square)
    pair = _PAIR.fullmatch(plain)
    return None if pair is None else OnGrid(float(pair[1]), float(pair[2]))


def _in_square(found: re.Match[str]) -> OnGrid | None:
    letters, digits = found[1].upper(), found[2].replace(" ", "")
    half = len(digits) // 2
    if found[3] is not None and len(found[3]) != len(found[4]):
        raise TerrainError(
            f"{found[0]!r} is no grid reference: give as many digits for north as for east"
        )
    step_m = _SQUARE_M / 10.0**half
    east, north = ((int(part) + 0.5) * step_m for part in (digits[:half], digits[half:]))
    *large, small = (_SQUARES.index(letter) for letter in letters)
    col, row = small % 5, 4 - small // 5
    if large:
        # the square of 500 km, counted from S, whose south-west corner is the false origin
        col, row = col + 5 * (large[0] % 5 - 2), row + 5 * (3 - large[0] // 5)
    crs = _BRITISH if large else _IRISH
    return OnGrid(col * _SQUARE_M + east, row * _SQUARE_M + north, crs)
