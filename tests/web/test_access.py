"""Who gets in, and that nothing sent to the server brings it down: against the real one."""

from __future__ import annotations

import contextlib
import random
import socket

import pytest

FORM = {"Content_Type": "application/x-www-form-urlencoded"}
FUZZED = 200


def rows(served):
    return served.ask("GET", "/b/ferry-landing/bench/readings.csv")[1]


@pytest.mark.parametrize("host", ["harbour.example", "127.0.0.1", "127.0.0.1:1", "127.0.0.1.harbour.example", ""])
def test_under_another_name_nothing_is_served(served, host):
    host = host.replace(":1", f":{served.port + 1}") if host.endswith(":1") else host
    status, said = served.ask("GET", "/", Host=host)
    assert status in (400, 421) and "Builds" not in said


@pytest.mark.parametrize("origin", ["http://harbour.example", "null", "https://127.0.0.1:{port}", "http://127.0.0.1"])
def test_a_change_from_a_page_of_another_site_is_not_done(served, origin):
    sent = {"node": "bus", "state": "", "value": "1 V", "id": "other-site"}
    status, _ = served.post("/b/ferry-landing/bench/add", sent, Origin=origin.format(port=served.port))
    assert status == 403 and "1 V" not in rows(served)
    assert served.post("/b/ferry-landing/bench/add", sent, Sec_Fetch_Site="cross-site")[0] == 403


@pytest.mark.parametrize("path", ["value", "undo", "save", "bench/add", "cells/edit", "cells/import", "settle"])
def test_without_the_token_nothing_is_changed(served, path):
    for body in (b"", b"token=", b"token=guessed", b"token=%ff", b"where=need&value=1"):
        assert served.ask("POST", f"/b/ferry-landing/{path}", body, **FORM)[0] == 403
    assert served.ask("POST", "/new", b"name=stranger&starter=usual", **FORM)[0] == 403
    assert not (served.folder / "stranger").exists()


def test_with_the_token_the_same_is_done(served):
    status, _ = served.post("/b/ferry-landing/undo", {}, Origin=served.address)
    assert status == 303


@pytest.mark.parametrize(
    "path",
    [
        "/b/../../etc/passwd", "/b/../outside/", "/b/%2e%2e/%2e%2e/etc/passwd", "/b/%2e%2e%2f%2e%2e%2foutside/",
        "/b/..%5c..%5coutside/", "/static/../../app.py", "/static/%2e%2e/app.py", "/static/..%2f..%2fapp.py",
        "/manual/../../pyproject.toml", "/manual/%2e%2e/%2e%2e/pyproject", "/b//etc/passwd", "/b/%00/",
        "/b/harbour-gauge/part/..%2f..%2f..", "/b/harbour-gauge/question/..%2fsecret", "/b/harbour-gauge/build.yaml",
        "/b/link/",
    ],
)  # fmt: skip
def test_no_address_leads_out_of_the_folder(served, path):
    outside = served.folder.parent / "outside"
    outside.mkdir(exist_ok=True)
    (outside / "build.yaml").write_text("tideover: 1\ntitle: SECRET\n")
    if not (served.folder / "link").exists():
        (served.folder / "link").symlink_to(outside)
    status, said = served.ask("GET", path)
    assert status in (400, 404, 405) and "SECRET" not in said and "root:" not in said and "import" not in said


def test_an_upload_larger_than_what_is_taken_is_refused_and_nothing_kept(served):
    before = (served.folder / "ferry-landing/cells/inventory.csv").read_bytes()
    body = b"--x\r\ncontent-disposition: form-data; name=table; filename=a.csv\r\n\r\n" + b"C1,2\n" * 900_000
    kind = {"Content_Type": "multipart/form-data; boundary=x", "X_Tideover": served.token}
    with contextlib.suppress(BrokenPipeError, ConnectionResetError):  # closed while we still sent
        assert served.ask("POST", "/b/ferry-landing/cells/import", body, **kind)[0] == 413
    assert served.alive and (served.folder / "ferry-landing/cells/inventory.csv").read_bytes() == before
    assert served.ask("GET", "/")[0] == 200


