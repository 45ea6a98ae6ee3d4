"""A tag's passport in the UN/CEFACT vocabulary: UNTP Digital Product Passport 0.7.0 (2 April 2026), unsigned.

Nothing is guessed: without an address, a country or a commodity code in the records no such file is written, and
the page says which of them is missing. Shares of mass are 0 to 1 and add up to 1; percentages (P1) are 0 to 100.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction
from functools import cache
from importlib.resources import files
from urllib.parse import urlsplit

from passport.amounts import largest_remainder
from passport.massflow.ingredients import RECYCLED, UNKNOWN
from passport.massflow.recycled import item_masses
from passport.material.resins import resins
from passport.pages.json_text import indented
from passport.pages.scribe import FORMAT_VERSION, Scribe
from passport.reading.records import Hardware, Item, Product
from passport.verdicts.life import Life
from passport.verdicts.recycled import Stated
from passport.verdicts.single_stream import Stream

VERSION = "0.7.0"
CONTEXTS = ("https://www.w3.org/ns/credentials/v2", f"https://vocabulary.uncefact.org/untp/{VERSION}/context/")
"""Exactly these, in this order (the schema fixes both)."""
VOCABULARY = "https://vocabulary.uncefact.org"
UNNAMED_COUNTRY = "ZZ"
"""User-assigned in ISO 3166-1, for material whose country nobody recorded; its name says so."""
KILOGRAM, PERCENT = "KGM", "P1"
LENGTH_UNITS = {"mm": "MMT", "cm": "CMT", "m": "MTR"}
"""Unit codes of UNECE Recommendation 20."""
SHARE_PLACES = 4
_NO_COUNTRY = " (country not recorded)"
_SIZE = re.compile(r"([0-9.]+) × ([0-9.]+) × ([0-9.]+) (mm|cm|m)")
_NOT_SIGNED = "Unsigned. Made by the workshop from its own records; a voluntary passport, not checked from outside."
Json = dict[str, object]


# --- may it be written --------------------------------------------------------------------------------


def lacking(scribe: Scribe, life: Life) -> str:
    """What the records lack for this file: "address", "country", "country_code", "commodity_code", or ""."""
    shop = scribe.book.shop
    workshop = shop.workshop
    if not workshop.address:
        return "address"
    maker = shop.kept_by("item", life.item)
    if not maker.country:
        return "country"
    if maker.country not in countries():
        return "country_code"
    return "" if shop.products[shop.items[life.item].product].commodity_code else "commodity_code"


@cache
def countries() -> frozenset[str]:
    """The codes of ISO 3166-1 alpha-2."""
    lines = files(__package__).joinpath("countries.txt").read_text(encoding="ascii").splitlines()
    return frozenset(code for line in lines if not line.startswith("#") for code in line.split())


@cache
def _headings() -> dict[str, str]:
    text = files(__package__).joinpath("headings.csv").read_text(encoding="utf-8")
    return {row["code"]: row["name"] for row in csv.DictReader(text.splitlines())}


def did(address: str) -> str:
    """The workshop's identifier by the did:web method: host, port as %3A, path by colons."""
    at = urlsplit(address)
    return ":".join(["did:web", at.netloc.replace(":", "%3A"), *filter(None, at.path.split("/"))])


def did_document(address: str) -> tuple[str, str]:
    """Path and text of the document that the identifier leads to; it holds no key, since nothing is signed."""
    name = "did.json" if urlsplit(address).path.strip("/") else ".well-known/did.json"
    return name, _text({"@context": ["https://www.w3.org/ns/did/v1"], "id": did(address)})


# --- the passport -------------------------------------------------------------------------------------


def passport(scribe: Scribe, life: Life) -> str:
    """The whole document as text. Call it only where `lacking` finds nothing."""
    page = f"{_address(scribe)}/T/{life.tag}/"
    return _text(
        {
            "@context": list(CONTEXTS),
            "type": ["DigitalProductPassport", "VerifiableCredential"],
            "id": f"{page}passport.json",
            "issuer": {"type": ["CredentialIssuer"], "id": did(_address(scribe)), "name": scribe.name},
            "validFrom": f"{life.issued.isoformat()}T00:00:00Z",
            "name": f"{life.tag} {scribe.product(scribe.book.shop.items[life.item].product).text}",
            "credentialSubject": _subject(scribe, life, page),
        }
    )


def _text(document: Json) -> str:
    return indented(document) + "\n"


def _address(scribe: Scribe) -> str:
    return scribe.book.shop.workshop.address.rstrip("/")


