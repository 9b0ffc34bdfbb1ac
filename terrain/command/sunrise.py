"""`terrain sunrise`: when and where the sun meets the skyline of a spot, and is it the hill's."""

from __future__ import annotations

from typing import TYPE_CHECKING

import terrain
from terrain.command.ahead import load_ahead
from terrain.command.area import hill_on, stand_on
from terrain.command.kit_asked import KitOptions
from terrain.command.mist_asked import MistOptions, trees_of
from terrain.command.options import Asked, Day, Evening, HillPlace, Names, SpotPlace, Trees
from terrain.command.photograph import PhotographOptions
from terrain.command.report import line, progress
from terrain.command.room import ONE_SPOT
from terrain.command.saves import MOVING, PICTURE, TABLE
from terrain.command.tables import pairs

if TYPE_CHECKING:
    import geopandas as gpd

    from terrain.frame.answer import SpotAnswer


def sunrise(
    *,
    spot: SpotPlace,
    hill: HillPlace = None,
    date: Day = None,
    evening: Evening = False,
    mist: MistOptions,
    trees: Trees = "5:15",
    kit: KitOptions,
    photograph: PhotographOptions,
    names: Names = None,
    asked: Asked,
) -> None:
    """Check one vantage, hill and morning: is the sun's first appearance behind the hill?

    With --evening, whether the last of the sun goes down behind it.

    Saves what a camera there will see (.png, .jpg, .svg, .pdf): before the colour, at the moment,
    and ten minutes on; or the light over the minutes (.webp, .gif). Of the lenses given it takes
    the one that suits. Or how the sun stands to the hill (.gpkg, there with the small scenes in the
    mist, .geojson, .csv).
    """
    from terrain.command.scenes_report import tell_scenes
    from terrain.frame.answer import answer_at
    from terrain.words.answer import record_of, said_of

    asked.check_saves(PICTURE, MOVING, TABLE)
    if asked.saves_as(PICTURE):
        load_ahead("terrain.show.view.moment:prepare", "terrain.show.view.panorama")
    area = asked.area(names, ONE_SPOT)
    given, place, over = area.spot(spot), area.hill_place(hill), mist.over(area)
    day, bag, trees_m = area.day(date, given, evening=evening), kit.over(area), trees_of(trees)
    with progress(f"watching the sun {'set' if evening else 'rise'}", quiet=asked.as_json) as done:
        country = over.laid_on(area.country_under_sky(given, only_there=True))
        camera = stand_on(country, area, given)
        done(0.3)
        scene = terrain.Scene(country, hill_on(country, place))
        done(0.7)
        found = answer_at(scene, camera, day, kit=bag, trees_m=trees_m, evening=evening)

    def tell() -> None:
        said = said_of(found, given)
        line(*said.verdict)
        pairs(said.title, said.rows)
        pairs(said.picture_title, said.picture)
        if found.scenes is not None:
            tell_scenes(found.scenes)
        line(*said.notes)

    asked.answer(
        fields=lambda: record_of(found),
        tell=tell,
        layers=lambda: _layers(found),
        others=photograph.writers(
            scene,
            found.backlight,
            bag,
            lambda: country.summits(names=area.summits),
            found.scenes,
        ),
    )


def _layers(found: SpotAnswer) -> dict[str, gpd.GeoDataFrame]:
    """How the sun stands to the hill as a table of the place of the camera, and the scenes."""
    import pandas as pd

    from terrain.ground.tables import at_spot
    from terrain.words.answer import spell_records

    names = ("state", "start", "end", "nearest_at", "aside_deg", "above_deg")
    rows = (
        (*(str(one["state"]), one["start"], one["end"]), *one["nearest"].values())
        for one in spell_records(found.spells)
    )
    sun = at_spot(pd.DataFrame(rows, columns=names), found.backlight.view.spot)
    return {"sun": sun} if found.scenes is None else {"sun": sun, "small_scenes": found.scenes}
