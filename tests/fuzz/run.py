"""Fuzz one target by hand, guided by coverage: `python tests/fuzz/run.py record --seconds 300`.

Needs atheris, a fuzzer that the suite does not need: `python -m pip install atheris`. What it finds is written as a
file `crash-…` where you stand; put it, cut short, among the finds in `tests/hostile/finds/TARGET/`, so that the suite
keeps it. Without a target, every one runs for its share of the time.
"""

from __future__ import annotations

import argparse
import importlib
import subprocess
import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parents[1])]


def main() -> int:
    """Run one target in this process, or each in one of its own."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("target", nargs="?", help="which; none: all, one after another")
    asked.add_argument("--seconds", type=int, default=60)
    given = asked.parse_args()
    atheris = importlib.import_module("atheris")
    with atheris.instrument_imports(include=["passport", "yaml", "markdown", "csv", "html"]):
        targets = importlib.import_module("targets").TARGETS
    if not given.target:
        each = str(max(1, given.seconds // len(targets)))
        return max(subprocess.call([sys.executable, __file__, name, "--seconds", each]) for name in targets)
    target = targets[given.target]
    with tempfile.TemporaryDirectory() as corpus:
        for number, seed in enumerate(target.seeds):
            (Path(corpus) / str(number)).write_bytes(seed)
        options = [
            f"-max_total_time={given.seconds}",
            "-max_len=4096",
            "-timeout=20",
            "-rss_limit_mb=1500",
            "-len_control=0",
        ]
        atheris.Setup([sys.argv[0], *options, corpus], target.run)
        atheris.Fuzz()
    return 0


if __name__ == "__main__":
    sys.exit(main())
