"""The commands of the shelf: out, in, and back to a backup."""

from __future__ import annotations

import hashlib
import json
import sys
from collections.abc import Callable
from contextlib import closing
from io import BytesIO, TextIOWrapper
from pathlib import Path

import httpx
import pytest
from tests.web.page_server import running

from fillwright import Edition, Options
from fillwright.cli import main
from fillwright.demo import demo_path
from fillwright.edition.decisions import Decisions
from fillwright.web.safekeeping import back_up
from fillwright.web.store import FILE_NAME, Store

Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    def call(*arguments: str | Path) -> tuple[int, str, str]:
        with pytest.raises(SystemExit) as end:
            main(["shelf", *map(str, arguments)])
        out, err = capsys.readouterr()
        return int(end.value.code or 0), out, err

    return call


def shelf_of(folder: Path, *names: str) -> Path:
    """A data folder with demo tunes for advanced players."""
    with closing(Store(folder / FILE_NAME)) as store:
        for name in names:
            key = store.add(name, Edition(demo_path(name).read_bytes(), f"{name}.musicxml"))
            store.put(key, 1, Decisions(Options(level="advanced")), "level")
    return folder


def titles(folder: Path) -> list[str]:
    with closing(Store(folder / FILE_NAME)) as store:
        assert all(store.get(tune["id"]).state.options.level == "advanced"
                   for tune in store.shelf())
        return sorted(tune["title"] for tune in store.shelf())


def test_everything_goes_out_and_in(run: Run, tmp_path: Path) -> None:
    here, there = shelf_of(tmp_path / "here", "lamp", "snow"), tmp_path / "there"
    file = tmp_path / "tunes.json"
    assert run("save", file, "--data", here) == (0, f"{file}: 2 tunes\n", "")
    assert run("bring", file, "--data", there) == (0, "2 tunes brought, 0 there already\n", "")
    assert titles(there) == ["lamp", "snow"]
    assert run("bring", file, "--data", there)[1] == "0 tunes brought, 2 there already\n"
    status, _, said = run("save", file, "--data", there)
    assert status == 2 and "it is there already" in said
    assert run("save", "--replace", file, "--data", there)[0] == 0
    assert [path.name for path in tmp_path.iterdir() if path.is_file()] == ["tunes.json"]


def test_through_a_pipe(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    text = run("save", "-", "--data", shelf_of(tmp_path / "here", "snow"))[1]
    monkeypatch.setattr(sys, "stdin", TextIOWrapper(BytesIO(text.encode())))
    assert run("bring", "-", "--data", tmp_path / "there")[1].startswith("1 tune brought")


def test_what_cannot_be_read_is_named_and_the_rest_is_brought(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "tunes.json"
    run("save", file, "--data", shelf_of(tmp_path / "here", "lamp", "snow"))
    value = json.loads(file.read_text())
    wrong = next(tune for tune in value["tunes"] if tune["title"] == "snow")
    wrong["sheet"] |= {"text": "no sheet", "sha256": hashlib.sha256(b"no sheet").hexdigest()}
    file.write_text(json.dumps(value))
    status, out, said = run("bring", file, "--data", tmp_path / "there")
    assert (status, out) == (2, "1 tune brought, 0 there already\n")
    assert said.startswith("tunes.json: snow: ") and said.count("\n") == 1
    for text, sentence in (("{", "it is not JSON"), ("{}", "it holds no shelf")):
        file.write_text(text)
        assert run("bring", file, "--data", tmp_path / "there") == (
            2, "", f"tunes.json: {sentence}\n")
    assert run("bring", tmp_path / "none.json")[0] == 2


def test_back_to_a_backup(run: Run, tmp_path: Path) -> None:
    data = shelf_of(tmp_path, "snow")
    assert "no backup yet" in run("backups", "--data", data)[1]
    made = back_up(data / FILE_NAME)
    assert made is not None
    shelf_of(tmp_path, "lamp")
    assert run("backups", "--data", data)[1] == f"{made.name}   1 tune\n"
    assert "no such backup" in run("restore", "none", "--data", data)[2]
    status, out, _ = run("restore", "newest", "--data", data)
    assert status == 0 and out.startswith(f"1 tune is here again, as in {made.name}\n")
    assert titles(data) == ["snow"]
    kept, = data.glob("fillwright.before-*.sqlite3")
    with closing(Store(kept)) as store:
        assert len(store.shelf()) == 2
    (data / FILE_NAME).write_bytes(b"x" * 5000)     # the tunes are lost
    assert run("restore", made.name, "--data", data)[0] == 0 and titles(data) == ["snow"]
    made.write_bytes(made.read_bytes()[:6000])
    assert run("backups", "--data", data)[1] == f"{made.name}   it is damaged\n"
    assert "it is damaged" in run("restore", "newest", "--data", data)[2]
    assert titles(data) == ["snow"]


@pytest.mark.slow
def test_back_to_a_backup_while_the_page_is_open(run: Run, tmp_path: Path) -> None:
    data = shelf_of(tmp_path, "snow")
    made = back_up(data / FILE_NAME)
    assert made is not None
    shelf_of(tmp_path, "lamp")
    with running(data) as address:
        assert len(httpx.get(f"{address}/api/tunes", timeout=60).json()["tunes"]) == 2
        assert run("restore", made.name, "--data", data)[0] == 0
        tune, = httpx.get(f"{address}/api/tunes", timeout=60).json()["tunes"]
        assert tune["title"] == "snow"
        assert httpx.get(f"{address}/api/tunes/{tune['id']}", timeout=60).status_code == 200