def _subject(scribe: Scribe, life: Life, page: str) -> Json:
    host = _address(scribe)
    item = scribe.book.shop.items[life.item]
    product = scribe.book.shop.products[item.product]
    workshop = scribe.book.shop.kept_by("item", item.id)
    home = workshop.address.rstrip("/") or host
    maker = {"type": ["Party"], "id": did(home), "name": workshop.name, "organisationWebsite": f"{home}/"}
    return {
        "type": ["Product"],
        "id": page,
        "name": scribe.product(item.product).text,
        "description": _NOT_SIGNED,
        "idScheme": {"type": ["IdentifierScheme"], "id": f"{host}/T/", "name": f"Tag numbers of {workshop.name}"},
        "modelNumber": item.product,
        "batchNumber": item.id,
        "itemNumber": life.tag,
        "idGranularity": "item",
        "characteristics": _characteristics(scribe, life),
        "productCategory": [_category(host, product.commodity_code)],
        "relatedDocument": list(_documents(page)),
        "relatedParty": [{"role": "manufacturer", "party": maker}],
        "producedAtFacility": {"type": ["Facility"], "id": f"{home}/#workshop", "name": workshop.name},
        "productionDate": item.date.isoformat(),
        "countryOfProduction": {"countryCode": workshop.country},
        "dimensions": _dimensions(scribe, life, product),
        "materialProvenance": list(provenance(scribe, life)),
        "performanceClaim": [_claim(scribe, page, stated) for stated in _claims(scribe, life)],
    }


def _characteristics(scribe: Scribe, life: Life) -> Json:
    """What the vocabulary has no place for; the header of EN 18223:2026 is complete with these."""
    verdicts = scribe.book.of_thing(life)
    return {
        "passportFormat": FORMAT_VERSION,
        "passportStatus": life.stage.value,
        "lastUpdate": scribe.book.today.isoformat(),
        "materialMarks": list(verdicts.marks),
        "singleStream": verdicts.stream.value.answer.value if verdicts.stream.value else "",
    }


def _category(host: str, code: str) -> Json:
    heading = _headings().get(code.partition(".")[0], f"Heading {code}")
    return {"code": code, "name": heading, "schemeId": f"{host}/P/", "schemeName": "Harmonized System"}


def _documents(page: str) -> Iterator[Json]:
    yield {"linkURL": page, "linkName": "Care, taking apart, bringing back", "mediaType": "text/html"}
    yield {"linkURL": f"{page}thing.json", "linkName": "All facts of the page", "mediaType": "application/json"}


def _dimensions(scribe: Scribe, life: Life, product: Product) -> Json:
    found: Json = {}
    mass = mass_of_one(scribe, life)
    if mass is not None:
        found["weight"] = {"value": printed_kg(mass), "unit": KILOGRAM}
    size = _SIZE.fullmatch(product.size)
    if size:
        for name, value in zip(("length", "width", "height"), size.groups()[:3], strict=True):
            found[name] = {"value": float(value), "unit": LENGTH_UNITS[size[4]]}
    return found


def mass_of_one(scribe: Scribe, life: Life) -> Fraction | None:
    """Kilograms of one thing with its hardware, as it is now; None where its plastic was not weighed."""
    item, plastic = scribe.book.shop.items[life.item], scribe.book.ledger.tag_mass(life.tag)
    masses = item_masses(scribe.book.ledger, item.id)
    if masses is None or plastic is None:
        return None
    return plastic.value + (masses.plastic_hardware.value + masses.other_hardware.value) / item.count.pieces


