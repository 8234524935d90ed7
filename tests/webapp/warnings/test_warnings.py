"""Warnings at the depot: what is typed, kept, changed and ended; R45, R62."""

from __future__ import annotations

import json
import uuid
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from flask import Flask
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError

from tests.support.warned import BASE, NOW, WHO, end, publish_line, typed, warn
from webapp.lines.base import Base, State
from webapp.lines.posts import place_on_line
from webapp.records.warnings import feed, service
from webapp.records.warnings.typed import fit, state_for_adhesion
from webapp.store import edits
from webapp.store.db import reading, writing

Rows = Callable[[str], list[tuple[Any, ...]]]


@pytest.fixture
def line(app: Flask) -> Flask:
    publish_line(app)
    return app


def test_a_warning_is_kept_with_its_revisions_and_an_audit_row_each(
    line: Flask, rows: Rows
) -> None:
    warned = warn(line)
    assert (warned.status, warned.rev, warned.feed_no) == ("published", 2, 1)
    assert (round(warned.from_m), round(warned.to_m)) == (50292, 51700)
    assert warned.datum == "Larch Quay"
    assert rows("SELECT rev, feed_no FROM warning_rev ORDER BY rev") == [(1, None), (2, 1)]
    assert rows("SELECT what, who FROM audit ORDER BY id") == [
        ("warning.draft", WHO),
        ("warning.publish", WHO),
    ]


def test_the_ends_may_be_typed_in_either_order(line: Flask) -> None:
    warned = warn(line, from_place="32m 10ch", to_place="31m 20ch")
    assert warned.from_m < warned.to_m


def test_ending_keeps_only_that_it_ended_and_who_said_so(line: Flask, rows: Rows) -> None:
    ended = end(line, warn(line))
    assert (ended.status, ended.feed_no) == ("ended", 2)
    body = rows("SELECT body FROM warning_rev WHERE feed_no = 2")[0][0]
    body = json.loads(body) if isinstance(body, str) else body
    assert set(body) == {"status", "line", "direction", "ended_at"}
    what, new = rows("SELECT what, new FROM audit ORDER BY id DESC LIMIT 1")[0]
    new = json.loads(new) if isinstance(new, str) else new
    assert (what, new["told_by"]) == ("warning.end", "the signaller")


def test_amending_changes_what_is_typed_and_nothing_else(line: Flask) -> None:
    warned = warn(line)
    with line.app_context(), writing() as session:
        changed = service.amend(
            session, warned.id, warned.rev, {"adhesion": 0.03}, WHO, NOW + timedelta(hours=1)
        )
        now = (changed.plan_state, changed.from_m, changed.reason, changed.from_at)
    assert now == ("very-low", warned.from_m, warned.reason, NOW)


def test_amending_one_end_alone_is_refused(line: Flask) -> None:
    warned = warn(line)
    with (
        line.app_context(),
        writing() as session,
        pytest.raises(edits.Faults) as refusal,
    ):
        service.amend(session, warned.id, warned.rev, {"from_place": "33m"}, WHO, NOW)
    assert "to_place" in refusal.value.faults[0]


def test_r45_two_desks_amend_one_warning_one_wins_and_one_is_told(
    line: Flask, rows: Rows
) -> None:
    warned = warn(line)
    for reason, wins in (("first", True), ("second", False)):
        with line.app_context():
            try:
                with writing() as session:
                    service.amend(session, warned.id, warned.rev, {"reason": reason}, WHO, NOW)
                assert wins
            except edits.Stale as refusal:
                assert not wins
                assert "revision 3 now, not 2" in str(refusal)
    assert rows("SELECT reason, rev FROM warning") == [("first", 3)]
    assert rows("SELECT count(*) FROM audit WHERE what = 'warning.amend'") == [(1,)]


def test_an_ended_warning_cannot_be_ended_again_or_amended(line: Flask) -> None:
    ended = end(line, warn(line))
    with line.app_context(), writing() as session:
        with pytest.raises(edits.Stale, match="ended already"):
            service.end(session, ended.id, ended.rev, "the signaller", WHO, NOW)
        with pytest.raises(edits.Stale, match="ended already"):
            service.amend(session, ended.id, ended.rev, {"reason": "x"}, WHO, NOW)
        with pytest.raises(service.NoSuchWarning):
            service.publish(session, uuid.uuid4(), 1, WHO, NOW)


