"""Which evidence of a lot makes a sample."""

from __future__ import annotations

import pytest

from passport.material.purity import Sample
from passport.material.sampling import count_problems, sample_of
from passport.reading.records import Lot, NirReading


def a_lot(of_lot, **reading):
    """A lot with one scanner reading."""
    fields = {"test": "nir", "reads": "PP"} | reading
    return Lot(
        id="IN-1",
        date="2026-04-11",
        received={"stream": "yard"},
        mass="9.0 kg",
        pieces=of_lot,
        evidence=[NirReading(**fields)],
    )


def test_random_pieces_make_a_sample():
    """20 of 44 read, one of them PE-HD and two too dark: 17 are PP."""
    lot = a_lot("44", pieces="20", drawn="random", others={"PE-HD": "1", "no reading": "2"})
    assert sample_of(lot, "PP") == Sample(key="IN-1", read=20, of_resin=17, of_lot=44)


@pytest.mark.parametrize("drawn", ["picked", None])
def test_picked_pieces_make_none(drawn):
    """Pieces that somebody chose say nothing about the rest."""
    assert sample_of(a_lot("44", pieces="20", drawn=drawn), "PP") is None


def test_a_group_reading_counts_for_no_symbol():
    """PE says nothing about PE-HD."""
    assert sample_of(a_lot("44", pieces="20", drawn="random", reads="PE"), "PE-HD").of_resin == 0


def test_all_pieces_are_the_whole_lot():
    """`drawn: all` without a count of the lot is a lot of so many pieces."""
    assert sample_of(a_lot(None, pieces="20", drawn="all"), "PP").of_lot == 20


def test_more_pieces_read_than_the_lot_holds():
    """A slip that is said and makes no sample."""
    lot = a_lot("18", pieces="20", drawn="random")
    assert sample_of(lot, "PP") is None
    assert [p.message for p in count_problems(lot)] == [
        "met 20 pieces read of a lot of 18, wanted at most the whole lot"
    ]


def test_more_others_than_were_read():
    """Twenty were read, but thirty of them read otherwise: a slip."""
    lot = a_lot("44", pieces="20", drawn="random", others={"PE-HD": "30"})
    assert sample_of(lot, "PP") is None
    assert len(count_problems(lot)) == 1
