"""Loading ahead: the module is there when it is needed, and a broken one is not told twice."""

from __future__ import annotations

import sys
import threading
from pathlib import Path

import pytest

from terrain.command.ahead import load_ahead


def test_a_module_is_loaded_on_another_thread(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "loaded_late.py").write_text("import threading\nby = threading.get_ident()\n")
    monkeypatch.syspath_prepend(tmp_path)
    load_ahead("loaded_late").join()
    assert sys.modules.pop("loaded_late").by != threading.get_ident()


def test_what_it_prepares_is_done_on_that_thread(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    module = (
        "done = []\ndef ready():\n    done.append('by now')\n    raise ValueError('told later')\n"
    )
    (tmp_path / "prepared_late.py").write_text(module)
    monkeypatch.syspath_prepend(tmp_path)
    load_ahead("prepared_late:ready").join()
    assert sys.modules.pop("prepared_late").done == ["by now"]


def test_what_follows_one_that_fails_is_loaded_all_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "fails_late.py").write_text("raise ValueError('told where it is imported')\n")
    (tmp_path / "follows_late.py").write_text("")
    monkeypatch.syspath_prepend(tmp_path)
    load_ahead("fails_late", "follows_late").join()
    assert sys.modules.pop("follows_late", None) is not None


def test_a_module_that_is_not_there_is_left_to_whoever_needs_it(
    capsys: pytest.CaptureFixture[str],
) -> None:
    load_ahead("no_module_of_this_name").join()
    assert capsys.readouterr() == ("", "")
