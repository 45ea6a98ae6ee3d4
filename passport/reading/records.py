"""The records of a workshop, as frozen values: what each file of `content/` may say.

The text under each field is what editors show and what the field reference prints. `id`, `file` and
`number` come from where a record lies, never from its text.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from decimal import Decimal
from enum import Enum
from fractions import Fraction
from typing import Annotated, Literal, Self

from pydantic import BeforeValidator, ConfigDict, Discriminator, Field, model_validator
from pydantic.dataclasses import dataclass

from passport.amounts import Count, Mass, MeltFlow
from passport.reading.fields import (
    CommodityField,
    ContentField,
    CountField,
    CountryField,
    DateField,
    FileField,
    IdField,
    LanguageField,
    LineField,
    MassField,
    MeltFlowField,
    MoistureField,
    NotWeighed,
    PrefixField,
    ShareField,
    TagField,
    TemperatureField,
    WeighedField,
    Words,
    WordsField,
    YesNoField,
    quoted,
    refusal,
)

_STRICT = ConfigDict(extra="forbid", use_attribute_docstrings=True, arbitrary_types_allowed=True)

LINEAGE = frozenset({"id", "file", "number"})
"""Fields that the place of a file fills in; a record that writes them itself is refused."""


class Origin(Enum):
    """Where material comes from, in the classes of ISO 14021:2016 and EN 45557:2020 (unknown counts as neither)."""

    POST_CONSUMER = "post-consumer"
    PRE_CONSUMER = "pre-consumer"
    VIRGIN = "virgin"
    ADDITIVE = "additive"
    UNKNOWN = "unknown"


class Weathering(Enum):
    """How much sun and frost the material has seen, by eye and hand."""

    NONE = "none"
    LIGHT = "light"
    HEAVY = "heavy"


class Drawn(Enum):
    """How the pieces of a sample were chosen; only `random` and `all` say something about the rest."""

    RANDOM = "random"
    PICKED = "picked"
    ALL = "all"


class Form(Enum):
    """The shape a lot is in (words of ISO 472 and the shop floor)."""

    PIECES = "pieces"
    FLAKE = "flake"
    REGRIND = "regrind"
    PELLETS = "pellets"
    POWDER = "powder"
    BARS = "bars"
    SHEETS = "sheets"
    MOULDINGS = "mouldings"
    OFFCUTS = "offcuts"
    PURGE = "purge"
    HEEL = "heel"
    REJECTS = "rejects"


# --- workshop -----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True, config=_STRICT)
class Scale:
    """How far one weighing on a scale can be off. Each is the half-width of a rectangle."""

    step: MassField
    """The smallest difference it shows."""
    repeat: MassField | None = None
    """How far two weighings of one thing differ: new at each weighing."""
    bias: MassField | None = None
    """How far all weighings on it may be off together: the same in all of them."""


@dataclass(frozen=True, slots=True, kw_only=True, config=_STRICT)
class RouteLimit:
    """What one way of forming needs here, found in the workshop's own trials; in place of the program's default."""

    route: Literal["injection", "extrusion", "bar", "compression"]
    """Which way of forming."""
    resin: LineField = ""
    """The resin's symbol or group (PP, PE) that the flow limits are for."""
    flow_from: MeltFlowField | None = None
    """The least melt flow that works, with its condition."""
    flow_to: MeltFlowField | None = None
    """The highest melt flow that works, with the same condition."""
    most_weathered: ShareField | None = None
    """The most heavily sun-worn material by mass that works."""
    because: WordsField
    """The trial or the reason behind it; it is printed beside the limit."""

    @model_validator(mode="after")
    def _one_span(self) -> Self:
        flows = [flow for flow in (self.flow_from, self.flow_to) if flow is not None]
        if not flows and self.most_weathered is None:
            raise refusal(
                "a route without a limit", "`flow_from:`, `flow_to:` or `most_weathered:`", code="route-limit"
            )
        if flows and not self.resin:
            raise refusal("a flow limit without a resin", "`resin:` beside it", code="route-limit")
        if len({(flow.temperature_c, flow.load_kg) for flow in flows}) > 1:
            met = " and ".join(flow.condition for flow in flows)
            raise refusal(f"flow limits at {met}", "one test condition", code="route-limit")
        if self.flow_from and self.flow_to and self.flow_from.g_per_10_min > self.flow_to.g_per_10_min:
            raise refusal("a `flow_from:` above `flow_to:`", "the least first", code="route-limit")
        return self


