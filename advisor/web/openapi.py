"""The OpenAPI document, from msgspec's own schema of the structures that are really read and written."""

from __future__ import annotations

from importlib.metadata import version
from typing import Any

import msgspec

from advisor.brief.changes import Change
from advisor.brief.model import Brief
from advisor.slots.result import Plan
from advisor.web.model import Asked, Health, Lost, PlanAsked, Problem, Wanted

_REF = "#/components/schemas/{name}"
_JSON = "application/json"
_EXAMPLE = {
    "reports": ["METAR ZZZA 100520Z 24008KT 9999 FEW020 M00/M02 Q1013"],
    "off_block": "0640Z",
    "now": "2027-01-10T05:25:00Z",
    "place": "61.4,9.8",
}
_KEY = {
    "name": "Idempotency-Key",
    "in": "header",
    "required": False,
    "description": "1 to 200 visible ASCII letters; the same key gives the same answer and no second event",
    "schema": {"type": "string", "pattern": "^[\\x21-\\x7e]{1,200}$"},
}
_EVENT = {
    "type": "object",
    "required": ["seq", "at", "kind", "data", "previous", "hash"],
    "properties": {
        "seq": {"type": "integer", "minimum": 1},
        "at": {"type": "string"},
        "kind": {"type": "string"},
        "data": {"type": ["object", "null"]},
        "previous": {"type": "string", "pattern": "^[0-9a-f]{64}$"},
        "hash": {
            "type": "string",
            "pattern": "^[0-9a-f]{64}$",
            "description": "SHA-256 of previous, its 64 digits as ASCII, and the canonical JSON (RFC 8785) of the rest",
        },
    },
}
_WALK = {
    "type": "object",
    "required": ["schema", "id", "events"],
    "properties": {
        "schema": {"const": "walk/1"},
        "id": {"type": "string"},
        "brief": {"type": "string"},
        "signed": {"type": "boolean"},
        "seen": {"type": "array", "items": {"type": "string"}},
        "offers": {"type": "object", "additionalProperties": {"type": "string"}},
        "events": {"type": "array", "items": {"$ref": _REF.format(name="Event")}},
    },
}


def document() -> dict[str, Any]:
    """The OpenAPI 3.1 document."""
    structures: tuple[Any, ...] = (Brief, Asked, Wanted, Health, Problem, Change, PlanAsked)
    schemas, components = msgspec.json.schema_components(structures, ref_template=_REF)
    named = dict(zip(structures, schemas, strict=True))
    # a plan has a ReportOut of its own
    (named[Plan],), more = msgspec.json.schema_components((Plan,), ref_template=_REF.format(name="plan.{name}"))
    components |= {f"plan.{name}": schema for name, schema in more.items()}
    problem = named[Problem]
    paths = _briefs(named, problem) | _slots(named, problem) | _others(named, problem)
    components["Event"], components["Walk"] = _EVENT, _WALK
    components[Lost.__name__] = {
        "allOf": [problem, {"type": "object", "required": ["brief"], "properties": {"brief": named[Brief]}}]
    }
    paths |= _walks(components, problem)
    for path, methods in paths.items():
        for method in methods.values():
            if path != "/healthz":
                method["responses"] |= {"401": _wrong(problem, "no token, where the server asks for one")}
                method["responses"] |= {"403": _wrong(problem, "a role or a place that may not")}
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "advisor",
            "version": version("advisor"),
            "description": "What the apron will be like during the walk round, and what follows from it. "
            "Only the inspection itself can tell what is on the aircraft.",
        },
        "paths": paths,
        "components": {
            "schemas": components,
            "securitySchemes": {"token": {"type": "http", "scheme": "bearer"}},
        },
        "security": [{}, {"token": []}],
    }


def _said(what: str, schema: dict[str, Any], media: str = _JSON) -> dict[str, Any]:
    return {"description": what, "content": {media: {"schema": schema}}}


def _wrong(problem: dict[str, Any], what: str) -> dict[str, Any]:
    return _said(what, problem, "application/problem+json")


def _text(what: str) -> dict[str, Any]:
    return {"description": what, "schema": {"type": "string"}, "required": True}


def _id(what: str, name: str = "id") -> dict[str, Any]:
    pattern = "^[0-9a-f]{64}$" if name == "digest" else "^[A-Za-z0-9_-]{22}$"
    return {
        "name": name,
        "in": "path",
        "required": True,
        "description": what,
        "schema": {"type": "string", "pattern": pattern},
    }


