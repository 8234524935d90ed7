"""Files of reports, for other programs, of just those that the list's address lets through."""

from __future__ import annotations

from flask import Response, request

from webapp.desk.reports import blueprint, zone
from webapp.lines.base import Base
from webapp.records.reports import exports, filters, inbox
from webapp.store.db import reading
from webapp.web.access import needs
from webapp.web.files import own_reading, sent
from webapp.web.problem import Problem

shared = blueprint


@blueprint.get("/desk/reports.csv")
@needs("look")
def as_csv() -> Response:
    """Give the reports of the list as CSV."""
    asked, _ = _asked()
    lines = exports.as_csv(exports.batches(own_reading(), asked))
    return sent(lines, "text/csv; charset=utf-8; header=present", "reports.csv")


@blueprint.get("/desk/reports.geojson")
@needs("look")
def as_geojson() -> Response:
    """Give the reports of the list as points on the map."""
    asked, bases = _asked()
    parts = exports.as_geojson(exports.batches(own_reading(), asked), bases)
    return sent(parts, "application/geo+json", "reports.geojson")


def _asked() -> tuple[list[filters.Condition], dict[str, Base]]:
    """Read the address whole before the first byte goes out."""
    try:
        wanted, _ = filters.read(request.args)
        with reading() as session:
            bases = inbox.lines(session)
        return filters.conditions(wanted, bases, zone()), bases
    except filters.Faults as error:
        raise Problem(422, "bad_filter", f"{error} Open /desk/reports again.") from error