@dataclass(frozen=True, slots=True, kw_only=True, config=_STRICT)
class FormerAddress:
    """An address that stands on printed tags and now leads elsewhere."""

    address: LineField
    """The address as it was printed."""
    since: DateField
    """The day from which the new one holds."""
    leads_to: LineField
    """How the old one still answers: a redirect, a copy, a forwarding page."""


@dataclass(frozen=True, slots=True, kw_only=True, config=_STRICT)
class ClaimAllowed:
    """Words that the check of claims would stop, and why this workshop may say them all the same."""

    words: LineField
    """The words as they stand in the text."""
    where: LineField = ""
    """The one record they stand in, such as products/planter or workshop; left out: anywhere."""
    because: WordsField
    """Why they are true."""
    evidence: LineField
    """The paper that shows it: a certificate or report, with its number and date."""


def _languages(value: object) -> object:
    if isinstance(value, list) and not value:
        raise refusal("an empty list", "at least one language such as en")
    return value


@dataclass(frozen=True, slots=True, kw_only=True, config=_STRICT)
class Workshop:
    """The workshop itself: one file, `content/workshop.yaml`."""

    name: LineField
    """What stands over every page."""
    prefix: PrefixField
    """First part of each tag number: one to four of the letters A to Z (without I and O) and digits 2 to 9."""
    address: LineField = ""
    """The web address of the site. It goes into every QR symbol; until it is real, labels say SAMPLE."""
    country: CountryField = ""
    """ISO 3166-1 code of two letters."""
    languages: Annotated[tuple[LanguageField, ...], BeforeValidator(_languages)] = ("en",)
    """Languages of the pages; the first one has the address without a language."""
    rules: tuple[Literal["EU", "UK", "US", "FR"], ...] = ("EU",)
    """Whose rules on claims and substances apply."""
    scales: Mapping[str, Scale] = field(default_factory=dict)
    """The scales, by name; the first one is meant where a record names none."""
    place: WordsField | None = None
    """Where the workshop is, as coarse as you like."""
    about: WordsField | None = None
    """Who you are, in a few sentences (Markdown)."""
    contact: LineField = ""
    """A public e-mail address or web page; never a private one."""
    bring_back: WordsField | None = None
    """When and where things can be brought back."""
    largest_piece: LineField = ""
    """The largest piece that the shredder takes, such as 400 × 120 mm; the sheets for owners say it."""
    licence: Literal["CC-BY-4.0", "CC0-1.0", ""] = ""
    """The licence of the published figures."""
    former_addresses: tuple[FormerAddress, ...] = ()
    """Addresses that stand on tags already printed."""
    single_stream_from: ShareField = Fraction(95, 100)
    """From which lower bound of the main resin's share a lot counts as a single stream."""
    single_stream_because: WordsField | None = None
    """Why that much; printed on the method page beside it."""
    glossary: Mapping[str, WordsField] = field(default_factory=dict)
    """One-line words of the records (colours, places, parts, tools, losses) in other languages: {green: {fr: vert}}."""
    routes: tuple[RouteLimit, ...] = ()
    """What ways of forming need here, in place of the defaults, each with its reason."""
    claims_allowed: tuple[ClaimAllowed, ...] = ()
    """Words which the check of claims would stop, each with its reason and evidence; pages print them."""
    notes: WordsField | None = None
    """Notes of the workshop (Markdown), shown on the method page."""


# --- streams and products -----------------------------------------------------------------------------


def _origin_shares(value: object) -> object:
    """`post-consumer`, or shares such as {post-consumer: 80 %, virgin: 20 %}, as a mapping to shares."""
    if isinstance(value, str):
        return {value: "100 %"}
    return value


OriginShares = Annotated[Mapping[Origin, ShareField], BeforeValidator(_origin_shares)]


