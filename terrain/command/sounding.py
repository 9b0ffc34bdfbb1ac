"""`terrain sounding`: what height of mist the air suggests, from an ascent or two thermometers."""

from __future__ import annotations

from pathlib import Path

import typer

import terrain
from terrain.command.bounds import Bounds
from terrain.command.columns import fixed, metres
from terrain.command.options import Saves, option
from terrain.command.report import line, print_json, progress
from terrain.command.saves import check_not_in_use
from terrain.command.tables import Column, table
from terrain.errors import TerrainError
from terrain.words.figures import whole

_ROWS = (".csv",)
_COLUMNS = (
    Column("base m", lambda row: f"{row['base_m']:.0f}{' (ground)' if row['on_ground'] else ''}"),
    metres("top m", "top_m"),
    metres("depth m", "depth_m"),
    fixed("warms by K", "strength_k", 1),
    Column("warms by K/km", lambda row: f"{-row['lapse_k_per_km']:.1f}"),
    Column(
        "humidity %",
        lambda row: whole(row["humidity_percent"]) if row["humidity_percent"] > 0 else "-",
    ),
    Column("saturated", lambda row: "yes" if row["saturated"] else "no"),
)


def sounding(
    *,
    file: Path | None = typer.Argument(
        None,
        metavar="FILE",
        help="An ascent: a table (.csv) with units in its headings, or a PRES HGHT listing.",
        show_default=False,
    ),
    floor: float | None = option(
        "M", "Height of the valley floor, metres.", shown="the ground", least=-500.0, most=9000.0
    ),
    valley_air: str | None = option(
        "M,C[,%]", "Instead of FILE: height, temperature, humidity in the valley."
    ),
    hilltop_air: str | None = option("M,C", "With --valley-air: height and temperature on a hill."),
    asked: Saves,
) -> None:
    """Suggest heights to try for the top of the mist, and say what speaks against mist.

    It is not a forecast. Of an ascent the inversions can be saved (.csv).
    """
    asked.check_saves(_ROWS)
    check_not_in_use(asked.save or [], [] if file is None else [file])
    if file is None:
        _thermometers(valley_air, hilltop_air, floor, asked)
        return
    if valley_air is not None or hilltop_air is not None:
        raise TerrainError(f"give {file} or --valley-air with --hilltop-air, not both")
    from terrain.show.files.rows import save_rows

    with progress("reading the air", quiet=asked.as_json) as done:
        done(0.2)
        ascent = terrain.read_sounding(file)
        suggestion = terrain.suggest_mist_top(ascent, floor)
        lids = terrain.inversions(ascent)
    about = {"station": ascent.station, "time": ascent.time, "ground_m": ascent.ground_m}
    rows = lids.to_dict("records")

    def tell() -> None:
        if rows:
            table("Inversions", _COLUMNS, rows)
        line(*suggestion.text.splitlines())

    asked.answer(
        fields=lambda: {**about, "inversions": rows, **vars(suggestion)},
        tell=tell,
        others={_ROWS: lambda path: save_rows(lids, path)},
    )


def _thermometers(
    valley: str | None, hilltop: str | None, floor: float | None, asked: Saves
) -> None:
    if valley is None or hilltop is None:
        raise TerrainError("give the file of a sounding, or --valley-air and --hilltop-air")
    if asked.save:
        raise TerrainError("--save goes with the file of a sounding, whose inversions it writes")
    if floor is not None:
        raise TerrainError("--floor goes with the file of a sounding, not with --valley-air")

    low, high = _reading("--valley-air", valley, 3), _reading("--hilltop-air", hilltop, 2)
    suggestion = terrain.suggest_from_two_thermometers(low, high)  # type: ignore[arg-type]
    if asked.as_json:
        print_json(suggestion)
    else:
        line(*suggestion.text.splitlines())


def _reading(option: str, text: str, most: int) -> tuple[float, ...]:
    try:
        numbers = tuple(float(part) for part in text.split(","))
        for value in numbers:
            Bounds(least=-500.0, most=9000.0).check(option, value)
    except ValueError:
        numbers = ()
    if not 2 <= len(numbers) <= most:
        humidity = ", then humidity in % if it was read" if most > 2 else ""
        raise TerrainError(
            f"{option} {text} is no reading: give height in metres, temperature in °C{humidity}, "
            "with commas between"
        )
    return numbers
