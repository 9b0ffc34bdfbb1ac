"""What the commands and the Python of a page make: files, and what is printed.

All of it is made in one process, in a folder where `terrain demo` was run, on a day that is always
the same, so that two builds of the same code make the same pages.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import html
import io
import os
import re
import shlex
import shutil
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

from PIL import Image

from docs.blocks import Block, blocks, commands, needs_more
from docs.ground import DATA, lay_out

TODAY: Final = dt.datetime(2026, 9, 21, 9, 0, tzinfo=dt.UTC)
COLUMNS: Final = 126

_DEMO: Final = "terrain demo"
_WIDEST_PX: Final = 1600
_PRINTED: Final = re.compile(r"^<!-- printed(?: (\d+))? -->$", re.MULTILINE)
_PICTURE: Final = re.compile(r"!\[([^\]]*)\]\(([\w-]+(?:/[\w-]+)*\.(?:png|webp|svg))\)")


class Workshop:
    """A folder where commands are tried, and what each printed; `folder` is made and kept.

    One at a time: the process itself stands in the folder while a page is made.
    """

    def __init__(self, folder: Path) -> None:
        self.home = folder
        self.home.mkdir(parents=True, exist_ok=True)
        self.printed = {_DEMO: _run_in(self.home, _DEMO)}
        # what the pages save must not take the place of what the demo drew
        self.folder = folder / "work"
        shutil.copytree(folder / "terrain-demo", self.folder)
        lay_out(self.folder, DATA / "upland.tif")

    def make(self, page: str, beside: Path) -> str:
        """A page with what it prints written in, and the pictures that it shows put `beside` it."""
        names: dict[str, Any] = {"__name__": "__main__"}
        parts, at, last = [], 0, ""
        for block in blocks(page):
            parts.append(self._with_printed(page[at : block.end], last))
            at, last = block.end, self._try(block, names)
        parts.append(self._with_printed(page[at:], last))
        return _PICTURE.sub(lambda found: self._shown(found[1], found[2], beside), "".join(parts))

    def _try(self, block: Block, names: dict[str, Any]) -> str:
        """Run what is in a block, and what it printed."""
        if block.title:
            (self.folder / block.title).write_text(block.text, encoding="utf-8")
        elif block.kind == "python" and not needs_more(block.text):
            return _timed("python", lambda: _run_python(self.folder, block.text, names))
        elif not block.kind:
            return "".join([self._answer(line) for line in commands(block.text)][-1:])
        return ""

    def _answer(self, command: str) -> str:
        if command not in self.printed:
            ours = "" if needs_more(command) else _run_in(self.folder, command)
            self.printed[command] = ours
        return self.printed[command]

    def _with_printed(self, text: str, said: str) -> str:
        def written(found: re.Match[str]) -> str:
            lines = said.rstrip().splitlines()
            most = int(found[1] or len(lines))
            shown = [*lines[:most], *(["…"] if len(lines) > most else [])]
            return f'<pre class="printed">{html.escape(chr(10).join(shown))}</pre>'

        return _PRINTED.sub(written, text)

    def _shown(self, words: str, name: str, beside: Path) -> str:
        """A picture's place in a page, where it was made here: a link to it whole, as small."""
        made = self.folder / name if (self.folder / name).is_file() else self.home / name
        if not made.is_file():
            return f"![{words}]({name})"
        flat = Path(name).stem + (".svg" if made.suffix == ".svg" else ".webp")
        put = beside / "made" / flat
        put.parent.mkdir(parents=True, exist_ok=True)
        _write_small(made, put)
        return f"[![{words}](made/{flat})](made/{flat})"


def _write_small(made: Path, put: Path) -> None:
    """A picture no wider than a page can show, in few bytes."""
    if made.suffix == ".svg":
        put.write_bytes(made.read_bytes())
        return
    with Image.open(made) as picture:
        if getattr(picture, "n_frames", 1) > 1:
            put.write_bytes(made.read_bytes())
            return
        shown = picture.convert("RGB")
    shown.thumbnail((_WIDEST_PX, 4 * _WIDEST_PX))
    shown.save(put, quality=82, method=4)


def _run_in(folder: Path, command: str) -> str:
    """What a command prints; SystemExit with its words where it fails."""
    from typer.testing import CliRunner

    from terrain.command.app import app_for

    words = shlex.split(command)[1:]
    with _standing_in(folder):
        result = _timed(command, lambda: CliRunner().invoke(app_for(words), words))
    if result.exit_code != 0:
        raise SystemExit(f"{command}\n{result.output}{result.exception}")
    return str(result.stdout)


def _run_python(folder: Path, text: str, names: dict[str, Any]) -> str:
    said = io.StringIO()
    with _standing_in(folder), contextlib.redirect_stdout(said):
        exec(compile(text, "a block of a page", "exec"), names)
    return said.getvalue()


@contextlib.contextmanager
def _standing_in(folder: Path) -> Iterator[None]:
    """Stand in a folder, at a terminal of a common width, on the day of all pages."""
    from terrain.sun import calendar
    from terrain.sun.clock import local_zone

    before, real = os.environ.get("COLUMNS"), calendar.now_at
    os.environ["COLUMNS"] = str(COLUMNS)
    calendar.now_at = lambda *place: TODAY.astimezone(local_zone(*place))
    try:
        with contextlib.chdir(folder):
            yield
    finally:
        calendar.now_at = real
        if before is None:
            del os.environ["COLUMNS"]
        else:
            os.environ["COLUMNS"] = before


def _timed(what: str, work: Any) -> Any:
    """Do some work, and say on stderr what of the processor it took."""
    before = time.process_time()
    done = work()
    print(f"{time.process_time() - before:6.1f} s  {what}", file=sys.stderr)
    return done
