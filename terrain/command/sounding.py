"""`terrain sounding`: what height of mist the air suggests, from an ascent or two thermometers."""

from __future__ import annotations

from pathlib import Path

import typer

import terrain
from terrain.command.bounds import Bounds
from terrain.command.columns import fixed, metres
from terrain.command.options import Json, option
from terrain.command.report import Column, line, print_json, progress, table
from terrain.errors import TerrainError
from terrain.words.figures import whole

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
    file: Path | None = typer.Argument(
        None,
        metavar="FILE",
        help="An ascent: a table (.csv) with units in its headings, or a PRES HGHT listing.",
        show_default=False,
    ),
    floor: float | None = option(
        "M", "Height of the valley floor, metres.", shown="the ground", least=-500.0, most=9000.0
    ),
    valley: str | None = option(
        "M,C[,%]", "Instead of FILE: height, temperature, humidity in the valley."
    ),
    hilltop: str | None = option("M,C", "With --valley: height and temperature on a hill."),
    as_json: Json = False,
) -> None:
    """Suggest heights to try for the top of the mist, and say what speaks against mist.

    It is not a forecast.
    """
    if file is None:
        _thermometers(valley, hilltop, floor, as_json)
        return
    if valley is not None or hilltop is not None:
        raise TerrainError(f"give {file} or --valley with --hilltop, not both")
    with progress("reading the air", quiet=as_json) as done:
        done(0.2)
        ascent = terrain.read_sounding(file)
        suggestion = terrain.suggest_mist_top(ascent, floor)
        lids = terrain.inversions(ascent)
    if as_json:
        about = {"station": ascent.station, "time": ascent.time, "ground_m": ascent.ground_m}
        print_json({**about, "inversions": lids.to_dict("records"), **vars(suggestion)})
        return
    if not lids.empty:
        table("Inversions", _COLUMNS, lids.to_dict("records"))
    line(*suggestion.text.splitlines())


def _thermometers(
    valley: str | None, hilltop: str | None, floor: float | None, as_json: bool
) -> None:
    if valley is None or hilltop is None:
        raise TerrainError("give the file of a sounding, or --valley and --hilltop")
    if floor is not None:
        raise TerrainError("--floor goes with the file of a sounding, not with --valley")

    low, high = _reading("--valley", valley, 3), _reading("--hilltop", hilltop, 2)
    suggestion = terrain.suggest_from_two_thermometers(low, high)  # type: ignore[arg-type]
    if as_json:
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