@dataclass(frozen=True, slots=True, kw_only=True, config=_STRICT)
class Stream:
    """A way in: one kind of material from one kind of giver. `content/streams/NAME.yaml`."""

    id: str
    title: WordsField
    """What it is called on pages."""
    origin: OriginShares
    """post-consumer, pre-consumer, virgin, additive or unknown; or shares, with the paper that states them."""
    document: LineField = ""
    """The paper behind the shares."""
    country: CountryField = ""
    """Where it was collected: ISO 3166-1 code."""
    collected: WordsField | None = None
    """How it comes in."""
    closed_loop: YesNoField = False
    """Crates and pallets of a controlled loop, which must not leave it."""
    made_before: DateField | None = None
    """Things older than this may hold additives that are no longer allowed."""
    notes: WordsField | None = None
    """Notes (Markdown)."""

    @model_validator(mode="after")
    def _whole(self) -> Self:
        if sum(self.origin.values()) != 1:
            met = " + ".join(f"{float(share * 100):g} %" for share in self.origin.values())
            raise refusal(met, "origin shares that add up to 100 %", code="shares-sum")
        return self


@dataclass(frozen=True, slots=True, kw_only=True, config=_STRICT)
class Undoing:
    """One step of taking a thing apart."""

    step: WordsField
    """What to do."""
    tool: LineField = ""
    """With what."""
    frees: LineField = ""
    """Which part comes free."""


Use = Literal[
    "outdoor", "indoor", "planting", "edible-planting", "animals", "seating", "load", "children",
    "food", "feeding", "toy", "step", "packaging", "electrical",
]  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True, config=_STRICT)
class UseTest:
    """Evidence that a thing may be used for what reclaimed plastic may else not be used for."""

    use: Use
    """Which use it was tested for."""
    standard: LineField
    """To which standard or law, with its edition."""
    document: LineField
    """The report, with its number."""
    laboratory: LineField = ""
    """Who tested."""
    date: DateField | None = None
    """When."""


@dataclass(frozen=True, slots=True, kw_only=True, config=_STRICT)
class Product:
    """A kind of thing the workshop makes. `content/products/NAME.yaml`."""

    id: str
    title: WordsField
    """What it is called on pages and labels."""
    made_for: WordsField
    """What it is made for."""
    not_for: WordsField | None = None
    """What it must not be used for."""
    uses: tuple[Use, ...] = ()
    """Uses that call for cautions; food, feeding, toy, children and step call for evidence, too."""
    tested_for: tuple[UseTest, ...] = ()
    """Evidence that the design may be used so."""
    care: WordsField | None = None
    """How to look after it (Markdown)."""
    take_apart: tuple[Undoing, ...] = ()
    """How to take it apart, in order."""
    mend: WordsField | None = None
    """What can be mended, and where the parts come from."""
    size: LineField = ""
    """Length × width × height with a unit."""
    picture: FileField | None = None
    """A drawing or photograph in `content/photos/`."""
    commodity_code: CommodityField = ""
    """Heading of the Harmonised System, such as 3926 or 3924.90."""
    notes: WordsField | None = None
    """Notes (Markdown)."""


# --- evidence -----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True, config=_STRICT)
class Evidence:
    """What every test of a material may say beside its result."""

    pieces: CountField | None = None
    """How many pieces were tested."""
    drawn: Drawn | None = None
    """How they were chosen: random, picked or all. Only random and all say something about the rest."""
    date: DateField | None = None
    """When it was tested, where it was not on the lot's day."""
    note: WordsField | None = None
    """Anything the next person should know."""


@dataclass(frozen=True, slots=True, kw_only=True, config=_STRICT)
class NirReading(Evidence):
    """A near-infrared reading."""

    test: Literal["nir"]
    reads: LineField
    """The resin's symbol, a family such as PE, or `no reading`."""
    others: Mapping[str, CountField] = field(default_factory=dict)
    """Pieces of the same sample that read otherwise, such as {PE-HD: 1, no reading: 2}."""
    set_aside: CountField | None = None
    """Pieces too dark to read, put aside before the sample was drawn; they count as another resin."""


