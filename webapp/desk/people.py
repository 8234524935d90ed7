from __future__ import annotations

import secrets
import uuid
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

from flask import Blueprint, current_app, redirect, render_template, request, url_for
from flask_login import current_user, login_user, logout_user
from flask_wtf import FlaskForm
from werkzeug.wrappers import Response
from wtforms import (
    BooleanField,
    HiddenField,
    IntegerField,
    PasswordField,
    RadioField,
    StringField,
)
from wtforms.fields.choices import SelectChoice
from wtforms.validators import InputRequired, Length

from webapp.records.people import service, setup_code
from webapp.records.people.roles import LEVELS, WORDS
from webapp.store import throttle
from webapp.store.db import reading, writing
from webapp.web import access
from webapp.web.access import needs, open_to_all, who
from webapp.web.forms import short
from webapp.web.problem import Problem, too_many

blueprint = Blueprint("people", __name__, template_folder="templates")
Page = str | Response | tuple[str, int] | tuple[str, int, dict[str, str]]


@blueprint.route("/desk/set-up", methods=["GET", "POST"])
@open_to_all
def set_up() -> Page:
    """Make the first account with the code from the server's terminal."""
    with reading() as session:
        if not service.nobody_yet(session):
            return redirect(url_for("people.log_in"))
    form = SetUp()
    if not form.validate_on_submit():
        return render_template("set-up.html", form=form)
    if form.again.data != form.password.data:
        return _faulty("set-up.html", form, "again", "The two passwords differ.")
    if not _code_fits(form.code.data):
        return _faulty("set-up.html", form, "code", "This is not the code of this server.")
    wanted = service.Wanted(form.login.data, "publish", True)
    return _made_first(form, wanted)


@blueprint.route("/desk/log-in", methods=["GET", "POST"])
@open_to_all
def log_in() -> Page:
    """Let a person in; the same words whether login or password was wrong."""
    with reading() as session:
        if service.nobody_yet(session):
            return redirect(url_for("people.set_up"))
    form = LogIn(next=request.args.get("next", ""))
    if not form.validate_on_submit():
        return render_template("log-in.html", form=form)
    address, now = request.remote_addr or "", datetime.now(UTC)
    try:
        with writing() as session:
            service.check_tries(session, form.login.data, address, now)
        with reading() as session:
            tried = service.compared(session, form.login.data, form.password.data, address)
    except service.Throttled as error:
        form.form_errors.append(str(error))
        return (
            render_template("log-in.html", form=form),
            429,
            {"Retry-After": str(error.seconds)},
        )
    with writing() as session:
        token = service.let_in(session, tried, now)
    if token is None:
        form.form_errors.append("Login and password do not belong together.")
        return render_template("log-in.html", form=form), 401
    return _entered(token, form.next.data)


@blueprint.post("/desk/log-out")
@needs("self")
def log_out() -> Response:
    with writing() as session:
        service.log_out(session, current_user.token, who(), datetime.now(UTC))
    logout_user()
    return redirect(url_for("people.log_in"))


@blueprint.route("/desk/password", methods=["GET", "POST"])
@needs("self")
def own_password() -> Page:
    """Change one's own password; every log-in of the account ends, then this one opens."""
    form = OwnPassword()
    if not form.validate_on_submit():
        return render_template("password.html", form=form)
    fault = _own_fault(form)
    if fault is not None:
        return fault
    person, name, password = access.me().person_id, who(), form.password.data
    return _done(
        "password.html",
        form,
        lambda s, now: service.set_password(s, person, password, name, now, own=True),
        "people.log_in",
    )


@blueprint.get("/desk/people")
@needs("people")
def everyone() -> str:
    with reading() as session:
        people = service.everyone(session)
    return render_template("people.html", people=people, form=NewPerson())


@blueprint.post("/desk/people")
@needs("people")
def make() -> Page:
    """Make an account with a password shown once, to be changed at the first log-in."""
    form = NewPerson()
    password = secrets.token_urlsafe(12)
    if form.validate():
        wanted = service.Wanted(form.login.data, form.role.data, form.manages_people.data)
        try:
            with writing() as session:
                service.make(session, wanted, password, who(), datetime.now(UTC), own=False)
            return render_template("password-once.html", login=wanted.login, password=password)
        except service.Refused as error:
            _mark(form, error)
    with reading() as session:
        people = service.everyone(session)
    return render_template("people.html", people=people, form=form), 422


@blueprint.route("/desk/people/<uuid:person_id>", methods=["GET", "POST"])
@needs("people")
def one(person_id: uuid.UUID) -> Page:
    """Show one account; POST changes its rights."""
    person = _known(person_id)
    form = Rights(obj=person)
    if not form.validate_on_submit():
        return render_template("person.html", person=person, form=form)
    wanted = service.Wanted(person.login, form.role.data, form.manages_people.data)
    return _done(
        "person.html",
        form,
        lambda s, now: service.change(s, person_id, wanted, form.version.data, who(), now),
        "people.everyone",
        person=person,
    )


@blueprint.post("/desk/people/<uuid:person_id>/<any(disable, enable):action>")
@needs("people")
def switch(person_id: uuid.UUID, action: str) -> Page:
    """Shut an account, or open it again."""
    form, person = Version(), _known(person_id)
    work = service.disable if action == "disable" else service.enable
    if not form.validate():
        raise Problem(
            400, "form_incomplete", "Load the page again and press the button there."
        )
    return _done(
        "person.html",
        Rights(obj=person),
        lambda s, now: work(s, person_id, form.version.data, who(), now),
        "people.everyone",
        person=person,
    )


