"""Schemathesis against the API: whatever is sent, the answer is one that is described here."""

from __future__ import annotations

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


def operation(body: Any = None, ok: int = 200, parameters: Any = ()) -> dict[str, Any]:
    refused = {str(code): ERROR
               for code in (400, 403, 404, 405, 408, 409, 413, 415, 421, 422, 503)}
    statuses = {str(ok): OBJECT, **refused}
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
        "/api/tunes/{tune}/chord": {"post": operation(
            {"type": "object", "properties": {"text": TEXT}}, parameters=[KEY])},
        "/api/tunes/{tune}/jobs": {"post": operation(
            {"type": "object", "properties": {"kind": TEXT}}, 202, [KEY])},
        "/api/tunes/{tune}/gaps/{gap}": {"get": operation(parameters=[KEY, GAP, *COUNTS])},
        "/api/tunes/{tune}/gaps/{gap}/check": {"post": operation(PICK, parameters=[KEY, GAP])},
        "/api/tunes/{tune}/gaps/{gap}/heard": {"post": operation(PICK, parameters=[KEY, GAP])},
        "/api/jobs/{job}": {"get": operation(parameters=[parameter("job", TEXT)])},
    },
}
schema = schemathesis.openapi.from_dict(SCHEMA)


@pytest.fixture(scope="module")
def key(server: Server) -> str:
    return server.demo()


@schema.parametrize()
@settings(max_examples=8, deadline=None, derandomize=True,
          suppress_health_check=list(HealthCheck))
def test_every_answer_is_as_described(case: Case[Any], server: Server, key: str) -> None:
    if case.path_parameters.get("tune") == "TUNE":
        case.path_parameters["tune"] = key
    case.call_and_validate(
        base_url=server.address, headers={"x-token": server.token},
        checks=[not_a_server_error, status_code_conformance, content_type_conformance,
                response_schema_conformance])
