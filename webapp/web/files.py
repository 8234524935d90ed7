"""Files that go out while they are read: the first byte does not wait for the last."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager

from flask import Response, current_app
from sqlalchemy.orm import Session

from webapp.store.db import reading
from webapp.web import limits
from webapp.web.access import who


def _nothing() -> None:
    """Give back nothing: no slot was taken."""


def own_reading() -> Callable[[], AbstractContextManager[Session]]:
    """Return a transaction with a context of its own: the request is over when it begins."""
    app = current_app._get_current_object()  # type: ignore[attr-defined]

    @contextmanager
    def own() -> Iterator[Session]:
        with app.app_context(), reading() as session:
            yield session

    return own


def sent(parts: Iterator[str], media_type: str, name: str) -> Response:
    """Return a file to be kept under a name; one at a time of an account, few in all."""
    # Only a running server has slots: in process, as tests ask, nothing is limited.
    slots: limits.Slots | None = current_app.extensions.get("exports")
    give_back = slots.take(who()) if slots else _nothing
    if give_back is None:
        raise limits.full()

    def whole() -> Iterator[bytes]:
        try:
            for part in parts:
                yield part.encode()
        finally:
            give_back()

    response = Response(whole(), content_type=media_type)
    # Of a file that nobody begins to read (HEAD) only this is called.
    response.call_on_close(give_back)
    response.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    return response
