"""Files that are almost good give an answer, or one line about them.

More of them, for as long as there is time: `python -m tests.attacks.fuzz SECONDS`.
"""

from __future__ import annotations

import os
import signal
from pathlib import Path

import numpy as np
import pytest

from terrain.errors import TerrainError
from tests.attacks.fuzz import all_kinds, attacks_apart
from tests.attacks.mutating import Kind, attacks, complaint, mutant

KINDS = all_kinds()
SEEDS = range(24)


@pytest.mark.parametrize("kind", KINDS, ids=[kind.name for kind in KINDS])
def test_an_almost_good_file_is_read_or_complained_of(tmp_path: Path, kind: Kind) -> None:
    path = tmp_path / kind.file_name
    path.write_bytes(kind.good)
    kind.read(path)
    slow = kind.name.startswith("tile")
    assert list(attacks(kind, tmp_path, SEEDS[:6] if slow else SEEDS)) == []


def test_mutants_differ_and_come_again() -> None:
    good = KINDS[0].good
    found = [mutant(np.random.default_rng(seed), good, text=False) for seed in (1, 1, 2)]
    assert found[0] == found[1] != found[2]
    assert good not in found


def test_what_is_no_single_line_is_complained_of() -> None:
    def defect() -> None:
        raise KeyError("x")

    class Broken:
        def __del__(self) -> None:
            raise KeyError("y")

    assert complaint(defect) == "KeyError: 'x'"
    assert complaint(Broken) == "prints a traceback: KeyError('y')"
    assert complaint(lambda: None) is None
    with pytest.raises(TerrainError) as caught:
        raise TerrainError("a\nb\0" + "x" * 5000 + ": end")
    assert str(caught.value).startswith("a b")
    assert str(caught.value).endswith("x: end")
    assert len(str(caught.value)) < 1100


@pytest.mark.skipif(not hasattr(os, "fork"), reason="files are read by forks")
def test_a_file_that_brings_the_reader_down_is_told_and_the_next_are_read(tmp_path: Path) -> None:
    def fragile(path: Path) -> None:
        if path.read_bytes() == mutant(np.random.default_rng(2), b"good", text=False):
            os.kill(os.getpid(), signal.SIGKILL)
        if path.read_bytes() == mutant(np.random.default_rng(3), b"good", text=False):
            raise KeyError("x")
        with (tmp_path / "read").open("a") as told:
            told.write("x")

    kind = Kind("plain/a.tif", b"good", fragile)
    assert list(attacks_apart(kind, tmp_path, range(5))) == [
        (2, "plain/a.tif 2: the reader ends by the signal SIGKILL"),
        (3, "plain/a.tif 3: KeyError: 'x'"),
    ]
    assert (tmp_path / "read").read_text() == "xxx"
