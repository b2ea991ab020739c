"""What the page says: every message in every language, and nothing said that is no message."""

from __future__ import annotations

import json
import re
from html.parser import HTMLParser
from pathlib import Path

import pytest
from starlette.requests import Request
from tests.web.page_server import ROOT

from fillwright.fills import device_names
from fillwright.web import words as said

WEB = ROOT / "src" / "fillwright" / "web"
CATALOGUES = {path.stem: json.loads(path.read_text(encoding="utf-8"))
              for path in sorted((WEB / "words").glob("*.json"))}
SCRIPTS = sorted((WEB / "static").glob("*.js"))
TEMPLATES = sorted((WEB / "templates").glob("*.html"))
MODULES = sorted(WEB.glob("*.py"))
TO_COME: frozenset[str] = frozenset()
"""Not yet put into messages."""
PLACE = re.compile(r"\{(\w+)\}")
SAID = frozenset({"title", "aria-label", "aria-valuetext", "aria-description", "alt",
                  "placeholder", "label"})
"""Attributes whose text is seen or heard."""


def texts(message: str | dict[str, str]) -> list[str]:
    return [message] if isinstance(message, str) else list(message.values())


def places(message: str | dict[str, str]) -> set[str]:
    return {place for text in texts(message) for place in PLACE.findall(text)}


@pytest.mark.parametrize("language", CATALOGUES)
def test_a_catalogue_has_every_message_with_the_same_places(language: str) -> None:
    english, messages = CATALOGUES[said.ENGLISH], CATALOGUES[language]
    assert list(messages) == list(english), "the same messages, in the same order"
    for key, message in messages.items():
        assert places(message) == places(english[key]), key
        assert isinstance(message, str) == isinstance(english[key], str), key
        assert all(text.strip() == text and text for text in texts(message)), key
        if isinstance(message, dict):
            assert "other" in message and set(message) <= {
                "zero", "one", "two", "few", "many", "other"}, key
            # "one" may say the number as a word
            assert "count" in PLACE.findall(message["other"]), key


def keys_of(path: Path) -> set[str]:
    text = path.read_text(encoding="utf-8")
    return set(re.findall(r"""(?:\b(?:t|parts|say|said)\)?\()\s*["'`]([\w.]+)["'`]""", text))


def test_every_message_that_is_asked_for_is_there_and_every_one_there_is_asked_for() -> None:
    english = CATALOGUES[said.ENGLISH]
    asked = {key for path in (*SCRIPTS, *TEMPLATES, *MODULES) for key in keys_of(path)}
    missing = {key for key in asked if "." in key and key[-1] not in "._"} - set(english)
    assert not missing
    everything = "".join(path.read_text(encoding="utf-8")
                         for path in (*SCRIPTS, *TEMPLATES, *MODULES))
    # A key may be put together: `t(`card.kept_${how}`)`; then its beginning stands there.
    beginnings = re.findall(r"[`\"']([a-z]+\.\w*?)(?:\$\{|\{)", everything)
    beginnings += re.findall(r't\("([a-z]+\.\w*_)" ~', everything)
    unused = {key for key in english if key != "language"
              and not re.search(rf"[\"'`]{re.escape(key)}[\"'`]", everything)
              and key.removeprefix("server.") not in re.findall(r'"(job_\w+)"', everything)
              and not any(key.startswith(beginning) for beginning in beginnings)}
    assert not unused


def test_the_server_says_only_what_does_not_count() -> None:
    for path in (*TEMPLATES, *MODULES):
        for key in keys_of(path) & set(CATALOGUES[said.ENGLISH]):
            assert isinstance(CATALOGUES[said.ENGLISH][key], str), f"{path.name}: {key} counts"
    for key in CATALOGUES[said.ENGLISH]:
        if key.startswith("server."):
            assert not any(key in keys_of(path) for path in SCRIPTS), key


