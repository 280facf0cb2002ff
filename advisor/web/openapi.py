"""The OpenAPI document, from msgspec's own schema of the structures that are really read and written."""

from __future__ import annotations

from importlib.metadata import version
from typing import Any

import msgspec

from advisor.brief.model import Brief
from advisor.web.model import Asked, Health, Problem

_REF = "#/components/schemas/{name}"
_ID = {
    "name": "id",
    "in": "path",
    "required": True,
    "description": "of the brief, from its Location",
    "schema": {"type": "string", "pattern": "^[A-Za-z0-9_-]{22}$"},
}
_EXAMPLE = {
    "reports": ["METAR ZZZA 100520Z 24008KT 9999 FEW020 M00/M02 Q1013"],
    "off_block": "0640Z",
    "now": "2027-01-10T05:25:00Z",
    "place": "61.4,9.8",
}


def document() -> dict[str, Any]:
    """The OpenAPI 3.1 document."""
    (brief, asked, health, problem), components = msgspec.json.schema_components(
        (Brief, Asked, Health, Problem), ref_template=_REF
    )

    def said(what: str, schema: dict[str, Any], media: str = "application/json") -> dict[str, Any]:
        return {"description": what, "content": {media: {"schema": schema}}}

    def wrong(what: str) -> dict[str, Any]:
        return said(what, problem, "application/problem+json")

    location = {"description": "where the brief can be read for a day", "schema": {"type": "string"}, "required": True}
    link = {"description": "the same as a page for people", "schema": {"type": "string"}, "required": True}
    retry = {"description": "seconds to wait", "schema": {"type": "integer", "minimum": 1}, "required": True}
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "advisor",
            "version": version("advisor"),
            "description": "What the apron will be like during the walk round, and what follows from it. "
            "Only the inspection itself can tell what is on the aircraft.",
        },
        "paths": {
            "/api/brief": {
                "post": {
                    "operationId": "makeBrief",
                    "summary": "Make a brief",
                    "requestBody": {
                        "required": True,
                        "content": {"application/json": {"schema": asked, "example": _EXAMPLE}},
                    },
                    "responses": {
                        "201": {**said("the brief", brief), "headers": {"Location": location, "Link": link}},
                        "400": wrong("not JSON, or not of this shape"),
                        "413": wrong("body too long"),
                        "415": wrong("body of another type"),
                        "422": wrong("reports or departure that cannot be used"),
                        "429": {**wrong("too many briefs from this address"), "headers": {"Retry-After": retry}},
                        "502": wrong("the feed could not be reached"),
                    },
                }
            },
            "/api/brief/{id}": {
                "get": {
                    "operationId": "readBrief",
                    "summary": "A brief made within the last day",
                    "parameters": [_ID],
                    "responses": {"200": said("the brief", brief), "404": wrong("no such brief")},
                }
            },
            "/healthz": {
                "get": {
                    "operationId": "health",
                    "summary": "That the server answers",
                    "responses": {"200": said("it does", health)},
                }
            },
        },
        "components": {"schemas": components},
    }
