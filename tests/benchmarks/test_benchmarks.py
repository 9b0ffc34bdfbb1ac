"""Every kernel and its peers: timed with --benchmark-enable, only tried on tiny ground without."""

from __future__ import annotations

import time
from pathlib import Path

import numpy as np
import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from terrain.sight.horizon import horizon
from terrain.sight.viewshed import viewshed
from tests.benchmarks import peers
from tests.benchmarks.__main__ import growth, table
from tests.benchmarks.conftest import is_measuring
from tests.benchmarks.contenders import Call, Contender
from tests.benchmarks.ground import middle, rugged


def test_speed(
    benchmark: BenchmarkFixture, size: int, contender: Contender, tmp_path: Path
) -> None:
    if contender.missing():
        pytest.skip(contender.missing())
    call, aside = contender.prepare(rugged(size), tmp_path)
    # the first call compiles, so even what is too slow to be called twice is called on little
    small, _ = contender.prepare(rugged(60), tmp_path) if aside is None else (call, None)
    small()
    spent: list[float] = []
    benchmark.group = f"{contender.question} {size}"
    benchmark.extra_info.update(name=contender.name, question=contender.question, size=size)
    benchmark.pedantic(counting(call, spent), rounds=contender.rounds)
    benchmark.extra_info["cpu_s"] = min(spent)
    if aside is not None:
        spent, took = [], []
        for _ in range(contender.rounds):
            started = time.perf_counter()
            counting(aside, spent)()
            took.append(time.perf_counter() - started)
        benchmark.extra_info.update(aside_s=min(took), aside_cpu_s=min(spent))


def counting(call: Call, spent: list[float]) -> Call:
    """The same call, which also notes the processor time of all cores that went into it."""

    def counted() -> None:
        before = processor_s()
        call()
        spent.append(processor_s() - before)

    return counted


def processor_s() -> float:
    """Processor time of this process and of the programs it ran, seconds."""
    import resource

    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(each.ru_utime + each.ru_stime for each in used)


def test_ground_is_rugged_and_the_same_each_time() -> None:
    dem = rugged(400)
    rise = np.hypot(*np.gradient(dem.heights_m.astype(float), dem.cell_m))
    assert 10.0 < np.degrees(np.arctan(np.median(rise))) < 35.0
    assert np.ptp(dem.heights_m) > 500.0
    rugged.cache_clear()
    np.testing.assert_array_equal(rugged(400).heights_m, dem.heights_m)


def test_gdal_is_asked_the_same(tmp_path: Path) -> None:
    if peers.no_gdal():
        pytest.skip(peers.no_gdal())
    dem = rugged(200)
    call, _ = peers.gdal_viewshed(dem, tmp_path)
    call()
    theirs, ours = peers.gdal_seen(tmp_path), viewshed(dem, middle(dem))
    # from a peak, GDAL 3.6 loses whole sectors near by: what they see is right
    assert theirs.sum() > 0.5 * ours.sum()
    assert (theirs & ours).sum() > 0.95 * theirs.sum()


def test_xarray_spatial_is_asked_the_same(tmp_path: Path, request: pytest.FixtureRequest) -> None:
    if peers.no_xarray_spatial():
        pytest.skip(peers.no_xarray_spatial())
    if not is_measuring(request.config):
        pytest.skip("half a minute of compiling: add --benchmark-enable")
    dem = rugged(120)
    call, _ = peers.xarray_spatial_viewshed(dem, tmp_path)
    theirs, ours = np.asarray(call()) >= 0, viewshed(dem, middle(dem), refraction=1.0)
    assert (theirs & ours).sum() > 0.75 * (theirs | ours).sum()


def test_topocalc_is_asked_the_same(tmp_path: Path) -> None:
    if peers.no_topocalc():
        pytest.skip(peers.no_topocalc())
    dem = rugged(200)
    call, _ = peers.topocalc_horizon(dem, tmp_path)
    theirs = np.degrees(np.arcsin(np.asarray(call())))
    azimuth_deg = float(dem.grid.true_azimuth_deg(peers.GRID_AZIMUTH_DEG, *dem.grid.centre_lonlat))
    ours = horizon(dem, azimuth_deg, refraction=1.0)
    high = ours > 5.0  # it knows no horizon below the horizontal
    assert np.median(np.abs(theirs - ours)[high]) < 1.0


def test_table_of_what_was_measured() -> None:
    def entry(
        name: str, question: str, size: int, best_s: float, **more: float
    ) -> dict[str, object]:
        info = {"name": name, "question": question, "size": size, **more}
        return {"extra_info": info, "stats": {"min": best_s, "rounds": 3}}

    lines = table(
        [
            entry("viewshed", "viewshed", 1000, 0.010),
            entry("viewshed", "viewshed", 2000, 0.042),
            entry("GDAL viewshed", "viewshed", 2000, 0.100, aside_s=0.016),
        ]
    ).splitlines()
    assert lines[2].split("|")[1:-1] == [" viewshed ", " 0.010 ", " 0.042 ", " ×4.20 ", "  "]
    assert lines[3].split("|")[1:-1] == [" GDAL viewshed ", " – ", " 0.084 ", " – ", " 2.0 "]
    assert table([entry("margin", "margin", 1000, 0.5, cpu_s=0.75)], cpu=True).endswith(
        "| margin | 0.750 | – |  |"
    )
    assert growth(2000, 1.0, 3600, 3.24) == pytest.approx(4.0)
