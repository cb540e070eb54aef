"""Who may ask: our own pages on this machine and devices that were let in; nobody else, and never an error of ours."""

from __future__ import annotations

import asyncio

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tideover.web.guard import COOKIE, HEADERS, LARGEST, PAIR_PATH, Guard, cookie, device_of
from tideover.web.pairing import LASTS, LOCKED, TRIES, Pairing, Refused

PORT = 8400
HOST = (b"host", b"localhost:8400")
HERE, THERE = ("127.0.0.1", 50000), ("192.168.4.20", 50000)


class Clock:
    now = 100.0

    def __call__(self) -> float:
        return self.now


async def echo(scope, receive, send):
    """Reads the whole body and says what it got, as an application that answers an error of its own would."""
    body, more = b"", True
    try:
        while more:
            message = await receive()
            if message["type"] != "http.request":
                break
            body, more = body + message.get("body", b""), message.get("more_body", False)
    except Exception:
        await send({"type": "http.response.start", "status": 500, "headers": []})
        await send({"type": "http.response.body", "body": b"an error"})
        raise
    await send({"type": "http.response.start", "status": 200, "headers": [(b"x-device", device_of(scope).encode())]})
    await send({"type": "http.response.body", "body": body})


def ask(guard, method="GET", headers=(HOST,), body=(b"",), client=HERE, path="/"):
    chunks = [{"type": "http.request", "body": b, "more_body": k < len(body) - 1} for k, b in enumerate(body)]
    sent = []

    async def receive():
        return chunks.pop(0) if chunks else {"type": "http.disconnect"}

    async def send(message):
        sent.append(message)

    scope = {"type": "http", "method": method, "path": path, "headers": list(headers), "client": client}
    asyncio.run(guard(scope, receive, send))
    assert [m["type"] for m in sent].count("http.response.start") == 1
    start = sent[0]
    return start["status"], dict(start["headers"]), b"".join(m.get("body", b"") for m in sent[1:])


@pytest.fixture
def guard():
    return Guard(echo, PORT, ("192.168.4.2",), Pairing(Clock()))


def with_token(guard, *more):
    return (HOST, (b"x-tideover", guard.token.encode()), *more)


def paired(guard, name="phone"):
    secret = guard.pairing.pair(guard.pairing.code(), name)
    return (b"cookie", f"{COOKIE}={secret}".encode())


@pytest.mark.parametrize(
    "host", ["localhost:8400", "127.0.0.1:8400", "[::1]:8400", "LOCALHOST:8400", "192.168.4.2:8400"]
)
def test_our_names_are_answered(guard, host):
    assert ask(guard, headers=[(b"host", host.encode())])[0] == 200


@pytest.mark.parametrize(
    "host",
    ["harbour.example:8400", "localhost:8401", "localhost", "localhost.harbour.example:8400", "", "[::1",
     "192.168.4.3:8400", "localhost:8400:8400", "localhost:8400@harbour.example"],
)  # fmt: skip
def test_another_name_that_points_here_is_refused(guard, host):
    assert ask(guard, headers=[(b"host", host.encode())])[0] == 421


def test_a_request_without_a_name_and_one_with_two_are_refused(guard):
    assert ask(guard, headers=[])[0] == 421
    assert ask(guard, headers=[HOST, (b"Host", b"harbour.example:8400")])[0] == 400


def test_a_change_needs_the_token_in_the_header_or_in_the_form(guard):
    form = (b"content-type", b"application/x-www-form-urlencoded; charset=utf-8")
    assert ask(guard, "POST")[0] == 403
    assert ask(guard, "POST", (HOST, (b"x-tideover", b"guess")))[0] == 403
    assert ask(guard, "POST", with_token(guard), [b"a=1"])[2] == b"a=1"
    body = f"value=19+V&token={guard.token}".encode()
    assert ask(guard, "POST", (HOST, form), [body[:9], body[9:]])[::2] == (200, body)
    assert ask(guard, "POST", (HOST, form), [b"token=guess"])[0] == 403
    assert ask(guard, "DELETE")[0] == 403


@pytest.mark.parametrize(
    "header",
    [(b"origin", b"http://harbour.example"), (b"origin", b"null"), (b"origin", b"http://localhost:9000"),
     (b"origin", b"https://localhost:8400"), (b"sec-fetch-site", b"cross-site"), (b"sec-fetch-site", b"same-site")],
)  # fmt: skip
def test_a_change_that_another_page_sends_is_refused_even_with_the_token(guard, header):
    assert ask(guard, "POST", with_token(guard, header))[0] == 403
    assert ask(guard, "POST", with_token(guard, header), path=PAIR_PATH)[0] == 403


def test_a_change_that_our_page_sends_is_done(guard):
    ours = ((b"origin", b"http://localhost:8400"), (b"sec-fetch-site", b"same-origin"))
    assert ask(guard, "POST", with_token(guard, *ours))[0] == 200


def test_a_body_is_counted_while_it_comes(guard):
    chunk = b"x" * 1_000_000
    assert ask(guard, "POST", with_token(guard), [chunk] * 4)[0] == 200
    status, _, said = ask(guard, "POST", with_token(guard), [chunk] * 4 + [b"x"])
    assert status == 413 and b"4 MB" in said
    told = (b"content-length", str(LARGEST + 1).encode())
    assert ask(guard, "POST", with_token(guard, told), [b"x"])[0] == 413
    assert ask(guard, "POST", with_token(guard, (b"content-length", b"-1")))[0] == 400


def test_every_answer_carries_the_headers(guard):
    for answer in (ask(guard), ask(guard, headers=[]), ask(guard, "POST"), ask(guard, client=THERE)):
        assert set(HEADERS) <= set(answer[1].items())
    policy = dict(HEADERS)[b"content-security-policy"].decode()
    assert "default-src 'self'" in policy and "unsafe" not in policy


