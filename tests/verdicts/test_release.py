"""Laboratory figures by the limit of the day, and what may be handed on: refused, held, above a limit."""

import dataclasses

import pytest
from shops_in_code import drawing, received, shop

from passport.problems import Level
from passport.reading.decode import adapter
from passport.reading.records import Product
from passport.verdicts.book import work_out
from passport.verdicts.release import Release
from passport.verdicts.substances import judged_lot


def figure(substance, mg_per_kg):
    """One laboratory figure as a lot's evidence."""
    return {
        "test": "substance",
        "substance": substance,
        "mg_per_kg": mg_per_kg,
        "laboratory": "the county laboratory",
        "document": "Report 1",
    }


def made(*, resin="PP", evidence=(), day="2026-05-20", uses=(), events=(), stream="POST"):
    """A lot, flake of it, and one batch of things made of the flake."""
    lots = {
        "L-1": received("10 kg", stream, sorted_as=resin, moisture="0 %", evidence=list(evidence), date="2025-01-10"),
        "F-1": drawing("10 kg", ("L-1", "10 kg"), operation="shred", date="2025-01-20", sorted_as=resin),
    }
    item = {"product": "PLANTER", "date": day, "count": "1", "mass": "9 kg each"}
    items = {"PL-1": {**item, "draws": [{"lot": "F-1", "mass": "9 kg"}]}}
    product = {"id": "PLANTER", "title": "Planter", "made_for": "plants", "uses": list(uses)}
    built = shop(lots=lots, items=items, events=events)
    return work_out(dataclasses.replace(built, products={"PLANTER": adapter(Product).validate_python(product)}))


def codes(book, about):
    """What the book's problems say about a node, of this kind."""
    wanted = ("substance-", "made-of-")
    return [(p.code, p.level) for p in book.problems if p.about == about and p.code.startswith(wanted)]


@pytest.mark.parametrize(
    ("day", "state"),
    [("2025-12-29", Release.FREE), ("2025-12-30", Release.ABOVE_LIMIT), ("2027-12-30", Release.ABOVE_LIMIT)],
)
def test_a_batch_is_judged_by_the_limit_of_its_own_day(day: str, state: Release) -> None:
    """L1 of Regulation (EU) 2025/1482: 400 mg/kg of PBDE passes on 2025-12-29 and fails a day later."""
    book = made(evidence=[figure("PBDE", "400")], day=day)
    found = book.released("PL-1")
    assert found.state is state
    assert (("substance-above", Level.DOUBT) in codes(book, "PL-1")) is (state is Release.ABOVE_LIMIT)


def test_the_finding_names_figure_limit_law_and_day() -> None:
    """Everything that a person needs to check it."""
    book = made(evidence=[figure("Cd", "150")])
    (found,) = (p for p in book.problems if p.about == "PL-1" and p.code == "substance-above")
    assert found.message == (
        "met 150 mg/kg of cadmium in L-1 under PL-1, wanted less than 100 mg/kg on 2026-05-20"
        " (Regulation (EC) 1907/2006, Annex XVII, entry 23, since 2012-10-09)"
    )
    assert found.hint == "keep it out of goods and refuse the lot (an event `refused`); call back what was made of it"


def test_a_law_that_does_not_name_the_resin_is_a_flag() -> None:
    """L4: 150 mg/kg of cadmium breaks the limit in PP; of PE-HD entry 23 does not speak, and it is flagged."""
    book = made(resin="PE-HD", evidence=[figure("cadmium", "150")])
    assert book.released("PL-1").state is Release.FREE
    assert codes(book, "PL-1") == [("substance-flag", Level.DOUBT)]


def test_toys_have_limits_of_their_own() -> None:
    """L6: 0.06 % DEHP and 0.05 % DBP make 0.11 % together: too much for a toy, not judged for a planter."""
    figures = [figure("DEHP", "600"), figure("DBP", "500")]
    assert made(evidence=figures, uses=["toy"]).released("PL-1").state is Release.ABOVE_LIMIT
    assert made(evidence=figures).released("PL-1").state is Release.FREE


