"""Shops built in code from texts, as people write them in records."""

from datetime import date

from passport.problems import NOWHERE
from passport.reading.decode import adapter
from passport.reading.records import AnyEvent, Item, Lot, Product, Run, Stream, Workshop
from passport.reading.shop import Shop
from passport.reading.tag_lists import IssuedTag

SCALES = {
    "floor": {"step": "0.1 kg", "repeat": "0.1 kg", "bias": "0.1 kg"},
    "bench": {"step": "1 g", "repeat": "1 g", "bias": "1 g"},
}
DAY = "2026-04-11"


def shop(*, lots=None, runs=None, items=None, streams=None, events=(), tags=None, scales=SCALES) -> Shop:
    """A shop of records given as trees of text; a lot's `stream` is made where it is missing."""
    workshop = adapter(Workshop).validate_python({"name": "Reedmouth Yard", "prefix": "RY", "scales": scales})
    default = {
        "POST": "post-consumer",
        "PRE": "pre-consumer",
        "VIRGIN": "virgin",
        "UNKNOWN": "unknown",
        "MASTERBATCH": "additive",
    }
    kinds = {**default, **(streams or {})}
    return Shop(
        workshop=workshop,
        streams={k: _read(Stream, k, {"title": k, "origin": v}) for k, v in sorted(kinds.items())},
        lots={k: _read(Lot, k, v) for k, v in sorted((lots or {}).items())},
        runs={k: _read(Run, k, v) for k, v in sorted((runs or {}).items())},
        products={"PLANTER": _read(Product, "PLANTER", {"title": "Planter", "made_for": "plants"})},
        items={k: _read(Item, k, v) for k, v in sorted((items or {}).items())},
        events=tuple(
            adapter(AnyEvent).validate_python({"file": "events/2026.yaml", "number": i, **event})
            for i, event in enumerate(sorted(events, key=lambda e: e["date"]))
        ),
        issued=tuple(
            IssuedTag(tag=tag, item=item, piece=i, issued=date(2026, 5, 20), seal="0" * 8, place=NOWHERE)
            for i, (tag, item) in enumerate((tags or {}).items(), start=1)
        ),
    )


def received(mass, stream="POST", **more):
    """A received lot."""
    return {"date": DAY, "received": {"stream": stream}, "mass": mass, **more}


def drawing(mass, *draws, operation="blend", **more):
    """A lot in the short form; each draw is (lot, mass) or a whole tree."""
    trees = [d if isinstance(d, dict) else {"lot": d[0], "mass": d[1]} for d in draws]
    return {"date": "2026-04-20", "operation": operation, "draws": trees, "mass": mass, **more}


def result(run, mass, **more):
    """A lot that a run of the long form yields."""
    return {"date": "2026-04-20", "run": run, "mass": mass, **more}


def run(*draws, operation="sort", **more):
    """A run of the long form."""
    trees = [d if isinstance(d, dict) else {"lot": d[0], "mass": d[1]} for d in draws]
    return {"date": "2026-04-20", "operation": operation, "draws": trees, **more}


def _read(kind, name, tree):
    return adapter(kind).validate_python({"id": name, **tree})
