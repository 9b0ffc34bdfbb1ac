"""Attacks on what is written: disks that are full, files in use, names that look like markup."""

from __future__ import annotations

import functools
import os
import shutil
import subprocess
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Final

import rasterio.shutil

from tests.attacks import Case, Left, ground, island
from tests.attacks.environment import COMMANDS

_PLAN: Final = ["plan", "area.toml", "--spot", "ridge"]
SAVED: Final[dict[str, list[str]]] = {
    "tif": ["mist", "area.toml"],
    "gpkg": ["summits", "area.toml"],
    "geojson": ["summits", "area.toml"],
    "csv": ["summits", "area.toml"],
    "png": ["mist", "area.toml"],
    "svg": ["mist", "area.toml"],
    "pdf": ["mist", "area.toml"],
    **dict.fromkeys(("html", "gpx", "kml", "ics"), _PLAN),
}
"""A command that saves a file of each kind."""

DALES: Final = """{"type": "FeatureCollection", "features": [{"type": "Feature",
"properties": {"name": "the dale"}, "geometry": {"type": "Polygon", "coordinates":
[[[-24.05, 54.40], [-24.04, 54.40], [-24.04, 54.41], [-24.05, 54.41], [-24.05, 54.40]]]}}]}"""

# no more than the beginning of each
_LIMITS_KB: Final = {
    **dict.fromkeys(("csv", "geojson"), (0,)),
    **dict.fromkeys(("gpx", "kml", "ics"), (0, 2)),
}

OLD: Final = "the old file\n"


def cases() -> Iterator[Case]:
    """All of them."""
    yield from _in_use()
    yield from _ends_of_links()
    yield from _full_disk()
    if _may_mount():
        yield from _small_disk()


def _full_disk() -> Iterator[Case]:
    for ending, command in SAVED.items():
        old = f"old.{ending}"
        for limit_kb in _LIMITS_KB.get(ending, (1, 16)):
            yield Case(
                f"full disk, {ending} after {limit_kb} kB",
                [*command, "--save", old],
                island() | {old: OLD},
                codes=frozenset({2}),
                limit_kb=limit_kb,
                quick=(ending, limit_kb) == ("tif", 16),
            )
    for limit_kb in (1, 8):
        yield Case(
            f"full disk, a survey's folder after {limit_kb} kB",
            ["survey", "area.toml", *COMMANDS["survey"], "--save", "old.csv"],
            island() | {"old.csv": OLD},
            codes=_REFUSED,
            limit_kb=limit_kb,
        )
    yield Case(
        "a survey among temporary files",
        ["survey", "area.toml", *COMMANDS["survey"]],
        island() | {"tmp/notes": "mine"},
        environment={"TMPDIR": "tmp"},
        codes=frozenset({0}),
        holds=lambda left: [f"{path.name} is left" for path in (left.folder / "tmp").glob("[!n]*")],
    )


_REFUSED: Final = frozenset({2})
_NEAR: Final = ("--reach=2", "--sunward=2")


def _in_use() -> Iterator[Case]:
    """Over what the answer is made from, by another name or the same."""
    ways: dict[str, Callable[[Path, Path], None]] = {
        "link": lambda at, file: at.symlink_to(file.name),
        "hard link": lambda at, file: at.hardlink_to(file),
    }
    mist, summits = ["mist", "area.toml"], ["summits", "area.toml"]
    for command, file in ((mist, "isle.tif"), (summits, "names.csv")):
        yield Case(f"over {file}", [*command, "--save", file], island(), codes=_REFUSED)
        for how, lead in ways.items():
            other = f"other{Path(file).suffix}"
            laid = island() | {other: functools.partial(_led, lead, file)}
            yield Case(
                f"over {file} by a {how}",
                [*command, "--save", other],
                laid,
                codes=_REFUSED,
                quick=file == "isle.tif",
            )
    yield Case(
        "over the ground by ./",
        [*mist, "--save", "./sub/../isle.tif"],
        island() | {"sub/file": ""},
        codes=_REFUSED,
    )
    yield Case(
        "over a bare raster",
        ["mist", "isle.tif", "--mist-top", "150", "--save", "isle.tif"],
        island(),
        codes=_REFUSED,
    )
    yield Case(
        "over names",
        ["summits", "isle.tif", "--names", "names.csv", "--save", "names.csv"],
        island(),
        codes=_REFUSED,
    )
    yield Case(
        "over a part of a mosaic",
        ["mist", "isle.vrt", "--mist-top", "150", "--save", "isle.tif"],
        island(isle__vrt=_mosaic),
        codes=_REFUSED,
    )
    yield Case(
        "over the areas",
        ["light", "area.toml", "--areas", "dales.geojson", "--save", "dales.geojson"],
        island(dales__geojson=DALES),
        codes=_REFUSED,
    )
    yield Case(
        "over a folder's own ground",
        ["ground", "54.4058,-24.0580", "--source=tiles", *_NEAR, "--save=tiles/isle.tif"],
        {"tiles/isle.tif": ground()},
        codes=_REFUSED,
        quick=True,
    )
    yield Case("the demo over an area", ["demo", "."], island(), codes=_REFUSED)
    yield Case("the demo over a picture", ["demo", "."], {"view.png": OLD}, codes=_REFUSED)
    yield Case(
        "the demo over a link",
        ["demo", "."],
        {"area.toml": lambda at: at.symlink_to("gone")},
        codes=_REFUSED,
    )