@dataclass(frozen=True, slots=True, kw_only=True, config=_STRICT)
class MouldedMark(Evidence):
    """A mark moulded into the piece; number and letters are kept apart because they may disagree."""

    test: Literal["moulded-mark"]
    number: LineField | None = None
    """The number in the triangle."""
    letters: LineField | None = None
    """The letters under it, or a mark such as >PP<."""


@dataclass(frozen=True, slots=True, kw_only=True, config=_STRICT)
class FloatTest(Evidence):
    """Float or sink in a named liquid."""

    test: Literal["float"]
    liquid: LineField
    """water, `ethanol 45 % by mass`, `brine 11 % by mass`."""
    temperature: TemperatureField = Decimal(20)
    """Of the liquid."""
    floats: CountField | None = None
    """Pieces that float."""
    sinks: CountField | None = None
    """Pieces that sink."""


@dataclass(frozen=True, slots=True, kw_only=True, config=_STRICT)
class DensityTest(Evidence):
    """Density by immersion (ISO 1183-1, method A)."""

    test: Literal["density"]
    in_air: MassField
    """Reading in air."""
    in_liquid: MassField
    """Reading under the liquid."""
    sinker: MassField | None = None
    """For a piece that floats: the sinker alone under the liquid; `in_liquid` is then sinker and piece together."""
    liquid: LineField
    """water, `ethanol 100 % by mass`, `brine 11 % by mass`."""
    temperature: TemperatureField
    """Of the liquid."""
    step: MassField | None = None
    """The smallest difference the balance shows."""


@dataclass(frozen=True, slots=True, kw_only=True, config=_STRICT)
class DscTest(Evidence):
    """Differential scanning calorimetry (ISO 11357-3): melting peaks."""

    test: Literal["dsc"]
    peaks: tuple[TemperatureField, ...]
    """Melting peaks."""
    laboratory: LineField = ""
    """Who measured."""


@dataclass(frozen=True, slots=True, kw_only=True, config=_STRICT)
class FtirTest(Evidence):
    """Infrared spectrum against a library."""

    test: Literal["ftir"]
    reads: LineField
    """The resin's symbol or a family."""
    match: ShareField | None = None
    """How well the spectrum fits, as the instrument says it."""
    library: LineField = ""
    """Which library."""


@dataclass(frozen=True, slots=True, kw_only=True, config=_STRICT)
class SupplierPaper(Evidence):
    """A supplier's paper."""

    test: Literal["paper"]
    says: LineField
    """The resin's symbol."""
    document: LineField
    """Which paper."""


@dataclass(frozen=True, slots=True, kw_only=True, config=_STRICT)
class Appearance(Evidence):
    """What it looks, sounds and feels like: a hint, no proof."""

    test: Literal["appearance"]
    looks: LineField
    """The resin's symbol."""
    why: WordsField
    """What was seen."""


@dataclass(frozen=True, slots=True, kw_only=True, config=_STRICT)
class FlakeSample(Evidence):
    """A well-divided sample of flake, told apart flake by flake and weighed: a share of mass, not of pieces."""

    test: Literal["flake"]
    reads: LineField
    """The symbol of the resin that the share is of."""
    sample: MassField
    """The whole sample."""
    of_resin: MassField
    """What of it was read as the resin."""
    heaviest: MassField
    """The heaviest flake in it: the sample counts as so many draws of this mass."""
    by: Literal["nir", "ftir"]
    """What each flake was read with."""


@dataclass(frozen=True, slots=True, kw_only=True, config=_STRICT)
class SubstanceTest(Evidence):
    """A laboratory's figure for a restricted substance."""

    test: Literal["substance"]
    substance: LineField
    """Its short name, such as lead, cadmium, PBDE."""
    mg_per_kg: ContentField
    """Content by mass."""
    laboratory: LineField = ""
    """Who measured."""
    document: LineField = ""
    """The report."""


AnyEvidence = Annotated[
    NirReading
    | MouldedMark
    | FloatTest
    | DensityTest
    | DscTest
    | FtirTest
    | FlakeSample
    | SupplierPaper
    | Appearance
    | SubstanceTest,
    Discriminator("test"),
]


