"""What becomes of a planned morning with the mist at other heights, seen from the planned spot."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from terrain.errors import TerrainError
from terrain.view.backlight import Backlight, backlight
from terrain.view.scene import Scene, look

if TYPE_CHECKING:
    from terrain.plan.morning import Plan

__all__ = ["WhatIf", "WhatIfs", "mist_steps", "raised", "what_ifs"]


@dataclass(frozen=True, kw_only=True)
class WhatIf:
    """The morning with the mist's top, at the highest, at one height: NaN without mist."""

    mist_top_m: float
    scene: Scene
    backlight: Backlight


@dataclass(frozen=True, kw_only=True)
class WhatIfs:
    """A morning with the mist at several heights, the lowest first.

    planned: number of the one that is as planned. lower, higher: why there is none with the mist
    lower or higher still, empty where none was asked for.
    """

    mornings: tuple[WhatIf, ...]
    planned: int
    lower: str = ""
    higher: str = ""


def mist_steps(mist_top_m: float, *, step_m: float = 25.0, count: int = 4) -> tuple[float, ...]:
    """Heights of the mist about a planned one, that one among them; none without mist.

    >>> mist_steps(280.0, count=1)
    (255.0, 280.0, 305.0)
    """
    if math.isnan(mist_top_m):
        return ()
    return tuple(mist_top_m + step_m * number for number in range(-count, count + 1))


def raised(scene: Scene, by_m: float) -> Scene:
    """A scene with its mist so much higher; NoAnswer where the hill is under it, or no ground."""
    mist = None if scene.mist is None else scene.mist.raised(scene.dem, by_m)
    return Scene(scene.country.under(mist), scene.hill)


def what_ifs(plan: Plan, mist_tops_m: Sequence[float] | None = None) -> WhatIfs:
    """The morning of a plan as planned, and with the mist ever lower and ever higher.

    mist_tops_m: those heights, metres; 100 m down and up by steps of 25 m unless given. From the
    first on at which nothing can be seen, because the spot or the hill lies under the mist or no
    ground does, they are left out with the reason.
    """
    asked = mist_steps(plan.mist_top_m) if mist_tops_m is None else mist_tops_m
    can_rise = plan.scene.mist is not None and plan.scene.mist.raised_by is not None
    tops_m = sorted(set(asked)) if can_rise else []
    lower, why_lower = _outward(plan, [top for top in tops_m[::-1] if top < plan.mist_top_m])
    higher, why_higher = _outward(plan, [top for top in tops_m if top > plan.mist_top_m])
    planned = WhatIf(mist_top_m=plan.mist_top_m, scene=plan.scene, backlight=plan.backlight)
    return WhatIfs(
        mornings=(*reversed(lower), planned, *higher),
        planned=len(lower),
        lower=why_lower,
        higher=why_higher,
    )


def _outward(plan: Plan, tops_m: Sequence[float]) -> tuple[list[WhatIf], str]:
    """Mornings with the mist ever farther from the planned height, and why they end early."""
    found: list[WhatIf] = []
    for top_m in tops_m:
        try:
            scene = raised(plan.scene, top_m - plan.mist_top_m)
            answer = backlight(scene, look(scene, plan.spot, day=plan.day), plan.day)
        except TerrainError as error:
            return found, str(error)
        found.append(WhatIf(mist_top_m=top_m, scene=scene, backlight=answer))
    return found, ""
