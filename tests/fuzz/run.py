"""Fuzz one reader for a stated time: ``python tests/fuzz/run.py NAME --engine atheris --seconds 300``.

Outside the normal run. A finding is any error that is not one of ours, a message without words, a
file that takes over ten seconds, or one that makes memory grow by 500 MB. Time counts as CPU time of
this process; what the engine keeps of old files (its corpus) is its own memory.
"""

from __future__ import annotations

import argparse
import collections
import os
import resource
import sys
import tempfile
import time
import warnings
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

LONGEST_S = 10.0
MOST_BYTES = 500_000_000
LONGEST_BYTES = 120_000


def main() -> None:
    """Read the command line and run."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("name")
    parser.add_argument("--engine", choices=["hypothesis", "atheris"], required=True)
    parser.add_argument("--seconds", type=float, default=300.0)
    asked = parser.parse_args()
    warnings.simplefilter("ignore")
    with tempfile.TemporaryDirectory() as folder:
        run = _hypothesis if asked.engine == "hypothesis" else _atheris
        run(asked.name, asked.seconds, Path(folder))


class Tally:
    """Counts what came of the files, and watches time and memory."""

    def __init__(self, name: str, engine: str, seconds: float) -> None:
        self.name, self.engine, self.seconds = name, engine, seconds
        self.outcomes: collections.Counter[str] = collections.Counter()
        self.slowest = 0.0
        self.start = time.process_time()

    def take(self, target, data: bytes, path: Path) -> None:
        """Try one file."""
        begun, held = time.process_time(), self.peak_bytes()
        try:
            self.outcomes[_try(target, data, path)] += 1
        except BaseException:
            kept = Path(tempfile.gettempdir()) / f"finding-{self.name}-{len(data)}{target.ending}"
            kept.write_bytes(data)
            sys.stdout.write(f"{self.name}: FOUND, kept as {kept}\n")
            raise
        took = time.process_time() - begun
        self.slowest = max(self.slowest, took)
        assert took < LONGEST_S, f"one file took {took:.1f} s"
        grown = self.peak_bytes() - held
        assert grown < MOST_BYTES, f"memory grew by {grown:,} bytes"

    @staticmethod
    def peak_bytes() -> int:
        """Return the most memory this process has held."""
        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024

    def over(self) -> bool:
        """Return whether the time is used up."""
        return time.process_time() - self.start > self.seconds

    def say(self) -> None:
        """Print the figures."""
        spent = time.process_time() - self.start
        sys.stdout.write(
            f"{self.name} {self.engine}: {sum(self.outcomes.values()):,} files in {spent:.0f} s CPU, "
            f"slowest {self.slowest:.2f} s, peak {self.peak_bytes() / 1e6:.0f} MB, {dict(self.outcomes)}\n"
        )
        sys.stdout.flush()


def _try(target, data: bytes, path: Path) -> str:
    from fuzz.targets import try_file

    return try_file(target, data, path)


def _hypothesis(name: str, seconds: float, folder: Path) -> None:
    from hypothesis import HealthCheck, given, seed, settings

    from fuzz.breaking import broken_files
    from fuzz.targets import TARGETS

    target = TARGETS[name]
    seeds = target.seeds(folder)
    tally = Tally(name, "hypothesis", seconds)
    count = 0
    while not tally.over():
        count += 1

        @seed(count)
        @settings(max_examples=200, deadline=None, database=None, suppress_health_check=list(HealthCheck))
        @given(broken_files(target, seeds))
        def batch(data: bytes) -> None:
            tally.take(target, data, folder / f"file{target.ending}")

        batch()
    tally.say()


def _atheris(name: str, seconds: float, folder: Path) -> None:
    import atheris

    # Only our own modules are watched: which of their branches a file reaches steers the search.
    with atheris.instrument_imports(include=["ringrow"], enable_loader_override=False):
        from fuzz.breaking import HOSTILE
        from fuzz.targets import TARGETS
    target = TARGETS[name]
    corpus = folder / "corpus"
    corpus.mkdir()
    # The engine would cut a longer seed, and a file that was cut is never whole however it is changed.
    whole = [data for data in target.seeds(folder) if len(data) <= LONGEST_BYTES]
    assert whole, f"{name}: no seed of up to {LONGEST_BYTES:,} bytes"
    for number, data in enumerate(whole):
        (corpus / str(number)).write_bytes(data)
    words = folder / "words"
    words.write_text(
        "".join(
            '"' + "".join(f"\\x{byte:02x}" for byte in word) + '"\n' for word in HOSTILE if 0 < len(word) < 60
        )
    )
    tally = Tally(name, "atheris", seconds)

    def one(data: bytes) -> None:
        if tally.over():
            tally.say()
            sys.stdout.flush()
            os._exit(0)
        tally.take(target, data, folder / f"file{target.ending}")

    options = [
        f"-dict={words}",
        f"-max_len={LONGEST_BYTES}",
        "-timeout=60",
        "-rss_limit_mb=4000",
        "-verbosity=0",
    ]
    atheris.Setup([sys.argv[0], *options, str(corpus)], one)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