def test_a_draft_that_is_ended_is_told_to_nobody(line: Flask, rows: Rows) -> None:
    with line.app_context(), writing() as session:
        made = service.draft(session, typed(), WHO, NOW, uuid.uuid4())
        service.end(session, made.id, made.rev, "typed by mistake", WHO, NOW)
    assert rows("SELECT n FROM warning_clock") == [(0,)]


def test_no_time_ends_a_warning(line: Flask) -> None:
    """Not even the hour at which somebody was to look at it again, long gone."""
    warn(line, review_at="2026-11-25T07:00:00Z")
    with line.app_context(), reading() as session:
        _, items = feed.whole(session)
        assert [item["status"] for item in items] == ["published"]
        assert len(service.listed(session)) == 1


@pytest.mark.parametrize(
    "change",
    ["UPDATE warning_rev SET rev = 9", "DELETE FROM warning_rev"],
)
def test_a_revision_cannot_be_changed_or_taken_away(line: Flask, change: str) -> None:
    warn(line)
    with (
        line.app_context(),
        pytest.raises(DBAPIError, match="append-only"),
        writing() as session,
    ):
        session.execute(text(change))


def test_an_action_that_fails_leaves_neither_number_nor_revision_nor_audit(
    line: Flask, rows: Rows, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(service.audit, "record", lambda *_: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        warn(line)
    for table in ("warning", "warning_rev", "audit"):
        assert rows(f"SELECT count(*) FROM {table}") == [(0,)]
    assert rows("SELECT n FROM warning_clock") == [(0,)]


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"line": "nowhere"}, "line: 'nowhere' is not known here. Type one of: larch-valley."),
        ({"direction": "left"}, "direction: 'left' is not known here. Type one of: down, up."),
        ({"state": "soup"}, "Type one of: dry, damp, leaf, very-low."),
        ({"state": None}, "give one of the two"),
        ({"adhesion": 0.05}, "give one of the two"),
        ({"state": None, "adhesion": 0}, "Type an adhesion above 0"),
        ({"state": None, "adhesion": 0.6}, "up to 0.5"),
        ({"from_place": "31m 80ch"}, "from_place: '31m 80ch' is no place on this line"),
        ({"to_place": "51.7"}, "miles and chains, like 31 mi 20 ch"),
        ({"to_place": None}, "to_place"),
        ({"from_place": "1m", "to_place": "2m"}, "no part of it is on Larch Valley"),
        ({"reason": ""}, "reason: Write at least one character"),
        ({"reason": "x" * 201}, "reason: Shorten this to at most 200"),
        ({"told_by": "a\0b"}, "told_by: Take out the NUL character."),
        ({"from_at": "yesterday"}, "from_at: Send an RFC 3339 time"),
        ({"from_at": "2026-12-25T06:40:00Z"}, "more than 7 days ahead"),
        ({"review_at": "2026-11-25T06:40:00Z"}, "review_at: not after from_at"),
        ({"colour": "red"}, "colour: This field is not known here"),
    ],
)
def test_what_is_wrong_is_named_with_its_cure(change: dict[str, Any], says: str) -> None:
    with pytest.raises(edits.Faults) as refusal:
        fit(typed(**change), {"larch-valley": Base(BASE)}, NOW)
    assert says in "\n".join(refusal.value.faults)


def test_all_faults_are_named_at_once() -> None:
    bad = typed(
        direction="left", state="soup", from_place="?", review_at="2026-01-01T00:00:00Z"
    )
    with pytest.raises(edits.Faults) as refusal:
        fit(bad, {"larch-valley": Base(BASE)}, NOW)
    assert len(refusal.value.faults) == 4


def test_places_are_read_as_they_are_posted() -> None:
    assert place_on_line("31m", "mi-ch") == 49889.66
    assert place_on_line("31m 20.5ch", "mi-ch") == pytest.approx(50302.06)
    assert place_on_line("12.345", "km") == 12345.0
    assert place_on_line("12,345", "km") == 12345.0
    assert place_on_line("31m", "km") is None


@given(
    plans=st.lists(st.integers(1, 500), min_size=1, max_size=8, unique=True),
    typed_mu=st.integers(1, 500),
)
def test_a_typed_adhesion_becomes_the_next_worse_state(
    plans: list[int], typed_mu: int
) -> None:
    chain = [State(str(plan), plan=plan / 1000) for plan in sorted(plans, reverse=True)]
    key = int(state_for_adhesion(chain, typed_mu / 1000))
    worse = [plan for plan in plans if plan <= typed_mu]
    assert key == (max(worse) if worse else min(plans))
