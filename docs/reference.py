"""The pages of the reference, one a group of the public names, from `terrain/__init__.pyi`."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Final, NamedTuple

STUB: Final = Path(__file__).resolve().parents[1] / "terrain" / "__init__.pyi"

_GROUP: Final = re.compile(r"^# (.+)\n((?:from .+\n)+)", re.MULTILINE)
_NAME: Final = re.compile(r"^from \.[\w.]+ import (\w+) as \1$", re.MULTILINE)


class Group(NamedTuple):
    """Public names that answer one question: what it is about, and the names."""

    about: str
    names: tuple[str, ...]

    @property
    def title(self) -> str:
        """The words before the colon, with a capital."""
        words = self.about.split(": ")[0].split(", ")[0]
        return words[0].upper() + words[1:]

    @property
    def file(self) -> str:
        """The name of its page."""
        return re.sub(r"\W+", "-", self.title.lower()).strip("-") + ".md"


def groups() -> list[Group]:
    """The groups in the order of the list of public names."""
    text = STUB.read_text(encoding="utf-8")
    return [Group(about, tuple(_NAME.findall(lines))) for about, lines in _GROUP.findall(text)]


def write(folder: Path) -> None:
    """Write the pages of all groups, and the one that lists them."""
    folder.mkdir(parents=True, exist_ok=True)
    for group in groups():
        (folder / group.file).write_text(_page(group), encoding="utf-8")
    (folder / "index.md").write_text(_list(), encoding="utf-8")


def _page(group: Group) -> str:
    about = group.about[0].upper() + group.about[1:]
    entries = [
        f"::: terrain.{name}\n    options:\n      heading: {name}\n      toc_label: {name}\n"
        for name in group.names
    ]
    return "\n".join([f"# {group.title}", "", f"{about}.", "", *entries])


def _list() -> str:
    lines = [
        "# All public names",
        "",
        "Everything is in the package itself: `import terrain`, then `terrain.read_dem` and the",
        "rest. A name loads its module when it is first used. Each has shapes and units of what it",
        "takes and gives, what it raises, its source, and an example to type.",
        "",
    ]
    for group in groups():
        lines += [f"## {group.title}", "", f"{group.about[0].upper()}{group.about[1:]}.", ""]
        lines += [f"- [`{name}`]({group.file}#terrain.{name})" for name in group.names] + [""]
    return "\n".join(lines)