def malformed(draw: random.Random, port: int, token: str) -> bytes:
    """A request with something wrong somewhere."""
    host = f"Host: 127.0.0.1:{port}\r\n"
    wild = bytes(draw.randrange(256) for _ in range(draw.randrange(1, 200)))
    text = "".join(chr(draw.randrange(33, 127)) for _ in range(draw.randrange(1, 60)))
    number = draw.choice(["-1", "99999999999999999999", "abc", "0x10", "1e3", " ", "3"])
    address = draw.choice(
        ["/b/edited/value", "/b/edited/bench/add", "/b/edited/cells/import", "/b/edited/cells/edit", "/new", "/example"]
    )
    own = f"{host}X-Tideover: {token}\r\n"
    form = b"&".join(
        draw.choice([b"where", b"value", b"seen", b"id", b"field", b"name", b"starter", b"node", b"again"])
        + b"=" + draw.choice([wild.hex().encode(), b"%00", b"%ff%fe", b"need%1fruntime", b"parts%1f%1f", b"\x1f" * 9])
        for _ in range(draw.randrange(6))
    )  # fmt: skip
    part = b"--x\r\nContent-Disposition: form-data; name=\"table\"; filename=\"../../a.csv\"\r\n\r\n" + wild
    post = f"POST {address} HTTP/1.1\r\n{own}".encode()
    return draw.choice(
        [
            wild,
            f"GET {text} HTTP/1.1\r\n{host}\r\n".encode(),
            f"{text} / HTTP/1.1\r\n{host}\r\n".encode(),
            f"GET /b/edited/{text} HTTP/1.1\r\n{host}\r\n".encode(),
            f"GET /b/edited/outage/ride?{text}&k0={text}&k1={number} HTTP/1.1\r\n{host}\r\n".encode(),
            f"GET /b/edited/path?state=%{text} HTTP/1.1\r\n{host}\r\n".encode(),
            f"GET / HTTP/{number}\r\n{host}\r\n".encode(),
            f"GET / HTTP/1.1\r\n{host}{host}\r\n".encode(),
            f"GET / HTTP/1.1\r\n{host}Cookie: {text}\r\n".encode() + wild + b"\r\n\r\n",
            post + f"Content-Length: {number}\r\n\r\n".encode() + wild,
            post + b"Transfer-Encoding: chunked\r\n\r\n" + text.encode() + b"\r\n" + wild,
            post + f"Content-Type: application/x-www-form-urlencoded\r\nContent-Length: {len(form)}\r\n\r\n".encode()
            + form,
            post + f"Content-Type: multipart/form-data; boundary=x\r\nContent-Length: {len(part)}\r\n\r\n".encode()
            + part,
            post + f"Content-Type: multipart/form-data\r\nContent-Length: {len(part)}\r\n\r\n".encode() + part,
            f"GET /{'a' * 70_000} HTTP/1.1\r\n{host}\r\n".encode(),
        ]
    )  # fmt: skip


def test_malformed_requests_leave_the_server_as_it_was(served):
    draw, token = random.Random(5), served.token
    names = sorted(p.name for p in served.folder.iterdir())
    build = (served.folder / "edited" / "build.yaml").read_bytes()
    faults = []
    for _ in range(FUZZED):
        sent = malformed(draw, served.port, token)
        with socket.create_connection(("127.0.0.1", served.port), timeout=30) as line:
            try:
                line.sendall(sent)
                line.shutdown(socket.SHUT_WR)
                answer = line.recv(4096)
            except (ConnectionResetError, BrokenPipeError):
                answer = b""
        if answer.split(b" ")[1:2] == [b"500"]:
            faults.append((sent[:300], answer[-300:]))
    assert served.alive and served.ask("GET", "/")[0] == 200
    assert not faults, f"{len(faults)} of {FUZZED} answered as a fault of ours: {faults[0]}"
    assert "Traceback" not in served.said
    assert sorted(p.name for p in served.folder.iterdir()) == names
    assert (served.folder / "edited" / "build.yaml").read_bytes() == build
    served.post("/b/edited/revert", {})
