"""What is said of a picture: what the summit is seen against, and how the hill stands in mist."""

from __future__ import annotations

import math
from collections.abc import Iterator

from terrain.view.backdrop import Backdrop
from terrain.view.look import View
from terrain.view.picture import Picture
from terrain.words.figures import percent


def picture_rows(view: View, seen: Picture) -> Iterator[tuple[str, str]]:
    """What there is to say of a hill in its frame, each thing and what it is.

    Nothing is said of mist where there is none.
    """
    yield "summit against", _against(view)
    if math.isnan(view.freeboard_m):
        return
    yield "mist, of all below the sky", percent(seen.mist_share)
    if seen.waterline == seen.waterline:
        whole = "all of it: an island" if seen.is_island else percent(seen.waterline)
        yield "of the hill's outline meets mist", whole
    if seen.over_mist_deg == seen.over_mist_deg:
        yield "summit over the mist at its foot", f"{seen.over_mist_deg:.1f}°"


def _against(view: View) -> str:
    if view.backdrop is None:
        return "nothing: it is hidden"
    if view.backdrop is Backdrop.SKY:
        return "the sky"
    return f"{view.behind}; the skyline is {view.under_skyline_deg:.2f}° higher"
