"""Several processes make the same site as one, and a fault in one of them is told like any other."""

from __future__ import annotations

import multiprocessing
import os
import signal
from pathlib import Path

import pytest

from passport.disk import Refused
from passport.office.stages import pictures_of, themed, worked_out
from passport.pages.plan import Part, parts
from passport.problems import Problem
from passport.publish import Found, HeldFile, making
from passport.publish.making import Plan, Source
from passport.tags.faces import LabelError

CONTENT = Path(__file__).resolve().parents[2]
NOTHING = Found(there=False, files=frozenset(), listed={}, site=Path("nowhere"))


@pytest.fixture(scope="module")
def source() -> Source:
    """The demo, worked out."""
    book, _ = worked_out(CONTENT, None)
    theme, _ = themed(CONTENT, book.shop)
    pictures, _ = pictures_of(CONTENT, book.shop)
    return Source(book, theme, pictures)


@pytest.fixture(scope="module")
def alone(source: Source) -> list[tuple[str, str]]:
    """Path and hash of every file that one process makes, in order."""
    return hashes(source, 1)


@pytest.fixture(autouse=True)
def shared(monkeypatch: pytest.MonkeyPatch) -> None:
    """The demo is small, and shared out all the same."""
    monkeypatch.setattr(making, "WORTH_SHARING", 0)


def hashes(source: Source, cores: int) -> list[tuple[str, str]]:
    """Path and hash of every planned file, in order."""
    return [(f.path, f.sha256 if isinstance(f, HeldFile) else f.digest()) for f in Plan(source, cores=cores)(NOTHING)]


@pytest.mark.parametrize("start", ["fork", "spawn"])
def test_the_same_bytes_in_the_same_order(
    source: Source, alone: list[tuple[str, str]], start: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whether helpers are copies of the run or begin from nothing, the plan is the one of a single process."""
    if start not in multiprocessing.get_all_start_methods():
        pytest.skip(f"this system cannot {start}")
    monkeypatch.setattr(making, "start_method", lambda: start)
    assert hashes(source, 2) == alone


def test_a_label_that_fails_in_a_helper_is_a_problem(source: Source, monkeypatch: pytest.MonkeyPatch) -> None:
    """The words are those that one process would print."""
    problem = Problem(code="label-unread", message="the symbol does not read back")

    def fails(*_: object) -> None:
        raise LabelError((problem,))

    monkeypatch.setattr(making, "start_method", lambda: "fork")
    monkeypatch.setattr(making, "leaves", fails)
    with pytest.raises(Refused) as refused:
        hashes(source, 2)
    assert refused.value.problems == (problem,)


def test_a_helper_that_is_ended_is_told(source: Source, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the system ends a helper, for want of memory say, the run stops with a sentence instead of waiting."""

    def ended(*_: object) -> None:
        os.kill(os.getpid(), signal.SIGKILL)

    monkeypatch.setattr(making, "start_method", lambda: "fork")
    monkeypatch.setattr(making, "leaves", ended)
    with pytest.raises(Refused) as refused:
        hashes(source, 2)
    assert [p.code for p in refused.value.problems] == ["helper-gone"]
    assert refused.value.problems[0].message == (
        "a process that helped to make the pages was ended from outside; nothing was changed"
    )


def test_every_tag_and_lot_is_in_one_part(source: Source) -> None:
    """Parts share the work out without leaving anything or anybody out twice."""
    from passport.pages.plan import Site  # noqa: PLC0415

    site = Site(source.book, source.theme, source.pictures)
    found: list[Part] = list(parts(site))
    assert [n for part in found if part.kind == "tags" for n in part.names] == list(source.book.lives)
    assert [n for part in found if part.kind == "lots" for n in part.names] == list(source.book.shop.lots)
