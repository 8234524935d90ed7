"""The rule of clearing, and the desk that mirrors what the signaller ended.

What is asked for comes from the project's OPERATIONS, section 6, numbers 1 and 3 (common
practice, no source): inspected, treated or 30 minutes since the latest reportable report,
then a controlled test stop that was not reportable; a dead-end platform only after treatment.
"""

from __future__ import annotations

import re
import uuid
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import text

from tests.support.desk import desk_client, submit
from tests.support.reports import CHANGE, batch, item
from tests.support.warned import BASE, publish_line, warn
from webapp.lines import in_use
from webapp.lines.base import Base, Target
from webapp.plain.config import SettingsError
from webapp.plain.fields import LATEST
from webapp.publish import service as publisher
from webapp.records.warnings import clearing, controlled_stop, steps
from webapp.records.warnings import service as warnings
from webapp.records.warnings.clearing import Rule, assess
from webapp.store.db import db, writing

OPENED = datetime(2026, 11, 25, 6, 40, tzinfo=UTC)
Send = Callable[..., list[dict[str, Any]]]
RULE = Rule()
ENTRY = {"told_by": "signaller, Harrowmere", "reference": "entry 19"}


@dataclass(frozen=True)
class Step:
    kind: str
    minute: int
    result: str | None = None

    @property
    def told_at(self) -> datetime:
        return at(self.minute)


def at(minute: int) -> datetime:
    return OPENED + timedelta(minutes=minute)


def missing(
    *steps: Step, end: int = 600, reported: tuple[int, ...] = (), buffers: bool = False,
    rule: Rule = RULE,
) -> int:  # fmt: skip
    found = assess(
        rule, OPENED, [at(n) for n in reported], steps, buffers=buffers, ended_at=at(end)
    )
    return len(found.missing)


def test_stop_found(minute: int, result: str = "good") -> Step:
    return Step("test stop", minute, result)


test_stop_found.__test__ = False  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("steps", "expected"),
    [
        ((), 1),  # 30 minutes are over when it ended, the test stop is missing
        ((test_stop_found(31),), 0),
        ((test_stop_found(29),), 1),  # asked for too early, and none since
        ((test_stop_found(31, "expected"),), 0),
        ((test_stop_found(31, "reportable"),), 1),
        ((Step("inspected", 5), test_stop_found(10)), 0),
        ((Step("treated", 5), test_stop_found(10)), 0),
        ((test_stop_found(10), Step("treated", 15)), 1),  # before, not after
        ((Step("inspected", 5), test_stop_found(10, "reportable")), 1),
        ((test_stop_found(31, "reportable"), test_stop_found(45)), 1),  # 30 minutes anew
        ((test_stop_found(31, "reportable"), test_stop_found(62)), 0),
        ((test_stop_found(31, "reportable"), Step("treated", 40), test_stop_found(45)), 0),
    ],
)
def test_the_rule_step_by_step(steps: tuple[Step, ...], expected: int) -> None:
    assert missing(*steps) == expected


def test_a_new_reportable_report_begins_all_of_it_again() -> None:
    done = (Step("treated", 5), test_stop_found(10))
    assert missing(*done) == 0
    assert missing(*done, reported=(20,), end=30) == 2
    assert missing(*done, test_stop_found(51), reported=(20,)) == 0


def test_a_dead_end_platform_only_after_treatment() -> None:
    assert missing(test_stop_found(90), buffers=True) == 2
    assert missing(Step("inspected", 5), test_stop_found(90), buffers=True) == 2
    assert missing(Step("treated", 5), test_stop_found(90), buffers=True) == 0
    assert missing(test_stop_found(90), Step("treated", 95), buffers=True) == 1
    found = assess(Rule(), OPENED, [], [], buffers=True, ended_at=at(90))
    assert found.asked_from is None, "no test stop may be asked for before"


