"""How a form of the desk changes what is kept: to the revision that was read, or not at all.

Of two people who change the same thing, the second sees what the first kept beside what he
typed; nothing typed is lost, and nothing is written over unseen.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from typing import Any, TypeVar

from flask import request
from flask_wtf import FlaskForm
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response
from wtforms.fields.choices import SelectChoice

from webapp.lines.base import Base, name_of
from webapp.store.db import writing
from webapp.store.edits import Faults, NothingChanged, Stale
from webapp.web.forms import mark

Answer = str | Response | tuple[str, int]
Difference = tuple[str, str, str]
T = TypeVar("T")


def sent(
    form: FlaskForm,
    work: Callable[[Session, datetime], T],
    then: Callable[[T], Answer],
    again: Callable[[], str],
    stale: Callable[[], str] | None = None,
) -> Answer:
    """Do the work of a form that was sent, in one transaction, and go on with ``then``.

    ``again`` shows the form, empty or with every fault beside its field; ``stale`` answers
    when somebody changed the thing since it was read.
    """
    if not form.validate_on_submit():
        return again(), 200 if request.method == "GET" else 422
    try:
        with writing() as session:
            made = work(session, datetime.now(UTC))
    except Faults as found:
        mark(form, found.faults)
    except NothingChanged as same:
        form.form_errors.append(str(same))
    except Stale:
        if stale is None:
            raise
        return stale(), 409
    else:
        return then(made)
    return again(), 422


def beside(
    form: FlaskForm, kept: Mapping[str, Any], rev: int, base: Base, mine: Mapping[str, Any]
) -> list[Difference]:
    """Return label, what is kept now and what was typed, where the two differ.

    Sent again the form is meant: this revision was read beside it.
    """
    form["version"].raw_data, form["version"].data = None, rev
    return [
        (form[name].label.text, _words(name, now, base), _words(name, mine[name], base))
        for name, now in kept.items()
        if name != "line" and (now or mine[name]) and now != mine[name]
    ]


def _words(name: str, value: Any, base: Base) -> str:
    if isinstance(value, datetime):
        return value.strftime("%d %b %Y %H:%M")
    if name in ("state", "direction"):
        return name_of(base, f"{name}s", str(value or "")) or "not chosen"
    return str(value or "nothing")


def directions(base: Base) -> list[SelectChoice]:
    """Return the directions of a line as a form offers them."""
    return [SelectChoice(one.key, one.name or one.key) for one in base.directions]


def states(base: Base) -> list[SelectChoice]:
    """Return the rail states of a line as a form offers them, best first."""
    return [
        SelectChoice(one.key, f"{one.name or one.key} (plans with {one.plan:g})")
        for one in base.states
    ]
