"""An invented workshop's pages as ready views: Reedmouth Yard, its masses and lots our own."""

# ruff: noqa: E501, D102 - a page of words reads best a sentence a line
from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from urllib.parse import quote

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
    FlowLink,
    FlowNode,
    Frame,
    Line,
    Link,
    Message,
    Notice,
    PartLine,
    Picture,
    Row,
    Said,
    Series,
    Share,
    Step,
    Symbol,
    Table,
)
from passport.pages.prose import to_prose
from passport.pages.render import compact_json
from passport.pages.views import (
    Answer,
    BringBack,
    EndOfLife,
    FoundView,
    GatePart,
    ListView,
    LogView,
    LotView,
    Material,
    MethodPart,
    MethodView,
    NotFoundView,
    PassportView,
    ProductView,
    RecallPart,
    RecallsView,
    ResinView,
    SheetView,
    StreamView,
    TombstoneView,
    View,
)

HOST = "https://pass.reedmouth.example"
TAG = "RY-22224M"
BIRD = "RY-2222A5"
UNPROVEN = "RY-2222BQ"
OLD = "RY-2222CX"
GONE = "RY-2222DG"
NB = "\u00a0"


class Sample:
    """All views in one language."""

    def __init__(self, lang: str = "en") -> None:
        self.lang = lang
        self.suffix = "" if lang == "en" else "FR/"

    def w(self, en: str, fr: str) -> str:
        return en if self.lang == "en" else fr

    def at(self, path: str) -> str:
        head, mark, anchor = path.partition("#")
        return head + self.suffix + mark + anchor

    def frame(self, path: str, title: str, **more: object) -> Frame:
        other = "fr" if self.lang == "en" else "en"
        theirs = path + ("FR/" if other == "fr" else "")
        frame = Frame(
            path=self.at(path),
            lang=self.lang,
            title=title,
            workshop="Reedmouth Yard",
            canonical=HOST + self.at(path),
            suffix=self.suffix,
            others=((other, theirs),),
            as_of=self.w("30 September 2026", "30 septembre 2026"),
            made_with="passport 1",
        )
        return replace(frame, **more)

    def bring_back(self, what: str = "") -> BringBack:
        subject = self.w(f"I have it: {what}", f"Je l’ai : {what}")
        return BringBack(
            when=Said(text=self.w("Tuesday evenings at the yard gate.", "Le mardi soir à la porte de la cour.")),
            message=Message(
                text=self.w("Write to the yard: I have it", "Écrire à la cour : je l’ai"),
                mailto="mailto:yard@reedmouth.example?subject=" + quote(subject),
            )
            if what
            else None,
        )

    def planter_flow(self) -> Flow:
        w = self.w
        return Flow(
            title=w("Where the plastic of this planter came from", "D’où vient le plastique de cette jardinière"),
            summary=w(
                "Three streams, 16.6 kg: most of it broken harbour crates, some bakery buckets, and the yard’s own offcuts.",
                "Trois filières, 16,6 kg : surtout des caisses cassées du port, des seaux de boulangerie et les chutes de la cour.",
            ),
            nodes=(
                FlowNode(
                    id="a",
                    label=w("Broken crates from the harbour", "Caisses cassées du port"),
                    mass="9.3 kg",
                    mass_g=9300,
                    kind="post-consumer",
                    note=w("post-consumer", "post-consommation"),
                    href=self.at("/S/HARBOUR-CRATES/"),
                ),
                FlowNode(
                    id="b",
                    label=w("Bakery buckets", "Seaux de boulangerie"),
                    mass="5.1 kg",
                    mass_g=5100,
                    kind="post-consumer",
                    note=w("post-consumer", "post-consommation"),
                    href=self.at("/S/BAKERY-BUCKETS/"),
                ),
                FlowNode(
                    id="c",
                    label=w("Trimmings from a cap moulder", "Carottes d’un mouleur de bouchons"),
                    mass="1.8 kg",
                    mass_g=1800,
                    kind="pre-consumer",
                    note=w("pre-consumer", "pré-consommation"),
                    href=self.at("/S/CAP-TRIMMINGS/"),
                ),
                FlowNode(
                    id="d",
                    label=w("Green masterbatch", "Colorant vert"),
                    mass="0.4 kg",
                    mass_g=400,
                    kind="additive",
                    note=w("additive", "additif"),
                ),
                FlowNode(
                    id="e",
                    label="SH-021",
                    mass="9.3 kg",
                    mass_g=9300,
                    note=w("washed flake", "paillettes lavées"),
                    href=self.at("/L/SH-021/"),
                ),
                FlowNode(
                    id="f",
                    label="SH-024",
                    mass="5.1 kg",
                    mass_g=5100,
                    note=w("washed flake", "paillettes lavées"),
                    href=self.at("/L/SH-024/"),
                ),
                FlowNode(
                    id="g",
                    label="BL-007",
                    mass="16.6 kg",
                    mass_g=16600,
                    note=w("blend", "mélange"),
                    href=self.at("/L/BL-007/"),
                ),
                FlowNode(
                    id="h",
                    label="BAR-009",
                    mass="16.6 kg",
                    mass_g=16600,
                    note=w("extruded bars", "barres extrudées"),
                    href=self.at("/L/BAR-009/"),
                ),
                FlowNode(
                    id="i",
                    label=w("This planter", "Cette jardinière"),
                    mass="16.6 kg",
                    mass_g=16600,
                    kind="item",
                    note=TAG,
                ),
            ),
            links=(
                FlowLink(source="a", target="e", mass_g=9300),
                FlowLink(source="b", target="f", mass_g=5100),
                FlowLink(source="e", target="g", mass_g=9300),
                FlowLink(source="f", target="g", mass_g=5100),
                FlowLink(source="c", target="g", mass_g=1800),
                FlowLink(source="d", target="g", mass_g=400),
                FlowLink(source="g", target="h", mass_g=16600),
                FlowLink(source="h", target="i", mass_g=16600),
            ),
            folded=Link(
                text=w("All 14 lots behind it, with their masses", "Les 14 lots derrière, avec leurs masses"),
                href=self.at("/L/BAR-009/"),
            ),
        )

    def cautions(self) -> tuple[Caution, ...]:
        w = self.w
        return (
            Caution(
                sign="food",
                text=w(
                    "Not for food, drink or animal feed.", "Ni pour les aliments, ni pour la nourriture des animaux."
                ),
                why=w(
                    "Its history is not known in full, and no migration test was made.",
                    "Son passé n’est pas entièrement connu et aucun essai de migration n’a été fait.",
                ),
                source=w(
                    "Regulation (EU) 2022/1616: recycled plastic for food needs an authorised process.",
                    "Règlement (UE) 2022/1616 : le plastique recyclé alimentaire exige un procédé autorisé.",
                ),
            ),
            Caution(
                sign="load",
                text=w("Do not stand, sit or hang on it.", "Ne pas monter, s’asseoir ni se suspendre dessus."),
                why=w(
                    "It was not load-tested; polypropylene creeps.",
                    "Il n’a pas été essayé en charge ; le polypropylène flue.",
                ),
            ),
            Caution(
                sign="heat",
                text=w(
                    "Burns and drips: keep it from barbecues and candles.",
                    "Brûle et goutte : loin des barbecues et des bougies.",
                ),
            ),
            Caution(
                sign="dust",
                text=w("Catch the shavings when you cut or drill.", "Recueillez les copeaux si vous coupez ou percez."),
                why=w("Never down a drain.", "Jamais dans une évacuation."),
            ),
        )

    def header(self) -> tuple[Row, ...]:
        w = self.w
        return (
            Row(label=w("Passport", "Passeport"), value=f"{HOST}/T/{TAG}#passport"),
            Row(label=w("Product identifier", "Identifiant du produit"), value=f"{HOST}/T/{TAG}"),
            Row(label=w("Level", "Niveau"), value=w("item", "objet")),
            Row(label=w("Schema", "Schéma"), value="UNTP 0.7.0"),
            Row(label=w("Status", "État"), value=w("in use", "en usage")),
            Row(label=w("Last update", "Dernière mise à jour"), value=w("30 September 2026", "30 septembre 2026")),
            Row(label=w("Operator", "Opérateur"), value=HOST),
        )

    def planter(self) -> PassportView:
        w = self.w
        return PassportView(
            frame=self.frame(
                f"/T/{TAG}/",
                w("Planter RY-22224M", "Jardinière RY-22224M"),
                description=w(
                    "A planter of polypropylene, a single stream once the screws are out.",
                    "Une jardinière en polypropylène, une seule filière une fois les vis ôtées.",
                ),
                data_file=f"/T/{TAG}/passport.json",
                data_links=(Link(text="passport.json", href=f"/T/{TAG}/passport.json"),),
                json_ld=compact_json(
                    {
                        "@context": "https://schema.org",
                        "@type": "IndividualProduct",
                        "@id": f"{HOST}/T/{TAG}",
                        "name": "Planter",
                        "serialNumber": TAG,
                        "material": "PP",
                        "productionDate": "2026-05-20",
                        "weight": {"@type": "QuantitativeValue", "value": 16.6, "unitCode": "KGM"},
                        "manufacturer": {"@type": "Organization", "name": "Reedmouth Yard", "url": HOST},
                        "additionalProperty": [
                            {"@type": "PropertyValue", "name": "Recycled content", "unitCode": "P1", "minValue": 92}
                        ],
                    }
                ),
            ),
            tag=TAG,
            product=Link(text=w("Planter", "Jardinière"), href=self.at("/P/PLANTER/")),
            made=w("Made on 20 May 2026 in Reedmouth", "Faite le 20 mai 2026 à Reedmouth"),
            facts=(
                Row(label=w("Size", "Taille"), value="800 × 300 × 320 mm"),
                Row(label=w("Plastic", "Plastique"), value="16.6 kg", note="± 0.2 kg"),
                Row(
                    label=w("Made for", "Prévu pour"),
                    value=w("flowers and shrubs, outdoors", "fleurs et arbustes, dehors"),
                ),
                Row(
                    label=w("Not for", "Pas pour"),
                    value=w("sitting on; growing food without a liner", "s’asseoir ; potager sans doublure"),
                ),
                Row(label=w("Batch", "Série"), value="PL-2026-05", href=self.at("/L/BAR-009/")),
            ),
            material=Material(
                symbol="PP",
                name=w("polypropylene", "polypropylène"),
                marking=">PP<",
                basis=w("read by infrared on 20 random pieces", "lu par infrarouge sur 20 pièces au hasard"),
                href=self.at("/R/PP/"),
            ),
            single_stream=Answer(
                text=w("Yes", "Oui"),
                detail=w("once its 8 steel screws are out.", "une fois ses 8 vis d’acier ôtées."),
                tone="good",
            ),
            now=Answer(
                text=w("Keep it, or bring it back", "Gardez-la, ou rapportez-la"),
                detail=w(
                    "Broken? See whether it can be mended. If not: take out the screws, rinse off the soil, bring it to the yard.",
                    "Cassée ? Voyez si elle se répare. Sinon : ôtez les vis, rincez la terre, rapportez-la à la cour.",
                ),
            ),
            doubts=(
                DoubtLine(
                    text=w(
                        "Three crates were too dark for the scanner.",
                        "Trois caisses étaient trop sombres pour le lecteur.",
                    ),
                    why=w(
                        "They are counted as not polypropylene in the purity bound.",
                        "Elles comptent comme autre chose dans la borne de pureté.",
                    ),
                    href=self.at("/method/#doubts"),
                ),
            ),
            recycled=(
                Figure(
                    text=w(f"at least 92{NB}%", "au moins 92\u202f%"),
                    kind=w("post-consumer", "post-consommation"),
                    share_of=w("of the plastic, by mass", "du plastique, en masse"),
                    uncertainty=w("± 1.2 points, weighing only", "± 1,2 point, pesées seules"),
                    href=self.at("/method/#recycled-content"),
                ),
                Figure(
                    text=w(f"at least 97{NB}%", "au moins 97\u202f%"),
                    kind=w(
                        "recycled, trimmings from other firms included",
                        "recyclé, chutes d’autres entreprises comprises",
                    ),
                    share_of=w("of the plastic", "du plastique"),
                    href=self.at("/method/#recycled-content"),
                ),
                Figure(
                    text=w(f"at least 95{NB}%", "au moins 95\u202f%"),
                    kind=w("recycled", "recyclé"),
                    share_of=w("of the whole thing, screws included", "de l’objet entier, vis comprises"),
                    href=self.at("/method/#recycled-content"),
                ),
            ),
            recycled_sentence=w(
                "Recycled content of this planter on 20 May 2026, by mass balance over its lots.",
                "Produit comportant au moins 95\u202f% de matières recyclées.",
            ),
            flow=self.planter_flow(),
            care_points=(
                Said(
                    text=w(
                        "Lift it empty in frost: polypropylene is brittle near 0 °C.",
                        "Par gel, soulevez-la vide : le polypropylène casse vers 0 °C.",
                    )
                ),
                Said(text=w("Soap and water; no solvents.", "Eau et savon ; pas de solvant.")),
                Said(text=w("Shade lengthens its life.", "L’ombre prolonge sa vie.")),
            ),
            cautions=self.cautions(),
            tools=w("One screwdriver: TX20", "Un seul tournevis : TX20"),
            take_apart=(
                Step(text=w("Tip out the soil.", "Videz la terre."), sign="pull"),
                Step(
                    text=w("Take out the 8 screws of the corners.", "Ôtez les 8 vis des coins."),
                    tool="TX20",
                    frees=w("four walls", "quatre parois"),
                    sign="screw",
                ),
                Step(
                    text=w("Pull the floor out of its groove.", "Tirez le fond de sa rainure."),
                    frees=w("floor", "fond"),
                    sign="pull",
                ),
            ),
            end_of_life=EndOfLife(
                mend=(
                    Said(
                        text=w(
                            "A cracked bar can be swapped: each is held by two screws.",
                            "Une barre fendue se remplace : deux vis la tiennent.",
                        )
                    ),
                    Said(
                        text=w(
                            "The yard cuts you a new one from the same resin.",
                            "La cour vous en coupe une de la même résine.",
                        )
                    ),
                ),
                parts=(
                    PartLine(
                        name=w("Walls and floor", "Parois et fond"),
                        material="PP",
                        mass="16.6 kg",
                        goes_to=w("polypropylene box at the yard", "bac polypropylène de la cour"),
                        href=self.at("/R/PP/"),
                    ),
                    PartLine(
                        name=w("8 screws", "8 vis"),
                        material=w("steel", "acier"),
                        mass="256 g",
                        goes_to=w("use again, or scrap metal", "à réemployer, ou ferraille"),
                    ),
                ),
                prepare=(
                    Said(text=w("Rinse off soil and roots.", "Rincez terre et racines.")),
                    Said(
                        text=w(
                            "Cut nothing: the yard shreds whole bars.",
                            "Ne coupez rien : la cour broie les barres entières.",
                        )
                    ),
                ),
                takers=(
                    Said(
                        text=w(
                            "The yard takes it. Elsewhere, ask: “Do you take polypropylene, code 5, rigid?”",
                            "La cour la reprend. Ailleurs, demandez : « Prenez-vous le polypropylène rigide, code 5 ? »",
                        )
                    ),
                ),
                never=(
                    Said(text=w("Never burn it.", "La brûler.")),
                    Said(text=w("Never mix it with other plastics.", "La mêler à d’autres plastiques.")),
                ),
            ),
            bring_back=self.bring_back(TAG),
            evidence=(
                EvidenceLine(
                    test=w("near infrared", "proche infrarouge"),
                    reads="PP",
                    pieces=w("20 pieces", "20 pièces"),
                    drawn=w("drawn at random", "tirées au hasard"),
                    lot=Link(text="IN-031", href=self.at("/L/SH-021/")),
                ),
                EvidenceLine(
                    test=w("moulded number 2", "numéro moulé 2"),
                    reads="PE-HD",
                    pieces=w("3 pieces", "3 pièces"),
                    drawn=w("picked", "choisies"),
                    against=True,
                    lot=Link(text="IN-034", href=self.at("/L/SH-024/")),
                ),
            ),
            life=(
                EventLine(date="2026-05-20", day=w("20 May 2026", "20 mai 2026"), text=w("Made", "Faite")),
                EventLine(
                    date="2026-06-02",
                    day=w("2 June 2026", "2 juin 2026"),
                    text=w("Handed over, allotments", "Remise, jardins partagés"),
                ),
            ),
            label=Picture(
                src=f"/labels/{TAG}.png", alt=w("The tag’s QR code", "Le code QR de l’étiquette"), width=354, height=354
            ),
            header=self.header(),
        )

    def bird_box(self) -> PassportView:
        w = self.w
        base = self.planter()
        return replace(
            base,
            frame=self.frame(f"/T/{BIRD}/", w("Bird box RY-2222A5", "Nichoir RY-2222A5")),
            tag=BIRD,
            product=Link(text=w("Bird box", "Nichoir"), href=self.at("/P/BIRD-BOX/")),
            material=Material(
                symbol="PP + PE-HD",
                name=w("two plastics, screwed together", "deux plastiques vissés"),
                marking=">PP,PE-HD<",
                basis=w("body PP, lid PE-HD; each read by infrared", "corps PP, couvercle PE-HD ; lus par infrarouge"),
            ),
            single_stream=Answer(
                text=w("No, but two clean ones", "Non, mais deux propres"),
                detail=w(
                    "Take the lid off: body to PP, lid to PE-HD, 4 screws to metal.",
                    "Ôtez le couvercle : corps au PP, couvercle au PE-HD, 4 vis au métal.",
                ),
                tone="mind",
            ),
            doubts=(),
            flow=None,
            life=(),
            header=(),
            label=None,
        )

    def unproven(self) -> PassportView:
        w = self.w
        return replace(
            self.planter(),
            frame=self.frame(f"/T/{UNPROVEN}/", w("Edging RY-2222BQ", "Bordure RY-2222BQ")),
            tag=UNPROVEN,
            product=Link(
                text=w("Garden edging, four long bars", "Bordure de jardin, quatre longues barres"),
                href=self.at("/P/PLANTER/"),
            ),
            material=Material(
                symbol="?",
                name=w("mixed plastic, resin not established", "plastique mêlé, résine non établie"),
                basis=w(
                    "number and letters disagree; no test decides",
                    "numéro et lettres se contredisent ; aucun essai ne tranche",
                ),
                proven=False,
            ),
            single_stream=Answer(
                text=w("No", "Non"),
                detail=w(
                    "Nobody should recycle it as one resin. Bring it back to us only.",
                    "Personne ne doit le recycler comme une résine. À rapporter chez nous seulement.",
                ),
                tone="mind",
            ),
            doubts=(
                DoubtLine(
                    text=w(
                        "The number moulded in 9 pieces says 5, the letters say PE-HD.",
                        "Le numéro moulé dans 9 pièces dit 5, les lettres disent PE-HD.",
                    ),
                    why=w("Nothing was tested that could decide.", "Aucun essai n’a tranché."),
                    href=self.at("/method/#doubts"),
                ),
                DoubtLine(
                    text=w(
                        "Run EX-011 does not close: 1.2 kg are missing.",
                        "L’opération EX-011 ne boucle pas : il manque 1,2 kg.",
                    ),
                    why=w(
                        "Beyond three times the uncertainty, so no “at least” figure is given.",
                        "Plus de trois fois l’incertitude : aucun chiffre « au moins ».",
                    ),
                    href=self.at("/method/#doubts"),
                ),
                DoubtLine(text="The moisture of lot SH-030 is not known.", lang="" if self.lang == "en" else "en"),
            ),
            recycled=(
                Figure(
                    text="",
                    kind=w("post-consumer", "post-consommation"),
                    share_of=w("of the plastic, by mass", "du plastique, en masse"),
                    withheld=w(
                        "Withheld: the books of one run do not close.",
                        "Retenu : les comptes d’une opération ne bouclent pas.",
                    ),
                    href=self.at("/method/#recycled-content"),
                ),
            ),
            recycled_sentence="",
            flow=None,
        )

    def old(self) -> PassportView:
        w = self.w
        return replace(
            self.planter(),
            frame=self.frame(f"/T/{OLD}/", w("Planter RY-2222CX", "Jardinière RY-2222CX")),
            tag=OLD,
            notices=(
                Notice(
                    title=w("Please bring this back", "Merci de la rapporter"),
                    text=w(
                        "A late test found lead in one of its lots. Leave it where it is, do not cut it, and tell us.",
                        "Un essai tardif a trouvé du plomb dans un de ses lots. Laissez-la en place, ne la coupez pas et prévenez-nous.",
                    ),
                    date=w("14 August 2026", "14 août 2026"),
                ),
            ),
            now=Answer(
                text=w("Do not cut it. Bring it back.", "Ne la coupez pas. Rapportez-la."),
                detail=w("It goes to no other recycler.", "Elle ne va à aucun autre recycleur."),
                tone="mind",
            ),
            cautions=(
                Caution(
                    sign="old",
                    text=w("Old additives suspected.", "Vieux additifs soupçonnés."),
                    why=w(
                        "Red crates from before 2000 are among its streams.",
                        "Des caisses rouges d’avant 2000 sont parmi ses filières.",
                    ),
                    source="2009/292/EC",
                ),
                *self.cautions(),
            ),
        )

    def gone(self) -> TombstoneView:
        w = self.w
        return TombstoneView(
            frame=self.frame(f"/T/{GONE}/", w("RY-2222DG, no longer there", "RY-2222DG, n’est plus")),
            tag=GONE,
            title=w("This one is no more", "Celle-ci n’est plus"),
            text=w(
                "It came back on 3 September 2026 and was shredded for new bars.",
                "Revenue le 3 septembre 2026, elle a été broyée pour de nouvelles barres.",
            ),
            product=Link(text=w("Planter", "Jardinière"), href=self.at("/P/PLANTER/")),
            became=(Link(text="SH-024", href=self.at("/L/SH-024/"), note="15.9 kg"),),
            replaced_by=Link(text=TAG, href=self.at(f"/T/{TAG}/")),
            life=self.planter().life,
        )

    def sheet(self) -> SheetView:
        """The end-of-life sheet of the planter."""
        w, planter = self.w, self.planter()
        return SheetView(
            frame=self.frame(f"/H/{TAG}/", w(f"{TAG}, end of life", f"{TAG}, fin de vie")),
            tag=TAG,
            product=planter.product,
            passport=Link(text=TAG, href=self.at(f"/T/{TAG}/")),
            material=planter.material,
            stream=planter.single_stream,
            notices=self.old().notices,
            doubts=planter.doubts,
            mend=planter.end_of_life.mend,
            spares=(Row(label=w("bars", "barres"), value=w("BAR-009: 3.1 kg left", "BAR-009 : reste 3,1 kg")),),
            take_apart=planter.take_apart,
            tools=planter.tools,
            parts=planter.end_of_life.parts,
            total="16.7 kg",
            prepare=planter.end_of_life.prepare,
            takers=planter.end_of_life.takers,
            never=planter.end_of_life.never,
            bring_back=planter.bring_back,
            address=f"pass.reedmouth.example/H/{TAG}",
        )

    def recalls(self) -> RecallsView:
        """A recall that holds and one that ended."""
        w = self.w
        row = (
            Link(text=OLD, href=self.at(f"/T/{OLD}/")),
            Link(text="2.0 %", note="320 g"),
            Link(text=w("quay", "quai")),
        )
        head = (w("Tag", "Étiquette"), w("Of its plastic", "De son plastique"), w("Last known", "Dernier signe"))
        things = Table(
            title=w("Things that hold it", "Objets qui en contiennent"), head=head, rows=(row,), numeric=(1,)
        )
        reason = Said(text=w("Lead in the pigment", "Du plomb dans le pigment"))
        return RecallsView(
            frame=self.frame("/recalls/", w("Recalls", "Rappels")),
            intro=w("A recall is never deleted.", "Un rappel ne s’efface jamais."),
            parts=(
                RecallPart(
                    anchor="RC-002", title="RC-002: BL-007", state=w("open", "en cours"), open=True,
                    day=w("14 August 2026", "14 août 2026"), reason=reason, paper="Report 26-031",
                    lots=(Link(text="BL-007", href=self.at("/L/BL-007/"), note="100 %"),), things=things,
                ),
                RecallPart(
                    anchor="RC-001", title="RC-001: SH-021", state=w("ended", "terminé"), open=False,
                    day=w("2 May 2026", "2 mai 2026"), reason=reason, ended_because=Said(text=w("None found", "Rien trouvé")),
                ),
            ),
        )  # fmt: skip

    def gate(self) -> GatePart:
        """Curves and a table of what became of things."""
        w = self.w
        rows = ((Link(text=w("6 months", "6 mois")), Link(text="8 %"), Link(text="10")),)
        head = (w("After", "Au bout de"), w("Come back", "Revenus"), w("Still watched", "Encore suivis"))
        table = Table(title=w("How they ended", "Comment ils ont fini"), head=head, rows=rows, numeric=(1, 2))
        curves = Curves(
            title=table.title,
            summary=w("8 % had come back after 6 months.", "8 % étaient revenus au bout de 6 mois."),
            lines=(
                Line(name=w("Come back", "Revenus"), points=((0.0, 0.0), (120.0, 0.08))),
                Line(name=w("95 % bounds", "bornes à 95 %"), points=((0.0, 0.0), (120.0, 0.3)), bound=True),
            ),
            until=400.0,
            marks=((183.0, w("6 months", "6 mois")),),
            table=table,
        )
        return GatePart(
            note=w("A thing counts from its first day out.", "Un objet compte dès sa sortie."),
            curves=(curves,),
            tables=(table,),
        )

    def lot(self, lot: str) -> LotView:
        w = self.w
        return LotView(
            frame=self.frame(f"/L/{lot}/", w(f"Lot {lot}", f"Lot {lot}")),
            symbol=Symbol(
                payload=f"https://PASS.REEDMOUTH.EXAMPLE/L/{lot}",
                alt=w(f"Code that leads to the page of lot {lot}", f"Code qui mène à la page du lot {lot}"),
                address=f"pass.reedmouth.example/L/{lot}",
                sample=w("SAMPLE", "SPÉCIMEN"),
            ),
            lot=lot,
            what=w("Washed flake, 20 April 2026", "Paillettes lavées, 20 avril 2026"),
            material=Material(
                symbol="PP",
                name=w("polypropylene", "polypropylène"),
                marking=">PP<",
                basis=w("at least 96 % by random pieces", "au moins 96 % d’après des pièces au hasard"),
                href=self.at("/R/PP/"),
            ),
            state=Answer(
                text=w("2.9 kg on the dry shelf", "2,9 kg au sec"),
                detail=w("52.0 kg were drawn.", "52,0 kg ont été prélevés."),
            ),
            facts=(
                Row(label=w("Mass", "Masse"), value="54.9 kg", note="± 0.2 kg"),
                Row(label=w("Moisture", "Humidité"), value="0.5 %"),
                Row(label=w("Melt flow", "Fluidité"), value="0.8 g/10 min", note="190 °C/2.16 kg"),
            ),
            doubts=self.planter().doubts,
            recycled=self.planter().recycled[:1],
            shares=(
                Share(
                    label=w("Broken crates from the harbour", "Caisses cassées du port"),
                    figure="61.0 %",
                    part=0.61,
                    href=self.at("/S/HARBOUR-CRATES/"),
                ),
                Share(
                    label=w("Bakery buckets", "Seaux de boulangerie"),
                    figure="34.5 %",
                    part=0.345,
                    href=self.at("/S/BAKERY-BUCKETS/"),
                ),
                Share(label=w("Not known", "Inconnu"), figure="4.5 %", part=0.045),
            ),
            flow=self.planter_flow(),
            balance=self.balance("SH-021"),
            went_to=Table(
                title=w("What it went into", "Où il est allé"),
                head=("Lot", w("Mass", "Masse"), "Date"),
                numeric=(1,),
                rows=(
                    (Link(text="BL-007", href=self.at("/L/BL-007/")), Link(text="52.0 kg"), Link(text="2026-04-30")),
                ),
            ),
            evidence=self.planter().evidence,
            cautions=self.cautions()[2:],
            life=self.planter().life[:1],
            corrected=self.corrected(),
        )

    def corrected(self, about: str = "") -> tuple[CorrectedLine, ...]:
        w = self.w
        return (
            CorrectedLine(
                date="2026-05-02",
                day=w("2 May 2026", "2 mai 2026"),
                about=Link(text=about, href=self.at(f"/L/{about}/#corrected") if about else ""),
                text=w("mass was 26.4 kg, is 62.4 kg", "masse : 26,4 kg, en réalité 62,4 kg"),
                because=Said(text="The two figures were swapped <by hand>", lang="" if self.lang == "en" else "en"),
            ),
        )

    def balance(self, name: str) -> Balance:
        w = self.w
        return Balance(
            title=w(f"Does {name} add up?", f"{name} : le compte est-il bon ?"),
            summary=w("Yes, within the scales.", "Oui, aux balances près."),
            left_name=w("In", "Entré"),
            left=(
                Row(label="HD-031", value="55.2 kg", href=self.at("/L/BL-007/")),
                Row(label=w("Water gained", "Eau gagnée"), value="0.0 kg"),
            ),
            right_name=w("Out", "Sorti"),
            right=(
                Row(label="SH-021", value="54.9 kg"),
                Row(label=w("Dust", "Poussière"), value="0.2 kg"),
                Row(label=w("Unaccounted", "Inexpliqué"), value="0.1 kg", note="± 0.3 kg"),
            ),
            total="55.2 kg",
        )

    def stream(self, name: str, title: str) -> StreamView:
        w = self.w
        return StreamView(
            frame=self.frame(f"/S/{name}/", title),
            stream=name,
            title=Said(text=title),
            origin=Answer(
                text=w("Post-consumer", "Post-consommation"),
                detail=w(
                    "used, then thrown away, by those who used it.", "servi, puis jeté, par ceux qui s’en servaient."
                ),
            ),
            facts=(
                Row(
                    label=w("Collected", "Collecte"),
                    value=w("by the harbour office, monthly", "par la capitainerie, chaque mois"),
                ),
                Row(label=w("Country", "Pays"), value="IE"),
            ),
            became=(
                Figure(
                    text="412.6 kg",
                    kind=w("received in 9 lots", "reçus en 9 lots"),
                    href=self.at("/method/#uncertainty"),
                ),
                Figure(text="24", kind=w("things made with it", "objets faits avec")),
            ),
            months=self.months(),
            lots=Table(
                title=w("Its lots", "Ses lots"),
                head=("Lot", w("Mass", "Masse")),
                numeric=(1,),
                rows=((Link(text="SH-021", href=self.at("/L/SH-021/")), Link(text="54.9 kg")),),
            ),
        )

    def resin(self, symbol: str) -> ResinView:
        w = self.w
        return ResinView(
            frame=self.frame(f"/R/{symbol}/", symbol),
            material=Material(
                symbol=symbol,
                name=w("polypropylene", "polypropylène")
                if symbol == "PP"
                else w("high-density polyethylene", "polyéthylène haute densité"),
                marking=f">{symbol}<",
            ),
            about=(
                Said(
                    text=w(
                        "Stiff, light, waxy. It floats in water and takes a living hinge.",
                        "Raide, léger, cireux. Il flotte et supporte une charnière souple.",
                    )
                ),
            ),
            numbers=(
                Row(label=w("Marking", "Marquage"), value=f">{symbol}<", note="ISO 11469"),
                Row(label=w("Number", "Numéro"), value="5", note="ASTM D7611, 97/129/EC"),
                Row(label=w("Density", "Masse volumique"), value="0.900–0.910 g/cm³"),
            ),
            know_it=(
                Row(label=w("Water", "Eau"), value=w("floats", "flotte")),
                Row(
                    label=w("Alcohol 45 %", "Alcool 45 %"),
                    value=w("floats, where polyethylene sinks", "flotte, le polyéthylène coule"),
                ),
                Row(label=w("Fingernail", "Ongle"), value=w("leaves no mark", "ne marque pas")),
            ),
            care_points=self.planter().care_points,
            cautions=self.cautions(),
            figures=(
                Row(label=w("In stock", "En stock"), value="118.4 kg"),
                Row(label=w("In use", "En usage"), value="402.0 kg"),
            ),
        )

    def product(self, name: str, title: str) -> ProductView:
        w = self.w
        return ProductView(
            frame=self.frame(f"/P/{name}/", title),
            title=Said(text=title),
            facts=self.planter().facts[:4],
            care=to_prose(
                w(
                    "Keep it:\n- out of the frost when full\n- away from solvents",
                    "La garder :\n- hors du gel si elle est pleine\n- loin des solvants",
                )
            ),
            take_apart=self.planter().take_apart,
            tools=self.planter().tools,
            cautions=self.cautions(),
            figures=(
                Row(label=w("In use", "En usage"), value="21"),
                Row(label=w("Came back", "Revenues"), value="3"),
                Row(label=w("Lost", "Perdues"), value="0"),
            ),
            tags=self.tag_table(3),
        )

    def tag_table(self, count: int) -> Table:
        w = self.w
        things = ((TAG, "Planter"), (BIRD, "Bird box"), (UNPROVEN, "Edging"), (OLD, "Planter"), (GONE, "Planter"))
        return Table(
            title=w("Tags", "Étiquettes"),
            head=(w("Tag", "Étiquette"), w("Thing", "Objet"), w("Made", "Fait"), w("State", "État")),
            rows=tuple(
                (
                    Link(text=tag, href=self.at(f"/T/{tag}/")),
                    Link(text=thing, lang="" if self.lang == "en" else "en"),
                    Link(text="2026-05-20"),
                    Link(text=w("in use", "en usage")),
                )
                for tag, thing in things[:count]
            ),
        )

    def months(self) -> Bars:
        w = self.w
        names = ["J", "F", "M", "A", "M", "J", "J", "A", "S", "O", "N", "D"]
        received = [31, 0, 62, 80, 44, 25, 60, 71, 33, 90, 12, 0, 48, 66, 20, 62, 104, 51, 38, 72, 41, 0, 28, 55]
        made = [0, 0, 20, 33, 41, 38, 12, 50, 44, 30, 22, 9, 0, 31, 40, 28, 50, 66, 44, 20, 38, 17, 8, 12]
        back = [0] * 12 + [0, 0, 0, 4, 0, 16, 0, 0, 15, 0, 0, 17]
        places = tuple(Link(text=f"{2024 + (9 + i) // 12}-{(9 + i) % 12 + 1:02}") for i in range(24))
        texts = lambda values: tuple(f"{Decimal(v):.1f}" for v in values)  # noqa: E731
        return Bars(
            title=w("Month by month", "Mois par mois"),
            summary=w(
                "24 months to September 2026: 1,093 kg received, 653 kg made into things, 52 kg came back.",
                "24 mois jusqu’à septembre 2026 : 1093 kg reçus, 653 kg devenus objets, 52 kg revenus.",
            ),
            unit="kg",
            place_name=w("Month", "Mois"),
            places=places,
            series=(
                Series(name=w("Received", "Reçu"), values=tuple(map(float, received)), texts=texts(received)),
                Series(name=w("Came back", "Revenu"), values=tuple(map(float, back)), texts=texts(back)),
                Series(name=w("Made into things", "Devenu objet"), values=tuple(map(float, made)), texts=texts(made)),
            ),
            below=1,
            marks=tuple(names[(9 + i) % 12] if i % 3 == 0 else "" for i in range(24)),
        )

    def log(self) -> LogView:
        w = self.w
        return LogView(
            frame=self.frame("/", w("Material log", "Registre des matières")),
            about=to_prose(
                w(
                    "We turn broken crates, buckets and caps into things for gardens, **weigh every step**, and take everything back.",
                    "De caisses, de seaux et de bouchons cassés nous faisons des objets de jardin ; **nous pesons chaque étape** et nous reprenons tout.",
                )
            ),
            example=TAG,
            headline=(
                Figure(text="1,093 kg", kind=w("received", "reçus"), href=self.at("/method/#uncertainty")),
                Figure(
                    text="402.0 kg", kind=w("in use, in 44 things", "en usage, dans 44 objets"), href=self.at("/T/")
                ),
                Figure(text="52.3 kg", kind=w("came back", "revenus"), href=self.at("/T/")),
                Figure(
                    text=w("Unaccounted 1.4 kg", "Inexpliqué 1,4 kg"),
                    kind="",
                    uncertainty="± 2.1 kg",
                    href=self.at("/method/#uncertainty"),
                ),
            ),
            balances=(
                Balance(
                    title=w("The yard’s books", "Les comptes de la cour"),
                    summary=w(
                        "Everything that came in is somewhere: both sides print the same total.",
                        "Tout ce qui est entré est quelque part : les deux côtés ont le même total.",
                    ),
                    left_name=w("Came in", "Entré"),
                    left=(
                        Row(label=w("Stock at the start", "Stock de départ"), value="0.0 kg"),
                        Row(label=w("Received", "Reçu"), value="1,093.0 kg", href=self.at("/L/")),
                        Row(label=w("Came back", "Revenu"), value="52.3 kg", href=self.at("/T/")),
                        Row(label=w("Water gained", "Eau gagnée"), value="0.9 kg"),
                    ),
                    right_name=w("Went out or is here", "Sorti ou ici"),
                    right=(
                        Row(label=w("Made into things", "Devenu objet"), value="653.0 kg", href=self.at("/P/")),
                        Row(label=w("Sent to others", "Envoyé ailleurs"), value="212.0 kg"),
                        Row(label=w("Losses", "Pertes"), value="41.8 kg"),
                        Row(label=w("In stock", "En stock"), value="238.0 kg", href=self.at("/L/")),
                        Row(label=w("Unaccounted", "Inexpliqué"), value="1.4 kg", note="± 2.1 kg"),
                    ),
                    total="1,146.2 kg",
                ),
                self.balance("SH-021"),
            ),
            months=self.months(),
            resins=Bars(
                title=w("By resin", "Par résine"),
                summary=w("In stock and in use.", "En stock et en usage."),
                unit="kg",
                place_name=w("Resin", "Résine"),
                places=(
                    Link(text="PP", href=self.at("/R/PP/")),
                    Link(text="PE-HD", href=self.at("/R/PE-HD/")),
                    Link(text=w("not established", "non établie")),
                ),
                series=(
                    Series(name=w("In stock", "En stock"), values=(118, 96, 24), texts=("118.0", "96.0", "24.0")),
                    Series(name=w("In use", "En usage"), values=(260, 122, 20), texts=("260.0", "122.0", "20.0")),
                ),
                totals=("378.0 kg", "218.0 kg", "44.0 kg"),
            ),
            streams=Table(
                title=w("Streams", "Filières"),
                head=(w("Stream", "Filière"), w("Received", "Reçu")),
                numeric=(1,),
                rows=(
                    (
                        Link(
                            text=w("Broken crates from the harbour", "Caisses cassées du port"),
                            href=self.at("/S/HARBOUR-CRATES/"),
                        ),
                        Link(text="412.6 kg"),
                    ),
                    (
                        Link(text=w("Bakery buckets", "Seaux de boulangerie"), href=self.at("/S/BAKERY-BUCKETS/")),
                        Link(text="280.4 kg"),
                    ),
                ),
                more=Link(text=w("All streams", "Toutes les filières"), href=self.at("/S/")),
            ),
            products=Table(
                title=w("Things", "Objets"),
                head=(w("Thing", "Objet"), w("In use", "En usage"), w("Back", "Revenus")),
                numeric=(1, 2),
                rows=(
                    (
                        Link(text=w("Planter", "Jardinière"), href=self.at("/P/PLANTER/")),
                        Link(text="21"),
                        Link(text="3"),
                    ),
                    (
                        Link(text=w("Bird box", "Nichoir"), href=self.at("/P/BIRD-BOX/")),
                        Link(text="12"),
                        Link(text="0"),
                    ),
                ),
            ),
            latest=self.planter().life,
            corrected=self.corrected("SH-021"),
            doubts=self.unproven().doubts[:2],
            doors=(
                Link(text=w("All tags", "Toutes les étiquettes"), href=self.at("/T/")),
                Link(text=w("I found a thing", "J’ai trouvé un objet"), href=self.at("/found/")),
                Link(text="Lots", href=self.at("/L/")),
            ),
            bring_back=self.bring_back(),
        )

    def list_of(self, path: str, title: str) -> ListView:
        return ListView(
            frame=self.frame(path, title),
            title=title,
            intro=self.w("In the order in which they were given out.", "Dans l’ordre où elles ont été données."),
            table=replace(self.tag_table(5), title=title),
            pages=(Link(text="1–5"), Link(text="6–9", href=self.at("/T/"))) if path == "/T/" else (),
            finder=path == "/T/",
            example=TAG,
        )

    def found(self) -> FoundView:
        w = self.w
        return FoundView(
            frame=self.frame("/found/", w("I found a thing", "J’ai trouvé un objet")),
            example=TAG,
            steps=(
                Said(
                    text=w(
                        "Look for a number like the one above, cut or printed into the thing.",
                        "Cherchez un numéro comme celui-ci, gravé ou imprimé sur l’objet.",
                    )
                ),
                Said(
                    text=w(
                        "Type it below, or look it up in the list.",
                        "Tapez-le ci-dessous, ou cherchez-le dans la liste.",
                    )
                ),
                Said(text=w("No number? Bring it anyway.", "Pas de numéro ? Rapportez-le quand même.")),
            ),
            bring_back=self.bring_back(w("a thing without a number", "un objet sans numéro")),
            doors=(Link(text=w("All tags", "Toutes les étiquettes"), href=self.at("/T/")),),
        )

    def method(self) -> MethodView:
        w = self.w
        anchors = ("recycled-content", "single-stream", "uncertainty", "doubts")
        titles = (
            w("Recycled content", "Matières recyclées"),
            w("Single stream", "Une seule filière"),
            w("Uncertainty", "Incertitude"),
            w("Doubts", "Doutes"),
        )
        text = w(
            "Computed from weighed lots. See [the log](/).", "Calculé d’après des lots pesés. Voir [le registre](/FR/)."
        )
        return MethodView(
            frame=self.frame("/method/", w("How figures are made", "D’où viennent les chiffres")),
            parts=tuple(
                MethodPart(anchor=a, title=x, prose=to_prose(text)) for a, x in zip(anchors, titles, strict=True)
            ),
        )

    def notfound(self) -> NotFoundView:
        w = self.w
        return NotFoundView(
            frame=replace(
                self.frame("/404.html", w("No page here", "Pas de page ici")), path="/404.html", canonical="", others=()
            ),
            example=TAG,
            doors=(
                Link(text=w("All tags", "Toutes les étiquettes"), href=self.at("/T/")),
                Link(text=w("Home", "Accueil"), href=self.at("/")),
            ),
            bring_back=self.bring_back(),
        )

    def views(self) -> tuple[View, ...]:
        w = self.w
        made: list[View] = [self.planter(), self.bird_box(), self.unproven(), self.old(), self.gone()]
        made += [self.lot(lot) for lot in ("SH-021", "SH-024", "BL-007", "BAR-009")]
        made += [
            self.stream("HARBOUR-CRATES", w("Broken crates from the harbour", "Caisses cassées du port")),
            self.stream("BAKERY-BUCKETS", w("Bakery buckets", "Seaux de boulangerie")),
            self.stream("CAP-TRIMMINGS", w("Trimmings from a cap moulder", "Carottes d’un mouleur de bouchons")),
            self.resin("PP"),
            self.resin("PE-HD"),
            self.product("PLANTER", w("Planter", "Jardinière")),
            self.product("BIRD-BOX", w("Bird box", "Nichoir")),
            replace(self.log(), gate=self.gate()),
            self.sheet(),
            self.recalls(),
            self.found(),
            self.method(),
        ]
        titles = {
            "/T/": w("All tags", "Toutes les étiquettes"),
            "/L/": "Lots",
            "/S/": w("Streams", "Filières"),
            "/R/": w("Resins", "Résines"),
            "/P/": w("Things", "Objets"),
        }
        made += [self.list_of(path, title) for path, title in titles.items()]
        if self.lang == "en":
            made.append(self.notfound())
        return tuple(made)
