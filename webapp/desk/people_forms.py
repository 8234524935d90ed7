from __future__ import annotations

from flask_wtf import FlaskForm
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

from webapp.records.people.roles import LEVELS, WORDS
from webapp.web.forms import short

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
