"""Every picture of the project on one sheet: `python -m tests.gallery DIR`.

On the demo's ground, there and moved to the far south and near the pole, on matplotlib's sample
ground, and where `TERRAIN_OPEN_DATA` names a folder on the open ground in it. Each picture is drawn
by the command that a user would type. Writes `index.html` and `contact.png` beside the pictures.
Takes minutes; no part of the test suite.
"""

from __future__ import annotations

import argparse
import datetime as dt
import html
import os
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Final, NamedTuple

import numpy as np
from matplotlib import cbook
from PIL import Image, ImageDraw

DATA: Final = Path(__file__).resolve().parents[1] / "data"

_LONGEST_S: Final = 600.0
_THUMB_PX: Final = (460, 360)
_ACROSS: Final = 4


class Ground(NamedTuple):
    """What the commands are tried on: `words` name the rasters, the names, and the defaults.

    spot, hill, day: as on a command line, and inside of mist and range (metres) that suit. minute:
    of that day, for a picture of one. only: what is drawn on it; all unless given.
    """

    name: str
    words: tuple[str, ...]
    spot: str
    hill: str
    mist_m: int
    rising: str
    day: str = "2026-10-13"
    minute: str = ""
    only: frozenset[str] = frozenset()


AFAR: Final = frozenset({"mist", "skyline-mist", "vantages", "sunrise", "wall", "atlas", "light"})


def grounds(folder: Path) -> Iterator[Ground]:
    """All grounds that there are here."""
    demo = (str(DATA / "area.toml"),)
    yield Ground("demo", demo, "Hessick Spur", "Orrasel", 280, "200:400:50", minute="06:16")
    south, pole = (
        str(moved_ground(folder / f"{name}.tif", crs, corner))
        for name, crs, corner in (
            ("south", "EPSG:32759", (430_000.0, 5_150_000.0)),
            ("pole", "EPSG:32633", (500_000.0, 8_680_000.0)),
        )
    )
    asked = ("-43.87594,170.19049", "-43.89112,170.25722", 280, "200:400:50", "2026-10-20")
    yield Ground("south", (south,), *asked, only=AFAR)
    asked = ("78.11836,15.21592", "78.10343,15.44930", 280, "200:400:50", "2027-03-12")
    yield Ground("pole", (pole,), *asked, only=AFAR)
    sample = str(sample_ground(folder / "jacksboro.tif"))
    yield Ground("jacksboro", (sample,), "36.6846,-84.3647", "36.6767,-84.3050", 450, "400:600:50")
    if not (open_data := os.environ.get("TERRAIN_OPEN_DATA")):
        return
    kept = Path(open_data)
    lakes = str(kept / "lakeland_50m.tif"), "--names", str(kept / "lakeland_summits.csv")
    spot, hill, day = "54.5536,-3.2156", "Cat Bells", "2027-05-08"
    yield Ground("lakeland", lakes, spot, hill, 250, "250:600:50", day, minute="05:31")
    tiles = str(kept / "N49E011.hgt.zip"), str(kept / "N50E011.hgt.zip")
    spot, hill, day = "50.05416,11.75711", "50.0517,11.8553", "2027-03-22"
    yield Ground("srtm", tiles, spot, hill, 680, "600:800:50", day)


def moved_ground(path: Path, crs: str, corner: tuple[float, float]) -> Path:
    """The heights of the demo in another part of the world, by their upper left corner there."""
    import rasterio
    from rasterio.transform import from_origin

    with rasterio.open(DATA / "upland.tif") as file:
        heights, kind = file.read(1), file.profile
        cell_m = file.transform.a
    kind.update(crs=crs, transform=from_origin(*corner, cell_m, cell_m))
    with rasterio.open(path, "w", **kind) as file:
        file.write(heights, 1)
    return path


def sample_ground(path: Path) -> Path:
    """The sample heights that come with matplotlib (USGS, public domain), as a raster."""
    import rasterio
    from rasterio.transform import from_bounds

    with np.load(cbook.get_sample_data("jacksboro_fault_dem.npz", asfileobj=False)) as kept:
        heights = kept["elevation"].astype("float32")
        east, west = float(kept["xmax"]), float(kept["xmin"])
        south, north = sorted((float(kept["ymin"]), float(kept["ymax"])))
    rows, cols = heights.shape
    placed = from_bounds(west, south, east, north, cols, rows)
    kind = {"driver": "GTiff", "dtype": "float32", "count": 1, "crs": "EPSG:4326"}
    with rasterio.open(path, "w", height=rows, width=cols, transform=placed, **kind) as file:
        file.write(heights, 1)
    return path


