"""The stage of a tagged thing's life, from its events and from the lots that say it came back."""

import pytest
from shops_in_code import received, shop

from passport.verdicts.life import Life, Stage, lives

TAG, NEW = "RY-22224M", "RY-22225K"
ITEM = {
    "product": "planter",
    "date": "2026-05-20",
    "count": "2",
    "mass": "5 kg each",
    "draws": [{"lot": "A", "mass": "10 kg"}],
}


def life_after(*events: dict, lots: dict | None = None) -> Life:
    """The life of the first tag after these events."""
    all_lots = {"A": received("10 kg"), **(lots or {})}
    built = shop(lots=all_lots, items={"PL-1": ITEM}, tags={TAG: "PL-1", NEW: "PL-1"}, events=events)
    return lives(built)[TAG]


def on(day: str, event: str, **more: str) -> dict:
    """An event of the tag."""
    return {"date": day, "tag": TAG, "event": event, **more}


def back(day: str) -> dict:
    """The lot that the thing became."""
    return {"RT-1": {"date": day, "received": {"tags": [{"tag": TAG}]}, "mass": "4.9 kg"}}


def test_without_events_it_is_at_the_workshop() -> None:
    """Issued and never handed over."""
    assert life_after().stage is Stage.AT_WORKSHOP


@pytest.mark.parametrize("event", [{"event": "handed-over"}, {"event": "put-up", "place": "quay"}])
def test_out_of_the_gate_it_is_in_use(event: dict) -> None:
    """Handed over or put up."""
    assert life_after({"date": "2026-06-01", "tag": TAG, **event}).stage is Stage.IN_USE


@pytest.mark.parametrize("end", ["lost", "destroyed", "taken-apart", "withdrawn"])
def test_an_end_is_an_end(end: str) -> None:
    """Each kind of end has its stage; only the lost keep a whole passport, because they may turn up."""
    life = life_after(on("2026-06-01", "handed-over"), on("2026-07-01", end))

    assert life.stage is Stage(end)
    assert life.open is (end == "lost")


def test_what_was_lost_and_is_put_up_again_is_in_use() -> None:
    """A found thing goes on with its life."""
    assert life_after(on("2026-06-01", "lost"), on("2026-07-01", "put-up", place="quay")).stage is Stage.IN_USE


def test_a_replaced_tag_names_its_successor() -> None:
    """The old number keeps a page that points to the new one."""
    life = life_after(on("2026-06-01", "replaced", by=NEW))

    assert (life.stage, life.replaced_by) == (Stage.REPLACED, NEW)


def test_handed_back_it_is_a_lot() -> None:
    """The lot that names the tag ends its life."""
    life = life_after(on("2026-06-01", "handed-over"), lots=back("2027-04-01"))

    assert (life.stage, life.lot) == (Stage.CAME_BACK, "RT-1")
