"""What the desk takes in a browser: the first picture, a slider's frame, memory.

python -m tests.benchmarks.desk GROUND [--frames N] [--chip]

Processor time of all processes of a Chromium without a graphics chip, its map 900 x 900 pixels; the
server apart. A frame is one step of a slider, and all that the page does until the next one; of
several rounds the least, for whatever else the machine does makes it more.

A browser that finds no chip lays its page on the screen itself, only where it changed, and draws
WebGL alone by an imitated one. --chip has it lay the whole page by the imitated chip at each frame,
as the tests do: then it spends on any change, in a page of this size, what "a spot of colour" says.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from tests.browser import ARGUMENTS, CHROMIUM

SIDE_PX: Final = 900
TICKS_A_SECOND: Final = 100.0
ROUNDS: Final = 4
REST_MS: Final = 2500
SLIDERS: Final = {"clock": "the clock", "top": "the mist"}

# one step of the slider a frame, to and fro over the middle half of its way; what waits until a
# slider rests waits for the end, however slow the machine
STEPS: Final = """async ([id, frames]) => {
  const { setTimeout: timer } = globalThis;
  globalThis.setTimeout = (work, wait_ms) => timer(work, wait_ms >= 250 ? 60000 : wait_ms);
  const slider = document.getElementById(id);
  const [least, most] = [Number(slider.min), Number(slider.max)];
  const move = (share) => {
    slider.value = least + share * (most - least);
    slider.dispatchEvent(new Event("input", { bubbles: true }));
  };
  for (let frame = 0; frame < frames; frame += 1) {
    move(0.5 + 0.25 * Math.sin(frame / 9.7));
    await new Promise((done) => requestAnimationFrame(done));
  }
  globalThis.setTimeout = timer;
  move(0.5);
}"""
WITHOUT_CHIP: Final = ("--disable-gpu", *ARGUMENTS[2:])
A_SPOT: Final = """async (frames) => {
  const spot = document.body.appendChild(document.createElement("p"));
  for (let frame = 0; frame < frames; frame += 1) {
    spot.style.cssText = `width: 50px; height: 20px; background: rgb(${frame}, 0, 0)`;
    await new Promise((done) => requestAnimationFrame(done));
  }
}"""
MAP_SIZE: Final = """() => {
  const { clientWidth, clientHeight } = document.getElementById("map");
  return [clientWidth, clientHeight];
}"""
QUIET: Final = """() => document.body.classList.contains("laid")
  && document.getElementById("work").textContent === ""
  && Boolean(document.querySelector("#map canvas").dataset.row)"""


@dataclass
class Spent:
    """Processor seconds of a browser by the kind of its processes."""

    seconds: dict[str, float] = field(default_factory=dict)

    def since(self, before: Spent) -> dict[str, float]:
        """What was spent after another reading."""
        return {kind: s - before.seconds.get(kind, 0.0) for kind, s in self.seconds.items()}


def main(words: list[str]) -> None:
    """Open the desk, move its sliders, and print what that took."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.desk")
    parser.add_argument("ground", type=Path)
    parser.add_argument("--frames", type=int, default=60)
    parser.add_argument("--spot", default="")
    parser.add_argument("--chip", action="store_true")
    asked = parser.parse_args(words)
    begun = time.perf_counter()
    switches = ARGUMENTS if asked.chip else WITHOUT_CHIP
    with desk_over(asked.ground) as (server, address), browser(switches) as chromium:
        page = chromium.new_page(viewport={"width": 1860, "height": 1180})
        page.goto(address)
        page.wait_for_function("() => document.querySelector('#map canvas').dataset.row", timeout=0)
        print(f"first picture {since(begun)}, {worked(server)}", flush=True)
        if asked.spot:
            page.evaluate("(spot) => { location.hash = `spot=${spot}`; }", asked.spot)
        page.wait_for_function(QUIET, timeout=0, polling=250)
        print(f"all that it shows {since(begun)}, {worked(server)}", flush=True)
        width, height = page.evaluate(MAP_SIZE)
        page.set_viewport_size(
            {"width": 1860 + 2 * (SIDE_PX - width), "height": 1180 + SIDE_PX - height}
        )
        print(f"map {page.evaluate(MAP_SIZE)} px")
        tell_spot(chromium, page.viewport_size, asked.frames, server)
        for tab in ("seen", "take"):
            page.click(f"#tab-{tab}")
            print("with the view" if tab == "seen" else "without the view")
            for slider in SLIDERS:
                tell(slider, page, asked.frames, server)
        memory = f"server {peak_mb(server):.0f} MB at most, browser {browser_mb(server):.0f} MB now"
        print(memory)


