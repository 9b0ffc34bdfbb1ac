"""What a plan warns of, in sentences."""

from __future__ import annotations

from collections.abc import Iterator

from terrain.plan.cautions import EDGE_REACH_M
from terrain.plan.morning import Plan
from terrain.plan.stages import StageKind
from terrain.words.clocks import clock, hour_minute
from terrain.words.figures import celsius, eighth
from terrain.words.standing import STANDING


def cautions(plan: Plan) -> tuple[str, ...]:
    """All that a plan must warn of, a sentence or two each."""
    return (*_cautions(plan), *_glare(plan), *STANDING)


def _glare(plan: Plan) -> Iterator[str]:
    over = plan.stage(StageKind.SUN_OVER_SUMMIT)
    if over is not None:
        yield (
            f"At {hour_minute(over.at)} the sun stands over the summit and dazzles: compose on the "
            "screen, cover the lens between exposures, and do not look toward it through glass."
        )


def _cautions(plan: Plan) -> Iterator[str]:
    found, walk = plan.cautions, plan.walk_back or plan.walk
    which, dark = ("in", "before civil dawn"), "walk the way once by day"
    whole, whence = "the way", "the start"
    if plan.evening:
        which, dark = ("back", "after civil dusk"), "know the way back: look round as you come"
        whole, whence = "the way back", "the spot"
    if found.dark_s is not None:
        yield (
            f"{found.dark_s / 60.0:.0f} minutes of the walk {which[0]} are {which[1]}: carry a "
            f"head lamp and a spare, and {dark}."
        )
    if found.in_mist_m is not None:
        yield (
            f"{found.in_mist_m / 1000.0:.1f} km of the walk {which[0]} lie in the mist as planned: "
            "there a lamp shows only the next few metres. Take the way along as a file, and a "
            "compass."
        )
    if found.steep:
        worst, way = walk.steepest, "up" if walk.steepest.slope_deg > 0 else "down"
        yield (
            f"The steepest bit of {whole} goes {way} at {abs(worst.slope_deg):.0f}°, "
            f"{worst.after_m / 1000.0:.1f} km from {whence} ({worst.lat_deg:.5f}, "
            f"{worst.lon_deg:.5f}); the steepest ground crossed is "
            f"{walk.steepest_ground.ground_deg:.0f}°. Steep ground is dangerous in the dark, wet "
            "or frozen."
        )
    if found.edge is not None:
        slope_deg, azimuth_deg = found.edge
        yield (
            f"Ground of {slope_deg:.0f}° lies within about {EDGE_REACH_M:.0f} m of the spot, to "
            f"the {eighth(azimuth_deg)}: find its edge by daylight and stay back from it."
        )
    if found.freeboard_m is not None:
        yield (
            f"The spot stands only {found.freeboard_m:.0f} m above the mist as planned, and mist "
            "is never quite level: a little more of it takes the view."
        )
    if found.clearance_m is not None:
        yield (
            f"The line of sight to the summit passes only {max(found.clearance_m, 0.0):.0f} m "
            "over ground before it, no more than a raster may be wrong: see by day that the hill "
            "is seen."
        )
    if found.cold is not None:
        cold = found.cold
        yield (
            f"At the spot the air is about {celsius(cold.temperature_c)} and feels like "
            f"{celsius(cold.feels_c)} in a wind of {cold.wind_kmh:.0f} km/h: you will be standing "
            "still, so carry more layers than for the walk."
        )
    if plan.walk_back is not None and plan.walk_back.arrives is not None:
        yield (
            "The air cools fast once the sun is gone: reckon with the cold up to "
            f"{clock(plan.walk_back.arrives)}, when you are back at the start."
        )
