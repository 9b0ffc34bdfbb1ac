"""Formulae of a page, in TeX between double dollars, as MathML, which a browser draws itself."""

from __future__ import annotations

import re
from typing import Final

from latex2mathml.converter import convert

_FORMULA: Final = re.compile(r"^\$\$(.+?)\$\$$", re.DOTALL | re.MULTILINE)


def with_formulae(page: str) -> str:
    r"""A page with each formula on lines of its own turned into MathML.

    >>> with_formulae("$$\\frac{1}{2}$$")[:5]
    '<math'
    """
    return _FORMULA.sub(lambda found: convert(found[1].strip(), display="block"), page)
