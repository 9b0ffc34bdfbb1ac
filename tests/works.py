"""Works that another process can do too: what it is told of them it imports by their names."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from pathlib import Path

Progress = Callable[[float], None]


def told_by(parent: int, folder: Path, number: int, progress: Progress) -> tuple[int, bool]:
    """A number, and whether it was worked at here; the second waits until another has begun."""
    is_here = os.getpid() == parent
    if number == 1 and is_here:
        until = time.monotonic() + 60.0
        while not (folder / "begun").exists() and time.monotonic() < until:
            time.sleep(0.005)
    if not is_here:
        (folder / "begun").touch()
        print("what a library prints is no answer")
    progress(0.25)
    progress(0.75)
    return number, is_here


def first_to_go(
    parent: int, folder: Path, number: int, progress: Progress
) -> tuple[int, int, bool]:
    """As `told_by`, with how soon Linux ends the process where memory runs out."""
    soon = int(Path("/proc/self/oom_score_adj").read_text(encoding="ascii"))
    return soon, *told_by(parent, folder, number, progress)


def ended_by_the_system(
    parent: int, folder: Path, number: int, progress: Progress
) -> tuple[int, bool]:
    """As `told_by`, but another process does not live to tell."""
    found = told_by(parent, folder, number, progress)
    if not found[1]:
        os._exit(9)
    return found


def failing_elsewhere(
    parent: int, folder: Path, number: int, progress: Progress
) -> tuple[int, bool]:
    """As `told_by`, but only here it can be done."""
    found = told_by(parent, folder, number, progress)
    if not found[1]:
        raise ValueError("not here")
    return found


def failing(parent: int, folder: Path, number: int, progress: Progress) -> int:
    """What can be done nowhere but for the first."""
    if told_by(parent, folder, number, progress)[0] > 0:
        raise ValueError(f"number {number}")
    return number


def endless(folder: Path, number: int, progress: Progress) -> None:
    """A work that tells of itself forever, but for the first."""
    while number:
        (folder / f"at-{number}-{os.getpid()}").touch()
        progress(0.5)
        time.sleep(0.01)
