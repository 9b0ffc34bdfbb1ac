"""Soundings that are almost good."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from terrain.air.inversion import inversions
from terrain.air.sounding import read_sounding
from terrain.air.suggestion import suggest_mist_top
from tests.attacks import Case
from tests.attacks.mutating import Kind, mutants

_TABLE = b"""pressure_hPa,height_m,temperature_C,dewpoint_C,wind speed [kt],wind_from_deg
1000,110,2.0,2.0,2,180
990,195,1.4,1.3,3,190
975,330,5.0,1.0,8,200
960,450,4.0,-3.0,12,220
900,950,1.0,-8.0,20,240
"""
_LISTING = b"""12345 XXXX Somewhere Observations at 00Z 01 Nov 2026
-----------------------------------------------------------------------------
   PRES   HGHT   TEMP   DWPT   RELH   MIXR   DRCT   SKNT   THTA   THTE   THTV
    hPa     m      C      C      %    g/kg    deg   knot     K      K      K
-----------------------------------------------------------------------------
 1000.0    110    2.0    2.0    100   4.40    180      2  275.2  287.5  275.9
  990.0    195    1.4    1.3     99   4.23    190      3  275.4  287.2  276.1
  975.0    330    5.0    1.0     75   4.20    200      8  280.2  292.2  280.9
  960.0    450    4.0   -3.0     60   3.19    220     12  280.4  289.7  280.9
"""


def _read(path: Path) -> object:
    ascent = read_sounding(path)
    return inversions(ascent), suggest_mist_top(ascent, None).text


def kinds() -> list[Kind]:
    """Good soundings of both kinds."""
    return [
        Kind("ascent/a.csv", _TABLE, _read, text=True),
        Kind("listing/a.txt", _LISTING, _read, text=True),
    ]


def cases() -> Iterator[Case]:
    """Mutants of both kinds."""
    for kind in kinds():
        for name, content in mutants(kind, range(4000, 4020)):
            yield Case(
                f"sounding of {name}",
                ["sounding", kind.file_name, "--floor=50"],
                {kind.file_name: content},
                quick=name == "ascent/a.csv 4000",
            )
