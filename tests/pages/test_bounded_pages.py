"""Pages of lists stay of one size however many things there are."""

from __future__ import annotations

import pytest

from passport.pages.places import _near

MOST = 120
"""Links to other pages of a list that one page may have."""


@pytest.mark.parametrize("pages", [1, 2, 7, 50, 50_000])
def test_a_page_of_a_list_leads_to_few_others(pages: int) -> None:
    """Ten million tags make fifty thousand pages: each leads to few, and by steps to all."""
    for n in {0, pages // 2, pages - 1}:
        near = _near(n, pages)
        assert len(near) <= MOST
        assert {0, n, pages - 1} <= set(near)
        assert near == sorted(near)
    reached = {0}
    for n in range(min(pages, 60)):
        if n in reached:
            reached |= set(_near(n, pages))
    assert set(range(min(pages, 60))) <= reached
