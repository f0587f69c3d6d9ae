"""The interface takes whatever anybody sends: it answers as its description says, never with a fault of ours."""

from __future__ import annotations

from typing import Any

import pytest
import schemathesis
from django.core.wsgi import get_wsgi_application
from hypothesis import HealthCheck, Phase, settings
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from lastscrew.bench.access.tokens import SCOPES, make_token
from lastscrew.bench.api.app import api
from lastscrew.bench.store.revisions import publish
from lastscrew.cli.demo import demo_text
from lastscrew.device.reading import load_device
from tests.bench.conftest import Bench

schema = schemathesis.openapi.from_dict(dict(api.get_openapi_schema()))
schema.app = get_wsgi_application()


@pytest.fixture
def token(bench: Bench) -> str:
    """A token that may everything, where there is a device to plan for."""
    text = demo_text("slate")
    publish(load_device(text, "slate"), text, by="ada")
    return make_token("anything", list(SCOPES), bench.person("lead"))


@schema.parametrize()
@settings(
    max_examples=12,
    deadline=None,
    suppress_health_check=list(HealthCheck),
    phases=[Phase.explicit, Phase.generate],
    derandomize=True,
)
def test_whatever_is_sent_is_answered_as_described(
    case: schemathesis.Case[Any], token: str
) -> None:
    case.call_and_validate(
        headers={"Authorization": f"Bearer {token}", "Host": "localhost"},
        checks=[
            not_a_server_error,
            status_code_conformance,
            content_type_conformance,
            response_schema_conformance,
        ],
    )
