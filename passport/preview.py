"""The built site, served to this machine alone, as a careful static host would serve it.

Only loopback, only `Host` names of this machine (a page elsewhere can make a browser ask a loopback
port under its own name: DNS rebinding), only GET and HEAD, only files of the built site. Python's own
file server follows links and lists folders, so its file part is not used.
"""

from __future__ import annotations

import os
import re
import socket
import stat
import threading
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import ClassVar
from urllib.parse import quote, unquote

from passport import disk
from passport.disk import Refused, Say
from passport.pages.policy import POLICY as PAGE_POLICY
from passport.problems import Place, Problem, plain
from passport.publish import LIST_NAME

DEFAULT_PORT = 8000

POLICY = PAGE_POLICY + "; frame-ancestors 'none'"
"""The policy sent with each answer, beside the one that stands in the page itself."""

OPEN_AT_ONCE = 200
"""Connections held open; beyond it the oldest is dropped. Below the usual limit of 1,024 open files."""

SILENT_S = 10
"""Seconds after which a connection that says or reads nothing is dropped; common practice, no source."""

# Media types from the IANA registry; a fixed table, as the system's own differs from machine to machine.
_TYPES = {
    ".atom": "application/atom+xml",
    ".css": "text/css; charset=utf-8",
    ".csv": "text/csv; charset=utf-8",
    ".html": "text/html; charset=utf-8",
    ".ico": "image/vnd.microsoft.icon",
    ".jpg": "image/jpeg",
    ".js": "text/javascript; charset=utf-8",
    ".json": "application/json",
    ".jsonld": "application/ld+json",
    ".md": "text/markdown; charset=utf-8",
    ".pdf": "application/pdf",
    ".png": "image/png",
    ".sha256": "text/plain; charset=utf-8",
    ".svg": "image/svg+xml",
    ".ttf": "font/ttf",
    ".txt": "text/plain; charset=utf-8",
    ".webmanifest": "application/manifest+json",
    ".webp": "image/webp",
    ".woff2": "font/woff2",
    ".xml": "application/xml",
}
_UNKNOWN_TYPE = "application/octet-stream"
_BAD_ESCAPE = re.compile(r"%(?![0-9A-Fa-f]{2})")


def serve(
    site: Path,
    port: int = DEFAULT_PORT,
    *,
    policy: str = POLICY,
    say: Say | None = None,
    log: Say | None = None,
) -> None:
    """Serve the built site until interrupted.

    say: told the address once. log: told each request, safe for a terminal.
    Raises `Refused` when there is no built site, or the port is taken.
    """
    with server_for(site, port, policy=policy, log=log) as server:
        if say:
            say(f"http://localhost:{server.server_port}/")
        try:
            server.serve_forever()
        except KeyboardInterrupt:
            return


def server_for(site: Path, port: int = 0, *, policy: str = POLICY, log: Say | None = None) -> PreviewServer:
    """A server that listens already; port 0 takes any free one. Raises `Refused`."""
    if disk.kind_of(site / LIST_NAME) != "file":
        raise Refused(_not_built(site))
    try:
        return PreviewServer(site.resolve(), port, policy=policy, log=log)
    except (OSError, OverflowError) as error:
        raise Refused(_port_taken(port, error)) from error


def _not_built(site: Path) -> Problem:
    return Problem(
        code="preview-no-site",
        message=f"there is no built site here (its {LIST_NAME} is missing)",
        place=Place(str(site)),
        hint="publish first",
    )


def _port_taken(port: int, error: Exception) -> Problem:
    said = error.strerror if isinstance(error, OSError) else str(error)
    return Problem(
        code="preview-no-port",
        message=f"port {port} cannot be listened on: {said}",
        hint="name another port, from 1024 to 65535; 0 takes any that is free",
    )


class PreviewServer(ThreadingHTTPServer):
    """Listens on loopback; remembers which connections are open, to drop the oldest of too many."""

    daemon_threads = True
    block_on_close = False
    request_queue_size = 1024
    allow_reuse_address = os.name == "posix"  # on Windows it would let two servers share a port

    def __init__(self, site: Path, port: int, *, policy: str, log: Say | None) -> None:
        self.site = site
        self.policy = policy
        self.log = log
        self._open: dict[socket.socket, None] = {}
        self._guard = threading.Lock()
        super().__init__(("127.0.0.1", port), _Handler)

    def server_bind(self) -> None:
        """Bind without asking a name server for the machine's name, as the base class does."""
        self.socket.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, int(self.allow_reuse_address))
        self.socket.bind(self.server_address)
        self.server_address = self.socket.getsockname()
        self.server_name, self.server_port = "localhost", self.server_address[1]

    def hosts(self) -> frozenset[str]:
        """What a `Host` field may say: this machine, with this port (it may be left out for 80, RFC 9110, 7.2)."""
        names = ("localhost", "127.0.0.1", "[::1]")
        bare = names if self.server_port == 80 else ()  # noqa: PLR2004 - the port of http itself
        return frozenset([f"{name}:{self.server_port}" for name in names] + [*bare])

    def process_request(self, request: object, client_address: object) -> None:
        """Hand a connection to a thread; one too many costs the oldest its place."""
        assert isinstance(request, socket.socket)  # noqa: S101 - for the type alone
        with self._guard:
            self._open[request] = None
            oldest = next(iter(self._open)) if len(self._open) > OPEN_AT_ONCE else None
            if oldest is not None:
                del self._open[oldest]
        if oldest is not None:
            _hang_up(oldest)
        super().process_request(request, client_address)

    def shutdown_request(self, request: object) -> None:
        """Close a connection and forget it."""
        assert isinstance(request, socket.socket)  # noqa: S101 - for the type alone
        with self._guard:
            self._open.pop(request, None)
        super().shutdown_request(request)

    def handle_error(self, request: object, client_address: object) -> None:
        """A visitor who hangs up, or is dropped, is no fault worth a traceback."""