def _body(schema: dict[str, Any], **more: Any) -> dict[str, Any]:
    return {"required": True, "content": {_JSON: {"schema": schema, **more}}}


def _refusals(problem: dict[str, Any], **more: str) -> dict[str, Any]:
    reasons = {
        "400": "not JSON, or not of this shape",
        "413": "body too long",
        "415": "body of another type",
        **{status.removeprefix("_"): what for status, what in more.items()},
    }
    return {status: _wrong(problem, what) for status, what in reasons.items()}


_WAIT = {"description": "seconds to wait", "schema": {"type": "integer", "minimum": 1}, "required": True}
_RETRY = {"Retry-After": _WAIT}


def _briefs(named: dict[Any, dict[str, Any]], problem: dict[str, Any]) -> dict[str, Any]:
    changed = {"changes": {"type": "array", "items": named[Change], "description": "only where since was given"}}
    answer = {"allOf": [named[Brief], {"type": "object", "properties": changed}]}
    headers = {"Location": _text("where the brief can be read for a day"), "Link": _text("the same as a page")}
    responses = {
        "201": {**_said("the brief", answer), "headers": headers},
        **_refusals(problem, _422="reports or departure that cannot be used", _502="the feed could not be reached"),
        "429": {**_wrong(problem, "too many briefs from this address"), "headers": _RETRY},
        "507": _wrong({"$ref": _REF.format(name=Lost.__name__)}, "the disk is full; the brief all the same"),
    }
    return {
        "/api/brief": {
            "post": {
                "operationId": "makeBrief",
                "summary": "Make a brief",
                "requestBody": _body(named[Wanted], example=_EXAMPLE),
                "responses": responses,
            }
        },
        "/api/brief/{id}": {
            "get": {
                "operationId": "readBrief",
                "summary": "A brief made within the last day",
                "parameters": [_id("of the brief, from its Location")],
                "responses": {"200": _said("the brief", named[Brief]), "404": _wrong(problem, "no such brief")},
            }
        },
    }


def _slots(named: dict[Any, dict[str, Any]], problem: dict[str, Any]) -> dict[str, Any]:
    headers = {"Location": _text("where the plan can be read for a day"), "Link": _text("the same as a board")}
    refusals = _refusals(
        problem,
        _404="this server plans no slots",
        _422="a schedule or reports that cannot be used",
        _500="the server's own pads or checklist are wrong",
        _501="the planner is not installed on this server",
    )
    return {
        "/api/slots": {
            "post": {
                "operationId": "planSlots",
                "summary": "A plan of de-icing slots",
                "requestBody": _body(named[PlanAsked]),
                "responses": {
                    "201": {**_said("the plan", named[Plan]), "headers": headers},
                    **refusals,
                    "429": {**_wrong(problem, "too many from this address"), "headers": _RETRY},
                    "503": {**_wrong(problem, "another plan is being made"), "headers": _RETRY},
                },
            }
        },
        "/api/slots/{id}": {
            "get": {
                "operationId": "readSlots",
                "summary": "A plan made within the last day",
                "parameters": [_id("of the plan, from its Location")],
                "responses": {"200": _said("the plan", named[Plan]), "404": _wrong(problem, "no such plan")},
            }
        },
    }


def _others(named: dict[Any, dict[str, Any]], problem: dict[str, Any]) -> dict[str, Any]:
    row = {"type": "object", "required": ["id", "name", "size", "doors"]}
    return {
        "/api/aircraft": {
            "get": {
                "operationId": "listAircraft",
                "summary": "The aircraft profiles",
                "responses": {"200": _said("the profiles", {"type": "array", "items": row})},
            }
        },
        "/healthz": {
            "get": {
                "operationId": "health",
                "summary": "That the server answers",
                "responses": {"200": _said("it does", named[Health])},
            }
        },
    }


