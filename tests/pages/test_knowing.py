"""How a page says what is known of a material: tests in words, purity, flow and the next test, in two languages."""

from __future__ import annotations

import pytest
from shops_in_code import drawing, received, shop

from passport.pages import knowing
from passport.pages.lot import lot_view
from passport.pages.scribe import Scribe
from passport.pages.theme import load_theme
from passport.verdicts.book import work_out

WORDS = load_theme(["en", "fr"])[0].words
THIN, WIDE = "\u202f", "\u00a0"


def scribe(lang: str = "en", **lots: object) -> Scribe:
    """A scribe for a shop of these lots; "A_1" names the lot A-1."""
    named = {name.replace("_", "-"): lot for name, lot in lots.items()}
    return Scribe(book=work_out(shop(lots=named)), words=WORDS[lang], first="en")


def having(*evidence: dict[str, object], **more: object) -> dict[str, object]:
    """A received lot with this evidence."""
    tree: dict[str, object] = received("10 kg", evidence=list(evidence), **more)
    return tree


SEEN = [
    (
        {"test": "nir", "reads": "PP", "pieces": "20", "drawn": "random", "others": {"PS": "5", "no reading": "6"}},
        (
            "PP and PS | near-infrared reading of PP; the same sample gave 5 × PS and 6 × no reading | 20 pieces"
            " | drawn at random"
        ),
        (
            "PP et PS | lecture proche infrarouge de PP ; le même échantillon a donné 5 × PS et 6 × sans lecture"
            " | 20 pièces | tirées au hasard"
        ),
    ),
    (
        {"test": "nir", "reads": "no reading", "pieces": "30"},
        "no evidence: | the near-infrared scanner gave no reading, which says nothing either way | 30 pieces",
        "aucune preuve : | l’appareil proche infrarouge n’a rien lu, ce qui ne dit rien | 30 pièces",
    ),
    (
        {"test": "moulded-mark", "number": "2", "letters": "PP", "pieces": "1"},
        "PE-HD or PP | moulded mark: number 2, letters PP | 1 piece",
        "PE-HD ou PP | marque moulée : numéro 2, lettres PP | 1 pièce",
    ),
    (
        {"test": "moulded-mark", "number": "5"},
        "PP | moulded mark: number 5 alone",
        "PP | marque moulée : numéro 5 seul",
    ),
    (
        {"test": "moulded-mark", "letters": "HDPE"},
        "PE-HD | moulded mark: letters HDPE",
        "PE-HD | marque moulée : lettres HDPE",
    ),
    (
        {"test": "float", "liquid": "ethanol 52 % by mass", "floats": "6", "sinks": "0"},
        f"PP or PS-E | floats in alcohol of 52{WIDE}% by mass (0.909 g/cm³)",
        f"PP ou PS-E | flotte dans l’alcool à 52{THIN}% en masse (0,909 g/cm³)",
    ),
    (
        {"test": "float", "liquid": "wine", "floats": "6"},
        "no evidence: | a float test that does not settle anything",
        "aucune preuve : | un essai de flottaison qui ne tranche rien",
    ),
    (
        {"test": "dsc", "peaks": ["163.5 °C"]},
        "POM or PP | melts at 163.5 °C (DSC)",
        "POM ou PP | fond à 163,5 °C (DSC)",
    ),
    (
        {"test": "ftir", "reads": "PP"},
        "PP | infrared spectrum of PP",
        "PP | spectre infrarouge de PP",
    ),
    (
        {"test": "paper", "says": "PP", "document": "note 7"},
        "PP | supplier's paper says PP (note 7)",
        "PP | le document du fournisseur dit PP (note 7)",
    ),
    (
        {"test": "appearance", "looks": "PP", "why": "waxy"},
        "PP | by eye and hand: like PP",
        "PP | à l’œil et à la main : comme du PP",
    ),
    (
        {
            "test": "density",
            "in_air": "41.52 g",
            "in_liquid": "7.24 g",
            "liquid": "ethanol 100 % by mass",
            "temperature": "21 °C",
        },
        "PE-HD | density 0.955 ± 0.001 g/cm³, weighed under a liquid",
        "PE-HD | masse volumique 0,955 ± 0,001 g/cm³, pesée sous un liquide",
    ),
]


