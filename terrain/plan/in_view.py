"""What else a plan's spot offers: how the sun stands to the hill through it, and small scenes."""

from __future__ import annotations

import geopandas as gpd

from terrain.frame.lens import Kit
from terrain.frame.long_lens import small_scenes
from terrain.mist.trees import TREES_M
from terrain.plan.morning import Plan
from terrain.view.states import SunSpell, sun_spells


def spells_of(plan: Plan) -> tuple[SunSpell, ...]:
    """The times at which the sun is over the hill, on its rim, or just hidden by it."""
    answer = plan.backlight
    return sun_spells(plan.scene, answer.view, answer.sun_path)


def scenes_of(plan: Plan, *, trees_m: tuple[float, float] = TREES_M) -> gpd.GeoDataFrame:
    """The small scenes in view, in the lenses of the plan; empty without a mist.

    They are kept with the country, since both what is printed and the sheet ask for them.
    """
    country, kit, toward_deg = plan.scene.country, _kit(plan), plan.backlight.view.azimuth_deg
    return country.once(
        ("small scenes", country.mist, plan.spot, kit, trees_m, toward_deg),
        lambda: small_scenes(country, plan.spot, kit=kit, trees_m=trees_m, toward_deg=toward_deg),
    )


def _kit(plan: Plan) -> Kit:
    held, lenses = plan.framing.frame.sensor, [fit.lens for fit in plan.framing.lenses]
    return Kit(
        sensor=held if held.width_mm >= held.height_mm else held.turned,
        lenses_mm=tuple((lens.shortest_mm, lens.longest_mm) for lens in lenses),
    )