def printed_kg(mass_kg: Fraction) -> float:
    """Kilograms as the page prints them: whole grams below a kilogram, else tenths of a kilogram, half up."""
    step = Fraction(1, 1000) if mass_kg < 1 else Fraction(1, 10)
    return float(((mass_kg / step + Fraction(1, 2)) // 1) * step)


# --- where the material came from ---------------------------------------------------------------------


def provenance(scribe: Scribe, life: Life) -> Iterator[Json]:
    """One entry for each stream, resin and kind of origin, hardware last; the fractions add up to exactly 1.

    A stream of mixed origin gives an entry that is recycled (1) and one that is not (0); of unknown origin neither
    is said. Own regrind brings the shares of its run, so that it never raises the recycled content.
    """
    plastic, hardware = _plastic(scribe, life), _hardware(scribe, life)
    entries = [*plastic, *hardware]
    fractions = largest_remainder([share for share, _ in entries], SHARE_PLACES)
    for fraction, (_, entry) in zip(fractions, entries, strict=True):
        if fraction:
            yield entry | {"massFraction": _plain(fraction)}


def _plain(value: Decimal) -> float | int:
    return int(value) if value == int(value) else float(value)


def _plastic(scribe: Scribe, life: Life) -> list[tuple[Fraction, Json]]:
    found: dict[tuple[str, str, int], Fraction] = {}
    mixture = scribe.book.ledger.tag_mixture(life.tag) or scribe.book.ledger.mixtures[life.item]
    for ingredient, share in mixture.portions.items():
        recycled = -1 if ingredient.origin == UNKNOWN else int(ingredient.origin in RECYCLED)
        key = (ingredient.stream, ingredient.resin, recycled)
        found[key] = found.get(key, Fraction(0)) + share
    part = 1 - sum((share for share, _ in _hardware(scribe, life)), Fraction(0))
    ordered = sorted(found.items(), key=lambda pair: (-pair[1], pair[0]))
    found_stream = scribe.book.of_thing(life).stream.value
    repaired = life.tag in scribe.book.repaired
    open_ = found_stream is None or found_stream.answer is Stream.NOT_ESTABLISHED
    proven = not open_ if repaired else scribe.book.standing.proven(life.item)
    return [(share * part, _source(scribe, *key, proven=proven)) for key, share in ordered]


def _source(scribe: Scribe, stream: str, resin: str, recycled: int, *, proven: bool) -> Json:
    known = scribe.book.shop.streams.get(stream)
    country = known.country if known and known.country in countries() else UNNAMED_COUNTRY
    name = scribe.stream(stream).text + ("" if country != UNNAMED_COUNTRY else _NO_COUNTRY)
    kind = _resin(scribe, resin, proven=proven)
    entry: Json = {"name": name, "originCountry": {"countryCode": country}, "materialType": kind}
    return entry if recycled < 0 else entry | {"recycledMassFraction": recycled}


def _resin(scribe: Scribe, symbol: str, *, proven: bool) -> Json:
    """A resin by its symbol; the name says where the thing's material is not established as a whole."""
    if symbol not in resins():
        return _own_word(scribe, symbol, scribe.words("tell.unproven"))
    return {
        "code": symbol,
        "name": scribe.resin_name(symbol) + ("" if proven else " (by the books, not established)"),
        "schemeId": f"{_address(scribe)}/R/",
        "schemeName": "ISO 1043-1 abbreviated terms",
    }


def _own_word(scribe: Scribe, code: str, name: str) -> Json:
    host = _address(scribe)
    return {"code": code, "name": name, "schemeId": f"{host}/method/", "schemeName": f"Words of {scribe.name}"}


def _hardware(scribe: Scribe, life: Life) -> list[tuple[Fraction, Json]]:
    """Screws and the like: nobody recorded where they come from, nor whether they were recycled."""
    item, whole = scribe.book.shop.items[life.item], mass_of_one(scribe, life)
    if not whole:
        return []
    return [(_kg_each(part, item) / whole, _bought(scribe, part)) for part in item.hardware]


def _kg_each(part: Hardware, item: Item) -> Fraction:
    mass = Fraction(part.mass.mass_kg)
    return mass if part.mass.each else mass / item.count.pieces


def _bought(scribe: Scribe, part: Hardware) -> Json:
    kind = _own_word(scribe, part.material, part.material)
    name = scribe.said(part.what).text + _NO_COUNTRY
    return {"name": name, "originCountry": {"countryCode": UNNAMED_COUNTRY}, "materialType": kind}


# --- claims -------------------------------------------------------------------------------------------


def _claims(scribe: Scribe, life: Life) -> Iterator[Stated]:
    """Recycled content as the page states it; the vocabulary has no metric for its post-consumer part."""
    verdicts = scribe.book.of_thing(life)
    for stated in (*(verdicts.recycled.value or ()), *(verdicts.whole.value or ())):
        if stated.kind == "recycled":
            yield stated


def _claim(scribe: Scribe, page: str, stated: Stated) -> Json:
    host = _address(scribe)
    about = f"{scribe.words('tell.kind.recycled')}, {scribe.words(f'tell.of_{stated.share_of}')}"
    metric = {
        "type": ["PerformanceMetric"],
        "id": f"{VOCABULARY}/performance-metrics/recycled-content-percentage",
        "name": "Recycled Content Percentage",
    }
    topic = {
        "type": ["ConformityTopic"],
        "id": f"{VOCABULARY}/conformity-topics/recycled-material-integration",
        "name": "Recycled Material Integration",
    }
    return {
        "type": ["Claim"],
        "id": f"{page}#recycled-content-of-{stated.share_of}",
        "name": f"{about}: at least",
        "description": f"Lower bound by mass balance, {scribe.uncertainty(stated)}. {_NOT_SIGNED}",
        "referenceCriteria": [
            {"type": ["Criterion"], "id": f"{host}/method/#recycled-content", "name": "Recycled content by mass"}
        ],
        "referenceStandard": [{"type": ["Standard"], "id": "urn:iso:std:iso:14021", "name": "ISO 14021:2016"}],
        "claimDate": scribe.book.today.isoformat(),
        "claimedPerformance": [{"metric": metric, "measure": {"value": stated.at_least_percent, "unit": PERCENT}}],
        "conformityTopic": [topic],
    }
