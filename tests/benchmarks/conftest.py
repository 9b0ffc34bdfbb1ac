from __future__ import annotations

import pytest

from tests.benchmarks.contenders import CONTENDERS

SIZES = (1000, 2000, 3600)
TINY = 60


def is_measuring(config: pytest.Config) -> bool:
    wanted = config.getoption("benchmark_enable") or config.getoption("benchmark_only")
    return bool(wanted) or not config.getoption("benchmark_disable")


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """Every contender at full size when it is measured, at a tiny one when it is only tried."""
    if "contender" in metafunc.fixturenames:
        if is_measuring(metafunc.config):
            pairs = [(size, contender) for size in SIZES for contender in CONTENDERS]
        else:  # the peers have tests of their own
            pairs = [(TINY, contender) for contender in CONTENDERS if not contender.is_peer]
        names = [f"{contender.name.replace(' ', '-')}-{size}" for size, contender in pairs]
        metafunc.parametrize(("size", "contender"), pairs, ids=names)
