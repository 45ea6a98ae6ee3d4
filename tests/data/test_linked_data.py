"""JSON-LD of every page against schema.org release 30.0."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from shared import standard

PLAIN = {"Text", "URL", "Date", "DateTime", "Number", "Integer", "Boolean"}
BLOCK = re.compile(r'<script type="application/ld\+json">(.*?)</script>', re.DOTALL)
TERMS = "schemaorg-terms.json"
KINDS = {
    "index.html": "Dataset",
    "T/RY-22222Q/index.html": "IndividualProduct",
    "L/HD-001/index.html": "SomeProducts",
    "P/PLANTER/index.html": "ProductModel",
    "R/PP/index.html": "WebPage",
    "T/index.html": "WebPage",
    "found/index.html": "WebPage",
    "method/index.html": "WebPage",
}


def blocks(page: str) -> list[dict[str, Any]]:
    """The JSON-LD of a page."""
    return [json.loads(text) for text in BLOCK.findall(page)]


@pytest.fixture(scope="module")
def linked(demo: Path) -> dict[str, dict[str, Any]]:
    """The one block of each page, 404 aside."""
    found = {}
    for file in sorted((demo / "site").rglob("*.html")):
        name = file.relative_to(demo / "site").as_posix()
        if name != "404.html":
            (found[name],) = blocks(file.read_text(encoding="utf-8"))
    return found


def faults(node: dict[str, Any], terms: dict[str, Any]) -> Iterator[str]:
    """Unknown types and terms, terms on types that may not carry them, values out of their range."""
    types, properties = terms["types"], terms["properties"]
    kind = node.get("@type", "")
    if kind not in types:
        yield f"type {kind}"
        return
    family = {kind, *types[kind]["ancestors"]}
    for key, value in node.items():
        if key.startswith("@"):
            continue
        if key not in properties:
            yield f"unknown {key}"
        elif not family & set(properties[key]["domain"]):
            yield f"{key} on {kind}"
        else:
            for one in value if isinstance(value, list) else [value]:
                yield from _out_of_range(key, one, set(properties[key]["range"]), terms)


def _out_of_range(key: str, value: Any, wanted: set[str], terms: dict[str, Any]) -> Iterator[str]:
    if isinstance(value, dict):
        kind = value.get("@type", "")
        family = {kind, *terms["types"].get(kind, {"ancestors": []})["ancestors"]}
        if not family & wanted:
            yield f"{kind} as {key}"
        yield from faults(value, terms)
        return
    fits = {
        bool: {"Boolean"},
        int: {"Number", "Integer", "Text"},
        float: {"Number", "Text"},
        str: {"Text", "URL", "Date", "DateTime"},
    }[type(value)]
    if not fits & wanted & PLAIN:
        yield f"{value!r} as {key}"
    if "Text" not in wanted and "URL" in wanted and not str(value).startswith("https://"):
        yield f"no address as {key}"
    if wanted <= {"Date", "DateTime"} and not re.fullmatch(r"\d{4}-\d\d-\d\d", str(value)):
        yield f"no date as {key}"


def test_every_page_is_described_by_known_terms(linked: dict[str, dict[str, Any]]) -> None:
    """Each node of each page keeps to the types, domains and ranges of schema.org 30.0 (19 March 2026)."""
    terms = standard(TERMS)
    found = {name: list(faults(node, terms)) for name, node in linked.items()}
    assert len(found) > 200
    assert {name: wrong for name, wrong in found.items() if wrong} == {}


def test_nothing_newer_than_the_release(linked: dict[str, dict[str, Any]]) -> None:
    """No term that came after release 30.0 is emitted."""
    newer = standard(TERMS)["not_in_release_30"]
    names = {*newer["types"], *newer["properties"]}
    assert [name for name, node in linked.items() if any(f'"{term}"' in json.dumps(node) for term in names)] == []


SLIPS = [
    ({"@type": "Product", "serialNumber": "1"}, "serialNumber on Product"),
    ({"@type": "Product", "isBasedOn": "https://a.example/"}, "isBasedOn on Product"),
    ({"@type": "Product", "hasDigitalProductPassport": "x"}, "unknown hasDigitalProductPassport"),
    ({"@type": "DigitalProductPassport"}, "type DigitalProductPassport"),
    ({"@type": "Product", "weight": "2 kg"}, "'2 kg' as weight"),
]
"""Known wrong uses, checked by hand against release 30.0."""


@pytest.mark.parametrize(("node", "said"), SLIPS, ids=[said for _, said in SLIPS])
def test_the_walk_finds_wrong_uses(node: dict[str, Any], said: str) -> None:
    """A term on the wrong type is found."""
    assert list(faults(node, standard(TERMS))) == [said]


def test_each_kind_of_page_has_its_type(linked: dict[str, dict[str, Any]]) -> None:
    """Home is a data set, a tag one product, a lot so much of one, a product a model, the rest pages."""
    assert {name: linked[name]["@type"] for name in KINDS} == KINDS


def test_a_passport_page_says_what_its_files_say(linked: dict[str, dict[str, Any]], demo: Path) -> None:
    """Masses and stated shares are the same number in JSON-LD, thing.json and passport.json."""
    seen = 0
    for file in (demo / "site" / "T").glob("*/passport.json"):
        node = linked[f"T/{file.parent.name}/index.html"]
        subject = json.loads(file.read_text())["credentialSubject"]
        plain = json.loads((file.parent / "thing.json").read_text())
        assert node["weight"]["value"] == subject["dimensions"]["weight"]["value"]
        assert node["productionDate"] == subject["productionDate"] == plain["made"]
        told = {p["propertyID"]: p["minValue"] for p in node.get("additionalProperty", ())}
        stated = {f"{s['kind']}-share-of-{s['of']}": s["at_least_percent"] for s in plain["stated_shares"]}
        claimed = {
            c["id"].partition("#recycled-content-of-")[2]: c["claimedPerformance"][0]["measure"]["value"]
            for c in subject["performanceClaim"]
        }
        assert told == stated
        assert claimed == {
            k.removeprefix("recycled-share-of-"): v for k, v in told.items() if k.startswith("recycled-")
        }
        seen += len(claimed)
    assert seen > 30


def test_the_data_set_names_files_that_are_there(linked: dict[str, dict[str, Any]], demo: Path) -> None:
    """Every download of the home page is a file of the site, the licence is the workshop's own choice."""
    node = linked["index.html"]
    site = demo / "site"
    addresses = [d["contentUrl"] for d in node["distribution"]]
    assert len(addresses) > 5
    assert [a for a in addresses if not (site / a.removeprefix("https://pass.reedmouth.example/")).is_file()] == []
    assert node["license"] == "https://creativecommons.org/licenses/by/4.0/"