# --- runs, lots, items --------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True, config=_STRICT)
class Draw:
    """What a run takes from a lot (or, in a repair, from a tagged thing)."""

    lot: IdField = ""
    """The lot drawn from."""
    tag: TagField = ""
    """The tagged thing drawn from."""
    part: LineField = ""
    """Which part of the tagged thing."""
    mass: WeighedField | None = None
    """The mass drawn, or `not weighed`."""
    pieces: CountField | None = None
    """Instead of a mass: pieces, each of the lot's mean mass."""
    scale: LineField = ""
    """The scale it was weighed on."""
    empties: YesNoField = False
    """yes: nothing is left of the lot; what the books still hold becomes a stock difference."""
    because: WordsField | None = None
    """Why more was drawn than the books hold."""

    @model_validator(mode="after")
    def _from_one(self) -> Self:
        if bool(self.lot) == bool(self.tag):
            raise refusal(
                "a draw without a lot or a tag" if not self.lot else "a draw with both", "either `lot:` or `tag:`"
            )
        if self.mass is not None and self.pieces is not None:
            raise refusal("both a mass and pieces", "one of the two", "the weighed one is better")
        if self.mass is None and self.pieces is None:
            raise refusal("a draw without an amount", "`mass:` or `pieces:`", "`mass: not weighed` is allowed")
        return self


Masses = Mapping[str, WeighedField]


@dataclass(frozen=True, slots=True, kw_only=True, config=_STRICT)
class Run:
    """One operation that turns lots into lots. `content/runs/ID.yaml`; each result's record says `run: ID`."""

    id: str
    date: DateField
    """The day of the run."""
    operation: LineField
    """sort, wash, dry, shred, blend, extrude, mould, assemble, split, purge, repair, take-apart."""
    draws: tuple[Draw, ...]
    """What it takes."""
    losses: Masses = field(default_factory=dict)
    """What left on the way, by name: {dust: 0.2 kg}."""
    gains: Masses = field(default_factory=dict)
    """What came in without being a lot, by name: {water: 1.2 kg}."""
    returned_within: WeighedField | None = None
    """Sprues fed back in the same run: outside the balance."""
    melt: TemperatureField | None = None
    """Melt temperature."""
    machine: LineField = ""
    """Which machine."""
    scale: LineField = ""
    """The scale of draws, losses and gains that name none."""
    because: WordsField | None = None
    """Why the run does not close."""
    photo: FileField | None = None
    """A picture in `content/photos/`."""
    notes: WordsField | None = None
    """Notes (Markdown)."""


@dataclass(frozen=True, slots=True, kw_only=True, config=_STRICT)
class CameBack:
    """One tagged thing that was handed back."""

    tag: TagField
    """Its tag number."""
    parts: tuple[LineField, ...] = ()
    """Which parts came; none named: all."""
    not_back: tuple[LineField, ...] = ()
    """Which parts did not."""


@dataclass(frozen=True, slots=True, kw_only=True, config=_STRICT)
class Received:
    """How a lot came in: from a stream, from another workshop, or as things handed back."""

    stream: IdField = ""
    """The stream it belongs to."""
    source: Annotated[str, Field(alias="from")] = ""
    """The address of another workshop's lot page."""
    document: FileField | None = None
    """That workshop's data file, in `content/documents/`."""
    tags: tuple[CameBack, ...] = ()
    """The tagged things that were handed back."""

    @model_validator(mode="after")
    def _one_way(self) -> Self:
        ways = [bool(self.stream), bool(self.source), bool(self.tags)]
        if sum(ways) != 1:
            met = "no way in" if not any(ways) else "several ways in"
            raise refusal(met, "one of `stream:`, `from:` and `tags:`")
        return self


