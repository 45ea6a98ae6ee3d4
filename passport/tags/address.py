"""What a symbol carries: the address of a tag, written so that it is short and stays true.

The scheme is lower case, because some phones do not see a link in "HTTPS:". The host is upper
case, because that costs 5.5 bits a character instead of 8 and hosts ignore case (RFC 3986
6.2.2.1). The path is exactly that of the published folder: `/T/RY-22224M`, no final slash.
"""

from __future__ import annotations

import ipaddress
import re
from collections.abc import Iterable
from dataclasses import dataclass
from urllib.parse import SplitResult, urlsplit

from passport.problems import NOWHERE, Level, Place, Problem

NO_HOST = "sample.invalid"
"""Stands on a sample where no address is set. RFC 6761 6.4 keeps .invalid from ever being a host."""
LONGEST_AT_3_Q = 42
"""Characters of a tag's address that version 3, level Q holds with "https" as a segment of its own."""

_NOT_PUBLIC = (
    "example",  # RFC 6761 6.5
    "example.com",  # RFC 6761 6.5
    "example.net",  # RFC 6761 6.5
    "example.org",  # RFC 6761 6.5
    "test",  # RFC 6761 6.2
    "invalid",  # RFC 6761 6.4
    "localhost",  # RFC 6761 6.3
    "local",  # RFC 6762 3
    "home.arpa",  # RFC 8375 3
    "internal",  # kept for private use by the root zone's owner, 2024 (from memory)
    "lan",  # common practice, no source
)
_HOST = re.compile(r"(?!-)[A-Za-z0-9.-]{1,253}(?<![-.])")
_PATH = re.compile(r"(?:/[A-Za-z0-9._~-]+)*")
_SHOWN = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteAddress:
    """The address under which the site is published, taken apart."""

    scheme: str
    """http or https."""
    host: str
    """Host, and port where one is given, in lower case."""
    path: str
    """Empty, or a sub-path such as /tags, in the exact case of its folders, without a final slash."""

    def payload(self, kind: str, name: str) -> str:
        """The text of the symbol: kind is T for a tag, L for a lot; name in capitals."""
        return f"{self.scheme}://{self.host.upper()}{self.path}/{kind}/{name}"

    def in_letters(self, kind: str, name: str) -> str:
        """The same address as a person reads and types it."""
        return f"{self.host}{self.path}/{kind}/{name}"


def read_address(address: str, place: Place = NOWHERE) -> SiteAddress | Problem:
    """The site's address, or what is wrong with it. An unset one ("") stands for a sample."""
    if not address.strip():
        return SiteAddress(scheme="https", host=NO_HOST, path="")
    try:
        parts = urlsplit(address.strip())
        port = parts.port
    except ValueError:
        return _wrong(address, place, "it cannot be read as a web address")
    trouble = _trouble(parts)
    if trouble:
        return _wrong(address, place, trouble)
    host = f"{parts.hostname}:{port}" if port else f"{parts.hostname}"
    if ":" in (parts.hostname or ""):
        host = f"[{parts.hostname}]" + (f":{port}" if port else "")
    return SiteAddress(scheme=parts.scheme.lower(), host=host, path=parts.path.rstrip("/"))


def _trouble(parts: SplitResult) -> str:
    """Why an address cannot go into a symbol, or nothing."""
    host = parts.hostname or ""
    if parts.scheme.lower() not in {"http", "https"}:
        return "its scheme is neither https nor http"
    if not (_HOST.fullmatch(host) or _as_ip(host)):
        return "its host is not of letters, digits, points and hyphens (write other letters in their xn-- form)"
    if parts.username is not None or parts.query or parts.fragment:
        return "it has a user name, a query or a fragment"
    if not _PATH.fullmatch(parts.path.rstrip("/")):
        return "its path has other characters than letters, digits and . _ ~ -"
    return ""


def _wrong(address: str, place: Place, why: str) -> Problem:
    shown = address if len(address) <= _SHOWN else address[: _SHOWN - 1] + "…"
    return Problem(
        code="address",
        message=f'"{shown}" cannot stand on a tag: {why}',
        place=place,
        hint="give the site's own address, such as https://pass.reedmouth.example",
    )


