"""Who is turned away: wrong secret, Host, Origin, method and path, and what every answer says."""

import pytest

from packer.table.security import Access
from tests.table.serving import ask, request, table

UPGRADE = (
    "Upgrade: websocket",
    "Connection: Upgrade",
    "Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==",
    "Sec-WebSocket-Version: 13",
)
"""The opening of a websocket, with the sample key of RFC 6455."""


@pytest.fixture(scope="module")
def served(tmp_path_factory, request):
    folder = tmp_path_factory.mktemp("project")
    (folder.parent / "outside.json").write_text("{}")
    sample = request.config.rootpath / "samples" / "sea_star.toml"
    with table(sample, folder) as (server, _):
        yield server


def test_the_page_is_there_for_who_knows_the_secret(served):
    access = served.access
    first, headers, body = ask(access.port, request(f"/{access.secret}/", access.host))
    assert first == "HTTP/1.1 200 OK"
    assert b"<!doctype html>" in body
    policy = headers["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert "frame-ancestors 'none'" in policy
    assert headers["Referrer-Policy"] == "no-referrer"
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["X-Frame-Options"] == "DENY"


@pytest.mark.parametrize(
    "path",
    [
        "/",
        "/wrong/",
        "/wrong/main.js",
        "/wrong/line",
        "//{secret}/",
        "/{half}/",
        "/%2e%2e/{secret}/",
    ],
)
def test_without_the_secret_nothing_is_there(served, path):
    secret = served.access.secret
    path = path.format(secret=secret, half=secret[:20])
    first, _, body = ask(served.access.port, request(path, served.access.host))
    assert first.startswith("HTTP/1.1 403")
    assert secret.encode() not in body


@pytest.mark.parametrize(
    "host", ["localhost:{port}", "evil.example", "127.0.0.1", "127.0.0.1:1", ""]
)
def test_another_host_is_turned_away(served, host):
    access = served.access
    first, _, _ = ask(access.port, request(f"/{access.secret}/", host.format(port=access.port)))
    assert first.startswith("HTTP/1.1 421")


def test_two_hosts_are_none(served):
    access = served.access
    first, _, _ = ask(
        access.port, request(f"/{access.secret}/", access.host, f"Host: {access.host}")
    )
    assert first.startswith("HTTP/1.1 421")


@pytest.mark.parametrize(
    "origin",
    [
        None,
        "null",
        "http://evil.example",
        "https://127.0.0.1:{port}",
        "http://localhost:{port}",
        "http://127.0.0.1:{port}/",
    ],
)
def test_the_line_opens_to_the_page_alone(served, origin):
    access = served.access
    more = [] if origin is None else [f"Origin: {origin.format(port=access.port)}"]
    first, _, _ = ask(
        access.port, request(f"/{access.secret}/line", access.host, *UPGRADE, *more)
    )
    assert first.startswith("HTTP/1.1 403")


def test_another_page_cannot_ask_for_files(served):
    access = served.access
    first, _, _ = ask(
        access.port, request(f"/{access.secret}/", access.host, "Origin: http://evil.example")
    )
    assert first.startswith("HTTP/1.1 403")


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "HEAD", "OPTIONS"])
def test_only_get_is_answered(served, method):
    access = served.access
    answer = ask(access.port, request(f"/{access.secret}/", access.host, method=method))
    assert not answer[0].startswith("HTTP/1.1 2")


def test_a_body_is_refused(served):
    access = served.access
    asked = (
        request(f"/{access.secret}/", access.host, "Content-Length: 5", method="POST")
        + b"hello"
    )
    assert not ask(access.port, asked)[0].startswith("HTTP/1.1 2")


@pytest.mark.parametrize(
    "path",
    [
        "../server.py", "file/../outside.json", "file/..%2foutside.json", "file//etc/passwd",
        "file/sea_star.toml", "file/", "%00", "page.css/../index.html", "file/sea_star.table.json",
    ],
)  # fmt: skip
def test_no_path_leads_out_of_the_tables(served, path):
    access = served.access
    first, _, body = ask(access.port, request(f"/{access.secret}/{path}", access.host))
    assert first.startswith("HTTP/1.1 404")
    assert body == b"there is nothing here\n"


def test_secrets_are_long_and_differ():
    gates = [Access(1), Access(1)]
    assert gates[0].secret != gates[1].secret
    assert len(gates[0].secret) >= 43  # 32 bytes in base64
    assert gates[0].secret not in repr(gates[1])
