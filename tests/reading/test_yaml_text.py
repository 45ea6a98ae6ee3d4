"""Records that the tool writes: read back as they were meant, and typed as a person would."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from passport.reading.marked import Source, read_tree
from passport.reading.yaml_text import event_line, record_text

TEXT = st.text(st.characters(codec="utf-8", categories=("L", "N", "P", "S", "Zs")), min_size=1, max_size=30)
NAME = st.from_regex(r"[a-z][a-z_]{0,10}", fullmatch=True)
LINES = st.lists(st.from_regex(r"[A-Za-z0-9:#\"'{}, é-]*[A-Za-z]", fullmatch=True), min_size=1, max_size=3)
VALUE = st.recursive(
    TEXT,
    lambda inner: st.lists(inner, min_size=1, max_size=3) | st.dictionaries(NAME, inner, min_size=1, max_size=3),
    max_leaves=6,
)
FIELDS = st.dictionaries(NAME, VALUE, min_size=1, max_size=5)


@given(FIELDS)
def test_a_written_record_is_read_back_as_it_was_meant(fields: dict[str, object]) -> None:
    """Whatever a field says, `marked.read_tree` reads the same tree from the text."""
    assert read_tree(Source("x.yaml", record_text(fields))) == (fields, ())


@given(FIELDS)
def test_an_event_is_one_line_and_read_back_as_it_was_meant(fields: dict[str, object]) -> None:
    """A list grows by one line for each event."""
    line = event_line(fields)
    assert "\n" not in line
    assert read_tree(Source("x.yaml", f"{line}\n")) == ([fields], ())


@given(LINES)
def test_text_of_several_lines_hangs_under_a_bar(lines: list[str]) -> None:
    """Notes keep their lines, each below the other."""
    text = "\n".join(lines) + "\n"
    tree, problems = read_tree(Source("x.yaml", record_text({"notes": text, "date": "2026-04-11"})))
    assert problems == ()
    assert isinstance(tree, dict)
    assert str(tree["notes"]).rstrip("\n") == text.rstrip("\n")


def test_a_record_looks_as_a_person_types_it() -> None:
    """Plain where plain will do, braces for what is nested, one line for each sample."""
    text = record_text(
        {
            "date": "2026-04-11",
            "received": {"stream": "HARBOUR-CRATES"},
            "mass": "62.4 ± 0.2 kg",
            "scale": "",
            "evidence": [{"test": "nir", "reads": "PE-HD", "pieces": "20"}, {"test": "moulded-mark", "number": "2"}],
            "colour": "NO",
            "notes": "Wet.\nA little sand.",
        }
    )
    assert text == (
        "date: 2026-04-11\n"
        "received: {stream: HARBOUR-CRATES}\n"
        "mass: 62.4 ± 0.2 kg\n"
        "evidence:\n"
        "- {test: nir, reads: PE-HD, pieces: 20}\n"
        "- {test: moulded-mark, number: 2}\n"
        "colour: NO\n"
        "notes: |\n"
        "  Wet.\n"
        "  A little sand.\n"
    )


def test_the_head_is_a_comment_on_the_first_line() -> None:
    """Editors look for their line at the top of the file."""
    assert record_text({"date": "2026-04-11"}, "see the list of fields") == (
        "# see the list of fields\ndate: 2026-04-11\n"
    )
