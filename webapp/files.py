"""Files that go out while they are read: the first byte does not wait for the last."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager

from flask import Response, current_app
from sqlalchemy.orm import Session

from webapp.db import reading


def own_reading() -> Callable[[], AbstractContextManager[Session]]:
    """Return a transaction with a context of its own: the request is over when it begins."""
    app = current_app._get_current_object()  # type: ignore[attr-defined]

    @contextmanager
    def own() -> Iterator[Session]:
        with app.app_context(), reading() as session:
            yield session

    return own


def sent(parts: Iterator[str], media_type: str, name: str) -> Response:
    """Return a file to be kept under a name."""
    response = Response((part.encode() for part in parts), content_type=media_type)
    response.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    return response