def _walks(components: dict[str, Any], problem: dict[str, Any]) -> dict[str, Any]:
    """The walk; what is said on it as its own structures say, where the record is installed."""
    shapes = _said_shapes(components)
    event, walk = ({"$ref": _REF.format(name=name)} for name in ("Event", "Walk"))
    own = _id("of the walk, from its Location")
    always = {
        "_409": "the walk is signed",
        "_422": "what cannot be so on this walk, or a key used before with something else",
        "_501": "this server records no walks",
        "_503": "the record cannot be written to at present",
        "_507": "the disk is full; nothing was recorded",
    }
    gone = {"_404": "no such walk", "_410": "what was said on it was dropped"}
    paths: dict[str, Any] = {
        "/api/walk": {
            "post": {
                "operationId": "openWalk",
                "summary": "Begin the walk of a brief",
                "parameters": [_KEY],
                "requestBody": _body(shapes["open"]),
                "responses": {
                    "201": {
                        **_said("the walk with its first event", walk),
                        "headers": {"Location": _text("of the walk"), "Link": _text("the same as a page")},
                    },
                    **_refusals(problem, **always),
                },
            }
        },
        "/api/walk/{id}": {
            "get": {
                "operationId": "readWalk",
                "summary": "A walk with its events",
                "parameters": [own],
                "responses": {
                    "200": _said("the walk", walk),
                    **{at: _wrong(problem, what) for at, what in (("404", "no such walk"), ("501", "no record"))},
                    "503": _wrong(problem, "the record cannot be read at present"),
                },
            }
        },
    }
    told = {"found": "What was seen", "treatment": "A step of the treatment", "note": "A note", "sign": "Sign the walk"}
    for path, what in told.items():
        paths[f"/api/walk/{{id}}/{path}"] = {
            "post": {
                "operationId": f"{path}OnWalk",
                "summary": what,
                "parameters": [own, _KEY],
                "requestBody": _body(shapes[path]),
                "responses": {"201": _said("the event", event), **_refusals(problem, **always, **gone)},
            }
        }
    paths["/api/walk/{id}/queue"] = _queue(own, problem, always | gone)
    return paths | _photos(own, event, problem, always | gone)


def _queue(own: dict[str, Any], problem: dict[str, Any], more: dict[str, str]) -> dict[str, Any]:
    queued = {
        "type": "object",
        "required": ["kind", "key", "said"],
        "additionalProperties": False,
        "properties": {
            "kind": {"enum": ["found", "treatment", "note", "sign"]},
            "key": {"type": "string", "minLength": 1, "maxLength": 200},
            "said": {"type": "object", "description": "the body that its own address takes"},
        },
    }
    answer = {
        "type": "object",
        "required": ["key", "status"],
        "properties": {"key": {"type": "string"}, "status": {"type": "integer"}, "event": {}, "problem": {}},
    }
    return {
        "post": {
            "operationId": "queueOnWalk",
            "summary": "What waited on a telephone, each with its own key and answer",
            "parameters": [own],
            "requestBody": _body({"type": "array", "maxItems": 500, "items": queued}),
            "responses": {
                "200": _said("an answer each", {"type": "array", "items": answer}),
                **_refusals(problem, **more),
            },
        }
    }


def _photos(
    own: dict[str, Any], event: dict[str, Any], problem: dict[str, Any], more: dict[str, str]
) -> dict[str, Any]:
    picture = {"schema": {"type": "string", "contentMediaType": "image/jpeg", "maxLength": 2_000_000}}
    where = [
        {"name": name, "in": "query", "required": False, "schema": {"type": "string", "maxLength": 80}}
        for name in ("line", "zone")
    ]
    return {
        "/api/walk/{id}/photo": {
            "post": {
                "operationId": "photoOnWalk",
                "summary": "A photo, kept without place or camera",
                "parameters": [own, *where, _KEY],
                "requestBody": {"required": True, "content": {"image/jpeg": picture}},
                "responses": {"201": _said("the event", event), **_refusals(problem, **more)},
            }
        },
        "/api/walk/{id}/photo/{digest}": {
            "get": {
                "operationId": "readPhoto",
                "summary": "A photo of the walk",
                "parameters": [own, _id("SHA-256 of the photo", "digest")],
                "responses": {
                    "200": {"description": "the photo", "content": {"image/jpeg": {"schema": {"type": "string"}}}},
                    "404": _wrong(problem, "no such photo"),
                    "501": _wrong(problem, "this server records no walks"),
                },
            }
        },
    }


def _said_shapes(components: dict[str, Any]) -> dict[str, Any]:
    """Schemas of what is said on a walk. They are pure structures, and need none of the record's libraries."""
    from advisor.record.said import FoundSaid, NoteSaid, OpenSaid, SignSaid, TreatmentSaid

    shapes = {"open": OpenSaid, "found": FoundSaid, "treatment": TreatmentSaid, "note": NoteSaid, "sign": SignSaid}
    schemas, more = msgspec.json.schema_components(tuple(shapes.values()), ref_template=_REF)
    components |= more
    components["FoundSaid"]["anyOf"] = [
        {"required": [name], "properties": {name: {"type": "string", "minLength": 1}}} for name in ("line", "zone")
    ]
    return dict(zip(shapes, schemas, strict=True))
