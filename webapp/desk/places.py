"""The desk's pages of listed places: register, one place, its forms, proposals."""

from __future__ import annotations

import uuid
from datetime import UTC, datetime
from typing import Any

from flask import Blueprint, current_app, redirect, render_template, request, url_for
from sqlalchemy.orm import Session

from webapp.desk import editing, place_forms
from webapp.desk.editing import Answer
from webapp.lines import in_use
from webapp.lines.base import Base, Lines, unit_of
from webapp.lines.posts import how_to_type, stretch_along
from webapp.packs.register import fit_listed
from webapp.records.places import proposals as proposals_
from webapp.records.places import register, service, treatments, words
from webapp.store import audit
from webapp.store.db import reading, writing
from webapp.web.access import needs, who
from webapp.web.forms import local
from webapp.web.problem import Problem

blueprint = Blueprint("places", __name__, template_folder="templates")
SHOWN = {"listed": "Listed", "proposed": "Proposed", "retired": "Retired"}
STRUCK = "That treatment is no longer in the log. Nothing was done. Look at the log."
CHANGED = (
    "Somebody changed this place since you opened it. Nothing was done. Look at it again."
)


@blueprint.get("/desk/places")
@needs("look")
def everyone() -> str:
    """List the register by line and post: what is listed, proposed or was retired."""
    show, line = request.args.get("show", "listed"), request.args.get("line") or None
    after = _cursor(request.args.get("after"))
    if show not in SHOWN:
        raise Problem(422, "bad_list", "This address is incomplete. Open /desk/places again.")
    with reading() as session:
        bases = in_use.bases(session)
        page = register.page(session, bases, line, after, retired=show == "retired")
        waiting = register.waiting(session, bases)
        proposals = _proposals(session, bases)
    return render_template(
        "places.html", page=page, show=show, line=line, after=after, kinds=SHOWN,
        waiting=waiting, proposals=proposals, lines=Lines(bases), rule=_rule(),
        decline=place_forms.Decline(formdata=None), trouble=None, **_writers(bases),
    )  # fmt: skip


@blueprint.get("/desk/places/<uuid:place_id>")
@needs("look")
def one(place_id: uuid.UUID) -> Answer:
    """Show one place: what it says, how it came to be."""
    return _page_of(place_id)


@blueprint.route("/desk/places/new", methods=["GET", "POST"])
@needs("publish")
def new() -> Answer:
    """List a place by hand, or accept a proposal."""
    with reading() as session:
        bases = in_use.bases(session)
        wanted = request.values.get("proposal") or ""
        proposal = _proposal(session, bases, wanted) if wanted else None
    base = bases.get(proposal.line if proposal else str(request.values.get("line") or ""))
    if base is None:
        return render_template("place-line.html", bases=bases)
    first = place_forms.proposed(proposal, base) if proposal else {}
    form = place_forms.prepared(place_forms.PlaceForm(data=first), base)
    numbers = [row.server_no for row in proposal.reports] if proposal else []
    return editing.sent(
        form,
        lambda session, now: service.enlist(
            session, base, place_forms.typed(form), who(), now, numbers, fit=fit_listed
        ),
        then=_to_page,
        again=lambda: _form(form, base, proposal=proposal),
    )


def _to_page(name: uuid.UUID) -> Answer:
    return redirect(url_for("places.one", place_id=name))


@blueprint.route("/desk/places/<uuid:place_id>/change", methods=["GET", "POST"])
@needs("publish")
def change(place_id: uuid.UUID) -> Answer:
    """Change a place. The second of two editors sees both; what was typed is kept."""
    place, bases = read(place_id)
    base = bases[place.line_key]
    first = {**place_forms.kept_fields(place, base), "version": place.rev}
    form = place_forms.prepared(place_forms.PlaceForm(data=first), base)

    def work(session: Session, now: datetime) -> None:
        rev, said = form.version.data or 0, place_forms.typed(form)
        service.change(session, bases, place_id, rev, said, who(), now, fit=fit_listed)

    def both() -> str:
        place, bases = read(place_id)
        base, mine = bases[place.line_key], place_forms.typed(form)
        kept = place_forms.kept_fields(place, base)
        theirs = editing.beside(form, kept, place.rev, base, mine)
        return _form(form, base, place, theirs=theirs)

    return editing.sent(
        form,
        work,
        then=lambda _none: _to_page(place_id),
        again=lambda: _form(form, base, place),
        stale=both,
    )


@blueprint.post("/desk/places/<uuid:place_id>/retire")
@needs("publish")
def retire(place_id: uuid.UUID) -> Answer:
    """Take a place off the list, with a reason."""
    form = place_forms.Retire()
    _, bases = read(place_id)
    return editing.sent(
        form,
        lambda session, now: service.retire(
            session,
            bases,
            place_id,
            form.version.data,
            form.reason.data.strip(),
            who(),
            now,
        ),
        then=lambda _none: _to_page(place_id),
        again=lambda: _page_of(place_id, form),
        stale=lambda: _page_of(place_id, trouble=CHANGED),
    )


