"""Writes a made-up workshop of any size: `python tests/bench/workshops.py 1000 FOLDER`.

FOLDER gets a `content/` as people write it: received lots, sorts, washes, blends with own offcuts and with things
that came back, bars with purge and heel, batches of things with a tag each, events, photographs. The same number
gives the same bytes. About as many record files as tags; at most 8 rounds of work hang together, which bounds how
many weighings lie above a lot.
"""

from __future__ import annotations

import random
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, timedelta
from io import BytesIO
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from PIL import Image

from passport.reading.tag_lists import FIRST_SEAL, ISSUED_HEADER, issued_line, seal_in
from passport.reading.tag_numbers import next_numbers

ROUNDS_TOGETHER = 8
"""Rounds of work in a row that use up each other's offcuts; then the barrel is cleaned and all starts anew."""
DAYS_A_ROUND = 24
TAGS_A_ROUND = 20
PHOTO_EACH = 10
"""One received lot in so many has a photograph of its own."""
SPILL_EACH = 25
"""In one sort of so many some kilograms are missing and nobody knows why."""
FIRST_DAY = date(2019, 1, 7)

STREAMS = {
    "quay-crates": ("Broken crates from the quay", "Caisses cassées du quai", "post-consumer"),
    "school-caps": ("Bottle caps from the school", "Bouchons de l'école", "post-consumer"),
    "nursery-trays": ("Trays from the plant nursery", "Plaques de la pépinière", "post-consumer"),
    "start-up-pieces": ("Start-up pieces of a moulder", "Pièces de démarrage d'un mouleur", "pre-consumer"),
    "cafe-tubs": ("Tubs from the cafés", "Bacs des cafés", "post-consumer"),
}
PRODUCTS = {
    "planter": ("Planter", "Jardinière", "Flowers out of doors", "Fleurs en plein air", "planting", 4, 4),
    "bird-box": ("Bird box", "Nichoir", "Small hole-nesting birds", "Petits oiseaux cavernicoles", "animals", 8, 1),
    "edging": ("Edging board", "Bordure", "Edges of beds and paths", "Bords de massifs", "outdoor", 8, 1),
}
"""Id → title, what it is made for, a use, things a batch, bars a thing."""
COLOURS = ("blue", "green", "blue-green", "grey", "dark green", "confetti")
PLACES = ("allotments", "school yard", "river walk", "library", "ferry slip", "a farm", "health centre")


@dataclass
class Yard:
    """What is to be written: texts by path, tags in the order of issue, events by month."""

    chance: random.Random
    texts: dict[str, str] = field(default_factory=dict)
    tags: list[tuple[date, str, int]] = field(default_factory=list)
    events: dict[str, list[tuple[date, str]]] = field(default_factory=dict)
    waiting: dict[str, tuple[str, str, str]] = field(default_factory=dict)
    """Lot of a returned thing → item, piece and lines of its record; the number is known at the end."""

    def event(self, day: date, line: str) -> None:
        """Note an event under its month."""
        self.events.setdefault(f"{day:%Y-%m}", []).append((day, line))


