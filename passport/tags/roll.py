"""Labels for a roll printer: one label a page, each page as large as the label."""

from __future__ import annotations

from collections.abc import Sequence

from passport.problems import errors_in, in_order
from passport.tags.faces import LabelError
from passport.tags.label import LabelSpec, LabelText, label_image, label_problems
from passport.tags.pdf import pdf_of


def roll_pdf(texts: Sequence[LabelText], spec: LabelSpec) -> bytes:
    """All labels as a PDF for a roll, at the printer's own dpi (203 or 300 for most), each one read back.

    Raises LabelError with everything that is wrong, before anything is drawn.
    """
    errors = errors_in(in_order(problem for text in texts for problem in label_problems(text, spec)))
    if errors:
        raise LabelError(errors)
    pages = (label_image(text, spec) for text in texts)
    return pdf_of(pages, spec.dpi, spec.width_mm, spec.height_mm, title="Labels")
