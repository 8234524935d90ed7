"""Answer with bytes that were compressed once, when they were made, never per request."""

from __future__ import annotations

import gzip
import hashlib
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from flask import Response, request

IMMUTABLE = "public, max-age=31536000, immutable"
REVALIDATE = "no-cache"
FACE = Path(__file__).parent / "face.css"
READING = Path(__file__).parent / "reading.css"
DRAWING = Path(__file__).parent / "drawing.css"


@dataclass(frozen=True)
class Stored:
    """One file as it is served; `sha` names the uncompressed bytes."""

    media_type: str
    sha: str
    gz: bytes | None
    plain: bytes | None = None

    def identity(self) -> bytes:
        if self.plain is not None:
            return self.plain
        return gzip.decompress(self.gz or b"")


def store(plain: bytes, media_type: str, *, compress: bool = True) -> Stored:
    """Compress now (no file time inside, so equal bytes stay equal) and name by content."""
    packed = gzip.compress(plain, 9, mtime=0) if compress else None
    if packed is not None and len(packed) >= len(plain):
        packed = None
    return Stored(media_type, hashlib.sha256(plain).hexdigest(), packed, plain)


def reading_sheet(*own: Path) -> Stored:
    """Return the style of a page to read: what all of them have in common, then its own."""
    return sheet(FACE, READING, *own)


def sheet(*parts: Path) -> Stored:
    """Return one style made of several."""
    return store(b"".join(part.read_bytes() for part in parts), "text/css; charset=utf-8")


@lru_cache(maxsize=16)
def page(text: str) -> Stored:
    """Return a page that is the same for everybody, compressed once.

    Only such a page: compressed beside what a visitor typed, a page gives its secrets away.
    """
    return store(text.encode(), "text/html; charset=utf-8")


def answer(stored: Stored, cache_control: str) -> Response:
    """Send gzip if the client takes it, else the bytes themselves; 304 if it has them."""
    packed = stored.gz is not None and bool(request.accept_encodings["gzip"] > 0)
    body = stored.gz if packed and stored.gz is not None else stored.identity()
    response = Response(body, content_type=stored.media_type)
    if packed:
        response.headers["Content-Encoding"] = "gzip"
    # A strong tag names exact bytes, so each encoding has its own.
    response.set_etag(stored.sha + ("-gz" if packed else ""))
    response.headers["Cache-Control"] = cache_control
    response.vary.add("Accept-Encoding")
    response.make_conditional(request)
    return response
