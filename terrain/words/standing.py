"""What is to be minded on every morning and evening, whatever the plan."""

from __future__ import annotations

from typing import Final

STANDING: Final = (
    "Heights come from a raster, not a survey: walls, crags and drops smaller than its cells are "
    "not in it. Look at the way and the spot by day.",
    "Ask about access, and follow local rules. Take the forecast from the national weather "
    "service, and advice on kit and on calling for help from the local mountain rescue.",
    "Tell someone where you go and when you will be back.",
    "Never look at the sun through a lens or an optical viewfinder.",
)
"""Sentences that stand under every answer."""
