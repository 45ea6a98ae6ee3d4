"""Tag numbers: `RY-22224M`, a prefix, five serial characters and a check character.

The alphabet leaves out what a person confuses on a worn tag (0 and O; 1, I and L). The check
character is ISO/IEC 7064:2003 MOD 37,36 over prefix and serial; serials whose check character
would be one of the five left out are never issued.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import islice

from passport.problems import Problem

LOOK_ALIKES = "01ILO"
"""Left out of every serial and check character."""
_ISO_ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
ALPHABET = "".join(c for c in _ISO_ALPHABET if c not in LOOK_ALIKES)
"""The 31 characters of a serial, in the order in which serials are counted."""
SERIAL_LENGTH = 5
LONGEST_PREFIX = 4
HOW_MANY_SERIALS = len(ALPHABET) ** SERIAL_LENGTH

_VALUE = {character: value for value, character in enumerate(_ISO_ALPHABET)}
_RANK = {character: rank for rank, character in enumerate(ALPHABET)}
_PREFIX_ALIKE = str.maketrans("01L", "OII")
_SHOWN = 40
_FAR = 3
"""Numbers that differ in three or more places are no help to someone who mistyped one."""


@dataclass(frozen=True, slots=True, order=True, kw_only=True)
class TagNumber:
    """One whole tag number, checked."""

    prefix: str
    """1 to 4 capital letters or digits."""
    serial: str
    """Five characters of ALPHABET."""
    check: str
    """One character of ALPHABET, by MOD 37,36."""

    def __str__(self) -> str:
        return f"{self.prefix}-{self.serial}{self.check}"


def check_character(prefix_and_serial: str) -> str:
    """The ISO/IEC 7064:2003 MOD 37,36 check character of digits and capital letters.

    Hyphens are the caller's to leave out. Raises KeyError for any other character.

    >>> check_character("A12425GABC1234002")
    'M'
    """
    running = 36
    for character in prefix_and_serial:
        total = (running + _VALUE[character]) % 36 or 36
        running = total * 2 % 37
    return _ISO_ALPHABET[(1 - running) % 36]


def is_prefix(text: str) -> bool:
    """Whether text can be the first part of tag numbers: 1 to 4 capital letters or digits."""
    return 1 <= len(text) <= LONGEST_PREFIX and all(c in _VALUE for c in text)


def next_numbers(prefix: str, after: str | None, count: int) -> tuple[str, ...]:
    """The `count` tag numbers that follow `after` (or the first ones, for None).

    Raises ValueError if the prefix or `after` is not of this form, or the serials run out.

    >>> next_numbers("RY", "RY-22222Q", 1)
    ('RY-22224M',)
    """
    if not is_prefix(prefix):
        raise ValueError(f'"{prefix}" is no prefix: wanted 1 to 4 capital letters or digits')
    start = 0 if after is None else _rank(_issued_serial(prefix, after)) + 1
    found = tuple(islice(_numbers_from(prefix, start), count))
    if len(found) < count:
        raise ValueError(f"prefix {prefix} has no {count} numbers left: take another prefix")
    return found


def _issued_serial(prefix: str, after: str) -> str:
    number = read_tag_number(after, prefix)
    if isinstance(number, Problem):
        raise ValueError(number.message)  # noqa: TRY004  # the text is wrong, not its type
    return number.serial


def _numbers_from(prefix: str, start: int) -> Iterator[str]:
    for rank in range(start, HOW_MANY_SERIALS):
        serial = _serial(rank)
        check = check_character(prefix + serial)
        if check in _RANK:
            yield f"{prefix}-{serial}{check}"


def _serial(rank: int) -> str:
    characters = []
    for _ in range(SERIAL_LENGTH):
        rank, digit = divmod(rank, len(ALPHABET))
        characters.append(ALPHABET[digit])
    return "".join(reversed(characters))


def _rank(serial: str) -> int:
    rank = 0
    for character in serial:
        rank = rank * len(ALPHABET) + _RANK[character]
    return rank


def read_tag_number(text: str, prefix: str) -> TagNumber | Problem:
    """A tag number as a person types it: any case, spaces anywhere, the hyphen optional.

    In the prefix, 0 stands for O and 1 or L for I (each way), because only the serial avoids them.
    Problem codes: tag-number-shape, tag-number-look-alike, tag-number-check.

    >>> str(read_tag_number("ry 222 24m", "RY"))
    'RY-22224M'
    """
    body = _body(text, prefix)
    if body is None:
        return _wrong_shape(text, prefix)
    for character in body:
        if character in LOOK_ALIKES:
            return _look_alike(text, character)
    serial, check = body[:SERIAL_LENGTH], body[SERIAL_LENGTH:]
    if check_character(prefix + serial) != check:
        return _wrong_check(text)
    return TagNumber(prefix=prefix, serial=serial, check=check)


def _body(text: str, prefix: str) -> str | None:
    """Serial and check character, or None if the text has not the shape of a tag number."""
    typed = "".join(text.upper().split()).replace("-", "")
    start, body = typed[: len(prefix)], typed[len(prefix) :]
    if start.translate(_PREFIX_ALIKE) != prefix.translate(_PREFIX_ALIKE):
        return None
    if len(body) != SERIAL_LENGTH + 1 or any(c not in _VALUE for c in body):
        return None
    return body


def _shown(text: str) -> str:
    return text if len(text) <= _SHOWN else text[: _SHOWN - 1] + "…"


def _wrong_shape(text: str, prefix: str) -> Problem:
    example = next_numbers(prefix, None, 1)[0]
    return Problem(
        code="tag-number-shape",
        message=f'"{_shown(text)}" is no tag number: wanted {prefix}, a hyphen, five characters and a '
        f"check character, such as {example}",
        hint="copy the number that stands beside the symbol",
        about=_shown(text),
    )


def _look_alike(text: str, character: str) -> Problem:
    return Problem(
        code="tag-number-look-alike",
        message=f'"{_shown(text)}" has "{character}" after its prefix; no tag number has 0, O, 1, I or L there',
        hint="look at the tag again: O or 0 may be Q, D or 8; 1, I or L may be 7, J or T",
        about=_shown(text),
    )


def _wrong_check(text: str) -> Problem:
    return Problem(
        code="tag-number-check",
        message=f'the check character of "{_shown(text)}" does not fit: at least one character is wrong',
        hint="compare the number with the tag, character by character",
        about=_shown(text),
    )


def nearest(text: str, issued: Iterable[str], limit: int = 3) -> tuple[str, ...]:
    """Up to `limit` issued numbers that differ from text in at most two places, nearest first.

    A place is one character wrong, missing, too many, or swapped with its neighbour.
    """
    typed = _bare(text)
    measured = ((_distance(typed, _bare(number)), number) for number in issued)
    near = sorted((distance, number) for distance, number in measured if distance < _FAR)
    return tuple(number for _, number in near[:limit])


def _bare(text: str) -> str:
    return "".join(text.upper().split()).replace("-", "")


def _distance(left: str, right: str) -> int:
    """Optimal string alignment distance, given up at _FAR."""
    if abs(len(left) - len(right)) >= _FAR:
        return _FAR
    before: list[int] = []
    row = list(range(len(right) + 1))
    for i in range(1, len(left) + 1):
        before, row = row, _next_row(before, row, left[:i], right)
        if min(row) >= _FAR:
            return _FAR
    return row[-1]


def _next_row(before: list[int], row: list[int], left: str, right: str) -> list[int]:
    """The row of the distance table for the last character of left."""
    made = [len(left)]
    for j, other in enumerate(right, start=1):
        best = min(row[j] + 1, made[j - 1] + 1, row[j - 1] + (left[-1] != other))
        if j > 1 and left[-2:] == other + right[j - 2]:
            best = min(best, before[j - 2] + 1)
        made.append(best)
    return made
