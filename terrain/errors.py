"""The errors a user of `terrain` can meet, each a single line that says what to do."""

from __future__ import annotations

__all__ = ["NoAnswer", "NoGround", "NoSun", "TerrainError"]


class TerrainError(Exception):
    """Something the user gave cannot be used as it is; the message is one clear line."""


class NoGround(TerrainError):
    """A place lies off the raster or on unknown ground."""


class NoSun(TerrainError):
    """The sun does not appear at this place on this day; `reason` says why."""

    def __init__(self, reason: str) -> None:
        super().__init__(reason)
        self.reason = reason


class NoAnswer(TerrainError):
    """The question is sound, but nothing on this ground answers it."""