def _led(lead: Callable[[Path, Path], None], file: str, at: Path) -> None:
    lead(at, at.with_name(file))


def _mosaic(at: Path) -> None:
    """A virtual mosaic of the island's raster."""
    with rasterio.open(at.with_name("isle.tif")) as isle:
        rasterio.shutil.copy(isle, at, driver="VRT")


def _ends_of_links() -> Iterator[Case]:
    """Links are written through, pipes are written to, what is protected stays."""
    save = ["summits", "area.toml", "--save", "out.csv"]
    yield Case(
        "through a link",
        save,
        island(to__csv=OLD) | {"out.csv": lambda at: at.symlink_to("to.csv")},
        replaces=frozenset({"out.csv", "to.csv"}),
        codes=frozenset({0}),
        holds=_is_link_to_table,
    )
    yield Case(
        "through a link that leads nowhere yet",
        save,
        island() | {"out.csv": lambda at: at.symlink_to("to.csv")},
        replaces=frozenset({"out.csv", "to.csv"}),
        codes=frozenset({0}),
        holds=_is_link_to_table,
    )
    yield Case(
        "a link to itself",
        save,
        island() | {"out.csv": lambda at: at.symlink_to("out.csv")},
        replaces=frozenset({"out.csv"}),
        codes=_REFUSED,
    )
    yield Case("over a protected file", save, island() | {"out.csv": _protected}, codes=_REFUSED)
    yield Case("over a folder", save, island() | {"out.csv/file": ""}, codes=_REFUSED)
    yield Case(
        "into a pipe",
        files=island() | {"out.csv": os.mkfifo},
        shell="cat out.csv > got.csv & $TERRAIN summits area.toml --save out.csv; wait",
        replaces=frozenset({"out.csv"}),
        codes=frozenset({0}),
        holds=lambda left: _is_table(left.folder / "got.csv"),
    )
    yield Case(
        "into the standard output by a link",
        save,
        island() | {"out.csv": lambda at: at.symlink_to("/dev/stdout")},
        replaces=frozenset({"out.csv"}),
        codes=frozenset({0}),
        fresh=True,
        holds=lambda left: [] if "\nKnoll," in left.out else ["no table on stdout"],
    )
    yield Case(
        "a folder of ours left by a kill",
        save,
        island() | {".terrain-abcd1234/out.csv": _long_ago, ".terrain-notes": "mine"},
        replaces=frozenset({".terrain-abcd1234/out.csv"}),
        codes=frozenset({0}),
        holds=lambda left: ["it is still there"] * (left.folder / ".terrain-abcd1234").exists(),
    )


def _protected(at: Path) -> None:
    at.write_text(OLD, encoding="utf-8")
    at.chmod(0o444)


def _long_ago(at: Path) -> None:
    at.write_text("half", encoding="utf-8")
    os.utime(at.parent, (0.0, 0.0))


def _is_link_to_table(left: Left) -> Iterable[str]:
    if not (left.folder / "out.csv").is_symlink():
        yield "the link is gone"
    yield from _is_table(left.folder / "to.csv")


def _is_table(path: Path) -> Iterable[str]:
    if not path.is_file() or not path.read_text(encoding="utf-8").startswith("name,"):
        yield f"there is no table in {path.name}"


_OWN_MOUNTS: Final = ("unshare", "--mount", "--map-root-user")


@functools.cache
def _may_mount() -> bool:
    mount = [*_OWN_MOUNTS, "sh", "-c", "mount -t tmpfs -o size=64k none /mnt"]
    if shutil.which("unshare") is None:
        return False
    return subprocess.run(mount, capture_output=True, check=False).returncode == 0


def _small_disk() -> Iterator[Case]:
    """A disk, really full, that goes with the process that it was mounted in."""
    for ending, command in SAVED.items():
        save = f"$TERRAIN {' '.join(command)} --save small/old.{ending}"
        fill = "dd if=/dev/zero of=small/filling bs=4096 count=99 2> /dev/null"
        kept = f"cat small/old.{ending} > found; exit $code"
        inside = f"mount -t tmpfs -o size=64k none small; cp old small/old.{ending}; {fill}"
        yield Case(
            f"small disk, {ending}",
            files=island(old=OLD) | {"small/keep": ""},
            shell=f"{' '.join(_OWN_MOUNTS)} sh -c '{inside}; {save}; code=$?; {kept}'",
            codes=frozenset({2}),
            holds=_old_is_found,
        )


def _old_is_found(left: Left) -> Iterable[str]:
    if (left.folder / "found").read_text(encoding="utf-8") != OLD:
        yield "the file on the full disk is not what it was"
