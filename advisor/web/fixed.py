"""What never changes while the server runs: style, script, icon. Kept by browsers for good, sent short."""

from __future__ import annotations

import hashlib
from functools import partial
from pathlib import Path
from typing import Any

from litestar import HttpMethod, Request, Response, route
from litestar.config.compression import CompressionConfig
from litestar.middleware import DefineMiddleware
from litestar.middleware.compression import CompressionMiddleware

from advisor.render.picture import drawing
from advisor.web.problems import Refused
from advisor.web.who import OPEN

HERE = Path(__file__).parent
FOLDER = HERE / "static"
KEEP = "public, max-age=31536000, immutable"
Req = Request[Any, Any, Any]

# what is read is read by GET, and HEAD says the same without its body
reading = partial(route, http_method=[HttpMethod.GET, HttpMethod.HEAD])

# only here: pages hold a form's token beside what others may have sent, and such are never compressed
SHORT = [DefineMiddleware(CompressionMiddleware, config=CompressionConfig("gzip", gzip_compress_level=6))]

# what stands under static/, by name: nothing else can be asked for there
_FILES = {path.name: path.read_bytes() for path in sorted(FOLDER.iterdir()) if path.is_file()}
_STYLE = drawing.css().encode()
_MEDIA = {".css": "text/css", ".js": "text/javascript", ".svg": "image/svg+xml"}


def _tag(data: bytes) -> str:
    # weak, since the same content is sent compressed and not
    return f'W/"{hashlib.sha256(data).hexdigest()[:24]}"'


VERSION = hashlib.sha256(b"".join((_STYLE, *_FILES.values()))).hexdigest()[:12]


def sent(request: Req, data: bytes, kind: str, kept: str = KEEP) -> Response[bytes]:
    """A file with its tag; nothing but that where the browser has the very same."""
    headers = {"Cache-Control": kept, "ETag": _tag(data)}
    known = {one.strip() for one in request.headers.get("if-none-match", "").split(",")}
    if headers["ETag"] in known or "*" in known:
        return Response(b"", status_code=304, headers=headers)
    return Response(data, media_type=_MEDIA[kind], headers=headers)


@reading("/static/{name:str}", opt={"role": OPEN}, middleware=SHORT)
async def fixed(request: Req) -> Response[bytes]:
    """A fixed file; its address carries a hash of its content."""
    name = request.path_params["name"]
    if name not in _FILES:
        raise Refused(404, "there is no such file")
    return sent(request, _FILES[name], Path(name).suffix)


@reading("/chart.css", opt={"role": OPEN}, middleware=SHORT)
async def chart_style(request: Req) -> Response[bytes]:
    """The shared set of sizes and colours, and the drawings' use of it."""
    return sent(request, _STYLE, ".css")


@reading("/worker.js", opt={"role": OPEN}, middleware=SHORT)
async def worker(request: Req) -> Response[bytes]:
    """What keeps briefs and walks on the telephone. Served from the top, so that it may serve their addresses."""
    return sent(request, _FILES["worker.js"], ".js", "no-cache")


HANDLERS = (fixed, chart_style, worker)