def test_a_company_may_set_the_rule() -> None:
    assert missing(test_stop_found(16), rule=Rule(quiet=timedelta(minutes=15))) == 0
    assert missing(end=31, rule=Rule(test_stop=False)) == 0
    assert missing(end=29, rule=Rule(test_stop=False)) == 1
    lax = Rule(buffers_treated=False)
    assert missing(test_stop_found(31), buffers=True, rule=lax) == 0


def test_a_check_tells_when_it_was_met_or_will_be() -> None:
    def checks(*steps: Step, buffers: bool = False, end: int = 20) -> list[tuple[bool, Any]]:
        found = assess(RULE, OPENED, [], steps, buffers=buffers, ended_at=at(end))
        return [(check.met, check.at) for check in found.checks]

    assert checks() == [(False, at(30)), (False, at(30))]
    assert checks(end=30) == [(True, at(30)), (False, at(30))], "the minute itself counts"
    assert checks(Step("treated", 9), Step("inspected", 5)) == [(True, at(5)), (False, at(5))]
    tested = (Step("inspected", 5), test_stop_found(5), test_stop_found(8))
    assert checks(*tested) == [(True, at(5)), (True, at(8))], "a test stop of the same minute"
    assert checks(*tested[:2])[1] == (True, at(5)), "the same minute alone"
    assert checks(Step("treated", 9), Step("treated", 7), buffers=True)[1] == (True, at(7))
    assert checks(buffers=True)[1:] == [(False, None), (False, None)]
    assert checks(test_stop_found(45)) == [(True, at(30)), (True, at(45))], "told later"
    found = assess(RULE, OPENED, [], [Step("treated", 0)], buffers=False, ended_at=at(1))
    assert found.treated, "at the very opening"
    assert not assess(RULE, OPENED, [], [], buffers=False, ended_at=at(1)).treated


def test_the_last_years_of_a_clock_do_not_break_the_rule() -> None:
    for late in (LATEST, LATEST - RULE.quiet, LATEST - timedelta(minutes=1)):
        found = assess(RULE, late, [], [], buffers=False, ended_at=late)
        assert found.asked_from == LATEST


steps_strategy = st.lists(
    st.builds(
        Step,
        st.sampled_from(clearing.KINDS),
        st.integers(0, 300),
        st.sampled_from(clearing.RESULTS),
    ),
    max_size=6,
)


@given(steps=steps_strategy, reported=st.lists(st.integers(0, 300), max_size=3))
def test_nothing_counts_from_before_the_latest_reportable_report(
    steps: list[Step], reported: list[int]
) -> None:
    times = [at(n) for n in reported]
    found = assess(Rule(), OPENED, times, steps, buffers=False, ended_at=at(1000))
    late = [one for one in steps if one.told_at >= found.latest]
    again = assess(Rule(), OPENED, times, late, buffers=False, ended_at=at(1000))
    assert [check.met for check in found.checks] == [check.met for check in again.checks]
    assert all(found.latest >= time for time in times)


@given(steps=steps_strategy, buffers=st.booleans())
def test_with_buffers_never_less_is_asked_for(steps: list[Step], buffers: bool) -> None:
    counts = [
        len(assess(Rule(), OPENED, [], steps, buffers=b, ended_at=at(1000)).missing)
        for b in (False, True)
    ]
    assert counts[1] >= counts[0]


@pytest.mark.parametrize(
    ("name", "value"),
    [("CLEARING_MINUTES", "soon"), ("CLEARING_MINUTES", "0"), ("CLEARING_TEST_STOP", "yes"),
     ("CLEARING_BUFFERS_TREATED", "2")],
)  # fmt: skip
def test_a_setting_that_is_none_is_refused_by_name(
    make_app: Callable[..., Flask], name: str, value: str
) -> None:
    with pytest.raises(SettingsError, match=f"STEP_IN_HAND_{name}"):
        make_app(**{name: value})


# At the desk.


