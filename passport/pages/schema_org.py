"""The same facts for machines: schema.org nodes for the page (release 30.0), and the passport as plain JSON.

Only terms of the release are used, each on a type that may carry it: serialNumber on IndividualProduct, not
on Product. Every number is the one the page shows, with the same rounding.
"""

from __future__ import annotations

import json
from fractions import Fraction

from passport.pages.scribe import FORMAT_VERSION, Scribe
from passport.verdicts.life import Life

CONTEXT = "https://schema.org"
PERCENT_CODE, KILOGRAM_CODE = "P1", "KGM"
"""Unit codes of UNECE Recommendation 20."""


def compact(data: object) -> str:
    """JSON on one line with sorted keys, so that equal facts give equal bytes."""
    return json.dumps(data, ensure_ascii=False, sort_keys=True, separators=(",", ":"))


def thing(scribe: Scribe, life: Life, description: str) -> str:
    """The JSON-LD of a tag's page."""
    book = scribe.book
    item = book.shop.items[life.item]
    address = book.shop.workshop.address.rstrip("/")
    path = f"/T/{life.tag}"
    node = {
        "@context": CONTEXT,
        "@type": "IndividualProduct",
        "name": scribe.product(item.product).text,
        "description": description,
        "serialNumber": life.tag,
        "productionDate": item.date.isoformat(),
        "manufacturer": _maker(scribe, address),
        "additionalProperty": _shares(scribe, item.id),
        "material": list(book.items[item.id].marks),
    }
    if address:
        node |= {"@id": address + path, "url": address + path}
    return compact({key: value for key, value in node.items() if value})


def _maker(scribe: Scribe, address: str) -> dict[str, str]:
    maker = {"@type": "Organization", "name": scribe.name}
    return maker | ({"url": address} if address else {})


def _shares(scribe: Scribe, item: str) -> list[dict[str, object]]:
    """Each stated share as a PropertyValue: the floor that the page states, the mixed value as its best estimate."""
    verdicts = scribe.book.items[item]
    stated = [*(verdicts.recycled.value or ()), *(verdicts.whole.value or ())]
    return [
        {
            "@type": "PropertyValue",
            "propertyID": f"{s.kind}-share-of-{s.share_of}",
            "name": f"{scribe.words(f'tell.kind.{s.kind}')} {scribe.words(f'tell.of_{s.share_of}')}",
            "minValue": s.at_least_percent,
            "unitCode": PERCENT_CODE,
            "measurementTechnique": "mass balance over weighed lots",
        }
        for s in stated
    ]


def passport_document(scribe: Scribe, life: Life) -> str:
    """`passport.json`: the facts of a tag's page in our own plain form, format version inside.

    Masses in kg as text with all their decimals, shares in whole percent as stated.
    """
    book = scribe.book
    item = book.shop.items[life.item]
    verdicts = book.items[item.id]
    stream = verdicts.stream.value
    weighed = book.ledger.masses.get(item.id)
    document = {
        "format": FORMAT_VERSION,
        "tag": life.tag,
        "stage": life.stage.value,
        "workshop": scribe.name,
        "product": scribe.product(item.product).text,
        "batch": item.id,
        "piece": life.piece,
        "made": item.date.isoformat(),
        "records_up_to": book.today.isoformat(),
        "plastic_kg": _exact(weighed.value / item.count.pieces) if weighed else None,
        "marks": list(verdicts.marks),
        "single_stream": stream.answer.value if stream else None,
        "parts": [{"part": p.part, "resin": p.resin or None} for p in stream.parts] if stream else [],
        "stated_shares": [
            {"kind": s.kind, "of": s.share_of, "at_least_percent": s.at_least_percent}
            for s in (*(verdicts.recycled.value or ()), *(verdicts.whole.value or ()))
        ],
        "doubts": sorted({problem.code for problem in book.ledger.doubts_of(item.id)}),
        "became_lot": life.lot or None,
        "replaced_by": life.replaced_by or None,
        "note": "Made by the workshop from its own records; a voluntary passport, not verified from outside.",
    }
    return json.dumps(document, ensure_ascii=False, indent=1, sort_keys=True) + "\n"


def _exact(mass_kg: Fraction) -> str:
    """Kilograms to the tenth of a gram, as text."""
    return f"{float(mass_kg):.4f}"
