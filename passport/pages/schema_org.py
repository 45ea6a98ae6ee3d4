"""The same facts for machines: schema.org nodes for the page (release 30.0), and the passport as plain JSON.

Only terms of the release are used, each on a type that may carry it: serialNumber on IndividualProduct, not
on Product. Every number is the one the page shows, with the same rounding.
"""

from __future__ import annotations

import json
from fractions import Fraction

from passport.pages import data_tables, untp
from passport.pages.pieces import Frame
from passport.pages.scribe import FORMAT_VERSION, Scribe
from passport.reading.records import Item, Lot, Product, Workshop
from passport.verdicts import recycled
from passport.verdicts.book import ItemVerdicts
from passport.verdicts.life import Life
from passport.verdicts.recycled import Stated

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
    node: dict[str, object] = {
        "@context": CONTEXT,
        "@type": "IndividualProduct",
        "name": scribe.product(item.product).text,
        "description": description,
        "serialNumber": life.tag,
        "productionDate": item.date.isoformat(),
        "manufacturer": _maker(book.shop.kept_by("item", item.id)),
        "additionalProperty": _shares(scribe, book.of_thing(life)),
        "material": list(book.of_thing(life).marks),
        "weight": _weight(untp.mass_of_one(scribe, life)),
        "model": _model(scribe, item, address),
    }
    country = book.shop.kept_by("item", item.id).country
    if country in untp.countries():
        node["countryOfOrigin"] = {"@type": "Country", "name": country}
    if address:
        node |= {"@id": address + path, "url": address + path}
        node["subjectOf"] = _document(f"{address}{path}/thing.json", "application/json")
    return _said(node)


def _said(node: dict[str, object]) -> str:
    return compact({key: value for key, value in node.items() if value})


def _document(url: str, media_type: str) -> dict[str, str]:
    return {"@type": "CreativeWork", "url": url, "encodingFormat": media_type}


def _weight(mass_kg: Fraction | None) -> dict[str, object]:
    if mass_kg is None:
        return {}
    return {"@type": "QuantitativeValue", "value": untp.printed_kg(mass_kg), "unitCode": KILOGRAM_CODE}


def _model(scribe: Scribe, item: Item, address: str) -> dict[str, str]:
    model = {"@type": "ProductModel", "name": scribe.product(item.product).text}
    return model | ({"url": f"{address}/P/{item.product}/"} if address else {})


def lot(scribe: Scribe, lot: Lot) -> str:
    """The JSON-LD of a lot's page: so much of one material."""
    book, address = scribe.book, scribe.book.shop.workshop.address.rstrip("/")
    resin = next(iter(book.ledger.mixtures[lot.id].shares_by("resin")), "")
    weighed = book.ledger.masses[lot.id]
    node: dict[str, object] = {
        "@context": CONTEXT,
        "@type": "SomeProducts",
        "name": lot.id,
        "productID": lot.id,
        "material": resin if book.standing.proven(lot.id) else "",
        "color": lot.colour,
        "weight": _weight(weighed.value if weighed else None),
        "additionalProperty": _properties(scribe, recycled.of_node(book.ledger, lot.id).value or ()),
    }
    if lot.received is None:
        node |= {"productionDate": lot.date.isoformat(), "manufacturer": _maker(book.shop.kept_by("lot", lot.id))}
    if address:
        node |= {"@id": f"{address}/L/{lot.id}/", "url": f"{address}/L/{lot.id}/"}
    return _said(node)


def product(scribe: Scribe, product: Product) -> str:
    """The JSON-LD of a product's page: the design that its things are made to."""
    address = scribe.book.shop.workshop.address.rstrip("/")
    node: dict[str, object] = {
        "@context": CONTEXT,
        "@type": "ProductModel",
        "name": scribe.product(product.id).text,
        "description": scribe.said(product.made_for).text,
        "productID": product.id,
        "size": product.size,
        "manufacturer": _maker(scribe.book.shop.kept_by("product", product.id)),
    }
    if address:
        node |= {"@id": f"{address}/P/{product.id}/", "url": f"{address}/P/{product.id}/"}
    return _said(node)


def log(scribe: Scribe) -> str:
    """The JSON-LD of the home page: the material log as a data set, with every file of it."""
    workshop, address = scribe.book.shop.workshop, scribe.book.shop.workshop.address.rstrip("/")
    days = [lot.date for lot in scribe.book.shop.lots.values()]
    node: dict[str, object] = {
        "@context": CONTEXT,
        "@type": "Dataset",
        "name": scribe.words("tell.log_about", name=scribe.name),
        "description": scribe.words("tell.log_about", name=scribe.name),
        "creator": _maker(workshop),
        "license": data_tables.LICENCES.get(workshop.licence, ""),
        "dateModified": scribe.book.today.isoformat(),
        "temporalCoverage": f"{min(days)}/{scribe.book.today}" if days else "",
        "variableMeasured": list(data_tables.measured()),
        "isAccessibleForFree": True,
        "inLanguage": scribe.lang,
    }
    if workshop.place:
        node["spatialCoverage"] = {"@type": "Place", "name": scribe.said(workshop.place).text}
    if address:
        node |= {"@id": f"{address}/#log", "url": f"{address}/"}
        node["distribution"] = [_download(address, name) for name in data_tables.NAMES]
    return _said(node)