def is_sample(address: str) -> bool:
    """Whether labels may only be samples: the address is unset, unusable, reserved or local.

    A wrong host stuck on forty things cannot be undone, so whatever is doubtful is a sample.
    """
    site = read_address(address)
    if isinstance(site, Problem):
        return True
    host = (urlsplit(f"//{site.host}").hostname or "").rstrip(".")
    number = _as_ip(host)
    if number is not None:
        return not number.is_global
    return "." not in host or any(host == end or host.endswith("." + end) for end in _NOT_PUBLIC)


def _as_ip(host: str) -> ipaddress.IPv4Address | ipaddress.IPv6Address | None:
    try:
        return ipaddress.ip_address(host)
    except ValueError:
        return None


def tag_payload(address: str, tag: str) -> str:
    """What the symbol of a tag carries. Raises ValueError if the address cannot be used."""
    return _payload(address, "T", tag)


def sheet_payload(address: str, tag: str) -> str:
    """The address of a thing's end-of-life sheet, as long as that of its passport: "I have it in hand"."""
    return _payload(address, "H", tag)


def lot_payload(address: str, lot: str) -> str:
    """What the symbol of a lot card carries. Raises ValueError if the address cannot be used."""
    return _payload(address, "L", lot)


def _payload(address: str, kind: str, name: str) -> str:
    site = read_address(address)
    if isinstance(site, Problem):
        raise ValueError(site.message)  # noqa: TRY004  # the text is wrong, not its type
    return site.payload(kind, name)


def address_problems(address: str, tag: str, place: Place = NOWHERE) -> tuple[Problem, ...]:
    """Everything to say about the site's address before labels are printed. tag: any number of it."""
    site = read_address(address, place)
    if isinstance(site, Problem):
        return (site,)
    found = []
    if is_sample(address):
        found.append(_only_samples(address, place))
    if site.scheme == "http":
        found.append(_not_secure(place))
    if site.path or len(site.payload("T", tag)) > LONGEST_AT_3_Q:
        found.append(_grows(site, tag, place))
    return tuple(found)


def _only_samples(address: str, place: Place) -> Problem:
    what = f'"{address}" is no public address' if address.strip() else "no address is set"
    return Problem(
        code="address-sample",
        message=f"{what}: every label says SAMPLE across its text",
        place=place,
        hint="set address in workshop.yaml to the site's own domain before tags go on things",
        level=Level.ADVICE,
    )


def _not_secure(place: Place) -> Problem:
    return Problem(
        code="address-http",
        message="the address begins with http, and a tag outlives what browsers still open without a warning",
        place=place,
        hint="publish under https before tags go on things",
        level=Level.ADVICE,
    )


def _grows(site: SiteAddress, tag: str, place: Place) -> Problem:
    length = len(site.payload("T", tag))
    why = f" with the sub-path {site.path}" if site.path else ""
    return Problem(
        code="address-long",
        message=f"a tag's address has {length} characters{why}: the symbol grows and its modules shrink "
        f"(wanted: at most {LONGEST_AT_3_Q}, no sub-path)",
        place=place,
        hint="a short domain of its own makes the tag last longer; labels --explain shows the sizes",
        level=Level.ADVICE,
    )


def moved_problems(
    printed: Iterable[tuple[str, str]], address: str, answered: Iterable[str] = (), place: Place = NOWHERE
) -> tuple[Problem, ...]:
    """One error for each address that stands on printed tags and that the site no longer has.

    printed: (tag number, address) of every label ever printed, from labels-printed.csv.
    answered: earlier addresses of which the records say that they lead here.
    """
    kept = {_same(known) for known in (address, *answered)}
    lost: dict[str, list[str]] = {}
    for tag, old in printed:
        if _same(old) not in kept:
            lost.setdefault(old, []).append(tag)
    return tuple(_moved(old, tags, address, place) for old, tags in sorted(lost.items()))


def _same(address: str) -> SiteAddress | str:
    """Two spellings of one address are one: case of scheme and host, a final slash."""
    site = read_address(address)
    return address if isinstance(site, Problem) else site


def _moved(old: str, tags: list[str], address: str, place: Place) -> Problem:
    number = len(set(tags))
    return Problem(
        code="address-moved",
        message=f"{number} printed {'tag leads' if number == 1 else 'tags lead'} to {old} (the first is {min(tags)}), "
        f"and the site's address is now {address}",
        place=place,
        hint="keep the old address, or make it lead here and say so in workshop.yaml",
    )