def test_packaging_metals_are_summed() -> None:
    """L5: 60 + 30 + 0 + 20 mg/kg of four metals is more than 100."""
    figures = [figure("Pb", "60"), figure("Cd", "30"), figure("Hg", "0"), figure("Cr6", "20")]
    assert made(evidence=figures, uses=["packaging"]).released("PL-1").state is Release.ABOVE_LIMIT


def test_electrical_goods_have_another_limit_for_cadmium_than_for_lead() -> None:
    """L7: 0.02 % of each: cadmium fails, lead passes (2011/65/EU, Annex II)."""
    for substance, state in (("cadmium", Release.ABOVE_LIMIT), ("lead", Release.FREE)):
        book = made(evidence=[figure(substance, "200")], resin="ABS", uses=["electrical"])
        assert book.released("PL-1").state is state


def test_new_plastic_is_judged_by_the_general_limit() -> None:
    """L3: 12 mg/kg of PBDE in material that is not recovered fails from 2025-11-17; in recovered material it passes."""
    new = made(evidence=[figure("PBDE", "12")], stream="VIRGIN", day="2025-11-17")
    recovered = made(evidence=[figure("PBDE", "12")], day="2025-11-17")
    assert new.released("PL-1").state is Release.ABOVE_LIMIT
    assert recovered.released("PL-1").state is Release.FREE


def test_a_lot_is_judged_on_the_day_of_the_book_while_there_is_any_of_it() -> None:
    """What lies in stock must keep the limit that holds now."""
    lots = {"L-1": received("10 kg", sorted_as="PP", evidence=[figure("PBDE", "400")], date="2025-01-10")}
    later = [{"date": "2026-01-10", "lot": "L-1", "event": "weighed", "mass": "10 kg", "because": "a year later"}]
    assert work_out(shop(lots=lots)).released("L-1").state is Release.FREE
    assert work_out(shop(lots=lots, events=later)).released("L-1").state is Release.ABOVE_LIMIT


def test_the_highest_of_several_figures_counts() -> None:
    """Two laboratories that differ: the worse one decides."""
    book = made(evidence=[figure("cadmium", "20"), figure("Cd", "150")])
    (judged,) = (j for j in judged_lot(book.ledger, book.standing, "L-1", book.today).found if j.limit.law == "cadmium")
    assert judged.content == 150


def test_an_unknown_substance_is_said_and_judged_by_nothing() -> None:
    """A slip in the name is advice with the nearest known one."""
    book = made(evidence=[figure("cadmum", "900")])
    (found,) = (p for p in book.problems if p.code == "substance-unknown")
    assert found.hint == 'did you mean "cadmium"?'
    assert book.released("PL-1").state is Release.FREE


@pytest.mark.parametrize(("event", "state"), [("refused", Release.REFUSED), ("held", Release.HELD)])
def test_a_refusal_reaches_what_was_made_before_it(event: str, state: Release) -> None:
    """Things made in May of a lot refused in June are not to be handed on, and check says so."""
    book = made(events=[{"date": "2026-06-01", "lot": "L-1", "event": event, "because": "smells"}])
    found = book.released("PL-1")
    assert (found.state, found.because_of) == (state, ("L-1",))
    assert codes(book, "PL-1") == [(f"made-of-{event}", Level.DOUBT)]
    assert book.released("F-1").state is state


def test_a_release_frees_what_was_made_of_it() -> None:
    """Held and released again: nothing is left of the doubt."""
    events = [
        {"date": "2026-06-01", "lot": "L-1", "event": "held", "because": "smells"},
        {"date": "2026-06-02", "lot": "L-1", "event": "released", "because": "it was the sack"},
    ]
    book = made(events=events)
    assert book.released("PL-1").state is Release.FREE
    assert codes(book, "PL-1") == []


def test_refused_outweighs_held_and_a_limit() -> None:
    """The gravest ground is named."""
    book = made(
        evidence=[figure("cadmium", "150")],
        events=[{"date": "2026-06-01", "lot": "F-1", "event": "refused", "because": "oil"}],
    )
    found = book.released("PL-1")
    assert (found.state, found.because_of) == (Release.REFUSED, ("F-1",))


def test_sound_material_is_free() -> None:
    """Nothing is said where there is nothing to say."""
    book = made(evidence=[figure("cadmium", "5")])
    assert book.released("PL-1").state is Release.FREE
    assert codes(book, "PL-1") == []