def _download(address: str, name: str) -> dict[str, str]:
    media_type = "text/csv" if name.endswith(".csv") else "application/json"
    return {"@type": "DataDownload", "contentUrl": f"{address}/data/{name}", "encodingFormat": media_type}


def plain_page(scribe: Scribe, frame: Frame) -> str:
    """The JSON-LD of any other page: what it is called and which site it belongs to."""
    address = scribe.book.shop.workshop.address.rstrip("/")
    site = {"@type": "WebSite", "name": scribe.name} | ({"url": f"{address}/"} if address else {})
    node: dict[str, object] = {
        "@context": CONTEXT,
        "@type": "WebPage",
        "name": frame.title,
        "description": frame.description,
        "inLanguage": frame.lang,
        "url": frame.canonical,
        "isPartOf": site,
    }
    return _said(node)


def _maker(workshop: Workshop) -> dict[str, str]:
    maker, address = {"@type": "Organization", "name": workshop.name}, workshop.address.rstrip("/")
    return maker | ({"url": address} if address else {})


def _shares(scribe: Scribe, verdicts: ItemVerdicts) -> list[dict[str, object]]:
    return _properties(scribe, (*(verdicts.recycled.value or ()), *(verdicts.whole.value or ())))


def _properties(scribe: Scribe, stated: tuple[Stated, ...]) -> list[dict[str, object]]:
    """Each stated share as a PropertyValue: the floor that the page states."""
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


def thing_document(scribe: Scribe, life: Life) -> str:
    """`thing.json`: the facts of a tag's page in our own plain form, format version inside.

    Masses in kg as text with all their decimals, shares in whole percent as stated.
    """
    book = scribe.book
    item = book.shop.items[life.item]
    verdicts, released = book.of_thing(life), book.released_thing(life)
    stream = verdicts.stream.value
    weighed = book.ledger.tag_mass(life.tag)
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
        "plastic_kg": _exact(weighed.value) if weighed else None,
        "marks": list(verdicts.marks),
        "single_stream": stream.answer.value if stream else None,
        "parts": [{"part": p.part, "resin": p.resin or None} for p in stream.parts] if stream else [],
        "stated_shares": [
            {"kind": s.kind, "of": s.share_of, "at_least_percent": s.at_least_percent}
            for s in (*(verdicts.recycled.value or ()), *(verdicts.whole.value or ()))
        ],
        "release": released.state.words,
        "doubts": sorted({p.code for p in (*book.ledger.doubts_of(item.id), *released.doubts)}),
        "recalled_by": [c.recall.id for c in book.called_back.get(life.tag, ()) if c.open],
        "became_lot": life.lot or None,
        "replaced_by": life.replaced_by or None,
        "note": "Made by the workshop from its own records; a voluntary passport, not verified from outside.",
    }
    return json.dumps(document, ensure_ascii=False, indent=1, sort_keys=True) + "\n"


def lot_document(scribe: Scribe, lot: str) -> str:
    """`lot.json`: what another workshop needs that takes this lot over (verdicts.papers reads it).

    Shares by origin class are lower bounds, rounded down, as decimal text; what they leave over is unknown.
    """
    book = scribe.book
    released = book.released(lot)
    mixture, weighed = book.ledger.mixtures[lot], book.ledger.masses.get(lot)
    resin = next(iter(mixture.shares_by("resin")), "")
    document = {
        "format": FORMAT_VERSION,
        "lot": lot,
        "workshop": scribe.name,
        "records_up_to": book.today.isoformat(),
        "mass_kg": _exact(weighed.value) if weighed else None,
        "resin": resin if book.standing.proven(lot) and resin else None,
        "origin_at_least": {name: _floored(s.low) for name, s in mixture.shares_by("origin").items() if s.low},
        "release": released.state.words,
        "doubts": sorted({p.code for p in (*book.ledger.doubts_of(lot), *released.doubts)}),
        "note": "Made by the workshop from its own records; not verified from outside.",
    }
    return json.dumps(document, ensure_ascii=False, indent=1, sort_keys=True) + "\n"


def _floored(share: Fraction) -> str:
    """A share rounded down to six places, so that several never add up to more than all."""
    millionths = share * 1_000_000 // 1
    return f"{millionths // 1_000_000}.{millionths % 1_000_000:06}"


def _exact(mass_kg: Fraction) -> str:
    """Kilograms to the tenth of a gram, as text."""
    return f"{float(mass_kg):.4f}"