@pytest.fixture
def line(app: Flask) -> Flask:
    publish_line(app)
    return app


def opened(app: Flask, minutes: int) -> str:
    """A warning that was opened so many minutes ago; return its page."""
    begun = (datetime.now(UTC) - timedelta(minutes=minutes)).isoformat(timespec="seconds")
    return f"/desk/warnings/{warn(app, datetime.now(UTC), from_at=begun).id}"


def ago(minutes: int) -> str:
    return f"{datetime.now(UTC) - timedelta(minutes=minutes):%Y-%m-%dT%H:%M}"


def ago_utc(minutes: int) -> str:
    return (datetime.now(UTC) - timedelta(minutes=minutes)).isoformat()


def note(client: FlaskClient, path: str, kind: str, minutes: int, **more: Any) -> Any:
    told = {**ENTRY, "told_at": ago(minutes), "kind": kind, **more}
    return submit(client, f"{path}/steps", **told)


def end_form(client: FlaskClient, path: str, **more: Any) -> Any:
    return submit(
        client, f"{path}/end", **{**ENTRY, "told_at": ago(0), "version": "2", **more}
    )


def test_steps_are_noted_one_by_one_and_then_it_ends(line: Flask) -> None:
    reviewer, publisher = desk_client(line, "review"), desk_client(line)
    path = opened(line, 60)
    assert note(reviewer, path, "inspected", 20).status_code == 302
    assert "Missing:</strong> after that a controlled test stop" in reviewer.get(path).text
    assert note(reviewer, path, "test stop", 10, result="good").status_code == 302
    assert "Missing:" not in reviewer.get(path).text
    form = publisher.get(f"{path}/end").text
    assert "override" not in form
    assert end_form(publisher, path).status_code == 302
    page = publisher.get(path).text
    actions = re.findall(r"<strong>([A-Z][a-z ]+)</strong> by (\w+)", page)
    assert [action for action, _ in actions] == [
        *("Ended", "Clearing step noted", "Clearing step noted", "Published", "Drafted"),
    ]
    assert "test stop, good" in page and "reference of the end: <ins>entry 19</ins>" in page
    assert note(reviewer, path, "treated", 1).status_code == 409


def test_a_missing_step_is_asked_for_and_may_be_overridden_with_a_reason(line: Flask) -> None:
    client, path = desk_client(line), opened(line, 60)
    asked = end_form(client, path, told_by="S. Fenn")
    assert asked.status_code == 422
    assert "Something is missing above. Ask, or type why it ended without it." in asked.text
    assert 'value="S. Fenn"' in asked.text and 'value="entry 19"' in asked.text
    assert len(line.test_client().get("/api/warnings?since=0").get_json()["items"]) == 1
    why = "line closed for the night, <b>no train</b>"
    assert end_form(client, path, override=why).status_code == 302
    page = client.get(path).text
    assert "because: <ins>line closed for the night, &lt;b&gt;no train" in page
    assert "missing when it ended: <ins>after that a controlled test stop" in page


def test_it_is_asked_by_what_was_told_not_by_the_desks_clock(line: Flask) -> None:
    """Opened an hour ago, ended five minutes later as the signaller says: 30 are not gone."""
    client, path = desk_client(line), opened(line, 60)
    note(client, path, "test stop", 56, result="good")
    asked = end_form(client, path, told_at=ago(55))
    assert asked.status_code == 422
    assert asked.text.count("Missing:") == 2


def test_a_new_reportable_report_from_there_is_counted(line: Flask, send: Send) -> None:
    client, path = desk_client(line), opened(line, 60)
    note(client, path, "inspected", 30)
    note(client, path, "test stop", 20, result="good")
    assert "Missing:" not in client.get(path).text
    now = datetime.now(UTC).isoformat()
    send(item(1, at_m=99_000.0, target=None, observed_at=now))  # elsewhere
    send(item(2, at_m=51_000.0, target=None, observed_at=now, direction="up"))
    send(item(3, at_m=51_000.0, target=None, observed_at=now, found="expected"))
    assert "Missing:" not in client.get(path).text
    send(item(4, at_m=51_000.0, target=None, observed_at=now))
    assert client.get(path).text.count("Missing:") == 2


