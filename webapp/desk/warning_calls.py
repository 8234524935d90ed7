"""Warnings for programs of the desk: the actions of its forms, by the same service."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

from flask import Response
from sqlalchemy.orm import Session

from webapp.desk.warning_shared import may_publish, read, rule
from webapp.lines import in_use
from webapp.records.warnings import answering, ending, overview, schemas, service
from webapp.store import edits
from webapp.store.db import reading, writing
from webapp.web import forms, if_match
from webapp.web.access import needs, who
from webapp.web.api import Blueprint
from webapp.web.problem import Problem

Json = dict[str, Any]

blueprint = Blueprint("warning_calls", __name__, description="Warnings, for the desk.")
ADDRESS = "/api/desk/warnings/<uuid:warning_id>"
GIVEN = {"warning_id": "$response.body#/items/0/id"}
MISSING = "Steps of the company's rule were not told. Ask, or send `override` with the reason."

APART = (
    "Nobody has looked at reports from tablets that are not enrolled, about this stretch. "
    "Take them in at /desk/not-enrolled, or send `set_aside` with the reason."
)


@blueprint.get("/api/desk/warnings")
@blueprint.answers(200, schemas.DeskWarnings)
@blueprint.leads_to("one", "readWarning", **GIVEN)
@blueprint.of_the_desk
@needs("look")
def everyone() -> Json:
    """Give the warnings that live and the drafts."""
    with reading() as session:
        bases = in_use.bases(session)
        rows = service.listed(session)
        return {"items": [overview.as_json(one, bases.get(one.line_key)) for one in rows]}


@blueprint.get(ADDRESS)
@blueprint.named("readWarning")
@blueprint.also(200, schemas.DeskWarning, "The warning, with its tag")
@blueprint.also(304, None, "Nothing changed")
@blueprint.leads_to("amend", "amendWarning", warning_id="$response.body#/id")
@blueprint.of_the_desk
@needs("look")
def one(warning_id: uuid.UUID) -> Response:
    """Give one warning as it stands."""
    return if_match.answer(_content(warning_id))


@blueprint.post("/api/desk/warnings")
@blueprint.takes(schemas.DeskDraft)
@blueprint.also(201, schemas.DeskWarning, "The draft, with its tag; no tablet is told")
@blueprint.refuses(409, "It does not fit the line as its pack in use knows it")
@blueprint.of_the_desk
@needs("review")
def draft(typed: Json) -> Response:
    """Keep a warning that nobody is told yet."""
    report, now = typed.pop("report"), datetime.now(UTC)
    try:
        with writing() as session:
            said = schemas.as_typed(typed)
            made = service.draft(session, said, who(), now, uuid.uuid4(), report).id
    except edits.Faults as found:
        raise if_match.misfit(found.faults) from found
    return if_match.answer(_content(made), 201)


@blueprint.patch(ADDRESS)
@blueprint.named("amendWarning")
@blueprint.takes(schemas.DeskChanges)
@blueprint.also(200, schemas.DeskWarning, "As it stands now, with its new tag")
@if_match.changes(blueprint)
@blueprint.of_the_desk
@needs("review")
def amend(typed: Json, warning_id: uuid.UUID) -> Response:
    """Change the fields that are sent; tablets are told of a published one."""
    before = _read(warning_id)
    if before["status"] == service.PUBLISHED:
        may_publish()
    said = {k: v for k, v in schemas.as_typed(typed).items() if k != "adhesion" or v}
    return _done(
        before, lambda s, rev, now: service.amend(s, warning_id, rev, said, who(), now)
    )


@blueprint.post(f"{ADDRESS}/publish")
@blueprint.takes(schemas.NoBody)
@blueprint.also(200, schemas.DeskWarning, "As it stands now, with its new tag")
@if_match.changes(blueprint, typed=False)
@blueprint.of_the_desk
@needs("publish")
def publish(_typed: Json, warning_id: uuid.UUID) -> Response:
    """Tell a draft to the tablets."""
    before, zone = _read(warning_id), forms.zone()
    return _done(
        before, lambda s, rev, now: answering.publish(s, warning_id, rev, who(), now, zone)
    )


@blueprint.post(f"{ADDRESS}/end")
@blueprint.takes(schemas.DeskEnd)
@blueprint.also(200, schemas.DeskWarning, "As it stands now, with its new tag")
@if_match.changes(blueprint, typed=False)
@blueprint.of_the_desk
@needs("publish")
def end(told: Json, warning_id: uuid.UUID) -> Response:
    """End it as the signaller said; 409 while a step is missing and no reason is given."""
    before = _read(warning_id)
    why = ending.Reasons(told.pop("override").strip(), told.pop("set_aside").strip())
    return _done(
        before,
        lambda s, rev, now: ending.end(s, warning_id, rev, told, why, rule(), who(), now),
    )


def _done(before: Json, work: Callable[[Session, int, datetime], Any]) -> Response:
    """Do it to the revision that was read and answer with what is kept then."""
    name = uuid.UUID(before["id"])
    try:
        return if_match.done(
            before,
            lambda: _content(name),
            lambda session, now: work(session, before["rev"], now),
            lambda now: str(now["status"]),
        )
    except ending.Missing as missing:
        said = {"override": missing.words} if missing.words else {}
        if missing.apart:
            said["set_aside"] = [f"{missing.apart}, about this stretch."]
        code, detail = ("steps_missing", MISSING) if missing.words else ("apart", APART)
        raise Problem(409, code, detail, errors=said) from missing


def _read(name: uuid.UUID) -> Json:
    """Return the warning as it stands, which must be what was read."""
    current = _content(name)
    if_match.require(current)
    return current


def _content(name: uuid.UUID) -> Json:
    return overview.as_json(*read(name))
