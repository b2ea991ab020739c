"""An attack on the program: spoilt files, hostile requests, kills, a full disk, slow clients.

Each attack counts what it tried and tells every fault in a sentence; none is right. The tests
run them with small counts, ``make attack`` with larger ones (``ATTACK="--files 5000 --seed 7"``).
"""

from __future__ import annotations

import argparse
import io
import json
import os
import random
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager, redirect_stderr, redirect_stdout, suppress
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlsplit

import httpx
from tests.hostile.disk import fill_up, small_disk
from tests.hostile.mutations import mutants
from tests.hostile.requests import changes, raw_requests

from fillwright.cli import main as command_line

__all__ = ["Outcome", "attack_files", "attack_page", "attack_with_full_disk", "attack_with_kills",
           "attack_with_slow_clients"]

HANG_SEC = 60
"""What takes longer than this is a fault; a slow machine needs a second."""


@dataclass
class Outcome:
    """What an attack met: how often what, and the faults."""

    counts: Counter[str] = field(default_factory=Counter)
    faults: list[str] = field(default_factory=list)

    def line(self, what: str) -> str:
        counts = ", ".join(f"{number} {name}" for name, number in sorted(self.counts.items()))
        return f"{what}: {counts}; {len(self.faults)} faults"


# --- files ------------------------------------------------------------------------------------


class _Hung(BaseException):
    """Not an Exception, so that nothing takes it for a fault of a file."""


@contextmanager
def _not_for_ever() -> Iterator[None]:
    def ring(*_: object) -> None:
        raise _Hung(f"it took more than {HANG_SEC} s")

    old = signal.signal(signal.SIGALRM, ring)
    signal.alarm(HANG_SEC)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, old)


def attack_files(count: int, seed: int, folder: Path) -> Outcome:
    """``fillwright gaps`` on spoilt files of several notations: a table, or exit status 2 and
    one sentence that begins with the file's name."""
    outcome = Outcome()
    for name, data in mutants(count, seed):
        path = folder / name
        path.write_bytes(data)
        out, err = io.StringIO(), io.StringIO()
        try:
            with redirect_stdout(out), redirect_stderr(err), _not_for_ever():
                command_line(["gaps", str(path)])
        except SystemExit as ended:
            status = ended.code or 0
        except BaseException as error:
            if isinstance(error, KeyboardInterrupt):
                raise
            status = f"{type(error).__name__}: {error}"
        said = err.getvalue()
        if status == 0 and out.getvalue():
            outcome.counts["read"] += 1
        elif status == 2 and not out.getvalue() and _is_one_sentence(said, name):
            outcome.counts["refused"] += 1
        else:
            outcome.faults.append(f"{name}: {status}: {said[-200:]}")
        if status in (0, 2):
            path.unlink()
    return outcome


def _is_one_sentence(said: str, name: str) -> bool:
    return said.startswith(f"{name}: ") and said.count("\n") == 1 and len(said) < 400


# --- the page ---------------------------------------------------------------------------------


@dataclass(frozen=True)
class Page:
    """A server of its own that may be killed."""

    process: subprocess.Popen[str]
    address: str
    token: str

    def client(self) -> httpx.Client:
        return httpx.Client(base_url=self.address, timeout=HANG_SEC,
                            headers={"x-token": self.token})