def test_no_number_of_others_makes_the_rule_forget_a_genuine_report(
    line: Flask, send: Send
) -> None:
    """Ten requests, whoever sends them, hid the one report that the rule is about."""
    client, path = desk_client(line), opened(line, 60)
    note(client, path, "inspected", 30)
    note(client, path, "test stop", 20, result="good")
    now = datetime.now(UTC).isoformat()
    send(item(1, at_m=51_000.0, target=None, observed_at=ago_utc(10)))
    assert client.get(path).text.count("Missing:") == 2
    elsewhere = [item(n, at_m=99_000.0, target=None, observed_at=now) for n in range(2, 552)]
    for first in range(0, len(elsewhere), 50):
        send(*elsewhere[first : first + 50])
    assert client.get(path).text.count("Missing:") == 2
    assert end_form(client, path).status_code == 422


def test_a_tablet_that_is_not_enrolled_neither_restarts_nor_hides(
    line: Flask, send: Send
) -> None:
    client, path = desk_client(line), opened(line, 60)
    note(client, path, "inspected", 30)
    note(client, path, "test stop", 20, result="good")
    now = datetime.now(UTC).isoformat()
    there = [item(n, at_m=51_000.0, target=None, observed_at=now) for n in range(1, 11)]
    line.test_client().post("/api/outbox", json=batch(*there), headers=CHANGE)
    assert "Missing:" not in client.get(path).text
    send(item(1, at_m=51_000.0, target=None, observed_at=ago_utc(10)))
    assert client.get(path).text.count("Missing:") == 2


def test_no_report_is_counted_from_later_than_it_came(line: Flask, send: Send) -> None:
    """A tablet's clock a year ahead would have held every warning of that place for a year."""
    path = opened(line, 60)
    send(item(1, at_m=51_000.0, target=None, observed_at=ago_utc(-60 * 24 * 365)))
    with line.app_context(), writing() as session:
        warned = warnings.get(session, uuid.UUID(path.rsplit("/", 1)[1]))
        assert warned is not None
        found, _ = steps.cleared(session, warned, RULE, datetime.now(UTC))
    assert found.latest <= datetime.now(UTC)


def test_it_can_be_ended_when_no_pack_of_its_line_is_in_use_any_more(
    line: Flask, send: Send
) -> None:
    """The pack was withdrawn: nothing can be typed by place, but the signaller's word counts.

    Which stops lie there is not known then, so the stricter rule asks.
    """
    client, path = desk_client(line), opened(line, 60)
    note(client, path, "inspected", 30)
    note(client, path, "test stop", 20, result="good")
    assert "Missing:" not in client.get(path).text
    keys = line.extensions["depot_key"].load()
    with line.app_context(), writing() as session:
        publisher.withdraw(
            session, "larch-valley", "wrong marks", datetime.now(UTC), keys, "x"
        )
    page = client.get(path).text
    assert "so the warning cannot be amended; it can be ended" in page
    assert 'href="/desk/warnings/' in page and f'{path}/amend"' not in page
    refused = client.get(f"{path}/amend", headers={"Accept": "text/html"})
    assert refused.status_code == 409
    assert "until then the warning can be ended, not amended" in refused.text
    assert note(client, path, "inspected", 10).status_code == 302
    asked = end_form(client, path)
    assert asked.status_code == 422 and "the rule asks as if it did" in asked.text
    assert "Missing:</strong> treated" in asked.text
    assert note(client, path, "treated", 9).status_code == 302
    assert note(client, path, "test stop", 8, result="good").status_code == 302
    assert end_form(client, path).status_code == 302
    assert "Ended" in client.get(path).text
    assert "No warning can be made: no pack" in client.get("/desk/warnings").text