def test_a_strange_device_sees_only_the_page_that_pairs_and_what_it_looks_like(guard):
    status, headers, _ = ask(guard, client=THERE)
    assert (status, headers[b"location"]) == (303, PAIR_PATH.encode())
    assert ask(guard, client=THERE, path=PAIR_PATH)[0] == 200
    assert ask(guard, client=THERE, path="/static/look.css")[0] == 200
    assert ask(guard, client=THERE, path="/pairs")[0] == 303
    assert ask(guard, "POST", with_token(guard), client=THERE)[0] == 403
    for client in (None, ("", 1), ("nowhere", 1)):
        assert ask(guard, client=client)[0] == 303


def test_a_device_that_was_let_in_is_known_by_name(guard):
    came = paired(guard, "bench phone")
    status, headers, _ = ask(guard, headers=(HOST, came), client=THERE)
    assert (status, headers[b"x-device"]) == (200, b"bench phone")
    assert ask(guard, "POST", (*with_token(guard), came), client=THERE)[0] == 200
    assert ask(guard, "POST", (HOST, came), client=THERE)[0] == 403
    (device,) = guard.pairing.devices
    guard.pairing.forget(device.mark)
    assert ask(guard, headers=(HOST, came), client=THERE)[0] == 303
    assert ask(guard, headers=(HOST, (b"cookie", f"{COOKIE}=guess".encode())), client=THERE)[0] == 303


def test_the_secret_is_kept_from_scripts_and_from_other_sites():
    assert {"HttpOnly", "SameSite=Strict"} <= set(cookie("s").split("; "))


# --- pairing -----------------------------------------------------------------------------------------


def test_a_code_works_once_however_it_is_typed():
    pairing = Pairing(Clock())
    code = pairing.code()
    assert len(code) == 8
    secret = pairing.pair(f" {code[:4].lower()}-{code[4:]} ", " the\tphone\n")
    assert pairing.device(secret).name == "the phone"
    assert pairing.device("") is None
    with pytest.raises(Refused, match="used already"):
        pairing.pair(code, "another")
    with pytest.raises(Refused):
        pairing.pair("", "another")


def test_a_code_is_good_for_ten_minutes():
    clock = Clock()
    pairing = Pairing(clock)
    code = pairing.code()
    clock.now += LASTS + 1.0
    with pytest.raises(Refused, match="too old"):
        pairing.pair(code, "late")
    assert pairing.devices == ()


def test_five_wrong_codes_hold_up_the_right_one_for_a_minute():
    clock = Clock()
    pairing = Pairing(clock)
    code = pairing.code()
    for _ in range(TRIES):
        with pytest.raises(Refused, match="not the code"):
            pairing.pair("AAAAAAAA" if code != "AAAAAAAA" else "BBBBBBBB", "guesser")
    with pytest.raises(Refused, match="Too many wrong codes"):
        pairing.pair(code, "phone")
    clock.now += LOCKED
    assert pairing.device(pairing.pair(code, "phone")).name == "phone"


def test_a_new_code_ends_the_one_before():
    pairing = Pairing(Clock())
    first, second = pairing.code(), pairing.code()
    with pytest.raises(Refused):
        pairing.pair(first, "phone")
    assert pairing.pair(second, "phone")


# --- anything at all ---------------------------------------------------------------------------------

NAMES = st.sampled_from(
    [b"host", b"origin", b"cookie", b"content-length", b"content-type", b"sec-fetch-site", b"x-tideover", b"Host"]
) | st.binary(max_size=12)
VALUES = (
    st.sampled_from([b"localhost:8400", b"application/x-www-form-urlencoded", b"http://localhost:8400", b"9" * 40])
    | st.binary(max_size=40)
    | st.text(max_size=20).map(lambda t: f"{COOKIE}={t}".encode("utf-8", "surrogatepass"))
)
ADDRESSES = st.sampled_from(["127.0.0.1", "::1", "::ffff:127.0.0.1", "10.1.2.3", "fe80::1%eth0"])
CLIENTS = st.none() | st.tuples(ADDRESSES, st.just(1))


@settings(max_examples=300, deadline=None)
@given(
    st.sampled_from(["GET", "HEAD", "POST", "PUT", "DELETE", "OPTIONS", "get", ""]),
    st.lists(st.tuples(NAMES, VALUES), max_size=6),
    st.lists(st.binary(max_size=60), min_size=1, max_size=4),
    CLIENTS,
    st.sampled_from(["/", PAIR_PATH, "/static/../", "/a/b"]) | st.text(max_size=10),
    st.booleans(),
)
def test_nothing_that_is_sent_makes_an_error_of_ours(method, headers, body, client, path, ours):
    guard = Guard(echo, PORT)
    status, answered, _ = ask(guard, method, [*([HOST] if ours else []), *headers], body, client, path)
    assert status in (200, 303, 400, 403, 413, 421)
    assert set(HEADERS) <= set(answered.items())
    if status == 200 and method not in ("GET", "HEAD"):
        assert path == PAIR_PATH, "a change was done without the token"


@settings(max_examples=100, deadline=None)
@given(st.text(max_size=20), st.text(max_size=60))
def test_nothing_typed_as_a_code_or_a_name_makes_an_error_of_ours(code, name):
    pairing = Pairing()
    pairing.code()
    with pytest.raises(Refused):
        pairing.pair(code, name)
    assert pairing.pair(pairing.code(), name)


def test_a_socket_is_closed():
    sent = []

    async def send(message):
        sent.append(message)

    asyncio.run(Guard(echo, PORT)({"type": "websocket"}, None, send))
    assert [m["type"] for m in sent] == ["websocket.close"]
