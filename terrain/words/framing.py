"""What is said of a frame: the lens and the aim, what it takes in, how a figure stands in it."""

from __future__ import annotations

from collections.abc import Iterator

from terrain.frame.figure import Figure
from terrain.frame.framing import Framing
from terrain.view.backdrop import Backdrop
from terrain.words.plan import aim, lens_held


def framing_lines(framing: Framing, *, chosen: bool = False) -> Iterator[str]:
    """Lens and aim, what they take in, and how large the sun's image is: a line each.

    chosen: whether the one lens was chosen beforehand, and not from a kit.
    """
    yield f"Frame: {lens_held(framing.frame)}, {aim(framing.frame)}."
    what = "hill, sun and mist" if framing.mist_in else "hill and sun"
    if framing.takes_all:
        yield f"It takes in {what}; the hill fills {100.0 * framing.hill_share:.0f} % of its width."
    elif chosen:
        yield f"This lens does not take in {what}."
    else:
        yield f"No lens of the kit takes in {what}: this is the widest."
    yield (
        f"The sun's image is {framing.sun_mm:.1f} mm wide, {framing.sun_px:.0f} pixels."
        f"{' Expect to bracket.' if framing.expect_to_bracket else ''}"
    )


def figure_words(framing: Framing, seen: Figure) -> str:
    """Where a figure stands and how it is seen in a frame, in a sentence."""
    where = f"{seen.distance_m:.0f} m away toward {seen.azimuth_deg:.1f}°"
    return f"A figure {seen.height_m:g} m tall, {where}: {_as_seen(framing, seen)}."


def _as_seen(framing: Framing, seen: Figure) -> str:
    if not seen.against:
        return "hidden by ground or mist"
    in_it = bool(framing.frame.takes_in(seen.azimuth_deg, seen.foot_deg))
    tall = f"{seen.height_px(framing.frame):.0f} pixels tall"
    if not in_it:
        out_deg = float(framing.frame.outside_deg(seen.azimuth_deg, seen.foot_deg))
        tall = f"{out_deg:.1f}° outside the frame"
    hidden = "" if seen.seen > 0.99 else f", {100.0 * (1.0 - seen.seen):.0f} % of them hidden"
    shares = {name: 100.0 * seen.share(name) for name in Backdrop}
    told = ", ".join(f"{name} {share:.0f} %" for name, share in shares.items() if share >= 0.5)
    return f"{tall}, against the {seen.against} ({told}){hidden}"
