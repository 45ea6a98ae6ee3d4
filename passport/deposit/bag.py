"""What makes a deposit a bag after RFC 8493 (BagIt 1.0): a declaration, a few facts, and a checksum of every file.

Pure: names and hashes in, texts out. The lists stand in the order of the files, and are compared as whole texts.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

DECLARATION = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
"""RFC 8493, 2.1.1: exactly these two lines."""
BAGIT, INFO, MANIFEST, TAG_MANIFEST = "bagit.txt", "bag-info.txt", "manifest-sha256.txt", "tagmanifest-sha256.txt"
PAYLOAD = "data/"
"""RFC 8493, 2.1.2: what is kept lies below it, what describes it lies beside it."""
FORM = "1"
"""The number of this layout. Whoever changes it raises the number."""

_LINE = re.compile(r"([0-9a-f]{64})  (\S.*)")
_INFO_LINE = re.compile(r"([A-Za-z-]+): (.*)")


@dataclass(frozen=True, slots=True, kw_only=True)
class About:
    """What a bag says about itself."""

    workshop: str
    prefix: str
    day: date
    private: tuple[str, ...] = ()
    """Ids of the private records that were asked for by name."""


def base_name(about: About) -> str:
    """The folder in the file, and the file's name without its ending (RFC 8493, 4: they are the same)."""
    return f"{about.prefix}-deposit-{about.day.isoformat()}"


def info(about: About, sizes: Iterable[int]) -> str:
    """bag-info.txt (RFC 8493, 2.2.2), with the labels that it reserves and three of our own.

    sizes: bytes of each file below data/; their sum and number are the Payload-Oxum.
    """
    each = tuple(sizes)
    lines = [
        f"Source-Organization: {about.workshop}",
        f"External-Identifier: {base_name(about)}",
        "External-Description: Records, tag lists and built site of a workshop that makes things of reclaimed plastic",
        f"Bagging-Date: {about.day.isoformat()}",
        f"Payload-Oxum: {sum(each)}.{len(each)}",
        f"Tag-Prefix: {about.prefix}",
        f"Deposit-Form: {FORM}",
    ]
    lines += [f"Private-Record: {name}" for name in about.private]
    return "".join(f"{line}\n" for line in lines)


def read_info(text: str) -> dict[str, str]:
    """The last value of each label; lines of another form are passed by."""
    found = (_INFO_LINE.fullmatch(line) for line in text.split("\n"))
    return {match[1]: match[2] for match in found if match}


def manifest(hashes: Iterable[tuple[str, str]]) -> str:
    """A list of SHA-256 and path, a line each: what `sha256sum -c` reads (RFC 8493, 2.1.3)."""
    return "".join(f"{digest}  {_encoded(path)}\n" for path, digest in hashes)


def read_manifest(text: str) -> dict[str, str]:
    """Path → hash of each line that is one."""
    found = (_LINE.fullmatch(line) for line in text.split("\n"))
    return {_decoded(match[2]): match[1] for match in found if match}


def _encoded(path: str) -> str:
    """RFC 8493, 2.1.3: line ends and the percent sign are written by their numbers."""
    return path.replace("%", "%25").replace("\n", "%0A").replace("\r", "%0D")


def _decoded(path: str) -> str:
    return path.replace("%0D", "\r").replace("%0A", "\n").replace("%25", "%")
