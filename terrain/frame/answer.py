"""All that is asked of one spot, one hill and one morning, together: answer, light, picture."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass

import geopandas as gpd

from terrain.frame.lens import Kit
from terrain.frame.long_lens import small_scenes
from terrain.ground.places import Spot
from terrain.mist.islands import strait_between
from terrain.mist.trees import TREES_M
from terrain.sun.twilight import Twilight, twilight
from terrain.view.backlight import Backlight, backlight
from terrain.view.facing import SunPose
from terrain.view.look import look
from terrain.view.picture import Picture, picture
from terrain.view.scene import Scene
from terrain.view.shown import Shown, hill_shown
from terrain.view.states import SunSpell, best_pose, sun_spells


@dataclass(frozen=True, kw_only=True, eq=False)
class SpotAnswer:
    """What there is to know of a spot, a hill and a morning or evening.

    day: the date. backlight: whether the sun is behind the hill. pose: how it stands to the hill at
    its best. spells: when it stands how. light, then: of the day and of the next one, over a level
    sea. shown: how much of the hill shows. picture: how it stands in the mist. scenes: the small
    ones in view, as `small_scenes` has them; None where they were not looked for. strait_m: width
    of the mist between the island of the spot and the hill's, NaN without.
    """

    day: dt.date
    backlight: Backlight
    pose: SunPose
    spells: tuple[SunSpell, ...]
    light: Twilight
    then: Twilight
    shown: Shown
    picture: Picture
    scenes: gpd.GeoDataFrame | None
    strait_m: float


def answer_at(
    scene: Scene,
    camera: Spot,
    day: dt.date,
    *,
    kit: Kit | None,
    trees_m: tuple[float, float] = TREES_M,
    evening: bool = False,
) -> SpotAnswer:
    """The answer for a camera that stands at a spot; errors of `look` and `backlight`.

    kit: without one the small scenes in view are not looked for, which takes most of the time.
    """
    found = backlight(scene, look(scene, camera), day, evening=evening)
    light, then = (
        twilight(each, lon_deg=camera.lon_deg, lat_deg=camera.lat_deg)
        for each in (day, day + dt.timedelta(days=1))
    )
    strait_m = math.nan
    if scene.mist is not None:
        strait_m = strait_between(scene.dem, scene.mist, camera, scene.hill)
    scenes, toward_deg = None, found.view.azimuth_deg
    if kit is not None:
        scenes = small_scenes(
            scene.country, camera, kit=kit, trees_m=trees_m, toward_deg=toward_deg
        )
    return SpotAnswer(
        day=day,
        backlight=found,
        pose=best_pose(scene, found),
        spells=tuple(sun_spells(scene, found.view, found.sun_path)),
        light=light,
        then=then,
        shown=hill_shown(scene, camera),
        picture=picture(scene, found.view),
        scenes=scenes,
        strait_m=strait_m,
    )
