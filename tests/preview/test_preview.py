"""The preview, asked over a real socket (RFC 9110, RFC 9112; Python's notes on http.server security)."""

from __future__ import annotations

import os
import socket
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from passport.disk import Refused
from passport.preview import OPEN_AT_ONCE, PreviewServer, serve, server_for
from passport.problems import in_words
from passport.publish import PlannedFile, publish

SITE = {
    "404.html": b"<p>not here",
    "T/RY-1/index.html": b"<p>one",
    "T/RY-1/label.png": b"png",
    "index.html": b"<p>home",
    "a b.txt": b"text",
}


@pytest.fixture
def site(tmp_path: Path) -> Path:
    """A published site, and beside it what nobody may see."""
    (tmp_path / "secret.txt").write_text("secret")
    publish([PlannedFile(*item) for item in SITE.items()], tmp_path / "site")
    return tmp_path / "site"


@pytest.fixture
def logged() -> list[str]:
    """What the server told of its requests."""
    return []


@pytest.fixture
def server(site: Path, logged: list[str]) -> Iterator[PreviewServer]:
    """A server at work on a free port."""
    with server_for(site, log=logged.append) as running:
        thread = threading.Thread(target=running.serve_forever, args=(0.02,))
        thread.start()
        yield running
        running.shutdown()
        thread.join()


def ask(server: PreviewServer, raw: bytes) -> tuple[int, dict[str, str], bytes]:
    """Send bytes as they are; the status, the fields in lower case, and the body."""
    with socket.create_connection(("127.0.0.1", server.server_port), timeout=5) as connection:
        connection.sendall(raw.replace(b"PORT", str(server.server_port).encode()))
        answer = b"".join(iter(lambda: connection.recv(65536), b""))
    head, _, body = answer.partition(b"\r\n\r\n")
    first, *lines = head.decode().split("\r\n")
    fields = dict(line.split(": ", 1) for line in lines)
    return int(first.split()[1]), {name.lower(): value for name, value in fields.items()}, body


def get(server: PreviewServer, target: str, method: str = "GET") -> tuple[int, dict[str, str], bytes]:
    """Ask for a target as a browser does."""
    return ask(server, f"{method} {target} HTTP/1.1\r\nHost: localhost:PORT\r\n\r\n".encode())


@pytest.mark.parametrize(
    ("target", "media", "body"),
    [
        ("/", "text/html; charset=utf-8", b"<p>home"),
        ("/index.html?x=1", "text/html; charset=utf-8", b"<p>home"),
        ("/T/RY-1/", "text/html; charset=utf-8", b"<p>one"),
        ("/T/RY-1/label.png", "image/png", b"png"),
        ("/a%20b.txt", "text/plain; charset=utf-8", b"text"),
    ],
)
def test_files_of_the_site(server: PreviewServer, target: str, media: str, body: bytes) -> None:
    """A file of the site comes with its own media type."""
    status, fields, met = get(server, target)
    assert (status, fields["content-type"], met) == (200, media, body)
    assert fields["content-length"] == str(len(body))


def test_second_walls(server: PreviewServer) -> None:
    """Each answer carries the policy and forbids guessing types; the program behind it is not named."""
    for target in ("/", "/nothing", "/T/RY-1"):
        fields = get(server, target)[1]
        assert fields["content-security-policy"].startswith("default-src 'none'; ")
        assert "base-uri 'none'; form-action 'none'; frame-ancestors 'none'" in fields["content-security-policy"]
        assert fields["x-content-type-options"] == "nosniff"
        assert "ython" not in fields["server"]


def test_an_address_on_a_label(server: PreviewServer) -> None:
    """A label's address has no slash at its end; it leads to the folder, as static hosts do it."""
    status, fields, body = get(server, "/T/RY-1?from=label")
    assert (status, fields["location"], body) == (301, "/T/RY-1/", b"")


