"""What each kind of page shows, and nothing more: one frozen view a page.

A view holds words and rounded figures in one language. Templates print it; they compute nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

from passport.pages.pieces import (
    Balance,
    Bars,
    Caution,
    CorrectedLine,
    Curves,
    DoubtLine,
    EventLine,
    EvidenceLine,
    Figure,
    Flow,
    Frame,
    Link,
    Message,
    Notice,
    PartLine,
    Picture,
    Prose,
    Row,
    Said,
    Share,
    Step,
    Symbol,
    Table,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Material:
    """The first answer: what it is made of.

    symbol: the big letters ("PP", "PP + PE-HD", "?" where the resin is not proven).
    name: in words; marking: as moulded or printed (">PP<"), empty where none may be written.
    basis: in half a sentence, how that is known.
    """

    symbol: str
    name: str
    marking: str = ""
    basis: str = ""
    href: str = ""
    proven: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """A short answer with its half sentence: "Yes" / "once the 8 screws are out"."""

    text: str
    detail: str = ""
    href: str = ""
    tone: str = "plain"
    """plain, good or mind; said in words as well, never by colour alone."""


@dataclass(frozen=True, slots=True, kw_only=True)
class EndOfLife:
    """What to do when the thing has had its day; printed on the paper sheet too."""

    mend: tuple[Said, ...] = ()
    """Ask these first: can it be mended, and where do the parts come from."""
    parts: tuple[PartLine, ...] = ()
    prepare: tuple[Said, ...] = ()
    """Rinse, size to cut to, how to catch the shavings."""
    takers: tuple[Said, ...] = ()
    never: tuple[Said, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class BringBack:
    """Where and when the thing can be handed in, and a letter that says so."""

    when: Said
    address: str = ""
    message: Message | None = None
    sheet: Link | None = None
    """The end-of-life sheet of the thing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PassportView:
    """The page of one tag."""

    frame: Frame
    tag: str
    product: Link
    made: str
    """One line: when, where, from which batch."""
    facts: tuple[Row, ...]
    """Size, mass, made for, not for."""
    material: Material
    single_stream: Answer
    now: Answer
    doubts: tuple[DoubtLine, ...] = ()
    notices: tuple[Notice, ...] = ()
    recycled: tuple[Figure, ...] = ()
    """The first is the headline; the rest have other denominators."""
    recycled_sentence: str = ""
    """The wording that the law or ISO 14021 gives, with its date."""
    flow: Flow | None = None
    care: Prose | None = None
    care_points: tuple[Said, ...] = ()
    cautions: tuple[Caution, ...] = ()
    take_apart: tuple[Step, ...] = ()
    tools: str = ""
    end_of_life: EndOfLife = EndOfLife()
    bring_back: BringBack | None = None
    evidence: tuple[EvidenceLine, ...] = ()
    life: tuple[EventLine, ...] = ()
    corrected: tuple[CorrectedLine, ...] = ()
    """What the records said wrongly at first."""
    notes: Prose | None = None
    picture: Picture | None = None
    label: Picture | None = None
    header: tuple[Row, ...] = ()
    """The nine fields that EN 18223:2026 asks of every passport."""
    exceptions: tuple[Said, ...] = ()
    """Justified exceptions to the claims check, with their evidence."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TombstoneView:
    """The page of a tag whose thing is no more, was never given out, or was replaced."""

    frame: Frame
    tag: str
    title: str
    text: str
    day: str = ""
    because: Said | None = None
    product: Link | None = None
    replaced_by: Link | None = None
    became: tuple[Link, ...] = ()
    """Lots that its material went into."""
    notices: tuple[Notice, ...] = ()
    life: tuple[EventLine, ...] = ()
    corrected: tuple[CorrectedLine, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetView:
    """The end-of-life sheet of one thing: one page, made for paper too."""

    frame: Frame
    tag: str
    product: Link
    passport: Link
    material: Material
    stream: Answer
    """What kind of end it has: one stream, several, none, not proven."""
    notices: tuple[Notice, ...] = ()
    """Recalls, and that it may hold old additives."""
    doubts: tuple[DoubtLine, ...] = ()
    mend: tuple[Said, ...] = ()
    spares: tuple[Row, ...] = ()
    """For each part and for the hardware, where a new one comes from."""
    take_apart: tuple[Step, ...] = ()
    tools: str = ""
    parts: tuple[PartLine, ...] = ()
    total: str = ""
    """Mass of all parts together; empty where one was not weighed."""
    prepare: tuple[Said, ...] = ()
    takers: tuple[Said, ...] = ()
    never: tuple[Said, ...] = ()
    bring_back: BringBack | None = None
    address: str = ""
    """Its own address, short enough to be typed."""
    label: Picture | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RecallPart:
    """One recall; `anchor` is where notices point to."""

    anchor: str
    title: str
    state: str
    open: bool
    day: str
    reason: Said
    paper: str = ""
    ended_because: Said | None = None
    lots: tuple[Link, ...] = ()
    things: Table | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RecallsView:
    """All recalls, ended or not."""

    frame: Frame
    intro: str
    parts: tuple[RecallPart, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class GatePart:
    """The log's part on what became of things that went out."""

    note: str
    curves: tuple[Curves, ...] = ()
    tables: tuple[Table, ...] = ()
    recovered: str = ""
    """How much of the plastic came back into its own stream, in a sentence with its bounds."""
    repairs_note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LotView:
    """The page of a lot; its top prints as the card on the box."""

    frame: Frame
    lot: str
    what: str
    """In a few words: "Shredded flake", "Received"."""
    material: Material
    state: Answer
    """In stock and how much, used up, held, refused, sent."""
    facts: tuple[Row, ...]
    doubts: tuple[DoubtLine, ...] = ()
    notices: tuple[Notice, ...] = ()
    recycled: tuple[Figure, ...] = ()
    recycled_sentence: str = ""
    """As on the page of a thing."""
    shares: tuple[Share, ...] = ()
    flow: Flow | None = None
    ancestors: Table | None = None
    made_from: Table | None = None
    went_to: Table | None = None
    recall: Table | None = None
    """Where every kilogram of it is now, down to the tags; adds up to its mass as printed."""
    balance: Balance | None = None
    """The run it came from, closed or not."""
    evidence: tuple[EvidenceLine, ...] = ()
    cautions: tuple[Caution, ...] = ()
    life: tuple[EventLine, ...] = ()
    corrected: tuple[CorrectedLine, ...] = ()
    notes: Prose | None = None
    picture: Picture | None = None
    symbol: Symbol | None = None
    """On the printed card only; None where the workshop's address cannot stand on one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StreamView:
    """The page of a source: where it comes from and what came of it."""

    frame: Frame
    stream: str
    title: Said
    origin: Answer
    facts: tuple[Row, ...]
    became: tuple[Figure, ...] = ()
    doubts: tuple[DoubtLine, ...] = ()
    months: Bars | None = None
    lots: Table | None = None
    items: Table | None = None
    corrected: tuple[CorrectedLine, ...] = ()
    notes: Prose | None = None
    picture: Picture | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ResinView:
    """The page of a resin: what it is, how to know it, where it goes."""

    frame: Frame
    material: Material
    about: tuple[Said, ...] = ()
    numbers: tuple[Row, ...] = ()
    know_it: tuple[Row, ...] = ()
    care_points: tuple[Said, ...] = ()
    cautions: tuple[Caution, ...] = ()
    figures: tuple[Row, ...] = ()
    lots: Table | None = None
    products: Table | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ProductView:
    """The page of a design: what it is for, how it comes apart, which tags it has."""

    frame: Frame
    title: Said
    facts: tuple[Row, ...]
    picture: Picture | None = None
    care: Prose | None = None
    take_apart: tuple[Step, ...] = ()
    tools: str = ""
    cautions: tuple[Caution, ...] = ()
    figures: tuple[Row, ...] = ()
    batches: Table | None = None
    tags: Table | None = None
    corrected: tuple[CorrectedLine, ...] = ()
    notes: Prose | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LogView:
    """Home: the material log."""

    frame: Frame
    notices: tuple[Notice, ...] = ()
    recalls: Table | None = None
    gate: GatePart | None = None
    about: Prose | None
    headline: tuple[Figure, ...]
    """A few large figures; each explained and linked."""
    balances: tuple[Balance, ...] = ()
    by_class: tuple[Table, ...] = ()
    """Both balances by resin and by stream, adding up as printed."""
    months: Bars | None = None
    resins: Bars | None = None
    stock: Table | None = None
    streams: Table | None = None
    products: Table | None = None
    latest: tuple[EventLine, ...] = ()
    corrected: tuple[CorrectedLine, ...] = ()
    doubts: tuple[DoubtLine, ...] = ()
    doors: tuple[Link, ...] = ()
    """Where to go from here: lists, "I found a thing", method, data."""
    bring_back: BringBack | None = None
    example: str = ""
    """A tag number to show in the search box."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ListView:
    """One page of a list of tags, lots, streams, resins or products."""

    frame: Frame
    title: str
    intro: str
    table: Table
    pages: tuple[Link, ...] = ()
    """All pages of the list; the present one has no `href`."""
    finder: bool = False
    example: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundView:
    """For someone who holds a thing with a tag and cannot scan it."""

    frame: Frame
    example: str
    steps: tuple[Said, ...]
    bring_back: BringBack | None = None
    doors: tuple[Link, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class MethodPart:
    """One explained thing; `anchor` is where figures point to."""

    anchor: str
    title: str
    prose: Prose


@dataclass(frozen=True, slots=True, kw_only=True)
class MethodView:
    """How the figures are made."""

    frame: Frame
    parts: tuple[MethodPart, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class NotFoundView:
    """404.html: may be shown at any depth, so it is written for the root of the site."""

    frame: Frame
    example: str
    root: str = "/"
    """Path of the site on its host: links cannot be relative on a page whose own address is unknown."""
    doors: tuple[Link, ...] = ()
    bring_back: BringBack | None = None


View = (
    PassportView
    | TombstoneView
    | SheetView
    | RecallsView
    | LotView
    | StreamView
    | ResinView
    | ProductView
    | LogView
    | ListView
    | FoundView
    | MethodView
    | NotFoundView
)