@pytest.mark.parametrize("lang", ["en", "fr"])
@pytest.mark.parametrize("test", SEEN, ids=[f"{t[0]['test']}-{i}" for i, t in enumerate(SEEN)])
def test_a_test_reads_as_a_person_would_say_it(test: tuple[dict[str, object], str, str], lang: str) -> None:
    """Each kind of test says what it speaks for, how it was made, on how many pieces, in the page's language."""
    evidence, *said = test
    (line,) = knowing.evidence_lines(scribe(lang, A_1=having(evidence)), "A-1")
    parts = [part for part in (line.reads, line.test, line.pieces, line.drawn) if part]
    assert " | ".join(parts) == said[lang == "fr"]


def test_each_test_keeps_its_own_pieces() -> None:
    """Two readings of one kind are told apart by their values, not taken for the first."""
    lot = having(
        {"test": "nir", "reads": "PP", "pieces": "4", "drawn": "picked"},
        {"test": "nir", "reads": "PP", "pieces": "20", "drawn": "random"},
    )
    lines = knowing.evidence_lines(scribe(A_1=lot), "A-1")
    assert [(line.pieces, line.drawn) for line in lines] == [("4 pieces", "picked"), ("20 pieces", "drawn at random")]


def test_what_speaks_against_is_marked() -> None:
    """Evidence for another resin than the page names is shown as such."""
    lot = having(
        {"test": "nir", "reads": "PP"}, {"test": "ftir", "reads": "PP"}, {"test": "moulded-mark", "number": "2"}
    )
    lines = knowing.evidence_lines(scribe(A_1=lot), "A-1")
    assert [line.reads for line in lines if line.against] == ["PE-HD"]


READ = {"test": "nir", "reads": "PP", "pieces": "20", "drawn": "random"}
FLOW = "12 g/10 min at 230 °C/2.16 kg"


def rows(lang: str, **lots: object) -> list[tuple[str, str, str]]:
    """Label, value and note of the rows of lot B-1."""
    return [(r.label, r.value, r.note) for r in knowing.rows_of_lot(scribe(lang, **lots), "B-1", "PP")]


def test_a_shredded_lot_says_where_its_figures_come_from() -> None:
    """Purity names its sample and that pieces are not mass; an estimated flow its range; routes their reasons.

    0.05 ** (1/20) = 0.861 (Clopper and Pearson 1934); 12 less and more 12 % is 10.6 and 13.4.
    """
    lots = {
        "A_1": having(READ, melt_flow=FLOW, weathering="heavy", moisture="0 %"),
        "B_1": drawing("10 kg", ("A-1", "10 kg"), operation="shred", moisture="0 %"),
    }
    worn = "100 % of it is heavily sun-worn, where {} % is the most"
    usual = "Usual limit (common practice, no source): {}."
    assert rows("en", **lots) == [
        (
            "Purity",
            (
                f"at least 86{WIDE}% of the pieces are PP, with 95{WIDE}% confidence, by 20 pieces"
                " drawn at random from A-1."
            ),
            "A share of pieces is no share of mass.",
        ),
        (
            "Melt flow",
            "about 12.0 g/10 min at 230 °C/2.16 kg (10.6 to 13.4).",
            "Estimated from A-1, within 12 %; nobody measured it.",
        ),
        (
            "Not for",
            f"injection moulding: {worn.format(20)}",
            usual.format("thin walls far from the gate need an easy flow and sound chains"),
        ),
        (
            "Not for",
            f"extrusion of a profile: flows 12.0 g/10 min, where 5 or less is needed; {worn.format(40)}",
            usual.format("a free profile must stand by itself until it is cold"),
        ),
        (
            "Not for",
            f"extrusion of a bar into a mould: {worn.format(50)}",
            usual.format("a thick closed mould fills slowly and carries the melt until it is cold"),
        ),
        (
            "Not for",
            f"compression of a sheet: {worn.format(70)}",
            usual.format("pressure and time do the work, flow hardly matters"),
        ),
    ]


def test_the_next_test_comes_with_its_liquid() -> None:
    """Where the resin is open the page says what would settle it, by mass, with the caution, and never a flame."""
    lot = having({"test": "moulded-mark", "number": "2", "letters": "PP"})
    grams = "449 g of pure alcohol to 551 g of water"
    assert rows("en", B_1=lot) == [
        (
            "Next test",
            f"float a piece in alcohol and water, {grams}: PP up, PE-HD down.",
            (
                "The vapour of alcohol burns; open the window and keep flames away. Never a flame; smoke of unknown"
                " plastic may be poisonous, and it proves little."
            ),
        )
    ]


