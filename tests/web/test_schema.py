"""Schemathesis against the API: whatever is sent, the answer is one that is described here."""

from __future__ import annotations

import json
from typing import Any

import pytest
import schemathesis
from hypothesis import HealthCheck, settings
from schemathesis import Case
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)
from tests.web.page_server import Server

pytestmark = pytest.mark.slow

TEXT = {"type": "string", "maxLength": 80}
MOVES = {"type": "array", "maxItems": 4, "items": {"type": "array", "minItems": 2, "maxItems": 2,
                                                   "items": {"type": ["integer", "null"]}}}
PICK = {"type": "object", "required": ["fill"],
        "properties": {"fill": {"anyOf": [{"const": "open"}, TEXT]}, "moves": MOVES}}
VERSION = {"type": "integer", "minimum": 0}
CHANGE = {"type": "object", "maxProperties": 1, "properties": {
    "settings": {"type": "object", "properties": {
        "level": {"enum": ["beginner", "intermediate", "advanced", "none"]},
        "hand": {"enum": ["small", "medium", "large"]}, "tempo": {"type": ["number", "string"]},
        "feel": {"enum": ["swing", "straight", None]}, "octave": TEXT, "key": TEXT,
        "without": {"type": "array", "items": TEXT}, "choruses": {"enum": [1, 2, 3]},
        "introduction": {"enum": [0, 2, 4, -1]}, "ending": {"enum": [0, 2, 4, None]},
        "mix": {"type": ["object", "null"], "additionalProperties": {"type": "integer"}}}},
    "chord": {"type": "object", "properties": {
        "bar": {"type": "integer"}, "onset": {"enum": ["0", "1", "3/2", "x"]},
        "text": {"anyOf": [{"enum": ["C7", "", "F-Δ7", "Bb13(#11)/D"]}, TEXT]}}},
    "pick": {"allOf": [PICK, {"properties": {"gap": {"type": "integer"}}}]},
    "unpick": {"type": "integer"}}}
ERROR = {"type": "object", "required": ["error"], "properties": {"error": {"type": "string"}}}
OBJECT = {"type": "object", "not": {"required": ["error"]}}


SVG = {"type": "string", "pattern": "^<svg "}
PAGES = {"type": "object", "required": ["pages"], "additionalProperties": False,
         "properties": {"pages": {"type": "array", "minItems": 1, "items": SVG}}}
KEY = {"type": "object", "required": ["at", "midi", "role"], "additionalProperties": False,
       "properties": {"at": {"type": "number", "minimum": 0},
                      "midi": {"type": "integer", "minimum": 21, "maximum": 108},
                      "role": {"enum": ["melody", "base", "fill"]}}}
STAFF = {"type": "object", "required": ["svg", "elements", "keys"], "additionalProperties": False,
         "properties": {"svg": SVG, "elements": {
             "type": "object", "propertyNames": {"pattern": "^[0-9]+$"},
             "additionalProperties": {"type": "string", "pattern": "^staff-n[0-9]+$"}},
             "keys": {"type": "object", "propertyNames": {"pattern": "^[0-9]+$"},
                      "additionalProperties": KEY}}}


def operation(body: Any = None, ok: int = 200, parameters: Any = (), of: Any = OBJECT
              ) -> dict[str, Any]:
    refused = {str(code): ERROR
               for code in (400, 403, 404, 405, 408, 409, 413, 415, 421, 422, 503)}
    statuses = {str(ok): of, **refused}
    found: dict[str, Any] = {
        "parameters": list(parameters),
        "responses": {status: {"description": "", "content": {"application/json": {
            "schema": schema}}} for status, schema in statuses.items()}}
    if body is not None:
        found["requestBody"] = {"required": True, "content": {"application/json": {
            "schema": body}}}
    return found


def parameter(name: str, schema: Any, where: str = "path") -> dict[str, Any]:
    return {"name": name, "in": where, "required": where == "path", "schema": schema}


KEY = parameter("tune", {"enum": ["TUNE", "none"]})
GAP = parameter("gap", {"type": "integer", "minimum": 0})
COUNTS = [parameter(name, {"type": "integer", "maximum": 5}, "query")
          for name in ("comp", "reharm", "line")]
