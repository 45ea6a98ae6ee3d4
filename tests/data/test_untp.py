"""`passport.json` against the UN/CEFACT schema 0.7.0, and against what that schema lets pass."""

from __future__ import annotations

import copy
import json
import re
import shutil
from collections.abc import Callable, Iterator
from datetime import date
from fractions import Fraction
from pathlib import Path
from typing import Any

import html5lib
import pytest
from jsonschema import Draft202012Validator
from shared import STANDARDS, standard

from passport.massflow.composition import tag_node
from passport.massflow.recycled import of_item, of_plastic
from passport.massflow.trace import sources_of
from passport.pages import untp
from passport.reading.folder import read_shop
from passport.verdicts.book import Book, work_out

SCHEMA = "untp/0.7.0/DigitalProductPassport.schema.json"
REC_20 = frozenset(["KGM", "GRM", "TNE", "MMT", "CMT", "MTR", "LTR", "P1", "C62", "H87", "KMQ", "23", "CEL"])
"""UNECE Recommendation 20, the codes that a workshop has use for (OASIS UBL 2.3 copy of the list)."""
USER_ASSIGNED = frozenset({"ZZ", "XX"})
"""ISO 3166-1 leaves AA, QM to QZ, XA to XZ and ZZ to users."""
TYPED = {
    "issuer": "CredentialIssuer",
    "credentialSubject": "Product",
    "idScheme": "IdentifierScheme",
    "producedAtFacility": "Facility",
    "party": "Party",
    "performanceClaim": "Claim",
    "referenceCriteria": "Criterion",
    "referenceStandard": "Standard",
    "metric": "PerformanceMetric",
    "conformityTopic": "ConformityTopic",
}
"""Where the schema has a `type` that it does not ask for, and what it holds (defaults of the schema)."""
HARDWARE = tuple(f"{what} (country not recorded)" for what in ("screws", "bolts", "hooks"))
Json = dict[str, Any]


@pytest.fixture(scope="module")
def passports(demo: Path) -> dict[str, Json]:
    """Every published passport by its tag."""
    files = sorted((demo / "site" / "T").glob("*/passport.json"))
    return {file.parent.name: json.loads(file.read_text(encoding="utf-8")) for file in files}


@pytest.fixture(scope="module")
def book(demo: Path) -> Book:
    """The demo worked out."""
    shop, _ = read_shop(demo / "content")
    assert shop is not None
    return work_out(shop)


@pytest.fixture(scope="module")
def schema() -> Draft202012Validator:
    """The publisher's schema; without formats a bare date would pass as a moment."""
    return Draft202012Validator(standard(SCHEMA), format_checker=Draft202012Validator.FORMAT_CHECKER)


def walked(value: Any, key: str = "") -> Iterator[tuple[str, Json]]:
    """Every object of a document with the key it stands under."""
    if isinstance(value, list):
        for one in value:
            yield from walked(one, key)
    elif isinstance(value, dict):
        yield key, value
        for name, one in value.items():
            yield from walked(one, name)


def slips(document: Json) -> set[str]:
    """What is wrong although the schema lets it pass (UNTP 0.7.0 text; each was tried against the schema)."""
    found = set()
    for key, node in walked(document):
        if key in TYPED and TYPED[key] not in node.get("type", ()):
            found.add("type")
        if "unit" in node and node["unit"] not in REC_20:
            found.add("unit")
        if "countryCode" in node and node["countryCode"] not in untp.countries() | USER_ASSIGNED:
            found.add("country")
        if node.get("hazardous") and "materialSafetyInformation" not in node:
            found.add("hazardous")
        if node.get("unit") == "P1" and not (node["value"] == 0 or 1 <= node["value"] <= 100):
            found.add("percent")
    if not {"DigitalProductPassport", "VerifiableCredential"} <= set(document.get("type", ())):
        found.add("type")
    if not document["issuer"]["id"].startswith("did:"):
        found.add("issuer")
    fractions = [Fraction(str(m["massFraction"])) for m in document["credentialSubject"]["materialProvenance"]]
    if sum(fractions) != 1:
        found.add("fractions")
    return found


