"""One YAML text → a plain tree of text, with the place of every value on request.

PyYAML's C parser is used through `compose` alone: it stops at nodes, before YAML turns `NO` into false
or `0012` into ten, so that the record decides what a text means. What records never need (anchors,
aliases, tags, merge keys, tabs) is refused with its place, because each has surprised somebody.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TypeAlias

import yaml

from passport.problems import Place, Problem

MAX_BYTES = 1_000_000
"""A record is a page of typing; a megabyte is a slip or an attack."""
MAX_DEPTH = 12

Tree: TypeAlias = "str | list[Tree] | dict[str, Tree]"
Step: TypeAlias = str | int


@dataclass(frozen=True, slots=True)
class Source:
    """The text of one record file; `file` is its path as a person would type it."""

    file: str
    text: str

    def place_of(self, line: int, column: int) -> Place:
        """A place by line and column, both from 1."""
        lines = self.text.split("\n")
        shown = lines[line - 1].rstrip("\r") if line <= len(lines) else ""
        return Place(self.file, line, column, shown)

    def place(self, *path: Step, key: bool = False) -> Place:
        """Where the value at `path` stands, such as `place("draws", 0, "lot")`.

        Steps that are no key of the file are skipped; a path that leads nowhere gives the nearest parent.
        With `key` the name of the last field is meant, not its value. The text is parsed again: places
        are wanted for the few records with problems, not for the thousands without.
        """
        return self.place_of(*_position(yaml.compose(self.text, Loader=yaml.CSafeLoader), path, key=key))


def decoded(file: str, data: bytes) -> Source | Problem:
    """Bytes of a record file as text, or why they are no record."""
    if len(data) > MAX_BYTES:
        size = f"met {len(data)} bytes, wanted a record of at most {MAX_BYTES}"
        return Problem(code="file-too-large", message=size, place=Place(file), hint="split it into several records")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as slip:
        line = data.count(b"\n", 0, slip.start) + 1
        met = f"met the byte 0x{data[slip.start]:02X}, wanted UTF-8 text"
        return Problem(code="not-utf-8", message=met, place=Place(file, line, 1), hint="save the file as UTF-8")
    return Source(file, text)


def read_tree(source: Source) -> tuple[Tree | None, tuple[Problem, ...]]:
    """The plain tree of one YAML document, or the problems that refuse it."""
    refused = tuple(_unwanted_characters(source)) or tuple(_unwanted_yaml(source))
    if refused:
        return None, refused
    try:
        node = yaml.compose(source.text, Loader=yaml.CSafeLoader)
    except yaml.MarkedYAMLError as slip:
        return None, (_syntax_problem(source, slip),)
    if node is None:
        return None, (
            Problem(code="empty-file", message="met an empty file, wanted a record", place=Place(source.file)),
        )
    walk = _Walk(source)
    tree = walk.plain(node, 0)
    return (None if walk.problems else tree), tuple(walk.problems)


def _unwanted_characters(source: Source) -> Iterator[Problem]:
    """Tabs and control characters: the first of each file is enough to mend the rest by."""
    for number, line in enumerate(source.text.split("\n"), 1):
        for column, character in enumerate(line.rstrip("\r"), 1):
            if character == "\t":
                message = "met a tab, wanted spaces"
                hint = "YAML counts spaces; let the editor write two spaces for a tab"
                yield Problem(code="tab", message=message, place=source.place_of(number, column), hint=hint)
                return
            if not character.isprintable() and unicodedata.category(character) in {"Cc", "Cs", "Co", "Cn"}:
                message = f"met the control character U+{ord(character):04X}, wanted text"
                yield Problem(code="control-character", message=message, place=source.place_of(number, column))
                return


def _unwanted_yaml(source: Source) -> Iterator[Problem]:
    """Anchors, aliases and tags. The slow look at each event is taken only where one could be."""
    if not any(sign in source.text for sign in "&*!%"):
        return
    try:
        for event in yaml.parse(source.text, Loader=yaml.CSafeLoader):
            what = _unwanted_event(event)
            if what:
                name, hint = what
                mark = event.start_mark
                place = source.place_of(mark.line + 1, mark.column + 1) if mark else Place(source.file)
                message = f"met a YAML {name}, wanted plain text"
                yield Problem(code=f"yaml-{name}", message=message, place=place, hint=hint)
    except yaml.MarkedYAMLError as slip:
        yield _syntax_problem(source, slip)


def _unwanted_event(event: yaml.Event) -> tuple[str, str] | None:
    if isinstance(event, yaml.AliasEvent):
        return "alias", "write the value out again; quote a text that begins with *"
    if getattr(event, "anchor", None):
        return "anchor", "records need none; quote a text that begins with &"
    if getattr(event, "tag", None):
        return "tag", "records need none; quote a text that begins with !"
    if isinstance(event, yaml.DocumentStartEvent) and (event.version or event.tags):
        return "directive", "records need none"
    return None


_FRIENDLIER = (
    (
        "expected a single document",
        "several-documents",
        "met a second document, wanted one record a file",
        "put each record into a file of its own",
    ),
    (
        "mapping values are not allowed",
        "yaml-syntax",
        "met a colon where no field can begin, wanted text or a field",
        "quote a text that holds a colon and a space",
    ),
    (
        "did not find expected key",
        "yaml-syntax",
        "met a line that is no field, wanted `name: value`",
        "check the indentation of this line and the one above, and close every quote",
    ),
    ("could not find expected ':'", "yaml-syntax", "met a line without a colon, wanted `name: value`", ""),
    (
        "found unexpected end of stream",
        "yaml-syntax",
        "met the end of the file inside a quoted text",
        "close the quote",
    ),
    ("exceeded max depth", "too-deep", f"met values nested too deeply, wanted at most {MAX_DEPTH} levels", ""),
)


def _syntax_problem(source: Source, slip: yaml.MarkedYAMLError) -> Problem:
    mark = slip.problem_mark or slip.context_mark
    place = source.place_of(mark.line + 1, mark.column + 1) if mark else Place(source.file)
    words = f"{slip.context or ''} {slip.problem or ''}"
    for sign, code, message, hint in _FRIENDLIER:
        if sign in words:
            return Problem(code=code, message=message, place=place, hint=hint)
    return Problem(code="yaml-syntax", message=f"met text that is not YAML: {words.strip()}", place=place)


class _Walk:
    """From nodes to plain values, collecting every problem on the way."""

    def __init__(self, source: Source) -> None:
        self.source = source
        self.problems: list[Problem] = []

    def plain(self, node: yaml.Node, depth: int) -> Tree:
        if depth > MAX_DEPTH:
            self._refuse(node, "too-deep", f"met values nested too deeply, wanted at most {MAX_DEPTH} levels")
            return ""
        if isinstance(node, yaml.MappingNode):
            return self._mapping(node, depth)
        if isinstance(node, yaml.SequenceNode):
            return [self.plain(item, depth + 1) for item in node.value]
        text: str = node.value
        if not text.isprintable():
            self._check_escapes(node, text)
        return text

    def _mapping(self, node: yaml.MappingNode, depth: int) -> dict[str, Tree]:
        fields: dict[str, Tree] = {}
        lines: dict[str, int] = {}
        for key, value in node.value:
            name = key.value
            if not isinstance(name, str):
                self._refuse(key, "field-name", "met a list or mapping as a field name, wanted a word")
            elif name == "<<":
                self._refuse(
                    key, "yaml-merge-key", "met a YAML merge key, wanted a field", "write the fields out again"
                )
            elif name in lines:
                message = f'met the field "{name}" again (first on line {lines[name]}), wanted it once'
                self._refuse(key, "duplicate-field", message, "keep the right one of the two")
            else:
                lines[name] = key.start_mark.line + 1
                fields[name] = self.plain(value, depth + 1)
        return fields

    def _check_escapes(self, node: yaml.Node, text: str) -> None:
        """Control characters may also come in through escapes such as the one for ESC."""
        for character in text:
            if character != "\n" and unicodedata.category(character) in {"Cc", "Cs"}:
                self._refuse(
                    node, "control-character", f"met the control character U+{ord(character):04X}, wanted text"
                )
                return

    def _refuse(self, node: yaml.Node, code: str, message: str, hint: str = "") -> None:
        place = self.source.place_of(node.start_mark.line + 1, node.start_mark.column + 1)
        self.problems.append(Problem(code=code, message=message, place=place, hint=hint))


def _position(node: yaml.Node | None, path: tuple[Step, ...], *, key: bool) -> tuple[int, int]:
    """Line and column, from 1, of the value (or the key) that `path` leads to."""
    here = node
    mark = node.start_mark if node else None
    for step in path:
        found = _child(here, step)
        if found is None:
            continue
        label, here = found
        mark = label.start_mark if key and label is not None else here.start_mark
    return (mark.line + 1, mark.column + 1) if mark else (1, 1)


def _child(node: yaml.Node | None, step: Step) -> tuple[yaml.Node | None, yaml.Node] | None:
    if isinstance(node, yaml.MappingNode):
        return next(((k, v) for k, v in node.value if k.value == step), None)
    if isinstance(node, yaml.SequenceNode) and isinstance(step, int) and step < len(node.value):
        return None, node.value[step]
    return None
