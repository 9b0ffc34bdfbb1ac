"""How much memory this process may still take, as the system tells it."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

from terrain.cores import cores

_SYSTEM = Path("/proc/meminfo")
_OWN = Path("/proc/self/statm")
_GROUPS = (
    # limit and use of the group of processes, of both kinds of control groups
    (Path("/sys/fs/cgroup/memory.max"), Path("/sys/fs/cgroup/memory.current")),
    (
        Path("/sys/fs/cgroup/memory/memory.limit_in_bytes"),
        Path("/sys/fs/cgroup/memory/memory.usage_in_bytes"),
    ),
)
_CACHED = "inactive_file"
_THREAD_BYTES = 2**20 * (8 + 64)
"""Addresses that a thread of its own takes before it does anything: a stack, and a heap of the C
library (malloc(3), M_ARENA_MAX). Without them the system ends the process, and nobody can say why.
"""


def free_bytes() -> int | None:
    """What can be taken yet without others having to give way, bytes; None where nobody tells.

    The least of what the machine has, what its group of processes is allowed, and what the process
    is (`ulimit -v`). Where a machine says only how much it has in all, half of that.
    """
    return min(_told(), default=None)


def _told() -> Iterator[int]:
    machine = _free_in_machine()
    if machine is not None:
        yield machine
    for limit, use in _GROUPS:
        allowed, taken = _number_in(limit), _number_in(use)
        if allowed is not None and taken is not None:
            yield max(allowed - taken + _cached_beside(limit), 0)
    allowed = _address_space()
    if allowed is not None:
        yield allowed


def _free_in_machine() -> int | None:
    for line in _lines(_SYSTEM):
        if line.startswith("MemAvailable:"):
            return 1024 * int(line.split()[1])
    try:
        return os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") // 2
    except (AttributeError, OSError, ValueError):
        return None


def _address_space() -> int | None:
    try:
        import resource
    except ImportError:
        return None
    most, _ = resource.getrlimit(resource.RLIMIT_AS)
    taken = next(iter(_lines(_OWN)), "0").split()[0]
    if most == resource.RLIM_INFINITY:
        return None
    return max(most - int(taken) * resource.getpagesize() - cores() * _THREAD_BYTES, 0)


def _cached_beside(limit: Path) -> int:
    """What the group holds of files, which goes when memory is wanted."""
    for line in _lines(limit.with_name("memory.stat")):
        name, _, value = line.partition(" ")
        if name == _CACHED:
            return int(value)
    return 0


def _number_in(file: Path) -> int | None:
    text = next(iter(_lines(file)), "")
    return int(text) if text.isdecimal() else None


def _lines(file: Path) -> list[str]:
    try:
        return file.read_text(encoding="ascii").splitlines()
    except (OSError, UnicodeDecodeError):
        return []
