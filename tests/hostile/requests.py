"""Requests and changes that no page would send, seeded."""

from __future__ import annotations

import json
import random
from collections.abc import Iterator
from typing import Any

from tests.hostile.mutations import cut_off, flip_bytes

__all__ = ["changes", "raw_requests"]

_PIECES = [
    b"\r\n", b"\0", b"%2e%2e/", b"Content-Length: -1\r\n", b"Content-Length: 5\r\n", b" " * 9000,
    b"Transfer-Encoding: chunked\r\n\r\nFFFFFFFFF\r\n", b"Host: evil.example\r\n", b"\xff\xfe",
    b"Origin: null\r\n", b"X-Token:\r\n", b"HTTP/9.9", b"Range: bytes=9-1,-0\r\n", b'{"a":',
    b"Cookie: " + b"a=b;" * 500 + b"\r\n", b"?comp=9999999999", b"/../" * 9, b"["]
_VALUES: list[Any] = [None, True, -1, 0, 2 ** 63, 1e308, "", "x" * 300, "\0", "0", "9999/1", "1/0",
                      "C7", "\ud800", [], {}, [[1, 2]], {"a": {"b": []}}, "open", "advanced", "²"]


def _request(method: str, path: str, netloc: str, token: str, body: Any = None) -> bytes:
    content = b"" if body is None else json.dumps(body).encode()
    head = (f"{method} {path} HTTP/1.1\r\nHost: {netloc}\r\nX-Token: {token}\r\n"
            f"Content-Type: application/json\r\nContent-Length: {len(content)}\r\n"
            "Connection: close\r\n\r\n")
    return head.encode() + content


def raw_requests(netloc: str, token: str, key: str, count: int, seed: int) -> Iterator[bytes]:
    """Requests spoilt as bytes. None of them can take a tune off the shelf."""
    rnd = random.Random(seed)
    tune = f"/api/tunes/{key}"
    good = [_request("GET", path, netloc, token) for path in (
        "/", "/static/page.css", "/api/tunes", tune, f"{tune}/gaps/1?comp=1", f"{tune}/edition",
        "/api/jobs/x", "/api/piano/24", f"/tunes/{key}")]
    good += [_request("POST", f"{tune}/{what}", netloc, token, body) for what, body in (
        ("undo", {"version": 1}), ("chord", {"text": "C7"}), ("gaps/1/check", {"fill": "open"}),
        ("jobs", {"kind": "none"}))]
    for _ in range(count):
        data = rnd.choice(good)
        for _ in range(rnd.choice([1, 2])):
            way = rnd.randrange(4)
            if way == 0:
                data = flip_bytes(data, rnd)
            elif way == 1:
                data = cut_off(data, rnd) or b"\r\n"
            else:
                place = rnd.randrange(len(data))
                data = data[:place] + rnd.choice(_PIECES) + data[place + rnd.choice([0, 1, 9]):]
        yield data


def changes(count: int, seed: int) -> Iterator[Any]:
    """Changes of a tune with a value or two that are none, and some that are."""
    rnd = random.Random(seed)
    good: list[dict[str, dict[str, Any]]] = [
        {"settings": {"level": "beginner", "hand": "small", "tempo": "90", "feel": "swing"}},
        {"settings": {"octave": "1", "key": "Ab", "without": [], "choruses": 1}},
        {"settings": {"introduction": 2, "ending": 0, "mix": {"comp": 1, "line": 2}}},
        {"chord": {"bar": 1, "onset": "1", "text": "F7"}},
        {"chord": {"bar": 1, "onset": "1", "text": "", "from": {"bar": 0, "onset": "0"}}},
        {"pick": {"gap": 1, "fill": "open", "moves": []}}, {"pick": {"gap": 2, "fill": "comp:1"}}]
    for _ in range(count):
        kind, value = next(iter(rnd.choice(good).items()))
        value = dict(value)
        for name in rnd.sample(sorted(value), rnd.choice([0, 1, 1, 2])):
            value[name] = rnd.choice(_VALUES)
        yield rnd.choice([{kind: value}] * 6 + [rnd.choice(_VALUES), {kind: rnd.choice(_VALUES)}])
