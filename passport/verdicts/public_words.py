"""All that must be asked of records before anybody outside reads them: wording, contacts, special uses.

Apart from `work_out`, because a banned word keeps a page from being published but no sack from being weighed.
"""

from __future__ import annotations

from passport.problems import Problem, in_order
from passport.verdicts.book import Book
from passport.verdicts.claim_check import claim_problems
from passport.verdicts.privacy import privacy_problems
from passport.verdicts.special_uses import use_problems


def public_problems(book: Book) -> tuple[Problem, ...]:
    """Every finding about what the records say in public, in order of place."""
    return in_order((*claim_problems(book), *privacy_problems(book.shop), *use_problems(book.shop)))