@contextmanager
def page(data: Path) -> Iterator[Page]:
    command = [sys.executable, "-m", "fillwright.cli", "serve", "--port", "0", "--data", str(data)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        try:
            address = process.stdout.readline().split()[-1].rstrip("/")
            text = httpx.get(address, timeout=HANG_SEC).text
            yield Page(process, address, text.split('name="token" content="')[1].split('"')[0])
        finally:
            process.terminate()
            process.wait(HANG_SEC)


def attack_page(address: str, token: str, count: int, seed: int) -> Outcome:
    """Spoilt requests, wild changes and spoilt files brought: never an error of the server, and
    what is accepted opens."""
    outcome = Outcome()
    with httpx.Client(base_url=address, timeout=HANG_SEC, headers={"x-token": token}) as client:
        key = client.post("/api/tunes", json={"demo": "snow"}).json()["id"]
        for request in raw_requests(urlsplit(address).netloc, token, key, count, seed):
            _judge(outcome, _status_of_raw(address, request), repr(request[:120]))
        version = client.get(f"/api/tunes/{key}").json()["version"]
        for change in changes(count, seed):
            answer = client.put(f"/api/tunes/{key}", content=json.dumps(
                {"version": version, "change": change}),
                headers={"content-type": "application/json"})
            version = answer.json().get("version", version)
            _judge(outcome, answer.status_code, f"{json.dumps(change)[:160]}: {answer.text[:120]}")
        for name, data in mutants(max(8, count // 8), seed + 1):
            answer = client.post("/api/tunes", files={"file": (name, data)})
            _judge(outcome, answer.status_code, f"{name}: {answer.text[:120]}")
            if answer.status_code == 201:
                brought = answer.json()["id"]
                opened = client.get(f"/api/tunes/{brought}")
                outcome.counts["opened"] += opened.status_code == 200
                if opened.status_code != 200:
                    outcome.faults.append(f"{name} is accepted, but does not open: {opened.text}")
                client.delete(f"/api/tunes/{brought}")
        if client.get(f"/api/tunes/{key}").status_code != 200:
            outcome.faults.append("the tune that was changed does not open any more")
    return outcome


def _judge(outcome: Outcome, status: int, what: str) -> None:
    kind = {0: "hung up", 2: "done", 3: "elsewhere", 4: "refused"}.get(status // 100)
    if kind is None:
        outcome.faults.append(f"{status}: {what}")
    else:
        outcome.counts[kind] += 1


def _status_of_raw(address: str, request: bytes) -> int:
    """0: the server hung up, which is an answer to what is no request."""
    parts = urlsplit(address)
    with socket.create_connection((parts.hostname, parts.port), HANG_SEC) as raw:
        try:
            raw.sendall(request)
            raw.shutdown(socket.SHUT_WR)
            answer = b"".join(iter(lambda: raw.recv(65536), b""))
        except ConnectionError:
            return 0
        except TimeoutError:
            return 599
    found = answer.split(b" ", 2)
    return int(found[1]) if answer.startswith(b"HTTP/") and len(found) > 1 else 0


# --- kills, a full disk, slow clients ---------------------------------------------------------


def attack_with_kills(rounds: int, seed: int, data: Path) -> Outcome:
    """The server is killed while it saves, and started again: each change that was acknowledged
    is there, at most the one on its way is new."""
    outcome, rnd = Outcome(), random.Random(seed)
    key, version = "", 0
    sent: dict[int, dict[str, object]] = {}
    for _ in range(rounds):
        with page(data) as server:
            with server.client() as client:
                if not key:
                    key = client.post("/api/tunes", json={"demo": "snow"}).json()["id"]
                    version = client.get(f"/api/tunes/{key}").json()["version"]
                else:
                    version = _compare(outcome, client.get(f"/api/tunes/{key}").json(), sent,
                                       version)
                client.put(f"/api/tunes/{key}", json={"version": -1, "change": {
                    "pick": {"gap": 1, "fill": "open"}}})  # the workers are there
                killer = threading.Timer(rnd.uniform(0.05, 0.6), server.process.kill)
                killer.start()
                with suppress(httpx.TransportError):
                    while True:
                        gap = rnd.randrange(1, 4)
                        change: dict[str, object] = rnd.choice([
                            {"pick": {"gap": gap, "fill": "open"}}, {"unpick": gap}])
                        sent[version + 1] = change
                        answer = client.put(f"/api/tunes/{key}", json={
                            "version": version, "change": change})
                        if answer.status_code != 200:
                            outcome.faults.append(f"{answer.status_code}: {answer.text[:120]}")
                            break
                        version = answer.json()["version"]
                        outcome.counts["changes acknowledged"] += 1
                killer.join()
            outcome.counts["kills"] += 1
    with page(data) as server, server.client() as client:
        _compare(outcome, client.get(f"/api/tunes/{key}").json(), sent, version)
    return outcome


def _compare(outcome: Outcome, found: dict[str, object], sent: dict[int, dict[str, object]],
             version: int) -> int:
    """The state after a kill against all changes that were sent up to its version."""
    now = found["version"]
    assert isinstance(now, int)
    if now not in (version, version + 1):
        outcome.faults.append(f"version {version} was acknowledged, {now} is there")
    picks: dict[str, object] = {}
    for number in sorted(sent):
        if number > now:
            continue
        change = sent[number]
        pick = change.get("pick")
        if isinstance(pick, dict):
            picks[str(pick["gap"])] = {"fill": "open", "moves": []}
        else:
            picks.pop(str(change["unpick"]), None)
    if found["picks"] != picks:
        outcome.faults.append(f"version {now} should hold {picks}, and holds {found['picks']}")
    return now


def attack_with_full_disk(rounds: int, data: Path) -> Outcome:
    """Tunes are brought until a small disk is full: one sentence, nothing that was acknowledged
    is lost, and a tune can be taken off."""
    outcome = Outcome()
    with ExitStack() as stack:
        lacking = stack.enter_context(small_disk(data, 4))
        if lacking:
            outcome.counts[f"left out, for {lacking}"] = 1
            return outcome
        server = stack.enter_context(page(data))
        client = stack.enter_context(server.client())
        there = {client.post("/api/tunes", json={"demo": "snow"}).json()["id"] for _ in range(3)}
        for _ in range(rounds):
            fill_up(data / "other")
            for _ in range(60):
                answer = client.post("/api/tunes", json={"demo": "snow"})
                if answer.status_code != 201:
                    break
                there.add(answer.json()["id"])
            if answer.status_code != 507 or not answer.json()["error"].startswith("The disk"):
                outcome.faults.append(f"{answer.status_code}: {answer.text[:200]}")
            outcome.counts["full"] += 1
            gone = client.delete(f"/api/tunes/{next(iter(there), '')}")
            if gone.status_code == 200:
                there.discard(gone.url.path.rsplit("/", 1)[1])
                outcome.counts["taken off"] += 1
            elif there:
                outcome.faults.append(f"not taken off: {gone.status_code}: {gone.text[:200]}")
            found = {tune["id"] for tune in client.get("/api/tunes").json()["tunes"]}
            if found != there:
                outcome.faults.append(
                    f"{len(there)} tunes were acknowledged, {len(found)} are there")
            (data / "other").unlink()
        outcome.counts["tunes kept"] = len(there)
    return outcome


def attack_with_slow_clients(address: str, count: int) -> Outcome:
    """Clients that send half a head, or a body by drops: others are answered all the while."""
    outcome = Outcome()
    parts = urlsplit(address)
    halves = [b"GET / HT", b"GET / HTTP/1.1\r\nHost: x", b"",
              b"POST /api/tunes HTTP/1.1\r\nHost: %b\r\nContent-Length: 900\r\n\r\n{"
              % parts.netloc.encode()]
    with ExitStack() as stack:
        for number in range(count):
            slow = stack.enter_context(
                socket.create_connection((parts.hostname, parts.port), HANG_SEC))
            with suppress(ConnectionError):
                slow.sendall(halves[number % len(halves)])
            outcome.counts["slow clients"] += 1
            if number % 10 == 9:
                answer = httpx.get(f"{address}/api/tunes", timeout=HANG_SEC)
                outcome.counts["others answered"] += answer.status_code == 200
                if answer.status_code != 200:
                    outcome.faults.append(f"{answer.status_code}: {answer.text[:120]}")
    return outcome


# --- the command ------------------------------------------------------------------------------


def main() -> int:
    parser = argparse.ArgumentParser(prog="make attack", description=__doc__)
    for name, number in (("files", 2000), ("requests", 800), ("kills", 20), ("disks", 5),
                         ("slow", 200), ("seed", int(time.time()) % 100_000)):
        parser.add_argument(f"--{name}", type=int, default=number, metavar="N")
    wanted = parser.parse_args()
    print(f"seed {wanted.seed}", flush=True)
    faults = 0
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)

        def on_a_page(attack: Callable[[Page], Outcome], data: str) -> Outcome:
            with page(folder / data) as server:
                return attack(server)

        attacks: tuple[tuple[str, Callable[[], Outcome]], ...] = (
            ("spoilt files", lambda: attack_files(wanted.files, wanted.seed, folder)),
            ("requests, changes, uploads", lambda: on_a_page(lambda server: attack_page(
                server.address, server.token, wanted.requests, wanted.seed), "page")),
            ("kills", lambda: attack_with_kills(wanted.kills, wanted.seed, folder / "kills")),
            ("full disk", lambda: attack_with_full_disk(wanted.disks, folder / "disk")),
            ("slow clients", lambda: on_a_page(lambda server: attack_with_slow_clients(
                server.address, wanted.slow), "slow")))
        for what, attack in attacks:
            outcome = attack()
            print(outcome.line(what), *outcome.faults, sep="\n  ", flush=True)
            faults += len(outcome.faults)
    return min(faults, 1)


if __name__ == "__main__":
    os.environ.setdefault("PYTHONWARNINGS", "ignore")
    sys.exit(main())