def test_french_figures_take_commas() -> None:
    """Decimals and the no-break space are those of the language (Imprimerie nationale, from memory)."""
    lots = {"B_1": having(READ, melt_flow="0.8 g/10 min at 230 °C/2.16 kg", weathering="none", moisture="0 %")}
    said = rows("fr", **lots)
    assert said[0][1] == (
        f"au moins 86{THIN}% des pièces sont en PP, avec une confiance de 95{THIN}%, d’après 20 pièces"
        " tirées au hasard."
    )
    assert said[1][:2] == ("Indice de fluidité", "0,8 g/10 min à 230 °C/2,16 kg, mesuré")
    assert said[-1][1] == "moulage par injection : coule à 0,8 g/10 min, où il faut 5 ou plus"


WIDE_BLEND = {
    "A_1": having({"test": "ftir", "reads": "PP"}, melt_flow="4 g/10 min at 230 °C/2.16 kg", moisture="0 %"),
    "B_1": having({"test": "ftir", "reads": "PP"}, melt_flow="25 g/10 min at 230 °C/2.16 kg", moisture="0 %"),
    "BL_1": drawing("20 kg", ("A-1", "10 kg"), ("B-1", "10 kg"), moisture="0 %"),
}


@pytest.mark.parametrize(
    ("lang", "said"),
    [
        ("en", "The lots in this blend flow very differently, by a factor of 6.2."),
        ("fr", "Les lots de ce mélange coulent très différemment, d’un facteur 6,2."),
    ],
)
def test_a_blend_of_flows_too_far_apart_is_doubted_on_its_page(lang: str, said: str) -> None:
    """25 is 6.2 times 4, above the 3.28 of a trade note: the blend's page says so first, its lots' pages do not."""
    writer = scribe(lang, **WIDE_BLEND)
    lots = writer.book.shop.lots
    assert said in [line.text for line in lot_view(writer, lots["BL-1"]).doubts]
    assert said not in [line.text for line in lot_view(writer, lots["A-1"]).doubts]


def test_a_share_of_mass_is_said_as_one() -> None:
    """A weighed sample of flake bounds a share of mass, and the words say mass, flake and that it is approximate."""
    flake = {"test": "flake", "reads": "PP", "sample": "50 g", "of_resin": "50 g", "heaviest": "0.5 g", "by": "nir"}
    lot = having({**flake, "drawn": "random"}, moisture="0 %")
    # 100 draws, all of the resin: 0.05 ** (1/100) = 0.970 (Clopper and Pearson 1934)
    assert rows("en", B_1=lot)[0] == (
        "Purity",
        (
            f"at least 97{WIDE}% of its mass is PP, with 95{WIDE}% confidence, by 50{WIDE}g of flake, well divided"
            " and read flake by flake."
        ),
        "Approximate; the sample counts as so many draws of its heaviest flake.",
    )


def test_sun_and_melts_are_carried_along() -> None:
    """A blend says how much of it is sun-worn; bars how often they were melted here, own offcuts once more."""
    lots = {
        "A_1": having(READ, weathering="heavy", moisture="0 %"),
        "B_1": having(READ, weathering="none", moisture="0 %"),
        "BL_1": drawing("20 kg", ("A-1", "5 kg"), ("B-1", "15 kg"), moisture="0 %"),
        "BAR_1": drawing("10 kg", ("BL-1", "10 kg"), operation="extrude"),
        "RG_1": drawing("4 kg", ("BAR-1", "4 kg"), operation="shred", moisture="0 %"),
        "BL_2": drawing("8 kg", ("BL-1", "6 kg"), ("RG-1", "2 kg"), moisture="0 %"),
    }
    writer = scribe("en", **lots)

    def said(lot: str) -> dict[str, str]:
        facts = lot_view(writer, writer.book.shop.lots[lot]).facts
        return {row.label: row.value for row in facts if row.label in ("Weathering", "Melted here")}

    worn = f"no weathering (75{WIDE}%) and heavily sun-worn (25{WIDE}%)"
    assert said("A-1") == {"Weathering": "heavily sun-worn"}
    assert said("BL-1") == {"Weathering": worn}
    assert said("BAR-1") == {"Weathering": worn, "Melted here": "once"}
    assert said("BL-2") == {"Weathering": worn, "Melted here": f"not yet (75{WIDE}%) and once (25{WIDE}%)"}
