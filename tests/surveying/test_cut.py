"""A country cut into tiles: what all tiles have in common is worked out once."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from terrain.ground.raster import parts
from terrain.surveying.cut import cut_of


def test_where_the_files_lie_is_found_once_for_all_tiles(
    country: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    cut, found = cut_of(country, 2_000.0, {}), parts.edges_of
    asked = list[Any]()

    def edges_of(*given: Any) -> Any:
        asked.append(given)
        return found(*given)

    monkeypatch.setattr(parts, "edges_of", edges_of)
    tiles = [cut.part(tile, margin_m) for tile in range(cut.tiles) for margin_m in (0.0, 3_000.0)]
    assert cut.tiles == 100
    assert len(asked) == 2
    assert [part.number for part in tiles[::2]] == list(range(1, 101))
    # 30 cells more on each side, or as many as the country has there
    assert [part.window.shape for part in tiles[:4]] == [(20, 20), (50, 50), (20, 20), (50, 70)]