@dataclass(frozen=True, slots=True, kw_only=True, config=_STRICT)
class Lot:
    """Material of one kind in one place with one mass. `content/lots/ID.yaml`."""

    id: str
    date: DateField
    """The day it came in or was made."""
    received: Received | None = None
    """How it came in. A lot is received, or the result of a run (`run:`), or carries its own (`operation:`)."""
    run: IdField = ""
    """The run it is a result of."""
    part: LineField = ""
    """For offcuts of a thing with parts: which part they are of."""
    operation: LineField = ""
    """The short form, for a run with one result: the operation,"""
    draws: tuple[Draw, ...] = ()
    """what it takes,"""
    losses: Masses = field(default_factory=dict)
    """what left on the way,"""
    gains: Masses = field(default_factory=dict)
    """what came in without being a lot,"""
    returned_within: WeighedField | None = None
    """sprues fed back,"""
    melt: TemperatureField | None = None
    """its melt temperature,"""
    machine: LineField = ""
    """and its machine."""
    mass: WeighedField | None = None
    """Its net mass, or `not weighed`: allowed, it withholds figures but stops no work."""
    gross: MassField | None = None
    """Instead of `mass`: with its container,"""
    tare: MassField | None = None
    """and the container alone."""
    scale: LineField = ""
    """The scale it was weighed on."""
    pieces: CountField | None = None
    """How many pieces it has."""
    piece_spread: MassField | None = None
    """How far single pieces differ in mass: half-width."""
    form: Form | None = None
    """The shape it is in."""
    moisture: MoistureField | None = None
    """Water, by mass. Figures are computed on dry mass; where it is not known that is a doubt."""
    sorted_as: LineField = ""
    """The resin that the sorter named this heap by."""
    evidence: tuple[AnyEvidence, ...] = ()
    """How we know what it is; contradictions are kept and shown."""
    weathering: Weathering | None = None
    """none, light or heavy."""
    colour: LineField = ""
    """Its colour."""
    melt_flow: MeltFlowField | None = None
    """Measured melt flow with its condition."""
    kept: LineField = ""
    """Where it stands."""
    photo: FileField | None = None
    """A picture in `content/photos/`."""
    because: WordsField | None = None
    """Why its run does not close, or why it does not fit its weighings."""
    notes: WordsField | None = None
    """Notes (Markdown)."""

    @model_validator(mode="after")
    def _one_beginning(self) -> Self:
        ways = [self.received is not None, bool(self.run), bool(self.operation)]
        if sum(ways) != 1:
            met = "no beginning" if not any(ways) else "several beginnings"
            raise refusal(met, "one of `received:`, `run:` and `operation:`", code="beginning")
        if self.draws and not self.operation:
            raise refusal("draws without an operation", "`operation:` beside `draws:`", code="beginning")
        return self

    @model_validator(mode="after")
    def _one_weighing(self) -> Self:
        if (self.gross is None) != (self.tare is None):
            raise refusal("only one of gross and tare", "both", code="weighing")
        if self.gross is not None and self.tare is not None:
            if self.mass is not None:
                raise refusal("a mass beside gross and tare", "one of the two", code="weighing")
            if self.gross.mass_kg <= self.tare.mass_kg:
                raise refusal("a tare that is not below the gross mass", "gross above tare", code="weighing")
        elif self.mass is None:
            hint = "`mass: not weighed` is allowed: it withholds figures, not work"
            raise refusal("a lot without a mass", "`mass:`, or `gross:` and `tare:`", hint, code="weighing")
        return self


@dataclass(frozen=True, slots=True, kw_only=True, config=_STRICT)
class Part:
    """One part of a thing, of one material."""

    part: LineField
    """What it is called."""
    draws: tuple[Draw, ...]
    """What it was made from."""
    mass: MassField | None = None
    """Its mass in each thing; needed where there are several parts."""
    joined: LineField = ""
    """How it is held to the rest: screwed, snapped, welded, glued, loose."""


@dataclass(frozen=True, slots=True, kw_only=True, config=_STRICT)
class Hardware:
    """Screws, hinges, liners: what is not drawn from lots. Masses and counts with `each` are per thing."""

    what: WordsField
    """What it is."""
    material: LineField
    """steel, brass, cork, or a resin's symbol: plastic hardware counts as plastic."""
    mass: MassField
    """Its mass in each thing (`32 g each`) or in all of them."""
    count: CountField | None = None
    """How many in each thing (`8 each`)."""
    joined: LineField = ""
    """screwed, riveted, glued, moulded in."""
    tool: LineField = ""
    """What undoes it."""


