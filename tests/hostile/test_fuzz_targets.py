"""Each target of the fuzzer for a moment, with its seeds, every find so far, and texts bent at random."""

import sys
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "fuzz"))
from targets import TARGETS

FINDS = Path(__file__).with_name("finds")


@pytest.mark.parametrize("name", TARGETS)
def test_seeds_and_finds(name: str) -> None:
    """What the fuzzer begins with, and everything that ever broke a promise, breaks none now."""
    for data in (*TARGETS[name].seeds, *(path.read_bytes() for path in sorted((FINDS / name).glob("*")))):
        TARGETS[name].run(data)


@pytest.mark.parametrize("name", TARGETS)
@settings(max_examples=120, suppress_health_check=[HealthCheck.too_slow])
@given(data=st.data())
def test_bent_seeds(name: str, data: st.DataObject) -> None:
    """A seed with some of its bytes cut out, doubled or replaced keeps the target's promise."""
    seed = data.draw(st.sampled_from(TARGETS[name].seeds))
    start = data.draw(st.integers(0, len(seed)))
    end = data.draw(st.integers(start, min(len(seed), start + 40)))
    pieces = st.one_of(st.binary(max_size=40), st.text(max_size=20).map(str.encode), st.sampled_from(BITS))
    TARGETS[name].run(seed[:start] + data.draw(pieces) * data.draw(st.integers(1, 3)) + seed[end:])


BITS = (
    b"'", b'"', b"{", b"[", b"- ", b": ", b"\n", b"\r", b"\t", b"\0", b"\x1b[2J", b"&a ", b"*a", b"!!x ", b"<<: ", b"|",
    b">", b"---\n", b"...", b"%", b"#", b"NaN", b"1e999", b"\xef\xbb\xbf", b"\xff",
    "\u202e".encode(), "\u2028".encode(),
    "٣".encode(), b"=1", b"-", b"<script>", b"javascript:", b"../", b"]]>", b"{{", b"\xed\xa0\x80",
)  # fmt: skip
