"""What each command can be asked: its parameters, as the command line itself lists them."""

from __future__ import annotations

import functools
import zlib
from dataclasses import dataclass

import numpy as np
import typer.main

from terrain.command.app import app_for
from tests.attacks.environment import COMMANDS


@dataclass(frozen=True)
class Parameter:
    """One argument or option of a command: how it is written, and what the help says it takes."""

    command: str
    spelling: str
    takes: str
    is_flag: bool
    is_option: bool


@functools.cache
def parameters() -> tuple[Parameter, ...]:
    """Those of all commands."""
    commands = typer.main.get_command(app_for()).commands  # type: ignore[attr-defined]
    return tuple(
        Parameter(
            command=name,
            spelling=max(one.opts, key=len),
            takes=one.metavar or "",
            is_flag=bool(getattr(one, "is_flag", False)),
            is_option=one.param_type_name == "option",
        )
        for name, command in commands.items()
        for one in command.params
    )


def spellings(command: str) -> set[str]:
    """How the options of a command are written."""
    return {one.spelling for one in parameters() if one.command == command and one.is_option}


def drawn(name: str) -> np.random.Generator:
    """Draws that are the same each time, and others for each name."""
    return np.random.default_rng(zlib.crc32(name.encode()))


def about(command: str, spot: str, hill: str, mist_top_m: float = 150.0) -> list[str]:
    """Options that ask a command about a spot and a hill, given as LAT,LON, on bare ground."""
    if command == "survey":
        return COMMANDS[command]
    said = {
        "--spot": spot,
        "--hill": hill,
        "--mist-top": f"{mist_top_m:g}",
        "--date": "2026-03-22",
        "--from": "2026-03-20",
        "--to": "2026-03-24",
    }
    if command == "dates":
        said |= {"--year": "2026"}
    if command in ("passes", "mist", "plan"):
        del said["--from"], said["--to"]
    if command == "season":
        del said["--hill"]
    known = spellings(command)
    return [f"{option}={value}" for option, value in said.items() if option in known]
