"""Fingerprints of views: different whenever anything in them is, equal whenever nothing is."""

from __future__ import annotations

import dataclasses
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from page_samples import Sample

from passport.pages.pieces import Link, Row
from passport.pages.prints import Prints, print_of
from passport.pages.views import View

plain = st.none() | st.booleans() | st.integers() | st.text(max_size=4) | st.fractions() | st.decimals(allow_nan=False)
values = st.recursive(plain, lambda inner: st.lists(inner, max_size=3).map(tuple), max_leaves=6)
VIEWS = Sample("en").views()


@given(values, values)
def test_prints_tell_values_apart(one: object, other: object) -> None:
    """Equal texts of the values, equal prints, and only then."""
    assert (print_of(one) == print_of(other)) == (repr(one) == repr(other))


@pytest.mark.parametrize(
    ("one", "other"),
    [
        (("ab", "c"), ("a", "bc")),
        (("a",), (("a",),)),
        ("1", 1),
        (1, True),
        (Fraction(1, 2), Decimal("0.5")),
        (Link(text="a"), Row(label="a", value="")),
        (Link(text="a", href="b"), Link(text="a", note="b")),
    ],
)
def test_what_looks_alike_has_prints_of_its_own(one: object, other: object) -> None:
    """Neither joined texts, nor nesting, nor the kind of a value is lost in its print."""
    assert print_of(one) != print_of(other)


@pytest.mark.parametrize("view", VIEWS, ids=lambda view: type(view).__name__)
def test_every_field_of_a_view_is_in_its_print(view: View) -> None:
    """Whatever field of a page's view changes, the print does, so the page is rendered again."""
    prints = Prints()
    for field in dataclasses.fields(view):
        other = (getattr(view, field.name), "changed")
        assert prints.of(dataclasses.replace(view, **{field.name: other})) != prints.of(view), field.name


def test_a_second_look_gives_the_same_print() -> None:
    """Prints of shared parts are kept by the object, never by an address that another object could get."""
    prints, known = Prints(), []
    for turn in range(3):
        for view in VIEWS:
            copied = dataclasses.replace(view)
            known.append((turn, prints.of(copied) == Prints().of(view)))
    assert all(same for _, same in known)


def test_what_could_change_unseen_has_no_print() -> None:
    """A value of an unknown kind is refused instead of being taken for constant."""
    with pytest.raises(TypeError, match="object has no print"):
        print_of(object())
