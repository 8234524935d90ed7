from __future__ import annotations

import hashlib
from datetime import UTC, datetime

import marshmallow as ma
from flask import Response, jsonify, request

from webapp.plain.fields import choice
from webapp.records.reports import answers
from webapp.store.db import reading
from webapp.web import tablet_cookie
from webapp.web.api import Blueprint
from webapp.web.problem import Problem
from webapp.web.stored import REVALIDATE

blueprint = Blueprint("answers", __name__, description="What became of a tablet's reports.")


class AnswerOut(ma.Schema):
    report = ma.fields.UUID(required=True)
    kind = choice(answers.REVIEWED, answers.WARNED, required=True)
    trains = ma.fields.Integer(required=True, allow_none=True)
    at = ma.fields.String(required=True, metadata={"format": "date-time"})


class AnswersOut(ma.Schema):
    items = ma.fields.List(ma.fields.Nested(AnswerOut), required=True)
    server_time = ma.fields.String(required=True, metadata={"format": "date-time"})


@blueprint.get("/api/answers")
@blueprint.also(200, AnswersOut, "The answers to all that this tablet sent")
@blueprint.also(304, None, "Nothing changed")
@blueprint.refuses(401, "No enrolled tablet is asking")
def own() -> Response:
    """Give the tablet that asks the depot's answers to its own reports."""
    with reading() as session:
        found = answers.for_tablet(session, tablet_cookie.token())
    if found is None:
        raise Problem(401, "not_enrolled", "Enrol this tablet: only its own answers are told.")
    items = [
        {"report": one.report, "kind": one.kind, "trains": one.trains, "at": one.at}
        for one in found
    ]
    response = jsonify(items=items, server_time=datetime.now(UTC))
    response.set_etag(hashlib.sha256(repr(found).encode()).hexdigest())
    response.headers["Cache-Control"] = REVALIDATE
    response.make_conditional(request)
    return response
