"""How high a hill stands over its surroundings, at the least."""

from __future__ import annotations

from typing import Final

DEFAULT_PROMINENCE_M: Final = 30.0
"""Least prominence of a summit, metres: the usual one of British hill lists."""
