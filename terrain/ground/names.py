"""Names as people and programs wrote them into files, made fit to be shown: one line of text."""

from __future__ import annotations

from typing import Final

LONGEST: Final = 80
"""Letters of a name that are kept (no source)."""


def clean_name(name: object) -> str:
    """A name on one line without control characters, and no longer than a line.

    >>> clean_name(" Great\\x1b[31m\\tHoo\\n")
    'Great[31m Hoo'
    >>> len(clean_name("o" * 10_000_000)), clean_name("o" * 300)[-2:]
    (80, 'o…')
    """
    # of a text without end no more than can matter is looked at
    text = " ".join(plain(str(name)[: 10 * LONGEST]).split())
    return text if len(text) <= LONGEST else f"{text[: LONGEST - 1].rstrip()}…"


def plain(text: str) -> str:
    """A text without the control characters that XML, calendars and terminals cannot hold.

    >>> plain("Great\\x00\\tHoo\\n623 m")
    'Great Hoo\\n623 m'
    """
    spaced = "".join(" " if letter.isspace() and letter != "\n" else letter for letter in text)
    return "".join(letter for letter in spaced if letter.isprintable() or letter == "\n")