@dataclass(frozen=True, slots=True, kw_only=True, config=_STRICT)
class Item:
    """A batch of things that leave with a tag each. `content/items/ID.yaml`."""

    id: str
    product: IdField
    """Which product."""
    date: DateField
    """The day they were made."""
    count: CountField
    """How many."""
    mass: WeighedField | None = None
    """The plastic, before hardware goes in: `16.6 kg each`, or of all of them together."""
    scale: LineField = ""
    """The scale."""
    parts: tuple[Part, ...] = ()
    """The parts, each with what it was made from."""
    draws: tuple[Draw, ...] = ()
    """Instead of parts: what the whole thing was made from."""
    operation: LineField = "assemble"
    """The operation that made them."""
    losses: Masses = field(default_factory=dict)
    """What left on the way: {sawdust: 0.1 kg}."""
    gains: Masses = field(default_factory=dict)
    """What came in without being a lot."""
    returned_within: WeighedField | None = None
    """Sprues fed back."""
    melt: TemperatureField | None = None
    """Melt temperature, where they were moulded."""
    machine: LineField = ""
    """Which machine."""
    hardware: tuple[Hardware, ...] = ()
    """What is not plastic from lots."""
    tested_for: tuple[UseTest, ...] = ()
    """Evidence that this batch may be used for something special."""
    colour: LineField = ""
    """Their colour."""
    photo: FileField | None = None
    """A picture in `content/photos/`."""
    because: WordsField | None = None
    """Why the run does not close."""
    notes: WordsField | None = None
    """Notes (Markdown)."""

    @model_validator(mode="after")
    def _made_of_something(self) -> Self:
        if bool(self.parts) == bool(self.draws):
            met = "neither parts nor draws" if not self.parts else "both parts and draws"
            raise refusal(met, "one of `parts:` and `draws:`", code="made-of")
        if len(self.parts) > 1 and any(part.mass is None for part in self.parts):
            raise refusal("several parts without a mass each", "a mass for every part", code="made-of")
        if self.count.pieces == 0:
            raise refusal("a batch of 0", "at least one", code="made-of")
        if self.mass is None and not (self.parts and all(part.mass for part in self.parts)):
            raise refusal("things without a mass", "`mass:`, or a mass for every part", code="weighing")
        return self


# --- events -------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True, config=_STRICT)
class Event:
    """Something that happened to a tagged thing or to a lot. `content/events/NAME.yaml` is a list of them."""

    file: str
    number: int
    date: DateField
    """The day."""
    note: WordsField | None = None
    """Anything worth telling; no names of people."""


@dataclass(frozen=True, slots=True, kw_only=True, config=_STRICT)
class TagEvent(Event):
    """Something that happened to a tagged thing."""

    tag: TagField
    """Its tag number."""


@dataclass(frozen=True, slots=True, kw_only=True, config=_STRICT)
class LotEvent(Event):
    """Something that happened to a lot."""

    lot: IdField
    """The lot."""


@dataclass(frozen=True, slots=True, kw_only=True, config=_STRICT)
class HandedOver(TagEvent):
    """It went to its next owner."""

    event: Literal["handed-over"]
    place: LineField = ""
    """A coarse place only."""


@dataclass(frozen=True, slots=True, kw_only=True, config=_STRICT)
class PutUp(TagEvent):
    """It was put up or set down somewhere."""

    event: Literal["put-up", "moved"]
    place: LineField
    """A coarse place only."""


@dataclass(frozen=True, slots=True, kw_only=True, config=_STRICT)
class Inspected(TagEvent):
    """Somebody looked at it."""

    event: Literal["inspected"]
    condition: WordsField
    """How it is, in words."""
    weathering: Weathering | None = None
    """What sun and frost have done."""


@dataclass(frozen=True, slots=True, kw_only=True, config=_STRICT)
class Repaired(TagEvent):
    """It was mended, in a run that draws the new part and yields the old one as a lot."""

    event: Literal["repaired"]
    run: IdField
    """The run."""


@dataclass(frozen=True, slots=True, kw_only=True, config=_STRICT)
class GivenOn(TagEvent):
    """Its material went to another stream than ours."""

    event: Literal["given-on"]
    stream: LineField
    """Which one."""