class Texts(HTMLParser):
    """What a template says in its own words."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []

    def handle_data(self, data: str) -> None:
        self.found.append(data)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found += [value or "" for name, value in attrs if name in SAID]


@pytest.mark.parametrize("path", [path for path in TEMPLATES if path.name not in TO_COME],
                         ids=lambda path: path.name)
def test_a_template_has_no_words_of_its_own(path: Path) -> None:
    # The block `data` is attributes of the body.
    text = re.sub(r"{% block data %}.*?{% endblock %}|{{.*?}}|{%.*?%}|{#.*?#}", " ",
                  path.read_text(encoding="utf-8"), flags=re.DOTALL)
    parser = Texts()
    parser.feed(text)
    own = [found.strip() for found in parser.found
           if re.search(r"[^\W\d_]", found.replace("fillwright", ""))]
    assert not own


TOKENS = re.compile(r"""
    (?P<comment>//[^\n]*|/\*.*?\*/)
  | (?P<regex>(?<=[(,=:&|!?;\[])\s*/(?![/*])(?:\\.|\[(?:\\.|[^\]\n])*\]|[^/\\\n])+/\w*)
  | (?P<text>"(?:\\.|[^"\\\n])*"|'(?:\\.|[^'\\\n])*'|`(?:\\.|[^`\\])*`)
""", re.DOTALL | re.VERBOSE)
"""Of JavaScript: what may hold quotation marks."""
MARKUP = re.compile(r"(?:\bclass: |className = |querySelector(?:All)?\(|matches\(|closest\(|"
                    r"\bstyle: |setAttribute\(\"(?:d|viewBox|points|transform|style|class)\", |"
                    r"\b(?:d|points|viewBox|transform): |throw new Error\(|matchMedia\(|"
                    r"CSS\.\w+\(|\bfrom |\bimport\(|\.wire\(|#wire\(|console\.\w+\(|"
                    r"classList\.\w+\()$")
"""What comes before a text that nobody reads."""
CODE = frozenset({"Enter", "Escape", "Home", "End", "Delete", "Backspace", "Tab", "PageUp",
                  "PageDown", "Space", "ArrowUp", "ArrowDown", "ArrowLeft", "ArrowRight",
                  "Arrow", "Esc", "AbortError", "NotSupportedError", "GET", "POST", "PUT", "DELETE",
                  "MusicXML", "Letter"})
"""Names of the standards of the web: keys (UI Events KeyboardEvent key values), methods; what
stands on a key and the name of a format, of paper too, are the same in every language."""
NOTES = re.compile(r"[A-G](?:b|#|♭|♯)?[\d ]*")


def own_words(path: Path) -> list[str]:
    """Texts of a script that somebody may read."""
    source = path.read_text(encoding="utf-8")
    found = []
    for token in TOKENS.finditer(source):
        text = token["text"]
        if text is None or MARKUP.search(source[:token.start()][-80:]):
            continue
        inner = text[1:-1]
        for piece in re.split(r"\$\{(?:[^{}]|\{[^{}]*\})*\}", inner) if text[0] == "`" else [inner]:
            if piece in CODE or NOTES.fullmatch(piece):
                continue
            capital = re.match(r"\s*[A-ZÄÖÜ][a-zäöü]+", piece)
            two = re.search(r"[^\W\d_]{2,}[,:;.!?]? +[^\W\d_]{2,}", piece)
            if capital or (two and not re.search(r"[>\[#{}=]|^[.\w-]+(?:, [.\w-]+)+$", piece)):
                found.append(piece)
    return found


@pytest.mark.parametrize("path", [path for path in SCRIPTS if path.name not in TO_COME],
                         ids=lambda path: path.name)
def test_a_script_has_no_words_of_its_own(path: Path) -> None:
    assert not own_words(path)


def test_words_in_a_script_are_seen(tmp_path: Path) -> None:
    script = tmp_path / "some.js"
    script.write_text("""
        // "A comment is not read".
        h("p", { class: "row listening" }, "Hear it", `gap ${number} of all`, 'left open');
        document.querySelector("nav button"); if (event.key === "Enter") x.split(/"Not this"/);
        t("bench.hear");""", encoding="utf-8")
    assert own_words(script) == ["Hear it", " of all", "left open"]


def asked(words: said.Words, accept: str = "", cookie: str = "") -> str:
    headers = [(b"accept-language", accept.encode()), (b"cookie", cookie.encode())]
    return words.preferred(Request({"type": "http", "headers": headers}))


@pytest.mark.parametrize(("accept", "language"), [
    ("", "en"), ("de", "de"), ("de-AT,de;q=0.9,en;q=0.8", "de"), ("en-GB,de;q=0.7", "en"),
    ("en;q=0.2, de;q=0.9", "de"), ("fr, de;q=0.5", "de"), ("de;q=0, en", "en"),
    ("xx;q=1.0", "en"), ("de;q=nonsense, en;q=0.1", "en"), ("*", "en")])
def test_the_language_the_browser_prefers(accept: str, language: str) -> None:
    """RFC 9110, section 12.5.4: weights from 0, which is "not acceptable", to 1."""
    assert asked(said.Words(), accept) == language


def test_the_switch_has_the_last_word() -> None:
    words = said.Words()
    assert asked(words, "en", f"{said.COOKIE}=de") == "de"
    assert asked(words, "de", f"{said.COOKIE}=en") == "en"
    assert asked(words, "de", f"{said.COOKIE}=klingon") == "de"


def test_ideas_have_names_in_other_languages() -> None:
    words = said.Words()
    assert not any(key.startswith("idea ") for key in words.for_scripts(said.ENGLISH))
    german = words.for_scripts("de")
    assert german["idea chord tones"] == "Akkordtöne"
    assert [name for names in device_names().values() for name in sorted(names)
            if f"idea {name}" not in german] == []


def test_a_language_is_added_by_one_file(tmp_path: Path) -> None:
    for name, messages in CATALOGUES.items():
        (tmp_path / f"{name}.json").write_text(json.dumps(messages), encoding="utf-8")
    (tmp_path / "nl.json").write_text(json.dumps({
        "language": "Nederlands", "enter.come_in": "Kom binnen"}), encoding="utf-8")
    words = said.Words(tmp_path)
    assert asked(words, "nl-BE") == "nl" and words.languages["nl"] == "Nederlands"
    say = words.say("nl")
    assert say("enter.come_in") == "Kom binnen"
    assert say("enter.title") == CATALOGUES[said.ENGLISH]["enter.title"]
    assert "server.no_tune" not in words.for_scripts("nl")
