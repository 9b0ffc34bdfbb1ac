"""terrain: where to stand for a hill above the mist with the sunrise behind it.

Every public name is here; the modules behind it are loaded when a name is first used.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from terrain.errors import NoAnswer, NoGround, NoSun, TerrainError
    from terrain.ground.areas import read_areas
    from terrain.ground.dem import Dem
    from terrain.ground.grid import Grid
    from terrain.ground.hills import hill_ground, hill_labels
    from terrain.ground.parts import GroundPart, read_parts
    from terrain.ground.paths import read_paths
    from terrain.ground.places import Hill, Spot
    from terrain.ground.read import read_dem
    from terrain.ground.slope import slope_deg
    from terrain.ground.summits import find_summits, hill_at, hill_named
    from terrain.ground.water import level_water
    from terrain.mist.flood import flood_levels
    from terrain.mist.hollows import clear_hollows
    from terrain.mist.inversion import inversions
    from terrain.mist.islands import islands, strait_between, straits_from
    from terrain.mist.passes import describe_pass, passes, pour_path
    from terrain.mist.pouring import describe_pouring, pouring, pouring_paths
    from terrain.mist.sounding import Sounding, read_sounding
    from terrain.mist.suggestion import MistSuggestion, suggest_mist_top
    from terrain.mist.surface import Mist, level_mist
    from terrain.mist.sweep import MistSweep, mist_sweep
    from terrain.mist.thermometers import suggest_from_two_thermometers
    from terrain.mist.valley import valley_mist
    from terrain.morning.access import Access
    from terrain.morning.accuracy import Accuracy
    from terrain.morning.atlas import Atlas, backlight_atlas
    from terrain.morning.backlight import Backlight, check_backlight
    from terrain.morning.behind import stand_behind
    from terrain.morning.choose import choose_vantage
    from terrain.morning.cold import Air
    from terrain.morning.confirm import confirm
    from terrain.morning.contact import Contact, sun_contact
    from terrain.morning.dates import backlit_dates
    from terrain.morning.day_atlas import DayAtlas, day_atlas
    from terrain.morning.edge import edge_of_light
    from terrain.morning.figure import figure_at, step_for
    from terrain.morning.framing import Framing, frame_view
    from terrain.morning.good_days import good_days
    from terrain.morning.hide import hide_track
    from terrain.morning.lens import Sensor
    from terrain.morning.light import Arrival, light_arrival
    from terrain.morning.mist_range import MistRange, mist_range
    from terrain.morning.pace import din_33466, langmuir, naismith, tobler
    from terrain.morning.pairs import backlit_pairs
    from terrain.morning.plan import Kit, Plan, plan_morning
    from terrain.morning.reach import walks_from
    from terrain.morning.season import plan_season
    from terrain.morning.shown import Shown, hill_shown
    from terrain.morning.valleys import (
        Valley,
        valley_about,
        valley_shares,
        valley_times,
        valleys_in,
    )
    from terrain.morning.vantages import Limits, find_vantages
    from terrain.morning.walk import Walk, walk_in
    from terrain.morning.warm import WarmLight, warm_light
    from terrain.sight.horizon import horizon
    from terrain.sight.known import known_between, known_to
    from terrain.sight.left_out import LeftOut, left_out
    from terrain.sight.line import profile, sight_line
    from terrain.sight.skyline import Skyline, skyline
    from terrain.sight.viewshed import viewshed
    from terrain.sun.path import sun_path
    from terrain.sun.position import SunPosition, sun_position
    from terrain.sun.twilight import Twilight, twilight

_HOME = {
    "morning.atlas": "Atlas backlight_atlas",
    "morning.confirm": "confirm",
    "morning.season": "plan_season",
    "morning.day_atlas": "DayAtlas day_atlas",
    "morning.pairs": "backlit_pairs",
    "morning.light": "Arrival light_arrival",
    "morning.warm": "WarmLight warm_light",
    "morning.valleys": "Valley valley_about valley_shares valley_times valleys_in",
    "morning.edge": "edge_of_light",
    "morning.hide": "hide_track",
    "morning.behind": "stand_behind",
    "mist.hollows": "clear_hollows",
    "mist.valley": "valley_mist",
    "mist.sweep": "MistSweep mist_sweep",
    "mist.passes": "describe_pass passes pour_path",
    "mist.pouring": "describe_pouring pouring pouring_paths",
    "ground.parts": "GroundPart read_parts",
    "ground.paths": "read_paths",
    "ground.water": "level_water",
    "mist.sounding": "Sounding read_sounding",
    "mist.inversion": "inversions",
    "mist.suggestion": "MistSuggestion suggest_mist_top",
    "mist.thermometers": "suggest_from_two_thermometers",
    "morning.cold": "Air",
    "morning.framing": "Framing frame_view",
    "morning.lens": "Sensor",
    "morning.shown": "Shown hill_shown",
    "morning.choose": "choose_vantage",
    "morning.good_days": "good_days",
    "morning.figure": "figure_at step_for",
    "morning.access": "Access",
    "morning.mist_range": "MistRange mist_range",
    "morning.pace": "din_33466 langmuir naismith tobler",
    "morning.plan": "Kit Plan plan_morning",
    "morning.reach": "walks_from",
    "morning.walk": "Walk walk_in",
    "errors": "NoAnswer NoGround NoSun TerrainError",
    "ground.areas": "read_areas",
    "ground.dem": "Dem",
    "ground.grid": "Grid",
    "ground.hills": "hill_ground hill_labels",
    "ground.places": "Hill Spot",
    "ground.read": "read_dem",
    "ground.slope": "slope_deg",
    "ground.summits": "find_summits hill_at hill_named",
    "mist.flood": "flood_levels",
    "mist.islands": "islands strait_between straits_from",
    "mist.surface": "Mist level_mist",
    "morning.accuracy": "Accuracy",
    "morning.backlight": "Backlight check_backlight",
    "morning.contact": "Contact sun_contact",
    "morning.dates": "backlit_dates",
    "morning.vantages": "Limits find_vantages",
    "sight.horizon": "horizon",
    "sight.known": "known_between known_to",
    "sight.left_out": "LeftOut left_out",
    "sight.line": "profile sight_line",
    "sight.skyline": "Skyline skyline",
    "sight.viewshed": "viewshed",
    "sun.path": "sun_path",
    "sun.position": "SunPosition sun_position",
    "sun.twilight": "Twilight twilight",
}
_MODULE_OF = {name: module for module, names in _HOME.items() for name in names.split()}

__all__ = [
    "Access",
    "Accuracy",
    "Air",
    "Arrival",
    "Atlas",
    "Backlight",
    "Contact",
    "DayAtlas",
    "Dem",
    "Framing",
    "Grid",
    "GroundPart",
    "Hill",
    "Kit",
    "LeftOut",
    "Limits",
    "Mist",
    "MistRange",
    "MistSuggestion",
    "MistSweep",
    "NoAnswer",
    "NoGround",
    "NoSun",
    "Plan",
    "Sensor",
    "Shown",
    "Skyline",
    "Sounding",
    "Spot",
    "SunPosition",
    "TerrainError",
    "Twilight",
    "Valley",
    "Walk",
    "WarmLight",
    "backlight_atlas",
    "backlit_dates",
    "backlit_pairs",
    "check_backlight",
    "choose_vantage",
    "clear_hollows",
    "confirm",
    "day_atlas",
    "describe_pass",
    "describe_pouring",
    "din_33466",
    "edge_of_light",
    "figure_at",
    "find_summits",
    "find_vantages",
    "flood_levels",
    "frame_view",
    "good_days",
    "hide_track",
    "hill_at",
    "hill_ground",
    "hill_labels",
    "hill_named",
    "hill_shown",
    "horizon",
    "inversions",
    "islands",
    "known_between",
    "known_to",
    "langmuir",
    "left_out",
    "level_mist",
    "level_water",
    "light_arrival",
    "mist_range",
    "mist_sweep",
    "naismith",
    "passes",
    "plan_morning",
    "plan_season",
    "pour_path",
    "pouring",
    "pouring_paths",
    "profile",
    "read_areas",
    "read_dem",
    "read_parts",
    "read_paths",
    "read_sounding",
    "sight_line",
    "skyline",
    "slope_deg",
    "stand_behind",
    "step_for",
    "strait_between",
    "straits_from",
    "suggest_from_two_thermometers",
    "suggest_mist_top",
    "sun_contact",
    "sun_path",
    "sun_position",
    "tobler",
    "twilight",
    "valley_about",
    "valley_mist",
    "valley_shares",
    "valley_times",
    "valleys_in",
    "viewshed",
    "walk_in",
    "walks_from",
    "warm_light",
]


def __getattr__(name: str) -> Any:
    if name not in _MODULE_OF:
        raise AttributeError(f"module 'terrain' has no attribute {name!r}")
    value = getattr(importlib.import_module(f"terrain.{_MODULE_OF[name]}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted(__all__)
