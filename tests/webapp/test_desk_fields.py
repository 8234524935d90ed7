"""Fields of the desk's forms: nothing unseen for a name, no time that no clock showed."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from flask import Flask
from hypothesis import given
from hypothesis import strategies as st
from werkzeug.datastructures import MultiDict

from tests.support.desk import desk_client, submit
from tests.support.whole_desk import fill
from webapp.desk.control import Inspected
from webapp.desk.place_forms import TreatmentForm
from webapp.desk.warning_forms import EndForm
from webapp.web import forms as desk_fields

UNSEEN = ["   ", "\u200b", "\ufeff \u00a0", "\u202e\u200f", "\t\n"]


@pytest.fixture
def zone(lone_app: Flask) -> Flask:
    lone_app.config.update(DESK_ZONE="Europe/London", WTF_CSRF_ENABLED=False)
    return lone_app


@pytest.mark.parametrize("words", UNSEEN)
def test_who_told_it_is_not_told_by_what_nobody_sees(zone: Flask, words: str) -> None:
    with zone.test_request_context():
        typed = MultiDict({"told_by": words, "told_at": "2026-11-25T06:40", "version": "1"})
        form = EndForm(typed)
        assert not form.validate()
        assert form.told_by.errors == ["Fill this in."]
        assert form.told_by.data == words, "what was typed stays"


@given(st.text(st.characters(categories=["L", "M", "N", "P", "S"]), min_size=1, max_size=40))
def test_words_of_any_script_are_taken(words: str) -> None:
    app = Flask(__name__)
    app.config.update(SECRET_KEY="test", WTF_CSRF_ENABLED=False)
    with app.test_request_context():
        assert Inspected(MultiDict({"inspected_by": words, "result": words})).validate()


@pytest.mark.parametrize(
    ("typed", "fault"),
    [
        # Summer time in Britain began on 29 March 2026 at 01:00 and ended on 25 October at
        # 02:00 (Summer Time Act 1972 as amended 2002: last Sundays, 01:00 UTC).
        ("2026-03-29T00:59", None),
        ("2026-03-29T01:00", desk_fields.SKIPPED),
        ("2026-03-29T01:59", desk_fields.SKIPPED),
        ("2026-03-29T02:00", None),
        ("2026-10-25T01:30", None),
        ("0026-11-25T06:40", desk_fields.BAD_YEAR),
        ("0001-01-01T00:00", desk_fields.BAD_YEAR),
        ("9999-12-31T23:59", desk_fields.BAD_YEAR),
        ("2026-02-30T06:40", desk_fields.BAD_TIME),
    ],
)
def test_a_time_that_no_clock_showed_is_asked_for_again(
    zone: Flask, typed: str, fault: str | None
) -> None:
    with zone.test_request_context():
        said = {"means": "hand", "outcome": "done", "next_line": "no", "told_by": "track"}
        form = TreatmentForm(MultiDict({"done_at": typed, **said}))
        assert form.validate() is (fault is None)
        assert list(form.done_at.errors) == ([fault] if fault else [])
        assert typed in form.done_at(), "what was typed stays"


def test_of_the_two_at_the_end_of_summer_time_it_is_the_earlier_one(zone: Flask) -> None:
    with zone.test_request_context():
        form = TreatmentForm(MultiDict({"done_at": "2026-10-25T01:30"}))
        assert form.done_at.moment() == datetime(2026, 10, 25, 0, 30, tzinfo=UTC)


def test_what_the_clock_showed_ten_minutes_ago_is_not_seventy_minutes_ago(
    zone: Flask, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In the hour that comes twice, told in its second turn; and in its first."""
    for now, meant in ((1, 1), (0, 0)):
        monkeypatch.setattr(
            desk_fields, "_now", lambda now=now: datetime(2026, 10, 25, now, 50, tzinfo=UTC)
        )
        with zone.test_request_context():
            form = TreatmentForm(MultiDict({"done_at": "2026-10-25T01:40"}))
            assert form.done_at.moment() == datetime(2026, 10, 25, meant, 40, tzinfo=UTC)


def test_a_nul_is_refused_beside_its_field_on_every_form(app: Flask) -> None:
    """PostgreSQL cannot keep one: an answer of the database's would be "server error"."""
    depot = fill(app)
    client = desk_client(app)
    barred = {name: "words" for name in ("place", "trains", "reason", "decided_by")}
    wheels = {"inspected_by": "fleet", "result": "round"}
    forms = [
        ("/desk/barred", "/desk/barred", {**barred, "line_key": "larch-valley"}),
        (f"/desk/fleet/{depot.ids['report_id']}", "/desk/fleet", wheels),
        ("/desk/tablets", "/desk/tablets", {"label": "tablet 7", "base": "Kettle Bay"}),
    ]
    for path, at, fields in forms:
        for name in set(fields) - {"line_key"}:
            answer = submit(client, path, at=at, **{**fields, name: "a\0b"})
            assert answer.status_code == 422, (path, name)
            assert "Take out the NUL character." in answer.text, (path, name)
