"""One YAML text → a plain tree of text, with the place of every value on request.

PyYAML's C parser is used through `compose` alone: it stops at nodes, before YAML turns `NO` into false
or `0012` into ten, so that the record decides what a text means. What records never need (anchors,
aliases, tags, merge keys, tabs) is refused with its place, because each has surprised somebody.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, TypeAlias

import yaml
from yaml._yaml import CParser

from passport.problems import Place, Problem

MAX_BYTES = 1_000_000
"""A record is a page of typing; a megabyte is a slip or an attack."""
MAX_DEPTH = 12
LONGEST_SHOWN_LINE = 1_000
"""A longer line is not shown with its problem: nobody finds a caret in it."""
LONGEST_NAME = 60
_DIRECTIONS = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
"""Signs that turn the direction of text (CVE-2021-42574): one name could show as another."""
_INVISIBLE = _DIRECTIONS | frozenset("\ufeff\u2028\u2029")
"""The byte order mark inside a text would become part of a field's name; YAML 1.1 takes the two separators
for line ends, no editor does."""
_REFUSED_CATEGORIES = frozenset({"Cc", "Cs", "Co", "Cn"})

Tree: TypeAlias = "str | list[Tree] | dict[str, Tree]"
Step: TypeAlias = str | int


@dataclass(frozen=True, slots=True)
class Moved:
    """A value that a record no longer gives itself: where it was, and where it stands now."""

    was_at: tuple[Step, ...]
    source: Source
    is_at: tuple[Step, ...]

    def rest(self, path: tuple[Step, ...]) -> tuple[Step, ...] | None:
        """What a path goes on with below the value, None where it leads elsewhere."""
        left = list(self.was_at)
        for number, step in enumerate(path):
            if not left:
                return path[number:]
            if step == left[0]:
                left.pop(0)
            elif not number or not isinstance(path[number - 1], int):
                return None  # behind an entry's number alone stands a word that no file has: the kind of entry
        return None if left else ()


@dataclass(frozen=True, slots=True)
class Source:
    """The text of one record file; `file` is its path as a person would type it. `moved`: what was corrected."""

    file: str
    text: str
    moved: tuple[Moved, ...] = ()

    def place_of(self, line: int, column: int) -> Place:
        """A place by line and column, both from 1."""
        lines = _lines(self.text)
        shown = lines[line - 1].rstrip("\r") if line <= len(lines) else ""
        return Place(self.file, line, column, shown if len(shown) <= LONGEST_SHOWN_LINE else "")

    def place(self, *path: Step, key: bool = False) -> Place:
        """Where the value at `path` stands, such as `place("draws", 0, "lot")`.

        Steps that are no key of the file are skipped; a path that leads nowhere gives the nearest parent.
        With `key` the name of the last field is meant, not its value. The text is parsed again: places
        are wanted for the few records with problems, not for the thousands without.
        """
        for moved in reversed(self.moved):
            rest = moved.rest(path)
            if rest is not None:
                return moved.source.place(*moved.is_at, *rest, key=key)
        return self.place_of(*_position(_composed(self.text), path, key=key))


@lru_cache(maxsize=4)
def _composed(text: str) -> yaml.Node | None:
    """The nodes of a text that was read before; kept, because a file with one problem often has more."""
    return _nodes_of(text)


class _Nodes(CParser):
    """The C parser with nothing behind it: no text is ever taken for a number, a date or a truth value.

    `yaml.compose` would ask for the tag of each value, which costs as much as the parsing and is never looked at.
    """

    def resolve(self, *_: object) -> str:
        return ""

    def descend_resolver(self, *_: object) -> None: ...

    def ascend_resolver(self) -> None: ...


def _nodes_of(text: str) -> yaml.Node | None:
    """The nodes of one document; raises yaml.YAMLError as `yaml.compose` does."""
    parser = _Nodes(text)
    try:
        node: yaml.Node | None = parser.get_single_node()
    finally:
        parser.dispose()
    return node


@lru_cache(maxsize=4)
def _lines(text: str) -> tuple[str, ...]:
    return tuple(text.split("\n"))


def decoded(file: str, data: bytes) -> Source | Problem:
    """Bytes of a record file as text, or why they are no record."""
    if len(data) > MAX_BYTES:
        size = f"met {len(data)} bytes, wanted a record of at most {MAX_BYTES}"
        return Problem(code="file-too-large", message=size, place=Place(file), hint="split it into several records")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as slip:
        met = f"met the byte 0x{data[slip.start]:02X}, wanted UTF-8 text"
        hint = "save the file again with the encoding UTF-8 (most editors ask for it under Save as)"
        return Problem(code="not-utf-8", message=met, place=_place_of_byte(file, data, slip.start), hint=hint)
    return Source(file, text)


def _place_of_byte(file: str, data: bytes, offset: int) -> Place:
    """The place of a byte that is no UTF-8; the line is shown with signs in place of such bytes."""
    start = data.rfind(b"\n", 0, offset) + 1
    column = len(data[start:offset].decode("utf-8", "replace")) + 1
    readable = Source(file, data.decode("utf-8", "replace"))
    return readable.place_of(data.count(b"\n", 0, offset) + 1, column)


def read_tree(source: Source) -> tuple[Tree | None, tuple[Problem, ...]]:
    """The plain tree of one YAML document, or the problems that refuse it."""
    refused = tuple(_unwanted_characters(source)) or tuple(_unwanted_yaml(source))
    if refused:
        return None, refused
    try:
        node = _nodes_of(source.text)
    except yaml.YAMLError as slip:
        return None, (_syntax_problem(source, slip),)
    if node is None:
        return None, (
            Problem(
                code="empty-file",
                message="met an empty file, wanted a record",
                place=Place(source.file),
                hint="write the record, or delete the file",
            ),
        )
    walk = _Walk(source)
    tree = walk.plain(node, 0)
    return (None if walk.problems else tree), tuple(walk.problems)


def _unwanted_characters(source: Source) -> Iterator[Problem]:
    """Tabs and control characters: the first of each file is enough to mend the rest by."""
    for number, line in enumerate(_lines(source.text), 1):
        written = line.removesuffix("\r")
        if written.isprintable():
            continue
        for column, character in enumerate(written, 1):
            refused = _refused(character)
            if refused:
                code, message, hint = refused
                yield Problem(code=code, message=message, place=source.place_of(number, column), hint=hint)
                return


def _refused(character: str) -> tuple[str, str, str] | None:
    """Code, message and hint where a character must not stand in a record."""
    if character.isprintable():
        return None
    name = f"U+{ord(character):04X}"
    if character == "\t":
        return "tab", "met a tab, wanted spaces", "records are laid out with spaces: put two spaces in place of the tab"
    if character == "\r":
        hint = "save the file with the line ends of Unix (LF) or Windows (CR LF)"
        return "control-character", "met a carriage return without a line feed, wanted a line end", hint
    if character in _INVISIBLE:
        kind = "turns the direction of text" if character in _DIRECTIONS else "cannot be seen"
        hint = "delete the line's text and type it again: editors do not show this character"
        return "control-character", f"met the character {name}, which {kind}, wanted plain text", hint
    if unicodedata.category(character) in _REFUSED_CATEGORIES:
        hint = "delete it, or type the line again if the editor does not show it"
        return "control-character", f"met the control character {name}, wanted text", hint
    return None


_COULD_BE_UNWANTED = re.compile(r"(?<!\w)[&*!]|^%", re.MULTILINE)
"""None of these begins anything right behind a letter or digit; a directive begins a line."""


def _unwanted_yaml(source: Source) -> Iterator[Problem]:
    """Anchors, aliases and tags. The slow look at each event is taken only where one could be."""
    if not _COULD_BE_UNWANTED.search(source.text):
        return
    try:
        for event in yaml.parse(source.text, Loader=yaml.CSafeLoader):
            what = _unwanted_event(event)
            if what:
                sign, name = what
                place = _at(source, event.start_mark)
                what_met = "a line" if sign == "%" else "a value"
                message = f"met {what_met} that begins with {sign} (in YAML: {name}), wanted plain text"
                code = f"yaml-{name.rpartition(' ')[2]}"
                yield Problem(code=code, message=message, place=place, hint=_SIGN_HINTS[sign])
                return
    except yaml.YAMLError as slip:
        yield _syntax_problem(source, slip)


_SIGN_HINTS = {
    "*": 'put a text that begins with * in quotes, such as "*new*"; a value is written out again where it is needed',
    "&": 'put a text that begins with & in quotes, such as "& lids"',
    "!": 'put a text that begins with ! in quotes, such as "!blue"',
    "%": "delete the line that begins with %",
}


def _unwanted_event(event: yaml.Event) -> tuple[str, str] | None:
    """The sign that begins what records never need, and its name."""
    if isinstance(event, yaml.AliasEvent):
        return "*", "an alias"
    if getattr(event, "anchor", None):
        return "&", "an anchor"
    if getattr(event, "tag", None):
        return "!", "a tag"
    if isinstance(event, yaml.DocumentStartEvent) and (event.version or event.tags):
        return "%", "a directive"
    return None


def _at(source: Source, mark: Any) -> Place:
    return source.place_of(mark.line + 1, mark.column + 1) if mark else Place(source.file)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Slip:
    """A slip of the parser in words for people who have never heard of YAML."""

    sign: str
    """Words of the parser that tell this slip."""
    message: str
    hint: str = ""
    code: str = "yaml-syntax"
    at_its_beginning: bool = False
    """True where the guilty thing is where the parser began, not where it gave up."""


_SLIPS = (
    _Slip(
        sign="expected a single document",
        code="several-documents",
        message="met a second record under a line of three hyphens, wanted one record a file",
        hint="put each record into a file of its own",
    ),
    _Slip(
        sign="mapping values are not allowed",
        message="met a colon where no field can begin, wanted text or a field",
        hint="put a text that holds a colon and a space in quotes; begin a field right under the one above",
    ),
    _Slip(
        sign="expected ',' or ']'",
        message="met a bracket [ whose list does not end well, wanted commas between entries and ] at the end",
        hint="look for a missing comma or bracket",
        at_its_beginning=True,
    ),
    _Slip(
        sign="expected ',' or '}'",
        message="met a bracket { whose fields do not end well, wanted commas between fields and } at the end",
        hint="look for a missing comma or bracket",
        at_its_beginning=True,
    ),
    _Slip(
        sign="expected '-' indicator",
        message="met a line that is no entry of the list above, wanted `- ` at its beginning",
        hint="line the hyphens of a list up under each other",
    ),
    _Slip(
        sign="block sequence entries are not allowed",
        message="met a hyphen and a space, which begin a list, behind a field's name, wanted text",
        hint="put the text in quotes, or begin the list on the next line",
    ),
    _Slip(
        sign="did not find expected key",
        message="met a line that is no field, wanted `name: value`",
        hint="begin fields right under each other; put either the whole text in quotes or none of it, "
        "and write an apostrophe inside '…' twice",
    ),
    _Slip(
        sign="could not find expected ':'",
        message="met a line without a colon, wanted `name: value`",
        hint="put a colon and a space after the field's name",
        at_its_beginning=True,
    ),
    _Slip(
        sign="found unexpected end of stream",
        message="met a quote that is never closed, wanted a second one at the end of the text",
        hint="close the quote",
        at_its_beginning=True,
    ),
    _Slip(
        sign="cannot start any token",
        message="met a character that no text begins with unless it is in quotes",
        hint="put the text in quotes",
    ),
    _Slip(
        sign="unknown escape character",
        message="met a backslash before a character that it does not go with",
        hint="use single quotes, in which a backslash is only a backslash",
    ),
    _Slip(
        sign="exceeded max depth",
        code="too-deep",
        message=f"met values nested too deeply, wanted at most {MAX_DEPTH} levels",
        hint="look for brackets that are opened and not closed",
    ),
)


def _syntax_problem(source: Source, slip: yaml.YAMLError) -> Problem:
    if not isinstance(slip, yaml.MarkedYAMLError):
        return Problem(code="yaml-syntax", message="met bytes that are no text", place=Place(source.file))
    words = f"{slip.context or ''} {slip.problem or ''}"
    end = slip.problem_mark or slip.context_mark
    for known in _SLIPS:
        if known.sign in words:
            mark = (slip.context_mark or end) if known.at_its_beginning else end
            return Problem(code=known.code, message=known.message, place=_at(source, mark), hint=known.hint)
    message = f"met text that is not laid out as a record: {words.strip()}"
    hint = "compare the line with a record that works, or put its text in quotes"
    return Problem(code="yaml-syntax", message=message, place=_at(source, end), hint=hint)


class _Walk:
    """From nodes to plain values, collecting every problem on the way."""

    def __init__(self, source: Source) -> None:
        self.source = source
        self.problems: list[Problem] = []

    def plain(self, node: yaml.Node, depth: int) -> Tree:
        if depth > MAX_DEPTH:
            message = f"met values nested too deeply, wanted at most {MAX_DEPTH} levels"
            self._refuse(node, "too-deep", message, "look for brackets that are opened and not closed")
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
                self._refuse(key, "field-name", "met brackets as the name of a field, wanted a word")
            elif name == "<<":
                message = "met << as the name of a field (in YAML: a merge key), wanted a field"
                self._refuse(key, "yaml-merge-key", message, "write the fields out again")
            elif name in lines:
                shown = name if len(name) <= LONGEST_NAME else name[:LONGEST_NAME] + "…"
                message = f'met the field "{shown}" again (first on line {lines[name]}), wanted it once'
                self._refuse(key, "duplicate-field", message, "keep the right one of the two")
            else:
                lines[name] = key.start_mark.line + 1
                fields[name] = self.plain(value, depth + 1)
        return fields

    def _check_escapes(self, node: yaml.Node, text: str) -> None:
        """Control characters may also come in through escapes such as the one for ESC."""
        for character in text:
            refused = None if character == "\n" else _refused(character)
            if refused:
                code, message, hint = refused
                self._refuse(node, code, message, hint)
                return

    def _refuse(self, node: yaml.Node, code: str, message: str, hint: str = "") -> None:
        place = _at(self.source, node.start_mark)
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
