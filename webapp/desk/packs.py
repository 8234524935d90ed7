"""The desk's pages of packs: what is in use and proposed, a comparison, history, builds."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any, NoReturn

from flask import Blueprint, Response, current_app, redirect, render_template, request, url_for
from flask_wtf import FlaskForm
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response as AnyResponse
from wtforms import StringField, TextAreaField

from webapp.desk.rooms import compared
from webapp.lines import in_use
from webapp.packs.compare import KINDS, TOP, Comparison
from webapp.plain.drawing import Picture
from webapp.publish import proposals, service
from webapp.publish.compare_picture import draw
from webapp.publish.compare_words import change_words
from webapp.publish.models import PackProposal
from webapp.publish.proposals import NoSuchProposal, NotPossible, Spell
from webapp.publish.service import LONGEST_REASON, NothingToWithdraw
from webapp.records.places import register as register_
from webapp.store.db import reading, writing
from webapp.web.access import needs, open_to_all, who
from webapp.web.forms import NEEDED, short, zone
from webapp.web.problem import Problem
from webapp.web.stored import DRAWING, REVALIDATE, answer, sheet, store

HERE = Path(__file__).parent
STYLE = sheet(DRAWING, HERE / "packs.css")
PROGRESS = store((HERE / "progress.js").read_bytes(), "text/javascript; charset=utf-8")
blueprint = Blueprint("pack_desk", __name__, template_folder="templates")
Answer = str | AnyResponse | tuple[str, int]
#: Stops on top that get a picture; every stop has its table.
PICTURES = 6


class ReasonForm(FlaskForm):  # type: ignore[misc]
    """Why: it goes into the audit and the hand-over."""

    reason = TextAreaField("Reason", [NEEDED, short(proposals.REASON_LONGEST)])


class WithdrawForm(FlaskForm):  # type: ignore[misc]
    """Why advice is taken back: drivers read it."""

    reason = StringField("Reason, as drivers read it", [NEEDED, short(LONGEST_REASON)])


@dataclass(frozen=True)
class Line:
    """One line in use or withdrawn, with what waits for it."""

    key: str
    name: str
    spell: Spell
    changes: dict[str, list[str]]
    can_build: bool

    @property
    def in_use(self) -> bool:
        return self.spell.until is None


@blueprint.get("/desk/packs")
@needs("look")
def everyone() -> str:
    """Show what each line's tablets are given, and what waits for somebody."""
    with reading() as session:
        return render_template(
            "packs.html",
            lines=_lines(session),
            waiting=proposals.open_ones(session),
            causes=proposals.CAUSES,
            at_work=proposals.AT_WORK,
        )


@blueprint.get("/desk/packs/packs.css")
@open_to_all
def style() -> Response:
    return answer(STYLE, REVALIDATE)


@blueprint.get("/desk/packs/progress.js")
@open_to_all
def progress() -> Response:
    return answer(PROGRESS, REVALIDATE)


@blueprint.get("/desk/packs/<route>")
@needs("look")
def history(route: str) -> str:
    """List every pack that a line ever had in use."""
    with reading() as session:
        return render_template("pack-history.html", **_history(session, route))


def _history(session: Session, route: str) -> dict[str, Any]:
    spells = proposals.history(session, route)
    if not spells:
        raise Problem(404, "no_such_line", "No pack of this line was ever in use.")
    name = in_use.base(session, spells[0].pack).name
    return {"route": route, "name": name, "spells": spells, "mine": proposals}


@blueprint.route("/desk/packs/<route>/build", methods=["GET", "POST"])
@needs("publish")
def build(route: str) -> Answer:
    """Ask for a build of a line from its last files and the register as it is now."""
    form = ReasonForm()
    if not form.validate_on_submit():
        return _asked(form, route, "Build and compare")
    try:
        with writing() as session:
            register = register_.entries(session, route)
            said = _reason(form)
            row = proposals.ask_build(session, route, register, who(), said, datetime.now(UTC))
            number = row.id
    except NotPossible as no:
        form.form_errors.append(str(no))
        return _asked(form, route, "Build and compare")
    current_app.extensions["start_builder"](current_app._get_current_object())  # type: ignore[attr-defined]
    return redirect(url_for("pack_desk.proposal", number=number))


@blueprint.route("/desk/packs/<route>/back/<pack>", methods=["GET", "POST"])
@needs("publish")
def back(route: str, pack: str) -> Answer:
    """Propose a pack that was in use before."""
    form = ReasonForm()
    if not form.validate_on_submit():
        return _asked(form, route, f"Put pack {pack[:8]} back")
    try:
        with writing() as session:
            now = datetime.now(UTC)
            number = proposals.put_back(session, route, pack, who(), _reason(form), now).id
    except NotPossible as no:
        form.form_errors.append(str(no))
        return _asked(form, route, f"Put pack {pack[:8]} back")
    return redirect(url_for("pack_desk.proposal", number=number))


@blueprint.route("/desk/packs/<route>/withdraw", methods=["GET", "POST"])
@needs("publish")
def withdraw(route: str) -> Answer:
    """Take advice back; one person is enough."""
    form, pack = WithdrawForm(), request.args.get("pack") or None
    action = f"Withdraw pack {pack[:8]}" if pack else "Withdraw all packs of this line"
    if not form.validate_on_submit():
        return _asked(form, route, action)
    try:
        with writing() as session:
            now, keys = datetime.now(UTC), current_app.extensions["depot_key"]
            service.ready(session, keys, now)
            service.withdraw(session, route, _reason(form), now, keys.load(), who(), pack)
    except NothingToWithdraw as no:
        form.form_errors.append(str(no))
        return _asked(form, route, action)
    return redirect(url_for("pack_desk.everyone"))