def test_every_tag_has_one(passports: dict[str, Json], book: Book) -> None:
    """Each issued tag has a passport under its own address."""
    assert sorted(passports) == sorted(book.lives)
    for tag, document in passports.items():
        assert document["credentialSubject"]["id"].endswith(f"/T/{tag}/")
        assert document["credentialSubject"]["itemNumber"] == tag


def test_valid_by_the_schema(passports: dict[str, Json], schema: Draft202012Validator) -> None:
    """Every passport of the demo is valid against the publisher's schema 0.7.0, formats checked."""
    found = {tag: [e.message for e in schema.iter_errors(document)] for tag, document in passports.items()}
    assert {tag: errors for tag, errors in found.items() if errors} == {}


def test_without_the_slips_that_the_schema_lets_pass(passports: dict[str, Json]) -> None:
    """Units, countries, issuer, types, percentages and sums of fractions are right in every passport."""
    assert {tag: found for tag, document in passports.items() if (found := slips(document))} == {}


def _set(path: str, value: Any) -> Callable[[Json], None]:
    def change(document: Json) -> None:
        *steps, last = (int(s) if s.isdigit() else s for s in path.split("."))
        node: Any = document
        for step in steps:
            node = node[step]
        if value is None:
            del node[last]
        else:
            node[last] = value

    return change


BROKEN = [
    ("unit", _set("credentialSubject.dimensions.weight.unit", "kg")),
    ("hazardous", _set("credentialSubject.materialProvenance.0.hazardous", value=True)),
    ("fractions", _set("credentialSubject.materialProvenance.0.massFraction", 0.3)),
    ("country", _set("credentialSubject.countryOfProduction.countryCode", "AUT")),
    ("issuer", _set("issuer.id", "https://yard.example")),
    ("type", _set("issuer.type", None)),
    ("percent", _set("credentialSubject.performanceClaim.0.claimedPerformance.0.measure.value", 0.98)),
]


@pytest.mark.parametrize(("slip", "change"), BROKEN, ids=[name for name, _ in BROKEN])
def test_our_own_checks_find_what_the_schema_lets_pass(
    passports: dict[str, Json], schema: Draft202012Validator, slip: str, change: Callable[[Json], None]
) -> None:
    """A planted slip stays valid by the schema, and our check names it."""
    document = copy.deepcopy(passports["RY-22222Q"])
    change(document)
    assert list(schema.iter_errors(document)) == []
    assert slips(document) == {slip}


def test_the_publishers_vocabularies_know_our_terms(passports: dict[str, Json]) -> None:
    """Metric and topic of each claim are defined in the publisher's lists, and the metric is told in P1."""
    metrics = {e.get("id") or e.get("@id"): e for e in _graph(standard("untp/0.7.0/untp-metrics.jsonld"))}
    topics = {e.get("id") or e.get("@id") for e in _graph(standard("untp/0.7.0/untp-topics.jsonld"))}
    met = {
        (c["claimedPerformance"][0]["metric"]["id"], c["conformityTopic"][0]["id"])
        for document in passports.values()
        for c in document["credentialSubject"]["performanceClaim"]
    }
    assert len(met) == 1
    metric, topic = met.pop()
    assert _short(metric) in {_short(name) for name in metrics if name}
    assert _short(topic) in {_short(name) for name in topics if name}


def _graph(document: Json) -> list[Json]:
    return [node for _, node in walked(document)]


def _short(iri: str) -> str:
    return re.split(r"[:/#]", iri)[-1]


def test_fractions_are_those_of_the_trace(passports: dict[str, Json], book: Book) -> None:
    """The plastic of each stream is, to the fourth decimal, what the trace back to received lots gives."""
    for tag, document in passports.items():
        node = tag_node(tag) if tag in book.ledger.repaired else book.lives[tag].item
        entries = document["credentialSubject"]["materialProvenance"]
        plastic = [e for e in entries if not e["name"].endswith(HARDWARE)]
        part = sum(Fraction(str(e["massFraction"])) for e in plastic)
        traced: dict[str, Fraction] = {}
        for origin in sources_of(book.ledger, node):
            stream = book.shop.streams.get(origin.stream)
            name = stream.title.said("en", "en")[0] if stream else ""
            traced[name] = traced.get(name, Fraction(0)) + origin.share * part
        met: dict[str, Fraction] = {}
        for entry in plastic:
            name = entry["name"].removesuffix(" (country not recorded)")
            name = name if name in traced else ""
            met[name] = met.get(name, Fraction(0)) + Fraction(str(entry["massFraction"]))
        assert all(abs(met.get(name, 0) - share) < Fraction(3, 10000) for name, share in traced.items()), tag


