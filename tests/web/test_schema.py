"""Every JSON route against its own schema, by schemathesis in-process: nothing breaks, errors have one shape.

Outside check: the cases are made by schemathesis from the OpenAPI document, valid ones and invalid ones.
"""

from __future__ import annotations

from pathlib import Path

import pytest
import schemathesis
from desk_client import SAME, TOKEN
from hypothesis import HealthCheck, Phase, given, settings
from jsonschema import Draft202012Validator
from starlette.responses import JSONResponse
from starlette.types import Receive, Scope, Send

from midfoot.store import Workspace
from midfoot.web import create_app
from midfoot.web.security import COOKIE

EXAMPLES = 6
NOT_HERE = "/inbox/clips|/files|/takes|/voice|/clips/[{]sha256"
"""Raw bodies: their own tests send those."""
ERROR = {
    "type": "object", "required": ["error"], "additionalProperties": False,
    "properties": {"error": {
        "type": "object", "required": ["says", "remedy"], "additionalProperties": False,
        "properties": {"says": {"type": "string", "minLength": 1}, "remedy": {"type": "string", "minLength": 1}},
    }},
}  # fmt: skip


@pytest.fixture
def api(workspace: Workspace) -> schemathesis.BaseSchema:
    app = create_app(workspace, token=TOKEN)

    async def with_document(scope: Scope, receive: Receive, send: Send) -> None:
        """Give the OpenAPI document, which the desk itself does not serve."""
        if scope["type"] == "http" and scope["path"] == "/openapi.json":
            await JSONResponse(app.openapi())(scope, receive, send)
        else:
            await app(scope, receive, send)

    return schemathesis.openapi.from_asgi("/openapi.json", with_document)


def test_no_request_breaks_the_desk(api: schemathesis.BaseSchema) -> None:
    """Never a 5xx, never a traceback; a refusal is one sentence and a remedy."""
    known = {"host": "127.0.0.1", "accept": "application/json"}
    seen = 0

    for found in api.exclude(path_regex=NOT_HERE).get_all_operations():
        operation = found.ok()
        seen += 1

        @settings(
            max_examples=EXAMPLES, phases=[Phase.generate], derandomize=True, deadline=None, database=None,
            suppress_health_check=list(HealthCheck),
        )  # fmt: skip
        @given(case=operation.as_strategy())
        def holds(case: schemathesis.Case) -> None:
            got = case.call(headers=SAME | known, cookies={COOKIE: TOKEN})
            where = f"{case.method} {case.formatted_path}: {got.text}"
            assert got.status_code < 500, where
            assert "Traceback" not in got.text, where
            assert str(Path(__file__).parents[2]) not in got.text, where
            if got.status_code >= 400:
                Draft202012Validator(ERROR).validate(got.json())

        holds()

    assert seen >= 10