@blueprint.post("/desk/people/<uuid:person_id>/password")
@needs("people")
def new_password(person_id: uuid.UUID) -> Page:
    """Give an account a password shown once; its log-ins end."""
    person, password = _known(person_id), secrets.token_urlsafe(12)
    with writing() as session:
        service.set_password(session, person_id, password, who(), datetime.now(UTC), own=False)
    return render_template("password-once.html", login=person.login, password=password)


def _known(person_id: uuid.UUID) -> service.Account:
    with reading() as session:
        person = service.account(session, person_id)
    if person is None:
        raise Problem(
            404, "no_such_person", "There is no such account. Go back to the people."
        )
    return person


def _done(
    template: str,
    form: FlaskForm,
    work: Callable[[Any, datetime], None],
    then: str,
    **more: Any,
) -> Page:
    """Do it in one transaction and go on; a refusal shows the page as it was typed."""
    try:
        with writing() as session:
            work(session, datetime.now(UTC))
    except service.Refused as error:
        _mark(form, error)
        return render_template(template, form=form, **more), 422
    return redirect(url_for(then))


def _own_fault(form: OwnPassword) -> Page | None:
    """Answer what is wrong with a change of one's own password; None if nothing is."""
    try:
        with writing() as session:
            service.check_own_tries(session, access.me().person_id, datetime.now(UTC))
    except service.Throttled as error:
        form.form_errors.append(str(error))
        page = render_template("password.html", form=form)
        return page, 429, {"Retry-After": str(error.seconds)}
    with reading() as session:
        known = service.own_password_fits(session, access.me().person_id, form.old.data)
    if not known:
        return _faulty("password.html", form, "old", "This is not your present password.")
    if form.again.data != form.password.data:
        return _faulty("password.html", form, "again", "The two passwords differ.")
    if form.old.data == form.password.data:
        sentence = "This is your present password. Choose another."
        return _faulty("password.html", form, "password", sentence)
    return None


def _faulty(template: str, form: FlaskForm, field: str, sentence: str) -> Page:
    form[field].errors = [sentence]
    return render_template(template, form=form), 422


def _mark(form: FlaskForm, error: service.Refused) -> None:
    if error.field in form:
        form[error.field].errors = [str(error)]
    else:
        form.form_errors.append(str(error))


def _code_fits(typed: str) -> bool:
    """Compare the set-up code, at most five tries a minute from anywhere."""
    now = datetime.now(UTC)
    with writing() as session:
        too_many(throttle.tried(session, throttle.SET_UP, "", now))
    fits = setup_code.fits(current_app.config["DATA"], typed)
    if fits:
        with writing() as session:
            throttle.passed(session, throttle.SET_UP, "")
    return fits


def _made_first(form: SetUp, wanted: service.Wanted) -> Page:
    try:
        with writing() as session:
            if service.nobody_yet(session):
                name = wanted.login.strip().lower()
                now = datetime.now(UTC)
                service.make(session, wanted, form.password.data, name, now, own=True)
    except service.Refused as error:
        _mark(form, error)
        return render_template("set-up.html", form=form), 422
    setup_code.used(current_app.config["DATA"])
    return redirect(url_for("people.log_in"))


def _entered(token: str, wanted: str | None) -> Response:
    user = access.load(token)
    login_user(user)
    return redirect(wanted if wanted and _is_inside(wanted) else url_for("desk.front"))


def _is_inside(wanted: str) -> bool:
    """Whether it is a desk page of this server, written as an address is: no line break."""
    return wanted.startswith("/desk/") and "\\" not in wanted and wanted.isprintable()


NEEDED = InputRequired("Fill this in.")
CHOICES = [SelectChoice(level, WORDS[level]) for level in LEVELS]


class LogIn(FlaskForm):  # type: ignore[misc]
    login = StringField("Login", [NEEDED, short(200)])
    password = PasswordField("Password", [NEEDED, Length(max=1000)])
    next = HiddenField()


class SetUp(FlaskForm):  # type: ignore[misc]
    code = StringField("Set-up code, shown where the server was started", [NEEDED])
    login = StringField("Login", [NEEDED, Length(max=200)])
    password = PasswordField("Password", [NEEDED, Length(max=1000)])
    again = PasswordField("Password again", [NEEDED, Length(max=1000)])


class NewPerson(FlaskForm):  # type: ignore[misc]
    login = StringField("Login", [NEEDED, Length(max=200)])
    role = RadioField("May", choices=CHOICES, default="look")
    manages_people = BooleanField("Manages people too")


class Rights(FlaskForm):  # type: ignore[misc]
    role = RadioField("May", choices=CHOICES)
    manages_people = BooleanField("Manages people too")
    version = IntegerField(validators=[NEEDED])


class Version(FlaskForm):  # type: ignore[misc]
    version = IntegerField(validators=[NEEDED])


class OwnPassword(FlaskForm):  # type: ignore[misc]
    old = PasswordField("Present password", [NEEDED, Length(max=1000)])
    password = PasswordField("New password", [NEEDED, Length(max=1000)])
    again = PasswordField("New password again", [NEEDED, Length(max=1000)])