def _hang_up(connection: socket.socket) -> None:
    try:
        connection.shutdown(socket.SHUT_RDWR)
    except OSError:
        return  # gone already


class _Handler(BaseHTTPRequestHandler):
    """One request, one answer, one connection."""

    server: PreviewServer
    server_version = "preview"
    sys_version = ""
    timeout = SILENT_S
    methods: ClassVar[tuple[str, ...]] = ("GET", "HEAD")

    def parse_request(self) -> bool:
        """Read the request; answer at once what is not for us. False ends the connection."""
        if not super().parse_request():
            return False
        self.close_connection = True
        if self.command not in self.methods:
            return self._refuse(HTTPStatus.METHOD_NOT_ALLOWED, ("Allow", ", ".join(self.methods)))
        named = self.headers.get_all("Host", [])
        if len(named) != 1 or named[0].strip().lower() not in self.server.hosts():
            return self._refuse(HTTPStatus.MISDIRECTED_REQUEST)
        if not self.path.startswith("/"):
            return self._refuse(HTTPStatus.BAD_REQUEST)
        return True

    def _refuse(self, status: HTTPStatus, *fields: tuple[str, str]) -> bool:
        self._answer(status, f"{status.value} {status.phrase}\n".encode(), _TYPES[".txt"], *fields)
        return False

    def do_GET(self) -> None:
        """Answer with a file, a redirect to its folder, or the site's own page for what is not there."""
        parts = _parts(self.path)
        if parts is None:
            self._refuse(HTTPStatus.BAD_REQUEST)
            return
        place = _inside(self.server.site, parts)
        if place is not None and disk.kind_of(place) == "folder":
            self._answer_folder(place, parts)
            return
        self._answer_file(place)

    do_HEAD = do_GET  # noqa: N815 - the base class names it

    def _answer_folder(self, place: Path, parts: list[str]) -> None:
        index = place / "index.html"
        if self.path.partition("?")[0].endswith("/") or disk.kind_of(index) != "file":
            self._answer_file(index)
            return
        address = "/" + "/".join(quote(part) for part in parts) + "/"
        self._answer(HTTPStatus.MOVED_PERMANENTLY, b"", _TYPES[".txt"], ("Location", address))

    def _answer_file(self, file: Path | None) -> None:
        content = _read(file) if file else None
        if file is not None and content is not None:
            self._answer(HTTPStatus.OK, content, _TYPES.get(file.suffix.lower(), _UNKNOWN_TYPE))
            return
        missing = _read(self.server.site / "404.html")
        if missing is None:
            self._refuse(HTTPStatus.NOT_FOUND)
            return
        self._answer(HTTPStatus.NOT_FOUND, missing, _TYPES[".html"])

    def _answer(self, status: HTTPStatus, body: bytes, media: str, *fields: tuple[str, str]) -> None:
        self.send_response(status)
        for name, value in (*self._fields(body, media), *fields):
            self.send_header(name, value)
        self.end_headers()
        if self.command != "HEAD":
            self.wfile.write(body)

    def _fields(self, body: bytes, media: str) -> list[tuple[str, str]]:
        return [
            ("Content-Type", media),
            ("Content-Length", str(len(body))),
            ("Content-Security-Policy", self.server.policy),
            ("X-Content-Type-Options", "nosniff"),
            ("Referrer-Policy", "no-referrer"),
            ("Cross-Origin-Resource-Policy", "same-origin"),
            ("Cache-Control", "no-store"),
            ("Connection", "close"),
        ]

    def send_error(self, code: int, message: str | None = None, explain: str | None = None) -> None:  # noqa: ARG002
        """The base class's own refusals (a broken request), in our words: nothing of the request comes back."""
        self.close_connection = True
        self.request_version = "HTTP/1.0"  # or a line that names no version would get no fields
        self.command = self.command or "GET"
        self._refuse(HTTPStatus(code))

    def log_message(self, format: str, *args: object) -> None:  # noqa: A002 - the base class names it
        """Pass a line to whoever listens, with nothing in it that could steer a terminal."""
        if self.server.log:
            self.server.log(plain(format % args))


# --- from an address to a file -------------------------------------------------------------------


def _parts(target: str) -> list[str] | None:
    """The steps of an address, decoded once; None when it is not one. Judged after decoding, not before."""
    path = target.partition("?")[0]
    if _BAD_ESCAPE.search(path):
        return None
    try:
        parts = [unquote(part, errors="strict") for part in path.split("/")[1:]]
    except UnicodeDecodeError:
        return None
    return parts[:-1] if parts[-1] == "" else parts


def _inside(site: Path, parts: list[str]) -> Path | None:
    """The place in the site, if each step is a plain name and none of them a link."""
    place = site
    for part in parts:
        if disk.path_fault(part) or "/" in part or part.startswith("."):
            return None
        place /= part
        if disk.kind_of(place) not in ("folder", "file"):
            return None
    return place


def _read(file: Path) -> bytes | None:
    """The bytes of a regular file, or None; a pipe or a device is not waited for."""
    try:
        handle = os.open(file, os.O_RDONLY | disk.O_PLAIN)
    except OSError:
        return None
    with os.fdopen(handle, "rb") as opened:
        regular = stat.S_ISREG(os.fstat(handle).st_mode)
        return opened.read() if regular else None
