"""Attacks by what a command runs in: streams, encodings, variables, caches, others' settings."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator
from typing import Final

import PIL.Image

from tests.attacks import Case, Left, island

_SPOT: Final = ["--spot", "ridge"]
COMMANDS: Final[dict[str, list[str]]] = {
    "summits": [],
    "mist": [],
    "passes": [],
    "skyline": _SPOT,
    "sunrise": _SPOT,
    "dates": [*_SPOT, "--year=2027", "--within=1"],
    "vantages": ["--mist-share=0"],
    "hills": ["--within=20", "--evening"],
    "atlas": [],
    "light": [],
    "frame": _SPOT,
    "plan": _SPOT,
    "season": ["--from=2026-03-18", "--to=2026-03-26", "--mist-share=0"],
    "survey": ["--what=summits", "--workers=1", "--save=kept"],
}
"""What each command is asked of the island, at the least."""


def cases() -> Iterator[Case]:
    """All of them."""
    yield Case("no command at all", [])
    yield from _streams()
    yield from _few_letters()
    yield from _settings()
    yield from _cache()
    yield from _stops()


def _streams() -> Iterator[Case]:
    """A table is saved, and "wrote" is said, whatever becomes of what is printed."""
    save = "$TERRAIN summits area.toml --save out.csv"
    for name, to, codes in (
        ("a full stdout", "> /dev/full", {2}),
        ("a full stderr", "2> /dev/full", {0}),
        ("two full streams", "> /dev/full 2>&1; test $? = 2", {0}),
        ("a closed stdout", ">&-", {0}),
        ("a closed stderr", "2>&-", {0}),
        ("all closed", "<&- >&- 2>&-", {0}),
        ("a reader who has left", "| true", {0}),
    ):
        for flag in ("", " --json"):
            yield Case(
                f"{name}{flag}",
                files=island(),
                shell=f"{save}{flag} {to}",
                codes=frozenset(codes),
                holds=_has_table,
                quick=name == "a full stdout" and not flag,
            )
    yield Case("help to a full stdout", shell="$TERRAIN --help > /dev/full")
    yield Case("help to a closed stdout", shell="$TERRAIN plan --help >&-")


def _has_table(left: Left) -> Iterable[str]:
    file = left.folder / "out.csv"
    if not file.is_file() or "\nKnoll," not in "\n" + file.read_text(encoding="utf-8"):
        yield "the table is not there, or is not whole"


def _few_letters() -> Iterator[Case]:
    for letters in ("ascii", "cp1252", "latin-1", "shift_jis", "cp437"):
        for command, asked in COMMANDS.items():
            yield Case(
                f"{command} in {letters}",
                [command, "area.toml", *asked],
                island(),
                environment={"PYTHONIOENCODING": letters, "COLUMNS": "200"},
                # a fork opens its streams as Python does
                fresh=letters == "ascii",
            )
        yield Case(
            f"help in {letters}",
            ["plan", "--help"],
            environment={"PYTHONIOENCODING": letters},
            fresh=True,
        )
    accents = "name,lat,lon\nŽižkov à 5°,54.4065,-24.0274\n"
    for flag in ([], ["--json"]):
        yield Case(
            f"a name that is not in ascii {flag}",
            ["summits", "area.toml", *flag],
            island(names__csv=accents),
            environment={"PYTHONIOENCODING": "ascii"},
            fresh=True,
            holds=_has_name,
            quick=not flag,
        )
    yield Case(
        "the C locale",
        ["sunrise", "area.toml", *_SPOT],
        island(),
        environment={"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"},
        fresh=True,
    )


def _has_name(left: Left) -> Iterable[str]:
    if "?i?kov ? 5 deg" not in left.out and "\\u017di\\u017ekov \\u00e0 5\\u00b0" not in left.out:
        yield f"the name is not told: {left.out[:200]}"


_PICTURE: Final = ["mist", "area.toml", "--save", "out.png", "--save", "out.svg"]


def _settings() -> Iterator[Case]:
    """What a user has set for other programs."""
    for name, rules in (
        ("TeX", "text.usetex: True\n"),
        ("an odd style", "font.size: 40\nlines.linewidth: 9\nsavefig.bbox: tight\n"),
        ("another form", "savefig.format: pdf\nsvg.fonttype: path\nbackend: tkagg\n"),
        ("rules that mean nothing", "no.such.rule: 3\ntext.usetex: perhaps\n:::\n"),
        ("rules that are no text", b"\xff\xfe\x00text.usetex: True"),
    ):
        yield Case(
            f"rules for pictures: {name}",
            _PICTURE,
            island(matplotlibrc=rules),
            fresh=True,
            holds=_is_same_picture,
            codes=frozenset({2 if isinstance(rules, bytes) else 0}),
        )
    for name, value in (
        *(("NUMBA_NUM_THREADS", value) for value in ("0", "-3", "many", "99999")),
        *(("NUMBA_DISABLE_JIT", value) for value in ("1", "perhaps")),
        ("NUMBA_DEBUG", "1"),
        ("NUMBA_OPT", "max"),
        ("NUMBA_CPU_NAME", "abacus"),
        ("NUMBA_THREADING_LAYER", "none"),
        ("NUMBA_CACHE_DIR", "area.toml"),
        ("NUMBA_CACHE_DIR", "/proc/nowhere"),
        ("MPLBACKEND", "nonsense"),
        ("MPLCONFIGDIR", "area.toml"),
        ("HOME", "/nonexistent"),
        ("TMPDIR", "/nonexistent"),
        *((name, "/nonexistent") for name in ("PROJ_DATA", "PROJ_LIB", "GDAL_DATA")),
        *((name, "nonsense") for name in ("TZ", "LANG", "LC_ALL", "COLUMNS", "TERM", "LINES")),
        ("COLUMNS", "1"),
        ("PYTHONOPTIMIZE", "2"),
        ("OMP_NUM_THREADS", "0"),
        ("GDAL_CACHEMAX", "nonsense"),
        ("GDAL_DISABLE_READDIR_ON_OPEN", "nonsense"),
    ):
        yield Case(
            f"{name}={value}",
            ["mist", "area.toml", "--save", "out.png"],
            island(),
            environment={name: value},
            fresh=True,
        )


def _is_same_picture(left: Left) -> Iterable[str]:
    if left.code != 0:
        return
    with PIL.Image.open(left.folder / "out.png") as picture:
        wide, high = picture.size
    if not (wide > 1000 and high > 500):
        yield f"the picture is {wide} x {high}"
    if "<text" not in (left.folder / "out.svg").read_text(encoding="utf-8"):
        yield "letters are not letters"


def _cache() -> Iterator[Case]:
    """A folder of compiled code that is damaged, or that holds no more."""
    kept = {"NUMBA_CACHE_DIR": "kept"}
    yield Case(
        "no room for compiled code",
        ["summits", "area.toml"],
        island(),
        environment=kept,
        fresh=True,
        codes=frozenset({0}),
        limit_kb=1,
        holds=lambda left: [] if "cannot be kept in" in left.err else ["it is not told"],
    )
    spoil = "find kept -name '*.nb?' | while read file; do echo spoilt > $file; done"
    yield Case(
        "spoilt compiled code",
        files=island(),
        environment=kept,
        shell=f"$TERRAIN summits area.toml > first; {spoil}; $TERRAIN summits area.toml; {_AGAIN}",
        codes=frozenset({0}),
        holds=_told_once,
    )


_AGAIN: Final = "$TERRAIN summits area.toml --json > /dev/null"


def _told_once(left: Left) -> Iterable[str]:
    for words in ("damaged files", "the first run of each command"):
        if left.err.count(words) != 1:
            yield f"{words!r} is said {left.err.count(words)} times"


def _stops() -> Iterator[Case]:
    """Ctrl-C at the moment at which a module is imported."""
    for module in ("typer", "terrain.command.app", "rich.table", "numba", "rasterio", "geopandas"):
        yield Case(
            f"stopped at {module}",
            files=island() | {"stop.py": _STOP},
            shell=f"{sys.executable} stop.py {module} summits area.toml --save out.csv",
            codes=frozenset({130}),
            holds=_has_stopped,
            quick=module == "typer",
        )


_STOP: Final = """\
import os, signal, sys
at = sys.argv[1]
class Stop:
    def find_spec(self, name, path=None, target=None):
        if name == at:
            os.kill(os.getpid(), signal.SIGINT)
sys.meta_path.insert(0, Stop())
from terrain_start import run
sys.argv[:2] = []
sys.argv.insert(0, "terrain")
run()
"""


def _has_stopped(left: Left) -> Iterable[str]:
    if left.err != "terrain: stopped; every file already written is whole\n":
        yield f"says {left.err[-200:]!r}"
    if (left.folder / "out.csv").exists():
        yield "the file is there"
