"""Changes by programs, each to what was read: strong ETag, `If-Match`, 428 without, 412 stale.

RFC 9110, 8.8.3 (ETag), 13.1.1 (If-Match: strong comparison), 15.5.13 (412); RFC 6585, 3 (428).
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from typing import Any

from flask import Response, jsonify, request
from sqlalchemy.orm import Session

from webapp.store.db import writing
from webapp.store.edits import Faults, NothingChanged, Stale
from webapp.web.api import Blueprint, View
from webapp.web.problem import Problem

Json = dict[str, Any]
PARAMETER = {
    "name": "If-Match",
    "in": "header",
    # Said in words alone: without it the answer is 428, so that nothing is changed unread.
    "required": True,
    "schema": {"type": "string", "minLength": 1},
    "description": "The ETag of what was read. `*` names nothing that was read: 428.",
}
MISSING = "Send If-Match with the ETag of what you read, so that no other change is lost."
CHANGED = (
    "It was changed since you read it. Nothing of yours was kept: `current` is how it stands "
    "now, the ETag beside it is what to send next."
)


def changes(blueprint: Blueprint, *, typed: bool = True) -> Callable[[View], View]:
    """Describe a call that changes what was read."""
    parts = [
        blueprint.takes_header(PARAMETER),
        blueprint.refuses(412, "Changed since it was read; `current` is how it stands now"),
        blueprint.refuses(428, "If-Match is missing"),
        blueprint.refuses(409, "It does not fit the line as its pack in use knows it")
        if typed
        else blueprint.refuses(409, "It is past this action"),
    ]

    def mark(view: View) -> View:
        for part in parts:
            view = part(view)
        return view

    return mark


def answer(content: Json, status: int = 200) -> Response:
    """Answer with what is kept and its tag; 304 to whoever has it."""
    response = jsonify(content)
    response.status_code = status
    response.set_etag(_tag(content))
    response.headers["Cache-Control"] = "private, no-cache"
    if request.method in {"GET", "HEAD"}:
        response.make_conditional(request)
    return response


def require(current: Json) -> None:
    """Refuse a change to anything but what is kept now."""
    given = request.if_match
    if not given or given.star_tag:
        raise Problem(428, "if_match_missing", MISSING)
    if not given.contains(_tag(current)):
        raise stale(current)


def done(
    before: Json,
    content: Callable[[], Json],
    work: Callable[[Session, datetime], Any],
    ended: Callable[[Json], str],
) -> Response:
    """Change what was read, ``before``, in one transaction; answer with what is kept then.

    ``content`` reads it again; ``ended`` says what it is, where it can no longer be changed.
    """
    try:
        with writing() as session:
            work(session, datetime.now(UTC))
    except Faults as found:
        raise misfit(found.faults) from found
    except Stale as late:
        now = content()
        if now != before:
            raise stale(now) from late
        detail = f"It is {ended(now)}; nothing was done."
        raise Problem(409, "past_this", detail) from late
    except NothingChanged:
        pass  # Asked for again it is as it was asked for.
    return answer(content())


def stale(current: Json) -> Problem:
    """Return the answer to the second of two editors: what is kept now, to decide by."""
    headers = {"ETag": f'"{_tag(current)}"'}
    return Problem(
        412, "changed_meanwhile", CHANGED, headers=headers, more={"current": current}
    )


def misfit(faults: Sequence[str]) -> Problem:
    """Return the answer to what is well formed but not for this line, by field."""
    errors: dict[str, list[str]] = {}
    for fault in faults:
        names, _, sentence = fault.partition(": ")
        for name in names.split(", "):
            errors.setdefault(name, []).append(sentence)
    detail = "It does not fit the line as its pack in use knows it; `errors` names each field."
    return Problem(409, "does_not_fit", detail, errors=errors)


def _tag(content: Json) -> str:
    text = json.dumps(content, sort_keys=True, default=str)
    return hashlib.sha256(text.encode()).hexdigest()