@pytest.mark.parametrize("target", ["//evil.example/..", "//T/RY-1", "/T//RY-1", "/%2Fevil.example", "/T%2FRY-1"])
def test_no_redirect_elsewhere(server: PreviewServer, target: str) -> None:
    """No way of writing an address makes the server send a browser to another host (CWE-601)."""
    status, fields, _ = get(server, target)
    location = fields.get("location", "/")
    assert status in (301, 404)
    assert location.startswith("/")
    assert not location.startswith("//")


def test_what_is_not_there(server: PreviewServer) -> None:
    """The site's own page says so, with status 404."""
    assert get(server, "/T/RY-9/")[0::2] == (404, b"<p>not here")


def test_head_has_no_body(server: PreviewServer) -> None:
    """HEAD gives the fields of GET and nothing else (RFC 9110, 9.3.2)."""
    status, fields, body = get(server, "/", "HEAD")
    assert (status, fields["content-length"], body) == (200, "7", b"")


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "OPTIONS", "TRACE", "PATCH", "get", "__init__"])
def test_only_get_and_head(server: PreviewServer, method: str) -> None:
    """Any other method is refused with the two that are allowed (RFC 9110, 15.5.6)."""
    status, fields, _ = get(server, "/", method)
    assert (status, fields["allow"]) == (405, "GET, HEAD")


@pytest.mark.parametrize("host", ["localhost:PORT", "127.0.0.1:PORT", "[::1]:PORT", "LocalHost:PORT"])
def test_hosts_of_this_machine(server: PreviewServer, host: str) -> None:
    """The names of this machine with the port are answered."""
    assert ask(server, f"GET / HTTP/1.1\r\nHost: {host}\r\n\r\n".encode())[0] == 200


@pytest.mark.parametrize(
    "fields",
    [
        "Host: evil.example",
        "Host: evil.example:PORT",
        "Host: localhost",
        "Host: localhost:1",
        "Host: localhost.evil.example:PORT",
        "Host: localhost:PORT@evil.example",
        "Host: evil.example:PORT, localhost:PORT",
        "Host:",
        "X: y",
        "Host: localhost:PORT\r\nHost: evil.example",
        "Host: localhost:PORT\r\nHost: localhost:PORT",
        "Host: 0.0.0.0:PORT",
    ],
)
def test_foreign_hosts(server: PreviewServer, fields: str) -> None:
    """Another, no, or a second name gets nothing of the site: a page elsewhere may have sent the browser."""
    status, _, body = ask(server, f"GET / HTTP/1.1\r\n{fields}\r\n\r\n".encode())
    assert (status, body) == (421, b"421 Misdirected Request\n")


@pytest.mark.parametrize(
    "target", ["http://evil.example/", "http://localhost:PORT/", "*", "index.html", "/%", "/%ff", "/%zz"]
)
def test_targets_that_are_no_path(server: PreviewServer, target: str) -> None:
    """Absolute forms and broken escapes are bad requests."""
    assert get(server, target)[0] == 400


@pytest.mark.parametrize(
    "target",
    [
        "/../secret.txt",
        "/T/../../secret.txt",
        "/%2e%2e/secret.txt",
        "/..%2fsecret.txt",
        "/T/%2e%2e%2f%2e%2e%2fsecret.txt",
        "/..%5csecret.txt",
        "/%252e%252e/secret.txt",
        "/./index.html",
        "/index.html/",
        "/index.html%00.png",
        "/T/",
        "/T",
        "/.hidden",
        "/link.txt",
        "/folder/secret.txt",
        "/pipe",
        "/CON",
        "/" + "x" * 3000,
    ],
)
def test_nothing_but_the_site(site: Path, server: PreviewServer, target: str) -> None:
    """No path leads out (CWE-22), no link is followed (CWE-59), no folder listed, no pipe waited for."""
    (site / ".hidden").write_text("secret")
    (site / "link.txt").symlink_to("../secret.txt")
    (site / "folder").symlink_to("..")
    os.mkfifo(site / "pipe")
    status, _, body = get(server, target)
    assert (status, body) == ((200, b"<p>home") if target == "/index.html/" else (404, b"<p>not here"))


