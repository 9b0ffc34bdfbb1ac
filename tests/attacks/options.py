"""Every option of every command, with what nobody should write there."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, Final

from tests.attacks import Case, island
from tests.attacks.asking import Parameter, drawn, parameters
from tests.attacks.environment import COMMANDS

_EACH: Final = 3
"""How many values are drawn for each option."""

_LONG: Final = "x" * 5000
_TEXTS: Final = (
    "",
    " ",
    "nan",
    _LONG,
    "\udcff",
    "\U0001f4a5",
    "٣",
    "../..",
    "%s{0}$(id)",
    "--json",
)
_NUMBERS: Final = (
    *("nan", "inf", "-inf", "1e308", "-1e308", "-1", "0", "1e-320", "", "x", "1,5", "0x10"),
    *("1e3000", "9" * 400, "1 0", "٣", "-0.0", "1_0"),
)
_PLACES: Final = (
    *("90,0", "-90,0", "91,0", "nan,nan", "inf,0", "0,0", "0,180", "0,-180.0001", "54.4"),
    *("54.4,-24.03,5", "", ",", "\U0001f4a5", _LONG, "knol", "[bold]", "\x1b[31m", "54.4,1e400"),
)
_DAYS: Final = (
    *("0001-01-01", "9999-12-31", "2026-02-30", "2026-13-01", "1e9", "yesterday", "", "today "),
    *("２０２６-01-01", "-1", "99999-01-01", "2026-01-01T00:00", "1582-10-10", _LONG),
)
_FILES: Final = (
    *("nowhere.csv", ".", "isle.tif", "area.toml", "/dev/zero", "/dev/null", "/proc/self/mem"),
    *("", _LONG, "http://127.0.0.1:1/a.csv", "/vsicurl/http://127.0.0.1:1/a.geojson", "\x1b.csv"),
)
_SAVES: Final = (
    *("", ".", ".csv", "out", "out.exe", "/proc/out.csv", "/dev/null/out.csv", f"{_LONG}.csv"),
    *("isle.tif/out.csv", "a\nb.exe", "area.toml", "\udcff.exe", "/dev/full.csv/"),
)
_BY_TAKES: Final[dict[str, Sequence[str]]] = {
    **dict.fromkeys(("M", "DEG", "KM", "MM", "MIN", "SHARE", "°C", "KM/H", "DAYS", "N"), _NUMBERS),
    "PLACE": _PLACES,
    "DAY": _DAYS,
    "FILE": _FILES,
    "GROUND...": _FILES,
    "FOLDER": _FILES,
    "YEAR": ("0", "1", "9999", "-1", "99999", "nan", "next ", "1e3", "", "2026.5", _LONG),
    "LOW:HIGH": ("0:0", "9:1", "nan:nan", "1:2:3:4", ":", "0:1e308", "-5:5", "", _LONG),
    "MMxMM": ("0x0", "36", "36x", "nanx24", "1e3x1e9", "-36x24", "x", "", _LONG),
    "NAME=W": ("alignment=nan", "x=1", "=", "alignment", "alignment=-1", "alignment=1e308", _LONG),
    "M,C[,%]": ("1", "nan,1", "1,1,1,1", "100,-300", "100,5,200", "", "1e308,1", _LONG),
    "WHAT": ("moons", "", "light", "atlas", "vantages,summits", _LONG),
    "WHICH": ("noons", "", "Both", "evenings", _LONG),
    "ADDRESS": ("", "x", "tcp://", "tcp://127.0.0.1:1", "127.0.0.1:99999", "http://[::", _LONG),
    "M,C": ("1", "nan,1", "1,1,1", "100,-300", "", "1e308,1", _LONG),
}
_BY_SPELLING: Final[dict[str, Sequence[str]]] = {
    "--save": _SAVES,
    **dict.fromkeys(("--names", "--areas"), _FILES),
    "--crs": (
        *("EPSG:0", "EPSG:99999999", "+proj=nonsense", "http://127.0.0.1:1/crs", "PROJCS["),
        *("IGNF:X", "+proj=pipeline +step", "/etc/hostname", "\0x"[1:], "", _LONG),
    ),
    "folder": ("isle.tif", "isle.tif/demo", "/proc/demo", _LONG, "/dev/null"),
}
_TABLE: Final = "pressure_hPa,height_m,temperature_C\n1000,110,2\n990,195,1\n975,330,5\n"


def cases() -> Iterator[Case]:
    """All of them."""
    for one in parameters():
        yield from _with_flag(one) if one.is_flag else _with_values(one)
    for command, asked in COMMANDS.items():
        for name, words in (
            ("no ground", [command, *asked]),
            ("an unknown option", [command, "area.toml", *asked, "--no-such"]),
            ("an option without its value", [command, "area.toml", *asked, "--reach"]),
            ("ground that is another's", [command, "area.toml", "isle.tif", *asked]),
            ("the same raster often", [command, *["isle.tif"] * 9, *asked]),
            ("nothing else", [command, "area.toml"]),
        ):
            yield Case(f"{command}: {name}", words, island())
    yield from _wild()


_VANTAGES: Final = (
    *("--what=vantages", "--from=2026-03-21", "--to=2026-03-21", "--ends=mornings", "--reach=3"),
    *("--prominence=250", "--farthest=3"),
)
_OF_SUMMITS: Final = ("--what", "--names", "--prominence", "--tile", "--workers", "--save")


def _base(command: str, option: str = "") -> list[str]:
    """What a command is asked at the least; of a survey what heeds that option."""
    if command == "sounding":
        return ["sounding", "air.csv"]
    if command == "desk":
        return ["desk", "area.toml", "--no-browser"]
    if command == "ground":
        # asks no network: what it brings is its own folder
        return ["ground", "54.4058,-24.0580", "--source=.", "--reach=2", "--sunward=2"]
    if command == "survey" and option not in _OF_SUMMITS:
        return ["survey", "area.toml", *COMMANDS["survey"], *_VANTAGES]
    return [command, "area.toml", *COMMANDS[command]] if command in COMMANDS else [command]


def _with_values(one: Parameter) -> Iterator[Case]:
    values = _BY_SPELLING.get(one.spelling) or _BY_TAKES.get(one.takes, _TEXTS)
    name = f"{one.command} {one.spelling}"
    few = min(_EACH, len(values))
    for chosen in drawn(name).choice(len(values), few, replace=False):
        value = values[int(chosen)]
        base = _base(one.command, one.spelling)
        words = [*base, f"{one.spelling}={value}"] if one.is_option else _in_place(base, value)
        said = ascii(value if len(value) < 60 else f"{value[:8]}...{value[-4:]}")
        quick = name == "summits --reach"
        yield Case(
            f"{name} {said}", words, island(air__csv=_TABLE), quick=quick, **_ends(one.command)
        )


def _in_place(base: list[str], value: str) -> list[str]:
    """The same words with another argument."""
    return [base[0], *base[2:], value] if value[:1] != "-" else [base[0], *base[2:], "--", value]


def _with_flag(one: Parameter) -> Iterator[Case]:
    yield Case(
        f"{one.command} {one.spelling} twice",
        [*_base(one.command, one.spelling), one.spelling, one.spelling],
        island(air__csv=_TABLE),
        **_ends(one.command),
    )


def _ends(command: str) -> dict[str, Any]:
    """How a command ends that would go on for ever."""
    return {"serves_s": 8.0, "codes": frozenset({0, 2, 130})} if command == "desk" else {}


def _wild() -> Iterator[Case]:
    """Several odd options at once (by seed)."""
    for seed in range(120):
        rng = drawn(f"wild {seed}")
        commands = sorted(COMMANDS)
        command = commands[int(rng.integers(len(commands)))]
        own = [one for one in parameters() if one.command == command and one.is_option]
        words = _base(command)
        for _ in range(int(rng.integers(2, 6))):
            one = own[int(rng.integers(len(own)))]
            values = _BY_SPELLING.get(one.spelling) or _BY_TAKES.get(one.takes, _TEXTS)
            value = values[int(rng.integers(len(values)))]
            words.append(one.spelling if one.is_flag else f"{one.spelling}={value}")
        yield Case(f"wild {seed}: {command}", words, island())
