"""What `terrain ground --check` tells a person of files of ground."""

from __future__ import annotations

import calendar
from typing import Any

from terrain.command.report import line
from terrain.command.tables import Column, pairs, table
from terrain.fetch.check import FileFacts, GroundCheck
from terrain.words.figures import eighth, percent

_EVERY: int = 45


def tell_check(check: GroundCheck) -> None:
    """Print what the files are, how far they reach, and what would add to them."""
    columns = [
        Column("file", lambda file: file.name),
        Column("cells m", _cells),
        Column("heights above", lambda file: file.datum or "not said", True),
        Column("unit", lambda file: file.unit or "not said, metres", True),
        Column("system", lambda file: file.crs, True),
    ]
    table(f"what the files hold about {check.around.label}", columns, check.files)
    # the mean over each eighth of the round hides a notch: the least does not
    rows = [(eighth(at), _least(check, float(at))) for at in range(0, 360, _EVERY)]
    pairs("known without a gap, km, at least", rows)
    months = [
        {"month": calendar.month_abbr[at + 1], "at": at, "check": check} for at in range(0, 12)
    ]
    table("how far toward the sun on the 21st, km", _SUN, months)
    void = f"Of the {check.reach_m / 1000:.0f} km round the place {percent(check.void_share)} is"
    line(f"{void} not known." if check.void_share > 0 else "All ground within reach is known.")
    for doubt in check.doubts:
        line(f"Note: {doubt}.")
    if check.missing:
        line(f"Tiles that would add to it: {', '.join(check.missing)}.")
        at, far = check.around, (check.reach_m / 1000.0, check.sunward_m / 1000.0)
        line("This brings them:")
        line(
            f"  terrain ground {at.lat_deg:.4f},{at.lon_deg:.4f} "
            f"--reach {far[0]:g} --sunward {far[1]:g}"
        )


def _cells(file: FileFacts) -> str:
    return f"{file.cell_m[0]:.0f} x {file.cell_m[1]:.0f}"


def _least(check: GroundCheck, azimuth_deg: float) -> str:
    apart = abs((check.azimuth_deg - azimuth_deg + 180.0) % 360.0 - 180.0)
    return f"{check.known_m[apart <= _EVERY / 2].min() / 1000:.0f}"


def _km(key: str) -> Any:
    return lambda row: f"{getattr(row['check'], key)[row['at']] / 1000:.0f}"


_SUN = (
    Column("month", lambda row: row["month"]),
    Column("azimuth °", lambda row: f"{row['check'].month_azimuth_deg[row['at']]:.0f}"),
    Column("sunrise", _km("sunrise_m")),
    Column("sunset", _km("sunset_m")),
)
