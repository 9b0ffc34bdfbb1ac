"""A small picture of how far the ground about a place is known, and where the sun comes up."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Circle, Polygon, Wedge

from terrain.fetch.check import GroundCheck
from terrain.show.paper import palette
from terrain.show.paper.page import map_page
from terrain.show.paper.style import own_style
from terrain.show.paper.text import SMALL_PT, TEXT_PT, write, write_notes

_SIDE_IN: Final = 4.6
_COLUMN_IN: Final = 2.9
_MONTHS: Final = (
    "Jan",
    "Feb",
    "Mar",
    "Apr",
    "May",
    "Jun",
    "Jul",
    "Aug",
    "Sep",
    "Oct",
    "Nov",
    "Dec",
)
_ROW_PT: Final = 15.0
_RING: Final = 0.03
"""How wide the arcs are that say where the sun comes up, of the radius shown."""


@own_style()
def coverage_figure(check: GroundCheck) -> Figure:
    """A page that shows how far the ground is known in each direction, month by month to the sun.

    Parameters
    ----------
    check : GroundCheck
        As `check_ground` gives it.

    Returns
    -------
    matplotlib.figure.Figure
        For `save_picture`.

    Examples
    --------
    >>> import numpy as np
    >>> import terrain
    >>> check = terrain.GroundCheck(
    ...     around=terrain.Spot(lon_deg=-24.0, lat_deg=54.4, name="the stile"),
    ...     reach_m=60e3, sunward_m=100e3, files=(), void_share=0.0, missing=(), doubts=(),
    ...     azimuth_deg=np.arange(0.0, 360.0, 90.0), known_m=np.full(4, 40e3),
    ...     month_azimuth_deg=np.full(12, 90.0), sunrise_m=np.full(12, 40e3),
    ...     sunset_m=np.full(12, 40e3),
    ... )
    >>> len(terrain.coverage_figure(check).axes)
    2
    """
    line = f"Known ground, as far as {max(check.reach_m, check.sunward_m) / 1000:.0f} km"
    title = f"Ground about {check.around.label}"
    page, ax, side = map_page(title, line, (_SIDE_IN, _SIDE_IN), (_COLUMN_IN, _SIDE_IN))
    _draw(ax, check)
    _write_months(side, check)
    write_notes(side, _notes(check))
    return page


def _draw(ax: Axes, check: GroundCheck) -> None:
    full_km = max(check.reach_m, check.sunward_m) / 1000.0
    edge = full_km * (1.0 + 5.0 * _RING)
    ax.set(xlim=(-edge, edge), ylim=(-edge, edge), aspect="equal", facecolor=palette.PAPER)
    ax.set_axis_off()
    hidden = Circle((0, 0), full_km, facecolor=palette.PAPER, edgecolor=palette.FAINT)
    hidden.set(hatch="////", linewidth=0.0, zorder=1, gid="unknown")
    ax.add_patch(hidden)
    angle = np.radians(check.azimuth_deg)
    known_km = check.known_m / 1000.0
    outline = np.column_stack([known_km * np.sin(angle), known_km * np.cos(angle)])
    look: dict[str, Any] = {
        "facecolor": palette.GROUND(0.3),
        "edgecolor": palette.RIDGE_NEAR,
        "linewidth": 0.8,
    }
    ax.add_patch(Polygon(outline, zorder=2, gid="known", **look))
    ring: dict[str, Any] = {
        "fill": False,
        "edgecolor": palette.QUIET,
        "linewidth": 0.8,
        "linestyle": (0, (4, 3)),
    }
    ax.add_patch(Circle((0, 0), check.reach_m / 1000.0, zorder=3, gid="reach", **ring))
    ax.plot(0, 0, "o", color=palette.INK, markersize=5, zorder=4)
    first, last = check.month_azimuth_deg.min(), check.month_azimuth_deg.max()
    for start, end in ((first, last), (360.0 - last, 360.0 - first)):
        # a wedge counts from the east, against the clock
        arc = Wedge((0, 0), full_km * (1 + 2 * _RING), 90 - end, 90 - start, width=full_km * _RING)
        arc.set(facecolor=palette.SUN, edgecolor="none", zorder=4)
        ax.add_patch(arc)
    reach_km = check.reach_m / 1000.0
    words = (
        ((0.0, edge * 0.985), "N", "center", "top"),
        ((0.0, -reach_km * 1.02), f"{reach_km:.0f} km", "center", "top"),
        ((full_km * 0.93, -full_km * 0.93), "sunrise", "right", "center"),
        ((-full_km * 0.93, -full_km * 0.93), "sunset", "left", "center"),
    )
    for place, text, ha, va in words:
        label = ax.text(*place, text, fontsize=SMALL_PT, ha=ha, va=va, color=palette.INK, zorder=5)
        label.set_bbox({"facecolor": palette.PAPER, "edgecolor": "none", "pad": 1.0})


def _write_months(side: Axes, check: GroundCheck) -> None:
    at = SMALL_PT
    places = (0.0, 120.0, 190.0)
    for x, words in zip(places, ("on the 21st of", "sunrise km", "sunset km"), strict=True):
        write(
            side,
            (x, at),
            words,
            size_pt=SMALL_PT,
            colour=palette.QUIET,
            ha="right" if x else "left",
        )
    for month, name in enumerate(_MONTHS):
        at += _ROW_PT
        known = (check.sunrise_m[month], check.sunset_m[month])
        write(side, (0.0, at), name, size_pt=TEXT_PT)
        for x, metres in zip(places[1:], known, strict=True):
            write(side, (x, at), f"{metres / 1000:.0f}", size_pt=TEXT_PT, ha="right")


def _notes(check: GroundCheck) -> list[str]:
    notes = [
        f"Hatched: not known. Dashed: the reach of {check.reach_m / 1000:.0f} km. The arcs "
        "outside: where the sun comes up and goes down over the year, on a level horizon."
    ]
    if check.missing:
        shown = ", ".join(check.missing[:8])
        more = f" and {len(check.missing) - 8} more" if len(check.missing) > 8 else ""
        notes.append(f"Tiles that would add to it: {shown}{more}.")
    return notes
