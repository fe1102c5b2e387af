"""Benchmarks as ratios: each group times the same job several ways in one run on one machine.

A benchmark takes the `timed` fixture and names its group and its way. The way called ``baseline``
is what a competent user's script does; every other way is printed against it, with its target where
it has one. Nothing here fails a run for being slow: a target missed is printed as missed.
"""

from __future__ import annotations

import time
from collections import defaultdict
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

BASELINE = "baseline"

Measured = dict[str, dict[str, tuple[float, float | None]]]
MEASURED = pytest.StashKey[Measured]()


def pytest_configure(config: pytest.Config) -> None:
    """Keep the times of this run."""
    config.stash[MEASURED] = defaultdict(dict)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Count processor time where the job runs in this process: other work on the machine is no part of it."""
    for item in items:
        if "timed" in getattr(item, "fixturenames", ()):
            item.add_marker(pytest.mark.benchmark(timer=time.process_time))


@pytest.fixture
def timed(benchmark: Any, request: pytest.FixtureRequest) -> Callable[..., Any]:
    """Time a function and keep its best round for the table of ratios.

    The fixture is a function ``timed(job, *args, group, way, items=1, target=None, rounds=7)``: `items`
    is how many things (pivots, flags) one call works, `target` how many times faster than the
    baseline of its group it should be. It gives back what `job` returned.
    """

    def run(
        job: Callable[..., Any],
        *args: Any,
        group: str,
        way: str,
        items: int = 1,
        target: float | None = None,
        rounds: int = 7,
    ) -> Any:
        benchmark.group = group
        benchmark.name = f"{group}: {way}"
        benchmark.extra_info["items"] = items
        result = benchmark.pedantic(job, args=args, rounds=rounds, warmup_rounds=1)
        # Without timing (--benchmark-disable) there is nothing to compare.
        if benchmark.stats is not None:
            # The least of the rounds: what disturbs a round can only add to its time.
            best = benchmark.stats.stats.min / items
            request.config.stash[MEASURED][group][way] = (best, target)
        return result

    return run


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    """Print each way's time for one item and how many times faster than the baseline it is."""
    measured = config.stash[MEASURED]
    if not measured:
        return
    terminalreporter.section("ratios to the baseline of each group")
    for group, ways in measured.items():
        terminalreporter.write_line(group)
        base = ways.get(BASELINE)
        for way, (seconds, target) in ways.items():
            line = f"  {way:<50} {seconds * 1e6:12.2f} us each"
            if base is not None and way != BASELINE:
                ratio = base[0] / seconds
                line += f" {ratio:10.1f}x"
                if target is not None:
                    line += f"  target {target:g}x: {'met' if ratio >= target else 'MISSED'}"
            terminalreporter.write_line(line)
