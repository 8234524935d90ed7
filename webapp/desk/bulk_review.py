"""Reviewing the ticked reports of the list together."""

from __future__ import annotations

import re
import uuid
from datetime import UTC, datetime

from flask import flash, redirect, request, url_for
from werkzeug.wrappers import Response

from webapp.desk.report import list_asked, none
from webapp.desk.reports import blueprint
from webapp.records.reports import actions, bulk, inbox
from webapp.store.db import writing
from webapp.web.access import needs, who
from webapp.web.problem import Problem

shared = blueprint
PICK = re.compile(r"([0-9a-f-]{36})~(\d{1,9})", re.ASCII)
BAD = "Load the list of reports again, tick, then send it."


@blueprint.post("/desk/reports/review")
@needs("review")
def together() -> Response:
    """Review what was ticked, say what was left out and why, and show the list again."""
    wanted, picks = list_asked(), _picks(request.form.getlist("pick"))
    if picks:
        try:
            with writing() as session:
                outcome = bulk.review(session, picks, who(), datetime.now(UTC))
        except actions.NoSuchReport as error:
            raise none() from error
        for sentence in _said(outcome):
            flash(sentence)
    else:
        flash("Nothing was ticked, so nothing was reviewed.")
    return redirect(url_for("reports.newest", **wanted.address()))


def _picks(values: list[str]) -> list[bulk.Pick]:
    found = [PICK.fullmatch(one) for one in values]
    if None in found or len(values) > inbox.PAGE_SIZE:
        raise Problem(422, "bad_ticks", BAD)
    try:
        return [bulk.Pick(uuid.UUID(one[1]), int(one[2])) for one in found if one]
    except ValueError as error:
        raise Problem(422, "bad_ticks", BAD) from error


def _said(outcome: bulk.Outcome) -> list[str]:
    done = len(outcome.done)
    first = f"{done} reviewed together." if done else "None was reviewed."
    return [first, *(_left(numbers, why) for why, numbers in outcome.left.items())]


def _left(numbers: list[int], why: str) -> str:
    which = ", ".join(map(str, numbers))
    return f"Not reviewed: no. {which}: {why}. Open {'it' if len(numbers) == 1 else 'them'}."
