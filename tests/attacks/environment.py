"""Attacks by what a command runs in: streams, encodings, variables, caches, others' settings."""

from __future__ import annotations

from collections.abc import Iterator

from tests.attacks import Case


def cases() -> Iterator[Case]:
    """All of them."""
    yield Case("no command at all", [])