def test_a_pipe_in_place_of_the_error_page(site: Path, server: PreviewServer) -> None:
    """Even the page for what is missing is only read if it is a file."""
    (site / "404.html").unlink()
    os.mkfifo(site / "404.html")
    assert get(server, "/nothing")[0::2] == (404, b"404 Not Found\n")


@pytest.mark.parametrize(
    "raw",
    [
        b"GET\r\n\r\n",
        b"GET / HTTP/9.9\r\n\r\n",
        b"GET / HTTP/x\r\n\r\n",
        b"GET / HTTP/1.1 more\r\n\r\n",
        b"GET /" + b"x" * 70000 + b" HTTP/1.1\r\n\r\n",
        b"GET / HTTP/1.1\r\n" + b"A: b\r\n" * 200 + b"\r\n",
        b"GET / HTTP/1.1\r\nA: " + b"b" * 70000 + b"\r\n\r\n",
        b"<script>alert(1)</script> / HTTP/1.1\r\nHost: localhost:PORT\r\n\r\n",
    ],
)
def test_broken_requests(server: PreviewServer, raw: bytes) -> None:
    """A broken request gets a status and nothing of what it said; the next one is answered."""
    try:
        answer = ask(server, raw)
    except ConnectionResetError:  # the server closed while there was still more of it
        answer = None
    assert answer is not None or len(raw) > 1000
    assert answer is None or (400 <= answer[0] < 600 and b"script" not in answer[2])
    assert get(server, "/")[0] == 200


def test_a_thousand_connections(server: PreviewServer) -> None:
    """A thousand that say nothing do not keep a visitor waiting: the oldest of too many are dropped."""
    silent = []
    for _ in range(1000):
        silent.append(socket.create_connection(("127.0.0.1", server.server_port), timeout=5))
        if len(silent) > 3 * OPEN_AT_ONCE:  # this side, too, may have 1,024 files open
            silent.pop(0).close()
    assert get(server, "/")[0::2] == (200, b"<p>home")
    for connection in silent:
        connection.close()


def test_only_loopback_listens(server: PreviewServer) -> None:
    """The one listening socket is bound to 127.0.0.1."""
    assert server.socket.getsockname() == ("127.0.0.1", server.server_port)


def test_the_log_cannot_steer_a_terminal(server: PreviewServer, logged: list[str]) -> None:
    """Escapes in a request are shown as text (CWE-150)."""
    ask(server, b"GET /\x1b[31m HTTP/1.1\r\nHost: localhost:PORT\r\n\r\n")
    assert logged
    assert all(line.isprintable() for line in logged)


def test_a_site_published_meanwhile(site: Path, server: PreviewServer) -> None:
    """The folder may be exchanged while it is served: the next request finds the new page."""
    publish([PlannedFile(*item) for item in {**SITE, "index.html": b"<p>new"}.items()], site)
    assert get(server, "/")[2] == b"<p>new"


def test_nothing_is_built(tmp_path: Path) -> None:
    """Without a built site the message says what to do, so no other folder is ever served."""
    with pytest.raises(Refused) as refused:
        serve(tmp_path)
    assert in_words(refused.value.problems[0]).replace(str(tmp_path), "HERE") == (
        "HERE: error preview-no-site: there is no built site here (its files.sha256 is missing)\n"
        "    hint: publish first"
    )


def test_a_port_that_is_taken(site: Path, server: PreviewServer) -> None:
    """A taken port is said in words."""
    with pytest.raises(Refused) as refused:
        server_for(site, server.server_port)
    assert in_words(refused.value.problems[0]) == (
        f"error preview-no-port: port {server.server_port} cannot be listened on: Address already in use\n"
        "    hint: name another port, from 1024 to 65535; 0 takes any that is free"
    )


def test_a_port_that_cannot_be(site: Path) -> None:
    """A number that is no port is said in words, too."""
    with pytest.raises(Refused, match="port 70000 cannot be listened on: "):
        server_for(site, 70000)