def test_recycled_content_is_the_sum_of_the_entries(passports: dict[str, Json], book: Book) -> None:
    """Σ massFraction × recycledMassFraction is the recycled share of the whole thing (UNTP 0.7.0, Material)."""
    for tag, document in passports.items():
        entries = document["credentialSubject"]["materialProvenance"]
        told = sum(
            (Fraction(str(e["massFraction"])) * Fraction(str(e.get("recycledMassFraction", 0))) for e in entries),
            Fraction(0),
        )
        item = book.lives[tag].item
        share = of_item(book.ledger, item) or of_plastic(book.ledger, item)
        assert abs(told - share.value) < Fraction(len(entries), 10000), tag


def test_a_mixed_stream_is_two_entries(passports: dict[str, Json]) -> None:
    """Bought pellets, 80 % post-consumer by their paper, are one recycled entry and one that is not, 4 to 1."""
    found = 0
    for document in passports.values():
        bought = [
            e for e in document["credentialSubject"]["materialProvenance"] if e["name"].startswith("Bought pellets")
        ]
        if bought:
            found += 1
            by = {e["recycledMassFraction"]: Fraction(str(e["massFraction"])) for e in bought}
            assert set(by) == {0, 1}
            assert abs(by[1] - 4 * by[0]) <= Fraction(5, 10000)
    assert found


def test_our_own_example_closes() -> None:
    """The example beside the schema: 0.588 + 0.392 × 0.98 = 0.97216, told as 97.2 (computed by hand)."""
    example = standard("untp/our-example/planter-passport.json")
    assert slips(example) == set()
    entries = example["credentialSubject"]["materialProvenance"]
    told = sum(Fraction(str(e["massFraction"])) * Fraction(str(e["recycledMassFraction"])) for e in entries)
    assert told == Fraction("0.97216")


def test_claims_are_the_floors_on_the_page(passports: dict[str, Json], book: Book, demo: Path) -> None:
    """Each claimed percentage, and the mass, stands on the whole page of the thing as it is."""
    claims = 0
    for tag in (tag for tag, life in book.lives.items() if life.open):
        text = page_text(demo / "site" / "T" / tag / "index.html")
        subject = passports[tag]["credentialSubject"]
        for claim in subject["performanceClaim"]:
            claims += 1
            assert f"{claim['claimedPerformance'][0]['measure']['value']}%" in text.replace(" %", "%"), tag
        kg = Fraction(str(subject["dimensions"]["weight"]["value"]))
        assert (f"{float(kg):.1f} kg" if kg >= 1 else f"{int(kg * 1000)} g") in text, tag
    assert claims > 30


def page_text(file: Path) -> str:
    """The words of a page, with plain spaces and without its scripts."""
    parsed = html5lib.parse(file.read_text(encoding="utf-8"), namespaceHTMLElements=False)
    for script in parsed.iter("script"):
        script.text = ""
    return re.sub(r"\s+", " ", " ".join(parsed.itertext()))


def test_it_says_that_it_is_unsigned(passports: dict[str, Json]) -> None:
    """No passport holds a proof, and each says so of itself and of its claims."""
    for document in passports.values():
        assert "proof" not in document
        assert document["credentialSubject"]["description"].startswith("Unsigned.")
        assert all("Unsigned." in c["description"] for c in document["credentialSubject"]["performanceClaim"])


LACKS = {
    "country": ("workshop.yaml", "country: IE\n", "", "the workshop's record lacks its country"),
    "country_code": ("workshop.yaml", "country: IE", "country: QQ", "is no code of ISO 3166-1"),
    "address": ("workshop.yaml", "address: https://pass.reedmouth.example\n", "", "lacks its web address"),
    "commodity_code": ("products/planter.yaml", "commodity_code: 3926\n", "", "lacks its commodity code"),
}


