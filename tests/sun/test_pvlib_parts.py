"""Two modules of pvlib are loaded alone, and are its own."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import pvlib
import pytest

from terrain.sun.pvlib_parts import atmosphere, spa


def test_the_rest_of_it_is_not_loaded() -> None:
    sources = [Path(str(part.__file__)).read_text(encoding="utf-8") for part in (atmosphere, spa)]
    if any(re.search(r"^(import|from) pvlib", source, re.MULTILINE) for source in sources):
        pytest.skip("the modules of this pvlib load the rest of it themselves")
    told = "import sys, terrain.sun.path; print(*(name for name in sys.modules if 'pvlib' in name))"
    run = [sys.executable, "-c", told]
    found = subprocess.run(run, capture_output=True, text=True, check=True).stdout.split()
    assert found == ["terrain.sun.pvlib_parts"]


def test_they_answer_as_pvlib_does() -> None:
    days = np.linspace(2455000.5, 2465000.5, 7)
    assert (spa.julian_century(days) == pvlib.spa.julian_century(days)).all()
    heights = np.linspace(-1000.0, 9000.0, 11)
    assert (atmosphere.alt2pres(heights) == pvlib.atmosphere.alt2pres(heights)).all()
