from __future__ import annotations

import uuid

from flask import Blueprint, render_template, request

from webapp.lines import in_use
from webapp.lines.base import Lines
from webapp.records import seals
from webapp.records.reports import lists
from webapp.records.restrictions import service as restrictions
from webapp.store.db import reading
from webapp.web.access import needs
from webapp.web.problem import Problem

blueprint = Blueprint("seals", __name__, template_folder="templates")
LARGEST_NO = 2**63 - 1


@blueprint.get("/desk/seals")
@needs("look")
def everyone() -> str:
    """List the seals, newest first."""
    before = _before(request.args.get("before"))
    with reading() as session:
        page = seals.page(session, before)
        lines = Lines(in_use.bases(session))
        return render_template(
            "seals.html", page=page, before=before, fits=seals.fits, lines=lines
        )


@blueprint.get("/desk/seals/<uuid:name>")
@needs("look")
def one(name: uuid.UUID) -> str:
    """Show one seal; prints as a sheet for the on-call manager."""
    with reading() as session:
        seal = seals.get(session, name)
        if seal is None:
            raise Problem(404, "no_seal", "There is no such seal. Look at the list of seals.")
        arrived = lists.by_id(session, [uuid.UUID(one) for one in seal.body["unsent"]])
        held = [uuid.UUID(one["id"]) for one in seal.body.get("restrictions", [])]
        noted = restrictions.by_id(session, held)
        return render_template(
            "seal.html",
            seal=seal,
            fits=seals.fits(seal),
            arrived={str(key): one for key, one in arrived.items()},
            noted={str(key): one for key, one in noted.items()},
            lines=Lines(in_use.bases(session)),
        )


def _before(text: str | None) -> int | None:
    if text is None:
        return None
    if not (text.isascii() and text.isdigit() and 0 < int(text[:20]) <= LARGEST_NO):
        raise Problem(422, "bad_cursor", "This address is incomplete. Open /desk/seals again.")
    return int(text)