def test_a_step_told_wrongly_is_taken_back_and_both_stay(line: Flask) -> None:
    client, path = desk_client(line, "review"), opened(line, 60)
    note(client, path, "treated", 30)
    found = re.search(r'action="([^"]+/strike)"', client.get(path).text)
    assert found
    more = {"told_at": ago(1), "told_by": "signaller", "note": "it was the other line"}
    assert submit(client, found[1], at=path, **more).status_code == 302
    page = client.get(path).text
    assert "No step has been noted." in page
    assert "Clearing step taken back" in page and "it was the other line" in page
    assert submit(client, found[1], at=path, **more).status_code == 409
    with line.app_context(), db.engine.connect() as connection:
        assert connection.execute(text("SELECT count(*) FROM clearing_step")).scalar() == 2


@pytest.mark.parametrize(
    "word", ["UPDATE clearing_step SET note = ''", "DELETE FROM clearing_step"]
)
def test_r62_a_step_can_neither_be_changed_nor_taken_away(line: Flask, word: str) -> None:
    note(desk_client(line, "review"), opened(line, 60), "treated", 30)
    with line.app_context(), pytest.raises(Exception, match="append-only"):
        with db.engine.begin() as connection:
            connection.execute(text(word))


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"kind": "test stop"}, "say what the test stop found"),
        ({"kind": "swept"}, "valid choice"),
        ({"kind": "treated", "told_by": ""}, "Fill this in."),
        ({"kind": "treated", "told_at": "2099-01-01T00:00"}, "still to come"),
        ({"kind": "treated", "told_at": ""}, "Fill this in."),
        ({"kind": "treated", "note": "a\0"}, "NUL"),
    ],
)
def test_a_step_that_is_none_is_said_beside_its_field(
    lone_app: Flask, more: dict[str, str], said: str
) -> None:
    publish_line(lone_app)
    client, path = desk_client(lone_app, "review"), opened(lone_app, 60)
    told = {**ENTRY, "told_at": ago(5), **more}
    answer = submit(client, f"{path}/steps", **told)
    assert answer.status_code == 422 and said in answer.text


def test_ending_what_was_amended_meanwhile_is_told(line: Flask) -> None:
    client, path = desk_client(line), opened(line, 60)
    answer = end_form(client, path, version="1", override="x")
    assert answer.status_code == 409 and "Nothing was ended." in answer.text


def test_roles_of_clearing(line: Flask) -> None:
    path = opened(line, 60)
    looker, reviewer = desk_client(line, "look"), desk_client(line, "review")
    assert looker.get(f"{path}/test-stop").status_code == 200
    assert looker.get(f"{path}/steps").status_code == 403
    assert reviewer.get(f"{path}/steps").status_code == 200
    assert reviewer.get(f"{path}/end").status_code == 403


# The test-stop view.

TABLE_COLUMNS = ("status", "brake", "seconds", "cover", "usual")
STATES = [row["key"] for row in BASE["states"]]


def stop(key: str, kind: str, mark: float) -> dict[str, Any]:
    return {
        **{"key": key, "kind": kind, "name": key.split("/")[0].title(), "direction": "down"},
        **{"platform": None, "mark_m": [mark], "limit_m": [mark + 20], "reach_m": [3000.0]},
        **{"listed": [], "landmarks": [0], "approach_speed": [60]},
    }


