"""The OpenAPI document: valid by the OpenAPI 3.1 schema, the same as the structures, and kept to by the server."""

from __future__ import annotations

import atexit
import json
import shutil
import string
import tempfile
from pathlib import Path

import msgspec
import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from litestar.testing import TestClient
from openapi_spec_validator import OpenAPIV31SpecValidator
from schemathesis.config import SchemathesisConfig
from schemathesis.specs.openapi.checks import negative_data_rejection, positive_data_acceptance

from advisor.brief.model import Brief
from advisor.web.app import create_app
from advisor.web.model import Asked, Problem, Settings
from tests.web.site import PLACE, POOR, QUIET, STORM, WORST, Clock, body, client

QUIETLY = (HealthCheck.function_scoped_fixture, HealthCheck.too_slow, HealthCheck.filter_too_much)
HERE = Path(tempfile.mkdtemp(prefix="advisor-openapi-"))
SLOTS = Path(__file__).parents[2] / "sample_reports" / "slots"
atexit.register(shutil.rmtree, HERE, ignore_errors=True)
APP = create_app(
    Settings(
        clock=Clock(),
        data=HERE,
        database=f"sqlite:///{HERE / 'record.sqlite'}",
        pads=SLOTS / "pads.toml",
        plan_seconds=1.0,
    )
)


@pytest.fixture(scope="module")
def api():
    with client() as made:
        yield made


@pytest.fixture(scope="module")
def document(api):
    return api.get("/schema/openapi.json").json()


def test_the_document_is_valid_openapi(document) -> None:
    assert list(OpenAPIV31SpecValidator(document).iter_errors()) == []


def test_its_schemas_are_msgspec_s_own_with_limits_and_literals(document) -> None:
    _, components = msgspec.json.schema_components((Brief, Asked, Problem), ref_template="#/components/schemas/{name}")
    schemas = document["components"]["schemas"]
    assert {name: schemas[name] for name in components} == json.loads(json.dumps(components))
    # what other generators lose
    assert schemas["Asked"]["additionalProperties"] is False
    assert schemas["Brief"]["properties"]["schema"] == {"enum": ["brief/1"], "default": "brief/1"}
    assert "pattern" in schemas["Brief"]["properties"]["made_at"]


def test_every_route_of_the_api_is_in_the_document(api, document) -> None:
    routes = {route.path.replace("{name:str}", "{id}").replace(":str}", "}") for route in api.app.routes}
    assert {path for path in routes if path.startswith("/api") or path == "/healthz"} == set(document["paths"])


@pytest.mark.parametrize("report", [WORST, QUIET, POOR, STORM])
def test_a_brief_keeps_to_the_document_s_schema(api, document, report) -> None:
    schema = {"$ref": "#/components/schemas/Brief", "components": document["components"]}
    Draft202012Validator(schema).validate(api.post("/api/brief", json=body(report)).json())


schema = schemathesis.openapi.from_asgi(
    "/schema/openapi.json",
    APP,
    config=SchemathesisConfig.from_dict(
        {
            # a text of the right shape may still name no time or place that can be used: 422 says so
            # and a text over the limit is refused by the body's length before its shape is looked at
            "checks": {
                "positive_data_acceptance": {"expected-statuses": ["2xx", 422, 404]},
                "negative_data_rejection": {"expected-statuses": [400, 404, 405, 413, 415, 422]},
            },
        }
    ),
)


@schema.parametrize()
@settings(
    max_examples=60,
    deadline=None,
    derandomize=True,
    phases=(Phase.explicit, Phase.generate),
    suppress_health_check=QUIETLY,
)
def test_the_server_keeps_to_the_document(case) -> None:
    # without tokens a server writes for its own machine alone
    case.call_and_validate(headers={"Host": "127.0.0.1"})


@pytest.fixture(scope="module")
def walk() -> str:
    """A walk that is really there, on the same record."""
    with TestClient(APP, base_url="http://127.0.0.1") as site:
        name = site.post("/api/brief", json=body()).headers["location"].rsplit("/", 1)[1]
        return site.post("/api/walk", json={"brief": name, "by": "AB"}).headers["location"].rsplit("/", 1)[1]


@schema.include(path_regex="^/api/walk/").parametrize()
@settings(
    max_examples=40,
    deadline=None,
    derandomize=True,
    phases=(Phase.explicit, Phase.generate),
    suppress_health_check=QUIETLY,
)
def test_the_server_keeps_to_the_document_on_a_walk_that_is_there(walk, case) -> None:
    case.path_parameters["id"] = walk
    answer = case.call(headers={"Host": "127.0.0.1"})
    # what was wrong may have been the id alone, and the walk may be signed by now
    own = (negative_data_rejection, positive_data_acceptance)
    case.validate_response(answer, excluded_checks=list(own))
    assert answer.status_code < 500


words = st.text(string.ascii_uppercase + string.digits + "/+-", min_size=1, max_size=9)
groups = st.one_of(words, st.sampled_from(WORST.split() + POOR.split() + STORM.split() + QUIET.split()))
reports = st.one_of(st.lists(groups, max_size=14).map(" ".join), st.text(max_size=200))


@settings(max_examples=80, deadline=None, derandomize=True, suppress_health_check=QUIETLY)
@given(
    report=reports.map(lambda text: f"METAR ZZZA 100520Z {text}"),
    off_block=st.one_of(st.just("0640Z"), st.just("2027-01-10T07:05:00+01:00"), st.text(max_size=30)),
    heading=st.one_of(st.none(), st.floats(0, 360), st.text(max_size=8)),
    fuel=st.one_of(st.none(), st.floats(-80, 80), st.sampled_from(["-8 degC", "20 degF", "warm"])),
)
def test_any_text_gives_a_brief_or_says_what_is_wrong(api, report, off_block, heading, fuel) -> None:
    asked = body(report, off_block=off_block, heading=heading, fuel_temperature=fuel, place=PLACE)
    answer = api.post("/api/brief", json=asked)
    assert answer.status_code in (201, 400, 422), answer.text[:300]
    if answer.status_code == 201:
        msgspec.json.decode(answer.content, type=Brief)
    else:
        found = msgspec.json.decode(answer.content, type=Problem)
        assert found.field in Asked.__struct_fields__
        assert found.detail and "\n" not in found.detail