@dataclass(frozen=True, slots=True, kw_only=True, config=_STRICT)
class Ended(TagEvent):
    """It was taken apart, lost, destroyed, or its tag withdrawn."""

    event: Literal["taken-apart", "lost", "destroyed", "withdrawn"]
    because: WordsField | None = None
    """Why, or how."""


@dataclass(frozen=True, slots=True, kw_only=True, config=_STRICT)
class Replaced(TagEvent):
    """Its tag was replaced by another."""

    event: Literal["replaced"]
    by: TagField
    """The new tag."""


@dataclass(frozen=True, slots=True, kw_only=True, config=_STRICT)
class Reweighed(LotEvent):
    """The lot was weighed again: the difference to the books is a signed stock adjustment."""

    event: Literal["weighed"]
    mass: MassField
    """What it weighs now."""
    scale: LineField = ""
    """The scale."""
    because: WordsField
    """Why it was weighed."""


@dataclass(frozen=True, slots=True, kw_only=True, config=_STRICT)
class Holding(LotEvent):
    """The lot is held, released or refused."""

    event: Literal["held", "released", "refused"]
    because: WordsField | None = None
    """Why."""


@dataclass(frozen=True, slots=True, kw_only=True, config=_STRICT)
class Sent(LotEvent):
    """Some of the lot went to somebody else."""

    event: Literal["sent"]
    to: LineField
    """To whom: a firm or a kind of taker, never a private person."""
    mass: WeighedField
    """How much."""
    scale: LineField = ""
    """The scale."""


@dataclass(frozen=True, slots=True, kw_only=True, config=_STRICT)
class WrittenOff(LotEvent):
    """Some of the lot is no longer material."""

    event: Literal["written-off"]
    mass: WeighedField
    """How much."""
    because: WordsField
    """Why."""
    scale: LineField = ""
    """The scale."""


# --- recalls ------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True, config=_STRICT)
class Recall:
    """Material called back, or the end of that. `content/recalls/ID.yaml`; neither is ever deleted."""

    id: str
    date: DateField
    """The day from which it holds."""
    lot: IdField = ""
    """The lot called back, with all that was made of it."""
    stream: IdField = ""
    """Instead of a lot: all lots of a stream."""
    clears: IdField = ""
    """Instead of either: the recall that this record ends."""
    reason: WordsField
    """Why, in words for the owners; it stands first on their pages."""
    because_of: LineField = ""
    """The paper or test behind it."""
    owners: WordsField | None = None
    """What owners should do, where that is not: keep it apart and bring it back."""

    @model_validator(mode="after")
    def _of_one_thing(self) -> Self:
        named = [name for name in ("lot", "stream", "clears") if getattr(self, name)]
        if len(named) != 1:
            met = "a recall of nothing" if not named else f"a recall with {' and '.join(f'`{n}:`' for n in named)}"
            raise refusal(met, "one of `lot:`, `stream:` and `clears:`", code="recall-of")
        return self


AnyEvent = Annotated[
    HandedOver | PutUp | Inspected | Repaired | GivenOn | Ended | Replaced | Reweighed | Holding | Sent | WrittenOff,
    Discriminator("event"),
]

__all__ = [
    "AnyEvent",
    "AnyEvidence",
    "Appearance",
    "CameBack",
    "ClaimAllowed",
    "Count",
    "DensityTest",
    "Draw",
    "Drawn",
    "DscTest",
    "Ended",
    "Event",
    "Evidence",
    "FlakeSample",
    "FloatTest",
    "Form",
    "FormerAddress",
    "FtirTest",
    "GivenOn",
    "HandedOver",
    "Hardware",
    "Holding",
    "Inspected",
    "Item",
    "Lot",
    "LotEvent",
    "Mass",
    "MeltFlow",
    "MouldedMark",
    "NirReading",
    "NotWeighed",
    "Origin",
    "Part",
    "Product",
    "PutUp",
    "Recall",
    "Received",
    "Repaired",
    "Replaced",
    "Reweighed",
    "RouteLimit",
    "Run",
    "Scale",
    "Sent",
    "Stream",
    "SubstanceTest",
    "SupplierPaper",
    "TagEvent",
    "Undoing",
    "UseTest",
    "Weathering",
    "Words",
    "Workshop",
    "WrittenOff",
    "quoted",
]
