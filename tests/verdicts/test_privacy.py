"""Contacts in public texts: what is found, what is left alone, and what is meant to be public (cases/contacts.yaml)."""

import dataclasses
from pathlib import Path

import pytest
import yaml
from shops_in_code import SCALES, received, shop

from passport.problems import Level
from passport.reading.decode import adapter
from passport.reading.folder import read_shop
from passport.reading.records import Workshop
from passport.verdicts.privacy import contacts_in, privacy_problems

CASES = yaml.safe_load((Path(__file__).parent / "cases" / "contacts.yaml").read_text(encoding="utf-8"))
DEMO = Path(__file__).resolve().parents[2] / "content"


@pytest.mark.parametrize("case", CASES["met"], ids=lambda case: case["text"][:40])
def test_ways_to_reach_a_person_are_found(case) -> None:
    """E-mail addresses, telephone numbers and street addresses of three countries, each once and whole."""
    assert contacts_in(case["text"]) == ((case["kind"], case["words"]),)


@pytest.mark.parametrize("text", CASES["none"], ids=lambda text: text[:40])
def test_figures_of_the_trade_are_left_alone(text: str) -> None:
    """Tag numbers, lots, dates, masses, melt flows, papers and standards lead to nobody."""
    assert contacts_in(text) == ()


def test_ordinary_sentences_hold_no_contact() -> None:
    """None of the ordinary sentences of a workshop is taken for one."""
    ordinary = yaml.safe_load((Path(__file__).parent / "cases" / "ordinary_sentences.yaml").read_text(encoding="utf-8"))
    assert [text for texts in ordinary.values() for text in texts if contacts_in(text)] == []


def test_the_demo_names_nobody() -> None:
    """Reedmouth Yard publishes its own address and no other."""
    read, _ = read_shop(DEMO)
    assert read is not None
    assert privacy_problems(read) == ()


def test_a_contact_is_a_doubt_with_its_place(tmp_path: Path) -> None:
    """The file, line and column of the number itself, and what to do with it."""
    content = tmp_path / "content"
    (content / "streams").mkdir(parents=True)
    (content / "workshop.yaml").write_text("name: Reedmouth Yard\nprefix: RY\n", encoding="utf-8")
    (content / "streams" / "gate.yaml").write_text(
        "title: Left at the gate\norigin: unknown\ncollected: {en: Ask first, fr: Voir Jean au 06 39 98 12 34}\n",
        encoding="utf-8",
    )
    read, _ = read_shop(content)
    assert read is not None
    (found,) = privacy_problems(read)
    assert (found.level, str(found.place)) == (Level.DOUBT, "content/streams/gate.yaml:3:45")
    assert found.message == (
        'met "06 39 98 12 34", which reads like a telephone number, wanted nothing that leads to a person'
    )
    assert found.hint == "leave it out, or keep it in private/, which no page is made from"


def test_what_is_meant_to_be_public_passes() -> None:
    """The workshop's contact anywhere, and its street where it says where it is; a street in a note does not."""
    tree = {
        "name": "Reedmouth Yard",
        "prefix": "RY",
        "scales": SCALES,
        "contact": "yard@reedmouth.example",
        "place": "3 Pier Road, Reedmouth",
        "bring_back": "To 3 Pier Road, or write to yard@reedmouth.example",
    }
    made = shop(lots={"L-1": received("1 kg", notes="From 3 Pier Road")})
    found = privacy_problems(dataclasses.replace(made, workshop=adapter(Workshop).validate_python(tree)))
    assert [(problem.about, problem.facts) for problem in found] == [("L-1", (("kind", "street-address"),))]