def tell(slider: str, page: Any, frames: int, server: int) -> None:
    """Move a slider for some frames, several times, and print the least that one took."""
    rounds = []
    for _ in range(ROUNDS):
        page.wait_for_function(QUIET, timeout=0, polling=250)
        page.wait_for_timeout(REST_MS)
        before = spent(server)
        page.evaluate(STEPS, [slider, frames])
        rounds.append(spent(server).since(before))
    found = min(rounds, key=lambda each: sum(each.values()))
    kinds = ", ".join(f"{kind} {1e3 * s / frames:.0f}" for kind, s in found.items() if s > 0.0)
    wholes = [1e3 * sum(each.values()) / frames for each in rounds]
    span = f"{min(wholes):4.0f} ms a frame ({kinds}; at most {max(wholes):.0f})"
    print(f"  {SLIDERS[slider]} {span}", flush=True)


def tell_spot(chromium: Any, size: dict[str, int], frames: int, server: int) -> None:
    """Print what the browser itself spends on a frame of an empty page that changes a little."""
    page = chromium.new_page(viewport=size)
    page.evaluate(A_SPOT, frames)
    rounds = []
    for _ in range(ROUNDS):
        before = spent(server)
        page.evaluate(A_SPOT, frames)
        rounds.append(sum(spent(server).since(before).values()))
    print(f"a spot of colour on an empty page {1e3 * min(rounds) / frames:.0f} ms a frame")
    page.close()


@contextmanager
def desk_over(ground: Path) -> Iterator[tuple[int, str]]:
    """The process and the address of a desk."""
    command = [sys.executable, "-m", "terrain", "desk", str(ground), "--no-browser"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        line = next(line for line in process.stdout if "http" in line)
        try:
            yield process.pid, line.split()[-1]
        finally:
            process.terminate()


@contextmanager
def browser(switches: Sequence[str]) -> Iterator[Any]:
    """A Chromium without a window that draws in software."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        running = playwright.chromium.launch(executable_path=CHROMIUM, args=list(switches))
        yield running
        running.close()


def spent(server: int) -> Spent:
    """What the browser that this process started has spent so far."""
    seconds: dict[str, float] = {}
    for each in browsers(server):
        parts = (each / "stat").read_text().rpartition(")")[2].split()
        kind = kind_of(each)
        seconds[kind] = seconds.get(kind, 0.0) + (int(parts[11]) + int(parts[12])) / TICKS_A_SECOND
    return Spent(seconds)


def browsers(server: int) -> list[Path]:
    """The processes of the browser."""
    own = str(Path("/proc/self").resolve().name)
    parents = {}
    for each in Path("/proc").glob("[0-9]*"):
        try:
            parents[each.name] = (each / "stat").read_text().rpartition(")")[2].split()[1]
        except OSError:
            continue
    found = []
    for name in parents:
        above = name
        while above in parents and above not in (own, str(server)):
            above = parents[above]
        if above == own and name != own and "chrom" in command_of(Path("/proc") / name):
            found.append(Path("/proc") / name)
    return found


def command_of(process: Path) -> str:
    """The command line of a process, "" where it has ended."""
    try:
        return (process / "cmdline").read_bytes().replace(b"\0", b" ").decode()
    except OSError:
        return ""


def kind_of(process: Path) -> str:
    """What a process of the browser is for."""
    _, _, kind = command_of(process).partition("--type=")
    return kind.split()[0] if kind else "browser"


def since(begun: float) -> str:
    """How long ago a moment is."""
    return f"{time.perf_counter() - begun:.1f} s after the command"


def worked(server: int) -> str:
    """What the server has worked."""
    parts = Path(f"/proc/{server}/stat").read_text().rpartition(")")[2].split()
    return f"{(int(parts[11]) + int(parts[12])) / TICKS_A_SECOND:.1f} s of processor time"


def peak_mb(process: int) -> float:
    """The most memory that a process has held."""
    return field_mb(Path(f"/proc/{process}/status"), "VmHWM")


def browser_mb(server: int) -> float:
    """Memory that the browser holds by itself now."""
    return sum(field_mb(each / "smaps_rollup", "Pss") for each in browsers(server))


def field_mb(file: Path, name: str) -> float:
    """A field of kilobytes."""
    line = next(line for line in file.read_text().splitlines() if line.startswith(f"{name}:"))
    return int(line.split()[1]) / 1024.0


if __name__ == "__main__":
    main(sys.argv[1:])
