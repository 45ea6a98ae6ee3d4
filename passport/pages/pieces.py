"""The small pieces that every page is built from: words already chosen, figures already rounded.

Addresses (`href`, `path`) are written from the root of the site ("/L/HD-031/"); the renderer makes
them relative, so that the site works below any path and from a disk.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """Words from the records. `lang` is set only where they are not in the language of the page."""

    text: str
    lang: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Prose:
    """HTML that `prose.to_prose` has cleaned. Nothing else may make one: templates print it unescaped."""

    html: str
    lang: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """A way to another page; an empty `href` is plain text."""

    text: str
    href: str = ""
    lang: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A printed figure together with what it stands on.

    text: as printed ("at least 92 %"); empty when it is withheld.
    share_of: the denominator ("of the plastic, by mass").
    kind: what is counted ("post-consumer").
    uncertainty: in words ("± 1.2 points, weighing only"); may be empty.
    href: where it is explained.
    withheld: the reason why there is no figure.
    """

    text: str
    share_of: str = ""
    kind: str = ""
    uncertainty: str = ""
    href: str = ""
    withheld: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class DoubtLine:
    """One doubt: what it is, why it matters, where it is explained. `lang` as in `Said`."""

    text: str
    why: str = ""
    href: str = ""
    lang: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Notice:
    """Something that must be read before all else, such as a recall."""

    title: str
    text: str
    date: str = ""
    lang: str = ""
    """Of the text alone."""
    more: str = ""
    """What to do, in the language of the page."""
    link: Link | None = None
    """Where all of it stands."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A label with its value, one line of a fact sheet."""

    label: str
    value: str
    href: str = ""
    note: str = ""
    lang: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A picture of the site itself, with its size in pixels and words for those who cannot see it."""

    src: str
    alt: str
    width: int
    height: int
    lang: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Symbol:
    """A QR symbol drawn into the page itself, for the card on a box.

    payload: what it carries; address: the same as a person types it; sample: the word across a card whose
    address is not a real one yet, else empty.
    """

    payload: str
    alt: str
    address: str
    sample: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step of taking a thing apart. `sign` names the little drawing: screw, clip, glue, pull, cut."""

    text: str
    tool: str = ""
    frees: str = ""
    sign: str = "pull"
    lang: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PartLine:
    """A part or a piece of hardware, and where it belongs when the thing has had its day."""

    name: str
    material: str
    mass: str
    goes_to: str = ""
    href: str = ""
    lang: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """What not to do, why, and who says so. `sign` names the little drawing beside it."""

    text: str
    why: str = ""
    source: str = ""
    sign: str = "mind"
    lang: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class EventLine:
    """Something that happened. `date` is ISO 8601, `day` the same in words."""

    date: str
    day: str
    text: str
    note: str = ""
    href: str = ""
    lang: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CorrectedLine:
    """Something that a record said wrongly: the old value and what holds, in `text`; `date` and `day` as in EventLine.

    about: the record, where it is not the page's own; without text for that one.
    """

    date: str
    day: str
    about: Link
    text: str
    because: Said


@dataclass(frozen=True, slots=True, kw_only=True)
class EvidenceLine:
    """One test of the material: what was used, what it said, on how many pieces, in which lot."""

    test: str
    reads: str
    pieces: str = ""
    drawn: str = ""
    lot: Link | None = None
    against: bool = False
    """True where it contradicts what the page says."""
    note: str = ""
    """What the tester added."""
    note_lang: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """One line of a composition, with its part of the whole for the drawing (0 to 1)."""

    label: str
    figure: str
    part: float
    href: str = ""
    lang: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FlowNode:
    """One knot of the genealogy. `mass_g` only sets the drawn width; `mass` is what is printed.

    kind: post-consumer, pre-consumer, virgin, additive, unknown (streams); lot; item; folded.
    """

    id: str
    label: str
    mass: str
    mass_g: float
    kind: str = "lot"
    note: str = ""
    href: str = ""
    lang: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FlowLink:
    """Material that went from one node to another."""

    source: str
    target: str
    mass_g: float
    mass: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Flow:
    """A genealogy, streams first and the thing itself last; what was folded away is one `folded` node."""

    nodes: tuple[FlowNode, ...]
    links: tuple[FlowLink, ...]
    title: str
    summary: str
    """The whole drawing in a sentence or two."""
    folded: Link | None = None
    """Where the full list stands."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """One kind of bar: its name, and a value (for the drawing) and a text (for people) for each place."""

    name: str
    values: tuple[float, ...]
    texts: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Bars:
    """Bars over a row of places (months, resins); several series are stacked, so they must add up."""

    title: str
    summary: str
    unit: str
    place_name: str
    """Heading of the first column: "Month", "Resin"."""
    places: tuple[Link, ...]
    series: tuple[Series, ...]
    totals: tuple[str, ...] = ()
    below: int = 0
    """How many of the last series go down from the line (what left) instead of up (what came)."""
    marks: tuple[str, ...] = ()
    """Short words under an upright bar; an empty one leaves the place unmarked."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One stepped line: from each point (day, share of 1) level to the next. `bound` draws it thin."""

    name: str
    points: tuple[tuple[float, float], ...]
    bound: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Curves:
    """Stepped lines over time, and the table that holds the same figures."""

    title: str
    summary: str
    lines: tuple[Line, ...]
    until: float
    """The last day drawn."""
    marks: tuple[tuple[float, str], ...]
    """Days named under the drawing."""
    table: Table


@dataclass(frozen=True, slots=True, kw_only=True)
class Balance:
    """An account whose two sides print the same total."""

    title: str
    summary: str
    left_name: str
    left: tuple[Row, ...]
    right_name: str
    right: tuple[Row, ...]
    total: str
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A plain table: the cells are links where there is something behind them."""

    title: str
    head: tuple[str, ...]
    rows: tuple[tuple[Link, ...], ...]
    numeric: tuple[int, ...] = ()
    """Columns (from 0) that hold figures."""
    more: Link | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Message:
    """A letter for the reader's own mail program; `mailto` is the whole address with subject and body."""

    text: str
    mailto: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """What stands around every page."""

    path: str
    """Address of the page from the root of the site, with a final slash: "/T/RY-22224M/"."""
    lang: str
    title: str
    workshop: str
    description: str = ""
    canonical: str = ""
    """The absolute address; empty where the workshop has none."""
    suffix: str = ""
    """What other pages of this language end with: "" for the first language, else "FR/"."""
    others: tuple[tuple[str, str], ...] = ()
    """The same page in other languages: (language, path)."""
    as_of: str = ""
    """The day of the latest record, in words."""
    json_ld: str = ""
    """JSON text; the renderer makes it inert."""
    data_links: tuple[Link, ...] = ()
    data_file: str = ""
    """Path of the machine-readable passport of this page."""
    made_with: str = ""
    """Name and version of the site's format."""