def workshop(tags: int, seed: int = 1) -> Yard:
    """The records of a workshop with at least so many tags."""
    yard = Yard(random.Random(seed))  # noqa: S311 - a made-up shop
    _standing(yard)
    for number in range(-(-tags // TAGS_A_ROUND)):
        _round(yard, number)
    _number(yard, tags)
    return yard


def _standing(yard: Yard) -> None:
    yard.texts["workshop.yaml"] = (
        "name: Reedmouth Yard\naddress: https://pass.reedmouth.example\nprefix: RY\ncountry: IE\n"
        "languages: [en, fr]\nrules: [EU, FR]\nscales:\n"
        "  floor: {step: 0.1 kg, repeat: 0.1 kg, bias: 0.1 kg}\n  bench: {step: 1 g, repeat: 1 g, bias: 1 g}\n"
        "contact: yard@reedmouth.example\nlicence: CC-BY-4.0\n"
        "bring_back: {en: Tuesday evenings at the yard gate., fr: Le mardi soir à la porte de la cour.}\n"
    )
    for name, (en, fr, origin) in STREAMS.items():
        yard.texts[f"streams/{name}.yaml"] = (
            f'title: {{en: "{en}", fr: "{fr}"}}\norigin: {origin}\ncountry: IE\n'
            'collected: {en: "When the cage is full", fr: "Quand la cage est pleine"}\n'
        )
    for name, (en, fr, for_en, for_fr, use, *_) in PRODUCTS.items():
        yard.texts[f"products/{name}.yaml"] = (
            f'title: {{en: "{en}", fr: "{fr}"}}\nmade_for: {{en: "{for_en}", fr: "{for_fr}"}}\n'
            f"uses: [{use}]\nsize: 600 × 300 × 160 mm\n"
            'care: {en: "Rinse it once a year, check the screws.", fr: "Rincez-la une fois par an."}\n'
            "take_apart:\n  - {step: {en: Undo the screws, fr: Dévisser les vis}, tool: TX20, frees: body}\n"
            f"picture: {name}.jpg\ncommodity_code: 3926\n"
        )


def _round(yard: Yard, number: int) -> None:
    """One load from the gate to tagged things; every number is a little different each time."""
    block, turn = divmod(number, ROUNDS_TOGETHER)
    start = FIRST_DAY + timedelta(days=block * 5 % 1500 + turn * DAYS_A_ROUND)
    name, before = f"{number:05}", f"{number - 1:05}" if turn else ""
    flake = _prepared(yard, name, start, number)
    draws = [f"{{lot: SH-{name}, mass: {flake:.1f} kg, empties: yes}}"]
    mass = flake
    if before:
        draws.append(f"{{lot: OC-A-{before}, mass: 0.4 kg, empties: yes}}")
        draws.append(f"{{lot: HL-{before}, mass: 0.7 kg, empties: yes}}")
        mass += 1.1
    if f"RT-{name}" in yard.waiting:
        draws.append(f"{{lot: RT-{name}, mass: 1.3 kg, empties: yes}}")
        mass += 1.3
    _put(yard, f"lots/BL-{name}", start + timedelta(9), *_short("blend", draws, f"{mass:.1f} kg", form="flake"))
    _bars_and_things(yard, name, start, mass)
    if turn + 2 < ROUNDS_TOGETHER and number % 2:
        _return(yard, f"EB-{name}", number + 2, start + timedelta(2 * DAYS_A_ROUND + 4))


def _put(yard: Yard, path: str, day: date, *lines: str) -> None:
    yard.texts[f"{path}.yaml"] = "".join(f"{line}\n" for line in (f"date: {day}", *lines))


def _short(operation: str, draws: list[str], mass: str, **more: str) -> list[str]:
    lines = [f"operation: {operation}", "draws:", *(f"  - {draw}" for draw in draws), f"mass: {mass}"]
    return [*lines, *(f"{key}: {value}" for key, value in more.items()), "moisture: 0.2 %"]


def _prepared(yard: Yard, name: str, start: date, number: int) -> float:
    """Received, sorted, washed, shredded: the kilograms of flake."""
    chance = yard.chance
    mass = chance.randint(560, 640) / 10
    photo = [f"photo: in-{name}.jpg"] if number % PHOTO_EACH == 0 else []
    _put(
        yard,
        f"lots/IN-{name}",
        start,
        f"received: {{stream: {chance.choice(list(STREAMS))}}}",
        f"mass: {mass:.1f} kg",
        "scale: floor",
        f"pieces: {chance.randint(30, 60)}",
        "evidence:",
        f"  - {{test: nir, reads: PE-HD, pieces: {chance.randint(20, 30)}, drawn: random}}",
        "  - {test: moulded-mark, number: 2, letters: HDPE, pieces: 9, drawn: picked}",
        "  - {test: density, in_air: 41.52 g, in_liquid: 7.24 g, liquid: ethanol 100 % by mass, temperature: 21 °C}",
        "weathering: light",
        f"colour: {chance.choice(COLOURS)}",
        *photo,
    )
    day = start + timedelta(2)
    _put(
        yard,
        f"runs/SO-{name}",
        day,
        "operation: sort",
        f"draws: [{{lot: IN-{name}, mass: {mass:.1f} kg, empties: yes}}]",
        "losses: {sand: 0.4 kg}",
        "scale: floor",
    )
    lids, rejects = chance.randint(20, 50) / 10, chance.randint(10, 30) / 10
    missed = 0.9 if number % SPILL_EACH == SPILL_EACH - 1 else 0.0  # a doubt for the pages
    good = mass - 0.4 - lids - rejects - missed
    read = [f"  - {{test: nir, reads: PE-HD, pieces: {chance.randint(20, 40)}, drawn: random}}"]
    _put(
        yard,
        f"lots/HD-{name}",
        day,
        f"run: SO-{name}",
        f"mass: {good:.1f} kg",
        "form: pieces",
        "sorted_as: PE-HD",
        "evidence:",
        *read,
    )
    _put(yard, f"lots/PP-{name}", day, f"run: SO-{name}", f"mass: {lids:.1f} kg", "form: pieces", "sorted_as: PP")
    _put(yard, f"lots/RJ-{name}", day, f"run: SO-{name}", f"mass: {rejects:.1f} kg", "form: pieces", "kept: red shelf")
    draws = [f"{{lot: HD-{name}, mass: {good:.1f} kg, empties: yes}}"]
    washed = good - 0.5 + 0.4
    losses = {"losses": "{soil: 0.5 kg}", "gains": "{water: 0.4 kg}"}
    _put(yard, f"lots/WA-{name}", start + timedelta(4), *_short("wash", draws, f"{washed:.1f} kg", **losses))
    flake = washed - 0.2
    draws = [f"{{lot: WA-{name}, mass: {washed:.1f} kg, empties: yes}}"]
    more = {
        "losses": "{dust: 0.2 kg}",
        "form": "flake",
        "melt_flow": f"0.{chance.randint(4, 9)} g/10 min at 190 °C/2.16 kg",
    }
    _put(yard, f"lots/SH-{name}", start + timedelta(6), *_short("shred", draws, f"{flake:.1f} kg", **more))
    return flake


def _bars_and_things(yard: Yard, name: str, start: date, mass: float) -> None:
    chance, day = yard.chance, start + timedelta(11)
    colour = chance.choice(COLOURS)
    _put(
        yard,
        f"runs/EX-{name}",
        day,
        "operation: extrude",
        f"draws: [{{lot: BL-{name}, mass: {mass:.1f} kg, empties: yes}}]",
        f"melt: {chance.randint(209, 222)} °C",
        "machine: bar line",
        "scale: floor",
    )
    bars = mass - 1.2 - 0.7
    _put(
        yard,
        f"lots/BAR-{name}",
        day,
        f"run: EX-{name}",
        f"mass: {bars:.1f} kg",
        "pieces: 36",
        "piece_spread: 30 g",
        "form: bars",
        "moisture: 0.1 %",
        f"colour: {colour}",
    )
    _put(yard, f"lots/PG-{name}", day, f"run: EX-{name}", "mass: 1.2 kg", "form: purge", "moisture: 0.1 %")
    _put(yard, f"lots/HL-{name}", day, f"run: EX-{name}", "mass: 0.7 kg", "form: heel", "moisture: 0.1 %")
    for letter, short, product in (("A", "PL", "planter"), ("B", "BB", "bird-box"), ("C", "EB", "edging")):
        *_, count, each = PRODUCTS[product]
        drawn = bars / 36 * count * each
        made = round((drawn - 0.5) / count, 2)
        item, day = f"{short}-{name}", start + timedelta(14)
        screws = (
            "hardware:\n  - {what: {en: stainless screws, fr: vis inox}, material: steel, count: 8 each, "
            "mass: 32 g each, joined: screwed, tool: TX20}"
        )
        _put(
            yard,
            f"items/{item}",
            day,
            f"product: {product}",
            f"count: {count}",
            f"mass: {made:.2f} kg each",
            "scale: bench",
            f"parts:\n  - {{part: body, draws: [{{lot: BAR-{name}, pieces: {count * each}}}]}}",
            "losses: {sawdust: 0.1 kg}",
            screws,
            f"colour: {colour}",
        )
        _put(yard, f"lots/OC-{letter}-{name}", day, f"run: {item}", "mass: 0.4 kg", "form: offcuts", "moisture: 0.1 %")
        yard.tags += [(day + timedelta(1), item, piece) for piece in range(1, count + 1)]


def _return(yard: Yard, item: str, number: int, day: date) -> None:
    """The first thing of a batch comes back, and goes into the blend of a later round."""
    yard.waiting[f"RT-{number:05}"] = (item, str(day), "form: mouldings\nmoisture: 0.3 %\nweathering: light\n")


def _number(yard: Yard, most: int) -> None:
    """Give the tags their numbers in order of issue, then write what names them."""
    yard.tags.sort()
    numbers = next_numbers("RY", None, len(yard.tags))
    by_piece = {(item, piece): tag for tag, (_, item, piece) in zip(numbers, yard.tags, strict=True)}
    for lot, (item, day, rest) in list(yard.waiting.items()):
        tag = by_piece[item, 1]
        yard.texts[f"lots/{lot}.yaml"] = (
            f'date: {day}\nreceived: {{tags: [{{tag: "{tag}"}}]}}\nmass: 1.3 kg\nscale: bench\n{rest}'
        )
    gone = {by_piece[item, 1] for item, _, _ in yard.waiting.values()}
    seal, lines = FIRST_SEAL, [ISSUED_HEADER]
    for tag, (day, item, piece) in zip(numbers[:most], yard.tags, strict=False):
        lines.append(issued_line(seal, tag=tag, item=item, piece=piece, issued=day))
        seal = seal_in(lines[-1])
        _life(yard, tag, day, back=tag in gone)
    yard.texts["tags-issued.csv"] = "".join(lines)
    for month, events in yard.events.items():
        yard.texts[f"events/{month}.yaml"] = "".join(line for _, line in sorted(events))


def _life(yard: Yard, tag: str, day: date, *, back: bool) -> None:
    chance, place = yard.chance, yard.chance.choice(PLACES)
    kind = chance.random()
    if kind < 0.1 and not back:
        return
    out = day + timedelta(chance.randint(3, 9))
    yard.event(out, f'- {{date: {out}, tag: "{tag}", event: handed-over, place: {place}}}\n')
    later = out + timedelta(chance.randint(10, 200))
    if back or kind > 0.3:
        return
    said = {
        0: f"event: put-up, place: {place}",
        1: 'event: inspected, condition: {en: "Sound", fr: "Saine"}, weathering: light',
        2: "event: lost",
    }
    yard.event(later, f'- {{date: {later}, tag: "{tag}", {said[int(kind * 100) % 3]}}}\n')


def photographs(yard: Yard) -> Iterator[tuple[str, bytes]]:
    """Each picture that a record names, as a camera might have made it: large, soft and grainy."""
    names = {line.split(": ")[1] for text in yard.texts.values() for line in text.splitlines() if ".jpg" in line}
    for name in sorted(names):
        chance = random.Random(name)  # noqa: S311 - a made-up picture
        small = Image.frombytes("RGB", (40, 30), chance.randbytes(40 * 30 * 3))
        made = BytesIO()
        small.resize((1600, 1200), Image.Resampling.BICUBIC).save(made, "JPEG", quality=80)
        yield name, made.getvalue()


def write(yard: Yard, folder: Path) -> int:
    """Write everything below `folder/content`; the number of record files."""
    content = folder / "content"
    for path, text in sorted(yard.texts.items()):
        (content / path).parent.mkdir(parents=True, exist_ok=True)
        (content / path).write_text(text, encoding="utf-8")
    (content / "photos").mkdir()
    for name, data in photographs(yard):
        (content / "photos" / name).write_bytes(data)
    return sum(path.endswith(".yaml") for path in yard.texts)


def main() -> None:
    """Write a workshop of the size asked for."""
    tags, folder = int(sys.argv[1]), Path(sys.argv[2])
    records = write(workshop(tags), folder)
    print(f"{folder}/content: {tags} tags, {records} record files")  # noqa: T201 - a script for people


if __name__ == "__main__":
    main()
