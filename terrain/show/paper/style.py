"""The settings that all pictures are drawn under, whatever a user has set for others."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import matplotlib


@contextmanager
def own_style() -> Iterator[None]:
    """Draw within the block, or the function, as matplotlib does of itself, and as we set it.

    >>> matplotlib.rcParams["lines.linewidth"] = 9.0
    >>> with own_style():
    ...     matplotlib.rcParams["lines.linewidth"]
    1.5
    >>> matplotlib.rcParams["lines.linewidth"]
    9.0
    >>> matplotlib.rcdefaults()
    """
    with matplotlib.rc_context():
        matplotlib.rcdefaults()
        # a name between two dollars is a name
        matplotlib.rc("text", parse_math=False)
        # letters stay letters in an SVG, so that they can be searched and read aloud
        matplotlib.rc("svg", fonttype="none")
        yield