@pytest.mark.parametrize("lack", list(LACKS))
def test_nothing_is_guessed(demo: Path, cli, tmp_path: Path, lack: str) -> None:
    """Where the records lack what the file needs none is written, and the page says why, in both languages."""
    name, old, new, said = LACKS[lack]
    shutil.copytree(demo / "content", tmp_path / "content")
    record = tmp_path / "content" / name
    text = record.read_text(encoding="utf-8")
    assert old in text
    record.write_text(text.replace(old, new), encoding="utf-8")
    done = cli("publish", "--folder", tmp_path)
    assert done.returncode == 0, done.stderr
    folder = tmp_path / "site" / "T" / "RY-22222Q"
    assert not (folder / "passport.json").exists()
    assert (folder / "thing.json").exists()
    page = page_text(folder / "index.html")
    assert said in page
    assert "passport.json" not in (folder / "index.html").read_text().split("<footer>")[0]
    assert "Pas de passport.json" in page_text(folder / "FR" / "index.html")
    others = list((tmp_path / "site" / "T").glob("*/passport.json"))
    assert bool(others) == (lack == "commodity_code")


def test_countries_are_those_of_the_time_zone_list() -> None:
    """Our list is that of the public-domain time-zone database, where this machine has it."""
    table = Path("/usr/share/zoneinfo/iso3166.tab")
    if not table.is_file():
        pytest.skip("this machine has no time-zone database with a country list")
    codes = {line.split("\t")[0] for line in table.read_text().splitlines() if line and not line.startswith("#")}
    assert untp.countries() == codes


@pytest.mark.parametrize(
    ("address", "said"),
    [
        # did:web method specification, "Create (Register)": colons for slashes, %3A for the port's colon
        ("https://w3c-ccg.github.io", "did:web:w3c-ccg.github.io"),
        ("https://w3c-ccg.github.io/user/alice", "did:web:w3c-ccg.github.io:user:alice"),
        ("https://example.com:3000/user/alice", "did:web:example.com%3A3000:user:alice"),
    ],
)
def test_identifiers_by_web_address(address: str, said: str) -> None:
    """The examples of the did:web specification come out as printed there."""
    assert untp.did(address) == said


@pytest.mark.parametrize(
    ("address", "name"),
    [
        # did:web method specification, "Read (Resolve)": /.well-known only where the identifier has no path
        ("https://yard.example", ".well-known/did.json"),
        ("https://town.example/yard", "did.json"),
    ],
)
def test_where_the_identifier_is_looked_up(address: str, name: str) -> None:
    """The document lies where a reader of did:web looks: below the site's own folder."""
    assert untp.did_document(address)[0] == name


def test_the_identifier_leads_somewhere(demo: Path, passports: dict[str, Json]) -> None:
    """The issuer's identifier resolves to a document of the site that names the same identifier, and holds no key."""
    document = json.loads((demo / "site" / ".well-known" / "did.json").read_text())
    assert {d["issuer"]["id"] for d in passports.values()} == {document["id"]}
    assert set(document) == {"@context", "id"}


@pytest.mark.parametrize(
    ("mass", "value"), [("0.4444", 0.444), ("0.4445", 0.445), ("0.9999", 1.0), ("11.84", 11.8), ("11.85", 11.9)]
)
def test_masses_are_rounded_as_printed(mass: str, value: float) -> None:
    """Whole grams below a kilogram, tenths of a kilogram above, half up."""
    assert untp.printed_kg(Fraction(mass)) == value


def test_dates_are_the_records(passports: dict[str, Json], book: Book) -> None:
    """A passport is valid from the day of issue and made on the batch's day; no clock is in it."""
    for tag, document in passports.items():
        life = book.lives[tag]
        assert date.fromisoformat(document["validFrom"][:10]) == life.issued
        assert document["credentialSubject"]["productionDate"] == book.shop.items[life.item].date.isoformat()


def test_the_standards_folder_is_where_we_look() -> None:
    """Where the folder of standards is beside the tree, the schema is in it."""
    if not STANDARDS.is_dir():
        pytest.skip("shared/standards is not beside the source tree")
    assert (STANDARDS / SCHEMA).is_file()