def pictures(ground: Ground) -> dict[str, Sequence[str]]:
    """The commands that draw, by the names of their pictures."""
    on, spot, hill = ground.words, ("--spot", ground.spot), ("--hill", ground.hill)
    day, mist = ("--date", ground.day), ("--mist-top", str(ground.mist_m))
    first = dt.date.fromisoformat(ground.day) - dt.timedelta(days=5)
    days = ("--from", f"{first}", "--to", f"{first + dt.timedelta(days=6)}")
    view = ("sunrise", *on, *spot, *hill, *mist, *day)
    found = {
        "summits": ("summits", *on),
        "mist": ("mist", *on, "--top", str(ground.mist_m), *spot),
        "rising": ("mist", *on, "--top", ground.rising),
        "passes": ("passes", *on),
        "skyline": ("skyline", *on, *spot),
        "skyline-mist": ("skyline", *on, *spot, *mist),
        "vantages": ("vantages", *on, *hill, *mist, *day),
        "sunrise": view,
        "wall": (*view, "--clean"),
        "minute": (*view, "--time", ground.minute, "--hold", "portrait"),
        "atlas": ("atlas", *on, *hill, *mist),
        "light": ("light", *on, *mist, *day, "--every", "20"),
        "season": ("season", *on, *hill, *mist, *days),
    }
    if not ground.minute:
        del found["minute"]
    return {name: words for name, words in found.items() if name in (ground.only or found)}


def draw(folder: Path, only: Sequence[str]) -> list[tuple[Path, str]]:
    """Draw all, and for each file what is said under it; a line on stderr for each command."""
    found = []
    for ground in grounds(folder):
        for name, words in pictures(ground).items():
            title = f"{ground.name}-{name}"
            if only and not any(part in title for part in only):
                continue
            started = time.monotonic()
            why = run([*words, "--save", str(folder / f"{title}.png")])
            print(f"{title}: {time.monotonic() - started:.0f} s {why}", file=sys.stderr)
            files = sorted(folder.glob(f"{title}.png")) + sorted(folder.glob(f"{title}-*.png"))
            others = [f"{ground.name}-{other}" for other in pictures(ground) if other != name]
            found += [(file, file.stem) for file in files if file.stem not in others]
            if why:
                found.append((folder / f"{title}.png", f"{title}: {why}"))
    return found


def run(words: Sequence[str]) -> str:
    """Run a command; why it drew nothing, or an empty text."""
    code = "from terrain.command.main import run; run()"
    try:
        done = subprocess.run(
            [sys.executable, "-c", code, *words],
            capture_output=True,
            text=True,
            timeout=_LONGEST_S,
            check=False,
        )
    except subprocess.TimeoutExpired:
        return f"took longer than {_LONGEST_S:.0f} s"
    return "" if done.returncode == 0 else (done.stderr.strip().splitlines() or ["?"])[-1]


def write_sheets(folder: Path, found: Sequence[tuple[Path, str]]) -> None:
    """The page and the contact sheet of the pictures."""
    wide, high = _THUMB_PX
    rows = max(-(-len(found) // _ACROSS), 1)
    sheet = Image.new("RGB", (_ACROSS * wide, rows * high), "#fcfbf8")
    pen, parts = ImageDraw.Draw(sheet), []
    for number, (file, words) in enumerate(found):
        left, top = number % _ACROSS * wide, number // _ACROSS * high
        if file.is_file():
            with Image.open(file) as picture:
                small = picture.convert("RGB")
            small.thumbnail((wide - 12, high - 28))
            sheet.paste(small, (left + 6, top + 22))
        pen.text((left + 6, top + 6), words[:70], fill="#20262d")
        said = html.escape(words)
        shown = f'<a href="{file.name}"><img src="{file.name}" alt="{said}"></a>'
        parts.append(
            f"<figure>{shown if file.is_file() else ''}<figcaption>{said}</figcaption></figure>"
        )
    sheet.save(folder / "contact.png")
    style = "figure{display:inline-block;width:30rem;margin:.5rem}img{width:100%}"
    head = f'<!doctype html><meta charset="utf-8"><title>Pictures</title><style>{style}</style>'
    (folder / "index.html").write_text(head + "\n".join(parts) + "\n", encoding="utf-8")


def main() -> None:
    """Draw all pictures, or those of which a part of the name is given, and their sheets."""
    asked = argparse.ArgumentParser(prog="python -m tests.gallery", description=__doc__)
    asked.add_argument("folder", type=Path)
    asked.add_argument("only", nargs="*", help="parts of names, such as demo or vantages")
    words = asked.parse_args()
    words.folder.mkdir(parents=True, exist_ok=True)
    write_sheets(words.folder, draw(words.folder, words.only))


if __name__ == "__main__":
    main()
