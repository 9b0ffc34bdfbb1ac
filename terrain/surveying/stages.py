"""The stages of a survey as tasks, and what is made of all that they give."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Final

import geopandas as gpd

from terrain.constants import TERRESTRIAL_REFRACTION
from terrain.ground.features import Features
from terrain.ground.raster.planned import PlannedPart
from terrain.sight.bend import bend_per_m
from terrain.surveying.blocks import side_for
from terrain.surveying.cut import Cut, as_far_as
from terrain.surveying.first import blocks_from, know_tile, read_blocks, save_blocks, summits_from
from terrain.surveying.mosaic import save_mosaic
from terrain.surveying.question import SurveyQuestion
from terrain.surveying.rasters import RasterWork, raster_tile
from terrain.surveying.receipts import Folder, Receipt
from terrain.surveying.second import TileGround, search_tile
from terrain.surveying.stamps import code_stamp, file_stamp, ground_stamp, stamp_of
from terrain.surveying.tables import ranked, read_places, save_places
from terrain.surveying.tasks import Outcome, Task

_BYTES_A_CELL: Final = 200.0


@dataclass(frozen=True, kw_only=True, eq=False)
class Known:
    """What is known of the whole country: its hills, and its blocks with their receipt."""

    summits: gpd.GeoDataFrame
    blocks: Path
    signed: Receipt


def first_tasks(cut: Cut, prominence_m: float) -> list[Task]:
    """What each tile knows."""
    side, tasks = side_for(cut.grid), []
    for tile in range(cut.tiles):
        part = cut.part(tile)
        made_from = stamp_of(*_made_from(part), side, prominence_m)
        tasks.append(
            Task(
                name=f"ground-{tile + 1:05d}-{made_from}",
                ending=".npz",
                tile=tile,
                label=cut.label(tile),
                make=partial(know_tile, part, side, prominence_m),
            )
        )
    return tasks


def know_country(
    cut: Cut, folder: Folder, first: Outcome, prominence_m: float, names: Features | None
) -> Known:
    """The hills of the whole and its blocks, from what the tiles know; kept, and not made again."""
    made_from = stamp_of(code_stamp(), *(one.name for one in first.receipts))
    files = {one.tile: folder.file_of(one) for one in first.receipts}
    name = f"blocks-{made_from}"
    blocks, side = folder.part(name, ".npy"), side_for(cut.grid)
    signed = folder.receipt(name)
    if signed is None:
        save_blocks(blocks_from(list(files.values()), cut, side), blocks)
        signed = folder.sign(name, blocks)
    name = f"summits-{stamp_of(made_from, _names_stamp(names))}"
    file = folder.path / "summits.parquet"
    if folder.receipt(name) is None:
        save_places(summits_from(files, cut, prominence_m, names), file)
        folder.sign(name, file)
    return Known(summits=read_places(file), blocks=blocks, signed=signed)


def second_tasks(cut: Cut, known: Known, question: SurveyQuestion) -> list[Task]:
    """The hills of each tile that has any."""
    points, tasks = known.summits.geometry, []
    rows, far_m = defaultdict(list), _far_m(cut, known, question.about_m, question.refraction)
    for number, tile in enumerate(cut.tiles_of(points.x, points.y)):
        rows[tile].append(number)
    for tile, numbers in sorted(rows.items()):
        hills = known.summits.iloc[numbers]
        ground = _ground_of(cut, tile, known, question.about_m, far_m)
        made_from = *_made_from(ground.near), known.signed.checksum, question.key(), _says(hills)
        tasks.append(
            Task(
                name=f"vantages-{tile + 1:05d}-{stamp_of(*made_from)}",
                ending=".parquet",
                tile=tile,
                label=cut.label(tile),
                make=partial(search_tile, ground, hills, question),
                weight=float(len(hills)),
            )
        )
    return tasks


def raster_tasks(
    cut: Cut, known: Known, first: Outcome, work: RasterWork, name: str, margin_m: float
) -> list[Task]:
    """The bands of each tile of which some ground is known. name: of the rasters."""
    tasks, summits = [], known.summits
    row, col = cut.grid.rowcol(summits.geometry.x, summits.geometry.y)
    far_m = _far_m(cut, known, margin_m, TERRESTRIAL_REFRACTION)
    for tile in (one.tile for one in first.receipts if one.says["cells"]):
        ground = _ground_of(cut, tile, known, margin_m, far_m)
        top, left, bottom, right = ground.near.window.widened(1, cut.grid)
        # no more of them than lie on it: there are as many tasks as tiles
        here = summits[(row >= top - 0.5) & (row < bottom) & (col >= left - 0.5) & (col < right)]
        rows = here.index.tolist()
        made_from = *_made_from(ground.near), known.signed.checksum, repr(work), _says(here), rows
        tasks.append(
            Task(
                name=f"{name}-{tile + 1:05d}-{stamp_of(*made_from)}",
                ending=".tif",
                tile=tile,
                label=cut.label(tile),
                make=partial(raster_tile, ground, work, here),
            )
        )
    return tasks


def mosaic_of(cut: Cut, folder: Folder, second: Outcome, name: str) -> Path:
    """The virtual raster of all tiles that are done."""
    tiles = {folder.file_of(one): cut.plan.own[one.tile] for one in second.receipts}
    file = folder.path / f"{name}.vrt"
    save_mosaic(file, cut.grid, second.receipts[0].says["bands"], tiles)
    return file


def _far_m(cut: Cut, known: Known, about_m: float, refraction: float) -> float:
    """How far about a tile any ground of the country can matter to its skylines, metres."""
    highest_m = read_blocks(known.blocks, side_for(cut.grid)).highest_m
    return max(as_far_as(highest_m, bend_per_m(refraction)), about_m)


def _ground_of(cut: Cut, tile: int, known: Known, about_m: float, far_m: float) -> TileGround:
    """All that it takes to read the ground of a tile and for so far about it."""
    return TileGround(
        near=cut.part(tile, about_m + 2.0 * cut.grid.cell_m),
        far=cut.part(tile, far_m),
        blocks=known.blocks.resolve(),
        side=side_for(cut.grid),
    )


def all_vantages(folder: Folder, second: Outcome) -> gpd.GeoDataFrame:
    """All rows of all tiles, ranked; kept, and not made again."""
    name = f"survey-{stamp_of(code_stamp(), *(one.name for one in second.receipts))}"
    file = folder.path / "survey.parquet"
    if folder.receipt(name) is None:
        save_places(ranked(read_places(folder.file_of(one)) for one in second.receipts), file)
        folder.sign(name, file)
    return read_places(file)


def left_out(second: Outcome) -> dict[str, str]:
    """Why hills have no vantage, of all tiles."""
    return {hill: why for one in second.receipts for hill, why in one.says["left_out"].items()}


def task_gb(cut: Cut, about_m: float) -> float:
    """What the search for a hill's vantages takes of memory, gigabytes."""
    cells = (2.0 * about_m / cut.grid.cell_m) ** 2
    rows, cols = cut.part(0, about_m).window.shape
    return (cells * _BYTES_A_CELL + rows * cols * 8.0) / 1e9


def _made_from(part: PlannedPart) -> tuple[object, ...]:
    """What all answers for the ground of a part hang on."""
    files = tuple(ground_stamp(sheet.address) for sheet in part.sheets)
    grid = part.grid or part.whole
    said = tuple((sheet.band, sheet.height_unit, sheet.trust) for sheet in part.sheets)
    placing = grid.crs.to_wkt(), tuple(grid.transform), grid.shape, part.own, part.window
    return code_stamp(), files, said, placing


def _says(hills: gpd.GeoDataFrame) -> str:
    return str(hills.to_json(drop_id=True))


def _names_stamp(names: Features | None) -> str:
    if names is None:
        return ""
    return _says(names) if isinstance(names, gpd.GeoDataFrame) else file_stamp(Path(names))
