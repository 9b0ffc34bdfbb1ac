"""How long work stands, on stderr: a line that changes on a terminal, else a line now and then."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING, Any

from terrain.command.report import aside
from terrain.words.surveys import standing_words

if TYPE_CHECKING:
    from terrain.surveying.tasks import Standing


class StandingLine:
    """The line. quiet: nothing is said. every_s: how often at most where it cannot change."""

    def __init__(self, *, quiet: bool, every_s: float) -> None:
        self._quiet, self._every_s, self._said_s = quiet, every_s, -every_s
        self._status: Any = None
        self.last: Standing | None = None

    def __enter__(self) -> StandingLine:
        from rich.console import Console

        shown = Console(stderr=True)
        if shown.is_terminal and not self._quiet:
            self._status = shown.status("surveying")
            self._status.start()
        return self

    def __exit__(self, *error: object) -> None:
        if self._status is not None:
            self._status.stop()

    def tell(self, standing: Standing) -> None:
        """Say how the work stands."""
        self.last = standing
        if self._status is not None:
            self._status.update(standing_words(standing))
        elif not self._quiet and time.monotonic() - self._said_s >= self._every_s:
            self._said_s = time.monotonic()
            aside(standing_words(standing))