@pytest.fixture
def tabled(monkeypatch: pytest.MonkeyPatch, line: Flask) -> Flask:
    """A line with one stop and buffers; the brake point grows with the state's number."""
    base = {
        **BASE,
        "route": {**BASE["route"], "speed_unit": "mph", "mark_limit_m": 5000},
        "states": [{**row, "name": row["key"], "pickable": row["key"] != "very-low"}
                   for row in BASE["states"]],
        "targets": [stop("harrowmere/down", "stop", 51_000.0),
                    stop("larch/down", "buffers", 51_600.0)],
        "trains": [{"key": "four", "name": "Four cars", "steps": ["step 1", "step 2"]}],
        "landmarks": [{"words": "31 post", "at_m": 48_000.0}],
        "listed": [],
    }  # fmt: skip
    rows = range(len(STATES))
    cell = {
        "status": [[[[0]] for _ in rows] for _ in base["targets"]],
        "brake": [[[[500 + 100 * n]] for n in rows] for _ in base["targets"]],
        "seconds": [[[[3 * n]] for n in rows] for _ in base["targets"]],
        "cover": [[[[0]] for _ in rows] for _ in base["targets"]],
        "step": [[[n % 2] for n in rows] for _ in base["targets"]],
        "approach": [[[60] for _ in rows] for _ in base["targets"]],
        "speeds": [[[[[0, 40]]] for _ in rows] for _ in base["targets"]],
        **{name: [[[0] for _ in rows] for _ in base["targets"]]
           for name in ("run_in", "ease_at", "aim_short", "flags", "slick")},
    }  # fmt: skip
    table = {"knots": [60], "columns": {name: [column] for name, column in cell.items()}}
    monkeypatch.setattr(in_use, "bases", lambda _s: {"larch-valley": Base(base)})
    monkeypatch.setattr(in_use, "table", lambda _s, _pack: table)
    return line


def two(page: str, name: str) -> tuple[str, str]:
    """The two columns of one stop: without and with the warning."""
    part = page.split(f'aria-label="{name}"')[1].split("</section>")[0]
    without, warned = part.split("With it: as drivers are advised now")
    return without, warned


def test_the_test_stop_is_shown_without_the_warning_and_never_at_buffers(
    tabled: Flask,
) -> None:
    client, path = desk_client(tabled), opened(tabled, 60)
    page = client.get(f"{path}/test-stop?train=four&state=damp").text
    without, warned = two(page, "Harrowmere")
    assert "600 m before the mark; 3 s more" in without and "step 2" in without
    assert "700 m before the mark; 6 s more" in warned and "step 1" in warned
    assert "Begin before 31 post" in without and "Not above: 40 31 post (mph)" in warned
    without, warned = two(page, "Larch")
    assert controlled_stop.BUFFERS in without and "m before the mark" not in without
    assert "700 m before the mark" in warned
    note(client, path, "treated", 5)
    without, _ = two(client.get(f"{path}/test-stop?state=damp").text, "Larch")
    assert "600 m before the mark" in without


def test_another_warning_at_that_place_still_counts_in_the_test_stop(tabled: Flask) -> None:
    path = opened(tabled, 60)
    warn(tabled, datetime.now(UTC), state="damp", from_place="31m", to_place="32m")
    page = desk_client(tabled).get(f"{path}/test-stop?state=dry").text
    without, warned = two(page, "Harrowmere")
    assert "1 other warning lives here" in without
    assert "600 m before the mark" in without and "700 m before the mark" in warned


def test_the_worst_state_is_not_offered_as_conditions(tabled: Flask) -> None:
    page = desk_client(tabled).get(f"{opened(tabled, 60)}/test-stop?state=very-low").text
    assert 'value="very-low"' not in page
    assert "500 m before the mark" in two(page, "Harrowmere")[0]


def test_seasons_turn_over_the_new_year() -> None:
    season = {"from": "09-15", "to": "01-10"}
    base = Base({"listed": [{"key": "wood", "season": season}]})
    inside = Target("harrowmere/down", listed=("wood",))
    days = ("2026-09-14", "2026-09-15", "2026-12-31", "2027-01-10", "2027-01-11")
    found = [base.in_season(inside, day) for day in days]
    assert found == [False, True, True, True, False]
    assert not base.in_season(Target("beyond"), "2026-12-31")
    assert uuid.UUID(int=0)