@blueprint.route("/desk/places/<uuid:place_id>/treatments", methods=["GET", "POST"])
@needs("review")
def treated(place_id: uuid.UUID) -> Answer:
    """Note one treatment as it was told."""
    now = datetime.now(UTC)
    form = place_forms.TreatmentForm(
        data={"done_at": local(now.replace(second=0, microsecond=0))}
    )
    with reading() as session:
        place = _known(register.find(session, in_use.bases(session), place_id))
    if form.validate_on_submit():
        try:
            with writing() as session:
                treatments.note(session, place, form.told(), who(), now)
            return redirect(url_for("places.one", place_id=place_id))
        except treatments.StillToCome as error:
            form.done_at.errors = [str(error)]
    text = render_template("treatment-form.html", form=form, place=place)
    return text, 200 if request.method == "GET" else 422


@blueprint.route(
    "/desk/places/<uuid:place_id>/treatments/<uuid:treatment_id>/strike",
    methods=["GET", "POST"],
)
@needs("review")
def strike(place_id: uuid.UUID, treatment_id: uuid.UUID) -> Answer:
    """Take back a treatment that was told or typed wrongly; it stays in the log."""
    form = place_forms.StrikeForm()
    with reading() as session:
        place = _known(register.find(session, in_use.bases(session), place_id))
        log = treatments.of(session, place_id)
        session.expunge_all()
    standing = {one.row.id: one.row for one in log if one.struck is None}
    if treatment_id not in standing:
        return _page_of(place_id, trouble=STRUCK), 409
    if form.validate_on_submit():
        try:
            with writing() as session:
                now = datetime.now(UTC)
                treatments.strike(session, place, treatment_id, form.told(), who(), now)
        except treatments.NotThere:
            return _page_of(place_id, trouble=STRUCK), 409
        return redirect(url_for("places.one", place_id=place_id))
    row = standing[treatment_id]
    text = render_template("treatment-strike.html", form=form, place=place, row=row)
    return text, 200 if request.method == "GET" else 422


@blueprint.post("/desk/places/decline")
@needs("publish")
def decline() -> Answer:
    """Decline a proposal as it was read, with a reason."""
    form = place_forms.Decline()
    if not form.validate():
        faults = [f"{form[name].label.text}: {' '.join(e)}" for name, e in form.errors.items()]
        raise Problem(422, "bad_decline", f"{' '.join(faults)} Go back and send it again.")
    with writing() as session:
        bases = in_use.bases(session)
        proposal = _proposal(session, bases, str(form.proposal.data))
        if max(row.server_no for row in proposal.reports) != form.newest.data:
            raise _changed()
        said = form.reason.data.strip()
        service.decline(session, proposal, said, who(), datetime.now(UTC))
    return redirect(url_for("places.everyone", show="proposed"))


def _page_of(
    name: uuid.UUID, form: place_forms.Retire | None = None, trouble: str | None = None
) -> str:
    with reading() as session:
        bases = in_use.bases(session)
        place = _known(register.find(session, bases, name))
        log = treatments.of(session, name)
        live = [one.id for one in treatments.live_there(session, place)]
        session.expunge_all()
        history = words.history(audit.of(session, str(name)), bases.get(place.line_key))
    form = form or place_forms.Retire(formdata=None)
    return render_template(
        "place.html", place=place, history=history, lines=Lines(bases), trouble=trouble,
        form=form, served=place.line_key in bases, log=log, live=live, **_writers(bases),
    )  # fmt: skip


def _form(
    form: place_forms.PlaceForm, base: Base, place: register.Place | None = None, **more: Any
) -> str:
    return render_template(
        "place-form.html", form=form, base=base, place=place,
        written=how_to_type(str(base.distance_unit)),
        **{"theirs": None, "proposal": None, **more},
    )  # fmt: skip


def read(name: uuid.UUID) -> tuple[register.Place, dict[str, Base]]:
    with reading() as session:
        bases = in_use.bases(session)
        place = _known(register.find(session, bases, name))
    if place.line_key not in bases:
        raise Problem(409, "no_line", f"{place.line_key}: no pack of this line is in use.")
    return place, bases


def _known(place: register.Place | None) -> register.Place:
    if place is None:
        raise Problem(404, "no_such_place", "No such place. /desk/places lists them.")
    return place


def _rule() -> proposals_.Rule:
    return proposals_.Rule.of(current_app.config)


def _proposals(session: Any, bases: dict[str, Base]) -> list[proposals_.Proposal]:
    zone = current_app.config["DESK_ZONE"]
    return proposals_.found(session, bases, _rule(), datetime.now(UTC), zone)


def _proposal(session: Any, bases: dict[str, Base], wanted: str) -> proposals_.Proposal:
    """Return the proposal that holds the report with this number."""
    for proposal in _proposals(session, bases):
        if wanted in {str(row.server_no) for row in proposal.reports}:
            return proposal
    raise _changed()


def _changed() -> Problem:
    return Problem(
        409, "proposal_changed", "This proposal has changed. Open the proposed places again."
    )


def _cursor(text: str | None) -> register.Cursor | None:
    try:
        return None if text is None else register.Cursor.read(text)
    except ValueError as error:
        raise Problem(
            422, "bad_cursor", "This address is incomplete. Open /desk/places again."
        ) from error


def _writers(bases: dict[str, Base]) -> dict[str, Any]:
    """Return what the pages write places and seasons with."""

    def stretch(one: Any) -> str:
        line = getattr(one, "line_key", None) or one.line
        return stretch_along(one.from_m, one.to_m, unit_of(bases.get(line)))

    return {"stretch": stretch, "season": words.season, "stands": words.STANDS}
