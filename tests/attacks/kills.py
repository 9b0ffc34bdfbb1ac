"""Commands that are stopped while they work or write: nothing half-written bears a final name."""

from __future__ import annotations

import signal
from collections.abc import Iterable, Iterator
from typing import Final

from tests.attacks import Case, Left, Stop, island
from tests.attacks.asking import drawn
from tests.attacks.environment import COMMANDS
from tests.attacks.outputs import OLD

_SAVED: Final[dict[str, tuple[str, ...]]] = {
    "summits": ("gpkg", "csv"),
    "mist": ("tif", "pdf"),
    "passes": ("geojson", "svg"),
    "skyline": ("csv", "png"),
    "sunrise": ("png", "pdf"),
    "vantages": ("gpkg", "png"),
    "hills": ("csv", "geojson"),
    "atlas": ("tif", "png"),
    "light": ("tif", "png"),
    "plan": ("html", "gpx", "ics", "kml"),
    "season": ("csv", "png"),
    "survey": ("csv",),
}
_KILLS: Final = 4
_STOPS: Final = 2


def cases() -> Iterator[Case]:
    """Each command at moments drawn by seed, more of them towards its end, where it writes."""
    for command, endings in _SAVED.items():
        rng = drawn(f"kills of {command}")
        shares = 1.02 - rng.random(_KILLS + _STOPS) ** 2
        for number, share in enumerate(shares):
            interrupted = number >= _KILLS
            sent = signal.SIGINT if interrupted else signal.SIGKILL
            names = [f"out.{ending}" for ending in endings]
            saves = [part for name in names for part in ("--save", name)]
            yield Case(
                f"{command} stopped by {sent.name} at {share:.3f}",
                [command, "area.toml", *COMMANDS[command], *saves],
                island() | dict.fromkeys(names, OLD),
                replaces=frozenset(names),
                codes=frozenset({0}),
                holds=_all_new,
                # what is hidden there is looked at too
                environment={"TMPDIR": "."},
                fresh=interrupted,
                stop=Stop(signal=sent, share=float(share)),
                quick=command == "summits" and number == 0,
            )
    # in the first moments, while Python and the package begin
    for number, share in enumerate(drawn("beginnings").uniform(0.0, 0.2, 12)):
        yield Case(
            f"stopped as it begins, {number}",
            ["summits", "area.toml", "--save", "out.csv"],
            island() | {"out.csv": OLD},
            replaces=frozenset({"out.csv"}),
            codes=frozenset({0}),
            holds=_all_new,
            fresh=True,
            stop=Stop(signal=signal.SIGINT, share=float(share)),
        )


def _all_new(left: Left) -> Iterable[str]:
    for path in left.folder.glob("out.*"):
        if path.read_bytes() == OLD.encode():
            yield f"{path.name} is still the old one"