VERSIONED = {"type": "object", "properties": {"version": VERSION}}
SCHEMA = {
    "openapi": "3.1.0", "info": {"title": "The page", "version": "1"},
    "paths": {
        "/api/tunes": {"get": operation(), "post": operation(
            {"type": "object", "properties": {"text": {"type": "string"}, "demo": TEXT}}, 201)},
        "/api/tunes/{tune}": {"get": operation(parameters=[KEY]), "put": operation(
            {"type": "object", "properties": {"version": VERSION, "change": CHANGE}},
            parameters=[KEY])},
        "/api/tunes/{tune}/undo": {"post": operation(VERSIONED, parameters=[KEY])},
        "/api/tunes/{tune}/redo": {"post": operation(VERSIONED, parameters=[KEY])},
        "/api/tunes/{tune}/lead": {"get": operation(parameters=[KEY], of=PAGES)},
        "/api/tunes/{tune}/blank": {"get": operation(parameters=[KEY], of=PAGES)},
        "/api/tunes/{tune}/chord": {"post": operation(
            {"type": "object", "properties": {"text": TEXT}}, parameters=[KEY])},
        "/api/tunes/{tune}/jobs": {"post": operation(
            {"type": "object", "properties": {"kind": TEXT}}, 202, [KEY])},
        "/api/tunes/{tune}/gaps/{gap}": {"get": operation(parameters=[KEY, GAP, *COUNTS])},
        "/api/tunes/{tune}/gaps/{gap}/check": {"post": operation(PICK, parameters=[KEY, GAP])},
        "/api/tunes/{tune}/gaps/{gap}/heard": {"post": operation(PICK, parameters=[KEY, GAP])},
        "/api/tunes/{tune}/gaps/{gap}/staff": {"post": operation(
            PICK, parameters=[KEY, GAP], of=STAFF)},
        "/api/piano": {"get": operation(), "put": operation(
            {"type": "object", "properties": {"piano": TEXT}})},
        "/api/jobs/{job}": {"get": operation(parameters=[parameter("job", TEXT)])},
    },
}
schema = schemathesis.openapi.from_dict(SCHEMA)


@pytest.fixture(scope="module")
def key(server: Server) -> str:
    return server.demo()


@pytest.fixture(scope="module")
def fills(server: Server) -> tuple[str, list[str]]:
    """A tune that nothing else is sent to, and ids of fills of its first gap, which no chance
    would find."""
    key = server.demo()
    with server.client() as client:
        families = client.get(f"/api/tunes/{key}/gaps/1").json()["families"]
    return key, [fill["id"] for found in families.values() for fill in found["fills"]]


@schema.parametrize()
@settings(max_examples=8, deadline=None, derandomize=True,
          suppress_health_check=list(HealthCheck))
def test_every_answer_is_as_described(case: Case[Any], server: Server, key: str) -> None:
    send(case, server, key)


@schema.include(path_regex="/gaps/.*/(staff|check|heard)$").parametrize()
@settings(max_examples=6, deadline=None, derandomize=True,
          suppress_health_check=list(HealthCheck))
def test_so_are_those_about_a_fill_that_is_there(case: Case[Any], server: Server,
                                                 fills: tuple[str, list[str]]) -> None:
    key, ids = fills
    parameters, body = case.path_parameters, case.body
    parameters |= {"tune": key, "gap": 1}
    whole = isinstance(body, dict)
    if isinstance(body, dict):
        body["fill"] = ids[len(json.dumps(body)) % len(ids)]
        whole = body.get("moves", []) == []
    answer = send(case, server, key)
    if whole:  # but for other methods, or what was not sent as JSON
        assert answer.status_code in (200, 405, 415)


def send(case: Case[Any], server: Server, key: str) -> Any:
    if case.path_parameters.get("tune") == "TUNE":
        case.path_parameters["tune"] = key
    return case.call_and_validate(
        base_url=server.address, headers={"x-token": server.token},
        checks=[not_a_server_error, status_code_conformance, content_type_conformance,
                response_schema_conformance])
