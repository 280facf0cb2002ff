"""The HTTP interface, from the OpenAPI document that the server itself gives out."""

from __future__ import annotations

import json

from advisor.web.openapi import document
from tables.markdown import block, code, plain, table

HEAD = """# HTTP interface

What `advisor serve` answers, from its own OpenAPI document (at `/schema/openapi.json` of a running server). Errors are
`application/problem+json`: what is wrong, which `field` is at fault, and what would be right.
"""


def pages() -> dict[str, str]:
    """http.md."""
    found = document()
    parts = [HEAD]
    for path, methods in found["paths"].items():
        for method, told in methods.items():
            parts.append(f"## {method.upper()} {plain(path)}\n\n{plain(told.get('summary', ''))}.\n")
            parts += _body(told)
            rows = [
                (code(status), plain(answer.get("description", ""))) for status, answer in told["responses"].items()
            ]
            parts.append(table(("answer", "what"), rows))
    asked = found["components"]["schemas"].get("Asked")
    if asked is not None:
        parts.append("## Fields of a request\n\nThe names of the command's options, underscored.\n")
        required = asked.get("required", ())
        rows = [
            (code(name), "yes" if name in required else "no", plain(told.get("description", "")))
            for name, told in asked["properties"].items()
        ]
        parts.append(table(("field", "needed", "what"), rows))
    return {"http.md": "\n".join(parts)}


def _body(told: dict[str, object]) -> list[str]:
    content = told.get("requestBody", {}).get("content", {})  # type: ignore[attr-defined]
    examples = [(media, one["example"]) for media, one in content.items() if "example" in one]
    return [f"Takes {code(media)}:\n\n{block(json.dumps(example, indent=2), 'json')}" for media, example in examples]
