"""Indented JSON, against the standard library's."""

from __future__ import annotations

import json

from hypothesis import given
from hypothesis import strategies as st

from passport.pages.json_text import indented

values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | st.text(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=4), inner, max_size=4),
    max_leaves=12,
)


@given(values)
def test_it_is_the_text_of_the_standard_library(value: object) -> None:
    """Every value comes out letter for letter as `json.dumps` writes it, and so reads back."""
    assert indented(value) == json.dumps(value, ensure_ascii=False, indent=1)
    assert json.loads(indented(value)) == value