def _reason(form: FlaskForm) -> str:
    return " ".join(str(form.reason.data).split())


def _asked(form: FlaskForm, route: str, action: str) -> Answer:
    """Show the form that asks why before something is done to a line."""
    with reading() as session:
        text = render_template(
            "pack-reason.html", form=form, action=action, **_history(session, route)
        )
    return (text, 422) if form.is_submitted() else text


@blueprint.get("/desk/packs/proposals/<int:number>")
@needs("look")
def proposal(number: int) -> str:
    """Show what a proposal changes, worst first, and who may publish it."""
    return _shown(number, None)


def _shown(number: int, trouble: str | None) -> str:
    with reading() as session:
        row = _any(session, number)
        page: dict[str, Any] = {"row": row, "trouble": trouble, "causes": proposals.CAUSES}
        page |= {"at_work": proposals.AT_WORK, "drop": ReasonForm()}
        page |= {"found": None, "why": [], "me": who(), "stale": False, "room": None}
        if row.pack is not None:
            page |= _compared(session, row)
        return render_template("pack-proposal.html", **page)


def _compared(session: Session, row: PackProposal) -> dict[str, Any]:
    found = proposals.comparison(session, row, _today())
    unit = in_use.base(session, str(row.pack)).speed_words
    was_is = proposals.levels(session, row) if row.former else ("", "")
    return {
        "found": found,
        "room": compared(session, row.route, *was_is),
        "why": proposals.reasons(session, row, found) if row.state == "proposed" else [],
        "stale": row.state == "proposed"
        and row.former != proposals.last_pack(session, row.route),
        "kinds": KINDS,
        "words": lambda card: change_words(card, unit),
        "pictures": _pictures(session, row, found),
    }


def _pictures(
    session: Session, row: PackProposal, found: Comparison
) -> dict[tuple[str, str], Picture]:
    """Draw the worst card of the stops on top, old and new over each other."""
    if row.former is None:
        return {}
    on_top = [one for one in found.stops if one.kind in TOP][:PICTURES]
    drawn = {}
    for one in on_top:
        picture = draw(session, str(row.former), str(row.pack), one)
        if picture is not None:
            drawn[one.kind, one.key] = picture
    return drawn


@blueprint.post("/desk/packs/proposals/<int:number>/approve")
@needs("publish")
def approve(number: int) -> Answer:
    """Put a proposal in use."""

    def do(session: Session, now: datetime) -> None:
        keys = current_app.extensions["depot_key"]
        service.ready(session, keys, now)
        demo = bool(current_app.config["DEMO"])
        proposals.approve(session, number, who(), now, keys.load(), _today(), demo=demo)

    return _done(number, do)


@blueprint.post("/desk/packs/proposals/<int:number>/compare")
@needs("publish")
def compare_again(number: int) -> Answer:
    """Set an overtaken proposal against the pack in use now."""
    return _done(number, lambda session, _now: proposals.compare_again(session, number))


@blueprint.post("/desk/packs/proposals/<int:number>/drop")
@needs("publish")
def drop(number: int) -> Answer:
    """Decline a proposal, or take it back."""
    form = ReasonForm()
    if not form.validate():
        return _shown(number, "Say why it is dropped."), 422
    said = _reason(form)
    return _done(
        number, lambda session, now: proposals.drop(session, number, who(), said, now)
    )


@blueprint.post("/desk/packs/proposals/<int:number>/stop")
@needs("publish")
def stop(number: int) -> Answer:
    """Stop a build that waits or is at work."""
    return _done(number, lambda session, _now: proposals.stop(session, number))


@blueprint.post("/desk/packs/proposals/<int:number>/resume")
@needs("publish")
def resume(number: int) -> Answer:
    """Build again what was stopped or failed."""
    answered = _done(number, lambda session, _now: proposals.resume(session, number))
    current_app.extensions["start_builder"](current_app._get_current_object())  # type: ignore[attr-defined]
    return answered


def _done(number: int, do: Callable[[Session, datetime], None]) -> Answer:
    """Do one thing to a proposal; what cannot be done is said on its page."""
    try:
        with writing() as session:
            do(session, datetime.now(UTC))
    except NoSuchProposal as gone:
        return _shown(number, str(gone)), 409
    except NotPossible as no:
        return _shown(number, str(no)), 409
    return redirect(url_for("pack_desk.proposal", number=number))


def _any(session: Session, number: int) -> PackProposal:
    try:
        return proposals.any_of(session, number)
    except NoSuchProposal as none:
        _missing(none)


def _missing(none: NoSuchProposal) -> NoReturn:
    raise Problem(404, "no_such_proposal", str(none)) from none


def _lines(session: Session) -> list[Line]:
    index = service.current(session)
    bases = {str(one["key"]): in_use.base(session, str(one["pack"])) for one in index.routes}
    changes = register_.waiting(session, bases)
    names = {str(one["key"]): str(one["name"]) for one in index.routes}
    names |= {
        str(one["route"]): str(one["name"])
        for one in index.withdrawn
        if str(one["route"]) not in names
    }
    found = []
    for key, name in sorted(names.items(), key=lambda pair: pair[1]):
        spells = proposals.history(session, key)
        if spells:
            first = spells[0]
            found.append(Line(key, name, first, changes.get(key, {}), bool(first.source)))
    return found


def _today() -> date:
    return datetime.now(zone()).date()
