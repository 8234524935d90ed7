"""The desk's pages of warnings: draft, publish, amend, end; two desks; roles; hostile text."""

from __future__ import annotations

import re
import uuid
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import text

from tests.support.desk import account, desk_client, entered, form_token, submit
from tests.support.queries import counted
from tests.support.reports import item
from tests.support.small_pack import small_pack
from tests.support.warned import BASE, WHO, end, publish_line, typed, warn
from tests.webapp.warnings.test_receipts import hand_in, receipt, tablet_at
from webapp.desk import warning_forms
from webapp.lines import in_use
from webapp.lines.base import Base
from webapp.publish import service as publisher
from webapp.records.warnings import proposal, service
from webapp.store.db import db, reading, writing

NEW = "/desk/warnings/new"
HOSTILE = "<script>alert(1)</script>\u202eevil' OR 1=1 --"
Send = Callable[..., list[dict[str, Any]]]


def fields(**changes: Any) -> dict[str, Any]:
    now = datetime.now(UTC)
    return {
        "line": "larch-valley",
        "direction": "down",
        "from_place": "31m 20ch",
        "to_place": "32m 10ch",
        "state": "leaf",
        "adhesion": "",
        "reason": "leaf film at Harrowmere",
        "from_at": f"{now:%Y-%m-%dT%H:%M}",
        "review_at": "",
        "told_by": "signaller, Harrowmere",
        "told_at": "",
        "reference": "entry 12",
        **changes,
    }


@pytest.fixture
def line(app: Flask) -> Flask:
    publish_line(app)
    return app


def made(client: FlaskClient, action: str = "draft", **changes: Any) -> str:
    answer = submit(client, NEW, do=action, **fields(**changes))
    assert answer.status_code == 302, re.findall(r'class="fault"[^>]*>([^<]+)', answer.text)
    return str(answer.location)


def version(client: FlaskClient, path: str) -> str:
    found = re.search(r"<dt>Version</dt><dd>(\d+)</dd>", client.get(path).text)
    assert found
    return found[1]


def do(client: FlaskClient, path: str, action: str, **more: Any) -> Any:
    return submit(client, f"{path}/{action}", at=path, version=version(client, path), **more)


def feed(app: Flask) -> list[dict[str, Any]]:
    answer = app.test_client().get("/api/warnings?since=0").get_json()
    return list(answer["items"])


def test_a_draft_is_told_to_nobody_then_published_amended_and_each_step_is_in_the_audit(
    line: Flask,
) -> None:
    reviewer, publisher = desk_client(line, "review"), desk_client(line, "publish")
    path = made(reviewer)
    assert feed(line) == []
    page = reviewer.get(path).text
    assert "A draft. No tablet has it." in page and "Publish now" not in page
    assert do(publisher, path, "publish").status_code == 302
    assert [one["state"] for one in feed(line)] == ["leaf"]
    form = publisher.get(f"{path}/amend").text
    assert 'value="31 mi 20 ch"' in form and 'value="entry 12"' in form
    amended = fields(reason="leaf film, worse now", state="very-low", version="2")
    assert submit(publisher, f"{path}/amend", **amended).status_code == 302
    assert [(one["rev"], one["state"]) for one in feed(line)] == [(3, "very-low")]
    page = publisher.get(path).text
    actions = re.findall(r"<strong>(Drafted|Published|Amended)</strong> by (\w+)", page)
    assert actions == [("Amended", "publish"), ("Published", "publish"), ("Drafted", "review")]
    assert "reason: <del>leaf film at Harrowmere</del> <ins>leaf film, worse now</ins>" in page
    ends = feed(line)[0]
    with line.app_context(), reading() as session:
        kept = service.get(session, uuid.UUID(ends["id"]))
        assert (kept is not None and (kept.from_m, kept.to_m) == (50292.0, 51699.18)) or kept


def test_publish_at_once_is_for_who_may_publish(line: Flask) -> None:
    publisher = desk_client(line, "publish")
    made(publisher, "publish")
    assert len(feed(line)) == 1
    refused = submit(desk_client(line, "review"), NEW, do="publish", **fields())
    assert refused.status_code == 403 and "may draft a warning" in refused.text
    assert len(feed(line)) == 1


@pytest.mark.parametrize(
    ("typed_adhesion", "state"), [("0.05", "leaf"), ("0,04", "leaf"), ("0.001", "very-low")]
)
def test_a_typed_adhesion_becomes_the_next_worse_state_and_stays_in_the_audit(
    lone_app: Flask, typed_adhesion: str, state: str
) -> None:
    publish_line(lone_app)
    client = desk_client(lone_app)
    path = made(client, state="", adhesion=typed_adhesion)
    page = client.get(path).text
    assert f"<dd>{state}</dd>" in page
    assert f"typed adhesion: <ins>{float(typed_adhesion.replace(',', '.'))}</ins>" in page


def test_the_state_is_shown_with_what_it_plans_with(lone_app: Flask) -> None:
    publish_line(lone_app)
    assert "leaf (plans with 0.04)" in desk_client(lone_app).get(NEW).text


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"from_place": "12.5"}, "is no place on this line. Type miles and chains"),
        ({"from_place": "99m", "to_place": "98m"}, "no part of it is on Larch Valley"),
        ({"adhesion": "0.05"}, "give one of the two, not both"),
        ({"state": ""}, "give one of the two, not both and not neither"),
        ({"state": "", "adhesion": "much"}, "Send a number."),
        ({"reason": ""}, "Fill this in."),
        ({"told_by": ""}, "Fill this in."),
        ({"from_at": "today"}, "Type day and time"),
        (
            {"from_at": "2026-01-01T06:00", "review_at": "2025-01-01T06:00"},
            "not after from_at",
        ),
        ({"told_at": "2099-01-01T06:00"}, "still to come"),
        ({"reason": "x" * 201}, "At most 200 characters."),
        ({"reason": "a\0b"}, "NUL"),
        ({"direction": "sideways"}, "valid choice"),
    ],
)
def test_what_is_wrong_is_said_beside_its_field_and_nothing_typed_is_lost(
    lone_app: Flask, change: dict[str, str], said: str
) -> None:
    publish_line(lone_app)
    client = desk_client(lone_app)
    answer = submit(client, NEW, do="draft", **fields(told_by="Mrs Quarrel", **change)
                    if "told_by" not in change else fields(**change))  # fmt: skip
    assert answer.status_code == 422
    assert said in answer.text, re.findall(r'class="fault"[^>]*>([^<]+)', answer.text)
    if "told_by" not in change:
        assert 'value="Mrs Quarrel"' in answer.text
    with lone_app.app_context(), reading() as session:
        assert service.listed(session) == []


def test_two_desks_amend_one_warning_one_wins_and_the_other_loses_nothing(line: Flask) -> None:
    """R45: the second is told who was quicker, sees both values, and may then decide."""
    first = entered(line, account(line, "early", "publish"))
    second = entered(line, account(line, "late", "publish"))
    path = made(first, "publish")
    for client in (first, second):  # both have the form open at revision 2
        assert 'value="2"' in client.get(f"{path}/amend").text
    won = submit(first, f"{path}/amend", **fields(reason="theirs", state="damp", version="2"))
    assert won.status_code == 302
    mine = fields(reason="mine, long and typed with care", told_by="S. Fenn", version="2")
    told = submit(second, f"{path}/amend", **mine)
    assert told.status_code == 409
    assert "early amended this warning since you opened it" in told.text
    row = (
        r"<th scope=\"row\">Reason</th><td>theirs</td><td>mine, long and typed with care</td>"
    )
    assert re.search(row, told.text)
    assert re.search(r"<td>damp</td><td>leaf</td>", told.text)
    assert 'value="mine, long and typed with care"' in told.text
    assert 'value="S. Fenn"' in told.text
    assert [one["reason"] for one in feed(line)] == ["theirs"]
    # What he sends now he sends knowing both: the newest revision stands in his form.
    newest = re.search(r'name="version"[^>]*value="(\d+)"', told.text)
    assert newest and newest[1] == "3"
    again = submit(second, f"{path}/amend", **{**mine, "version": newest[1]})
    assert again.status_code == 302
    assert [(one["rev"], one["reason"]) for one in feed(line)] == [(4, mine["reason"])]


def test_amending_what_ended_meanwhile_is_told(line: Flask) -> None:
    client = desk_client(line)
    path = made(client, "publish")
    client.get(f"{path}/amend")
    with line.app_context(), writing() as session:
        service.end(session, uuid.UUID(path[-36:]), 2, "signaller", WHO, datetime.now(UTC))
    answer = submit(client, f"{path}/amend", **fields(reason="mine", version="2"))
    assert answer.status_code == 409 and "It has ended" in answer.text
    assert "mine" in answer.text and feed(line) == []


def test_publishing_a_draft_that_was_changed_meanwhile_is_told(line: Flask) -> None:
    client = desk_client(line)
    path = made(client)
    token = form_token(client, path)
    submit(client, f"{path}/amend", **fields(reason="another", version="1"))
    late = client.post(f"{path}/publish", data={"csrf_token": token, "version": "1"},
                       headers={"Accept": "text/html"})  # fmt: skip
    assert late.status_code == 409 and "Nothing was done. Look at it again." in late.text
    assert feed(line) == []


def test_amending_nothing_keeps_nothing(line: Flask) -> None:
    client = desk_client(line)
    path = made(client, "publish")
    page = client.get(f"{path}/amend").text
    since = re.search(r'name="from_at"[^>]*value="([^"]+)"', page)
    assert since
    answer = submit(client, f"{path}/amend", **fields(version="2", from_at=since[1]))
    assert answer.status_code == 422 and "Nothing was changed" in answer.text
    assert [one["rev"] for one in feed(line)] == [2]


def test_a_dropped_draft_is_over_and_no_tablet_ever_hears(line: Flask) -> None:
    client = desk_client(line, "review")
    path = made(client)
    assert do(client, path, "drop").status_code == 302
    assert "Ended" in client.get(path).text
    delta = line.test_client().get("/api/warnings?since=0").get_json()
    assert (delta["feed_no"], delta["items"]) == (0, [])


def test_a_reviewer_amends_drafts_but_no_published_warning(line: Flask) -> None:
    reviewer = desk_client(line, "review")
    path = made(reviewer)
    assert (
        submit(reviewer, f"{path}/amend", **fields(reason="b", version="1")).status_code == 302
    )
    do(desk_client(line), path, "publish")
    assert reviewer.get(f"{path}/amend").status_code == 403
    token = form_token(reviewer, NEW)
    sent = {**fields(reason="c", version="3"), "csrf_token": token}
    assert reviewer.post(f"{path}/amend", data=sent).status_code == 403
    assert [one["reason"] for one in feed(line)] == ["b"]


def test_no_form_counts_without_its_token(line: Flask) -> None:
    client = desk_client(line)
    path = made(client)
    for address in (NEW, f"{path}/amend", f"{path}/publish", f"{path}/drop"):
        answer = client.post(address, data={**fields(), "version": "1"})
        assert answer.status_code == 400 and answer.get_json()["code"] == "form_expired"
    assert feed(line) == []


def test_an_expired_review_asks_on_list_and_page_and_ends_nothing(line: Flask) -> None:
    now = datetime.now(UTC)
    past = (now - timedelta(minutes=5)).isoformat()
    begun = (now - timedelta(hours=2)).isoformat()
    warned = warn(line, now, from_at=begun, review_at=past)
    client = desk_client(line, "look")
    for path in ("/desk/warnings", "/desk/warnings?show=due", f"/desk/warnings/{warned.id}"):
        assert "Is it still in force? Ask the signaller:" in client.get(path).text
    assert len(feed(line)) == 1
    assert ">Due for review <strong>1<" in client.get("/desk/warnings").text


def test_a_report_proposes_and_the_page_says_so(line: Flask, send: Send) -> None:
    send(item(1, at_m=51234.5, rail_state="damp"))
    with line.app_context(), db.engine.connect() as connection:
        name = connection.execute(text("SELECT id FROM report")).scalar()
    report = uuid.UUID(str(name))
    client = desk_client(line, "review")
    page = client.get(f"{NEW}?report={report}").text
    assert 'name="from_place"' in page and 'value="31 mi 35 ch"' in page
    assert 'value="32 mi 00 ch"' in page
    assert re.search(r'<option selected value="leaf">', page), (
        "damp was planned, worse was met"
    )
    assert 'value="slide, leaves"' in page
    path = made(client, report=str(report))
    assert f"/desk/reports/{report}" in client.get(path).text
    assert client.get(f"{NEW}?report={uuid.uuid4()}").status_code == 404
    assert client.get(f"{NEW}?report=x").status_code == 422


@given(at=st.floats(10_000, 60_000))
@settings(max_examples=60)
def test_a_proposed_place_is_read_back_and_holds_the_report(at: float) -> None:
    from tests.support.warned import BASE
    from webapp.lines.posts import place_on_line

    report = {"at_m": at, "target": None, "direction": "down", "server_no": 1,
              "found": "reportable", "happened": [], "rail_state": None}  # fmt: skip
    first = proposal.from_report(Base(BASE), report)
    ends = [place_on_line(first[end], "mi-ch") for end in ("from_place", "to_place")]
    assert ends[0] is not None and ends[1] is not None
    assert ends[0] - 0.2 <= at <= ends[1] + 0.2


@pytest.mark.parametrize(
    ("words", "at", "ends"),
    [
        ("between Ostleford and Pellow Cross", None, ("5 mi 00 ch", "10 mi 00 ch")),
        ("zwischen Ostleford und Pellow Cross", None, ("5 mi 00 ch", "10 mi 00 ch")),
        ("between Ostleford and Pellow Cross", 12_000.0, ("7 mi 05 ch", "7 mi 50 ch")),
        ("between Ostleford and Pellow Cross", 16_000.0, ("9 mi 40 ch", "10 mi 00 ch")),
        (None, 16_300.0, ("9 mi 40 ch", "10 mi 00 ch")),  # past its mark: it slid before
        (None, 16_600.0, ("9 mi 75 ch", "10 mi 40 ch")),  # too far past for this stop
        ("at the bridge in Ostleford", None, ("9 mi 40 ch", "10 mi 00 ch")),
        (None, None, ("9 mi 40 ch", "10 mi 00 ch")),
    ],
)
def test_a_stretch_is_proposed_from_where_the_report_says_it_was(
    words: str | None, at: float | None, ends: tuple[str, str]
) -> None:
    """By its place along the line; else from station to station, as the words name them."""
    mile = 80 * 20.1168
    stations = [("Ostleford", 5 * mile), ("Pellow Cross", 10 * mile), ("Cross", 12 * mile)]
    base = {
        "route": {"key": "k", "distance_unit": "mi-ch"},
        "places": [{"key": name, "name": name, "at_m": at_m} for name, at_m in stations],
        "targets": [{"key": "p", "direction": "down", "mark_m": [10 * mile]}],
        "directions": [{"key": "down", "sign": 1}],
        "geometry": [(0, 0, 0.0), (1, 0, 20 * mile)],
        "states": [],
    }
    report = {"at_m": at, "target": "p", "direction": "down", "place": words,
              "found": "reportable", "happened": [], "rail_state": None}  # fmt: skip
    first = proposal.from_report(Base(base), report)
    assert (first["from_place"], first["to_place"]) == ends


@pytest.mark.parametrize(
    ("planned", "found", "happened", "step", "state"),
    [
        ("damp", "reportable", ["slide"], "2", "frost"),
        ("damp", "expected", ["slide"], "2", "damp"),
        ("damp", "reportable", ["overrun", "leaves"], "emergency", "leaf"),
        ("damp", "reportable", ["slide"], "emergency", "leaf"),
        (None, "reportable", ["overrun"], None, "leaf"),
        (None, "reportable", ["slide"], None, None),
        ("leaf", "reportable", ["overrun"], "emergency", "leaf"),
    ],
)
def test_the_state_proposed_is_no_milder_than_what_was_met(
    planned: str | None, found: str, happened: list[str], step: str | None, state: str | None
) -> None:
    keys = ("dry", "damp", "frost", "leaf", "very-low")
    base = {**BASE, "states": [{"key": key, "pickable": key != "very-low"} for key in keys],
            "targets": []}  # fmt: skip
    report = {"at_m": 20_000.0, "target": None, "direction": "down", "rail_state": planned,
              "found": found, "happened": happened, "step": step}  # fmt: skip
    assert proposal.from_report(Base(base), report)["state"] == state


@given(words=st.text(min_size=1, max_size=100).filter(lambda s: s.strip() and "\0" not in s))
@settings(
    max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None
)
def test_r60_hostile_text_stays_text(lone_app: Flask, words: str) -> None:
    with lone_app.app_context():
        publish_line(lone_app)
    warned = warn(lone_app, reason=HOSTILE, told_by=words[:120], reference=HOSTILE)
    client = desk_client(lone_app, "look")
    for path in ("/desk/warnings", f"/desk/warnings/{warned.id}"):
        page = client.get(path).text
        assert "<script>alert" not in page and "&lt;script&gt;alert(1)" in page


def test_lists_cost_the_same_for_one_and_for_many(line: Flask) -> None:
    """Queries a page, not a warning or a tablet."""
    client = desk_client(line, "look")
    warned = warn(line)
    tablet = tablet_at(line, "Harrowmere")
    hand_in(tablet, receipt((warned.id, 2)))
    pages = ("/desk/warnings", f"/desk/warnings/{warned.id}", "/desk/tablets")
    costs = []
    for _ in range(2):
        for path in pages:
            client.get(path)
        with counted(line) as seen:
            before, cost = 0, []
            for path in pages:
                assert client.get(path).status_code == 200
                cost.append(len(seen) - before)
                before = len(seen)
        costs.append(cost)
        for _n in range(12):
            hand_in(tablet_at(line, "Kettle Bay"), receipt((warn(line).id, 2)))
    assert costs[0] == costs[1]
    assert max(costs[0]) <= 21


def test_the_list_goes_on_page_by_page_and_skips_none(
    line: Flask, monkeypatch: pytest.MonkeyPatch
) -> None:
    from webapp.records.warnings import overview

    made_ids = {str(warn(line).id) for _ in range(7)}
    monkeypatch.setattr(overview.page, "__defaults__", (None, 3))
    client, path, seen, pages = desk_client(line, "look"), "/desk/warnings", [], 0
    while path:
        page = client.get(path).text
        seen += re.findall(r'<h2><a href="/desk/warnings/([0-9a-f-]{36})"', page)
        older = re.search(r'href="([^"]+)">Older warnings', page)
        path, pages = (older[1].replace("&amp;", "&") if older else ""), pages + 1
    assert (len(seen), set(seen), pages) == (7, made_ids, 3)


@pytest.mark.parametrize(
    "address",
    ["/desk/warnings?show=all", "/desk/warnings?before=x", "/desk/tablets?after=x",
     "/desk/tablets?warning=x", f"/desk/warnings/{uuid.UUID(int=404)}",
     f"/desk/tablets/{uuid.UUID(int=404)}", f"/desk/tablets?warning={uuid.UUID(int=404)}",
     "/desk/tablets?after=" + "[" * 3000],
)  # fmt: skip
def test_an_address_that_leads_nowhere_says_so(lone_app: Flask, address: str) -> None:
    answer = desk_client(lone_app, "look").get(address)
    assert answer.status_code in {404, 422}
    assert answer.get_json()["detail"]


def test_before_any_pack_the_form_says_what_is_missing(lone_app: Flask) -> None:
    answer = desk_client(lone_app, "review").get(NEW)
    assert answer.status_code == 409 and "Publish one first" in answer.get_json()["detail"]


def test_the_warned_and_the_not_yet_warned_are_told_while_it_lives(line: Flask) -> None:
    warned = warn(line)
    one = tablet_at(line, "Harrowmere", "tablet that has it")
    tablet_at(line, "Kettle Bay", "tablet that lacks it")
    hand_in(one, receipt((warned.id, 2), seen=((warned.id, 2),)))
    client, path = desk_client(line, "look"), f"/desk/warnings/{warned.id}"
    page = client.get(path).text
    said = "received by 1 of 2 tablets, shown at a Brief on 1, <strong>not yet warned: 1<"
    assert said in page and said in client.get("/desk/warnings").text
    assert "tablet that lacks it" in page and "tablet that has it" not in page
    lacking = client.get(f"/desk/tablets?warning={warned.id}").text
    assert ">tablet that lacks it<" in lacking and ">tablet that has it<" not in lacking
    end(line, warned)
    after = client.get(path).text
    assert said in after and "tablet that lacks it" not in after
    assert "Which tablets these were is not kept." in after
    assert client.get(f"/desk/tablets?warning={warned.id}").status_code == 404


def test_the_tablets_page_says_packs_warnings_and_when_heard(line: Flask) -> None:
    with line.app_context(), reading() as session:
        pack = in_use.packs(session)["larch-valley"]
    warned = warn(line)
    held = {"packs": [{"route": "larch-valley", "pack": pack}]}
    hand_in(tablet_at(line, "Harrowmere", "new"), receipt((warned.id, 2), **held))
    hand_in(tablet_at(line, "Harrowmere", "old"), receipt())
    tablet_at(line, "", "silent")
    client = desk_client(line, "review")
    rows = re.findall(r"<tr>.*?</tr>", client.get("/desk/tablets").text, re.S)
    by_name = {
        name: row for name in ("new", "old", "silent") for row in rows if f">{name}<" in row
    }
    assert "Larch Valley: current" in by_name["new"] and "1 of 1" in by_name["new"]
    assert "Larch Valley: <strong>older" in by_name["old"] and "0 of 1" in by_name["old"]
    assert "not said" in by_name["silent"] and "never" in by_name["silent"]
    address = re.search(r'href="(/desk/tablets/[0-9a-f-]{36})"', by_name["silent"])
    assert address
    submit(client, f"{address[1]}/base", at=address[1], base="Orrin Bridge")
    page = client.get(address[1]).text
    assert "<dd>Orrin Bridge</dd>" in page and "not yet" in page


def test_times_are_typed_in_the_desks_zone(make_app: Callable[..., Flask]) -> None:
    app = make_app(DESK_ZONE="Asia/Kolkata")
    publish_line(app)
    path = made(desk_client(app), "publish", from_at="2026-11-25T06:40")
    assert feed(app)[0]["from_at"] == "2026-11-25T01:10:00Z"
    assert 'value="2026-11-25T06:40"' in desk_client(app).get(f"{path}/amend").text
    assert warning_forms.number("0,05") == 0.05
    assert typed()["state"] == "leaf"


def test_a_drafts_page_says_what_it_changes_and_a_published_one_how_many_tablets_have_it(
    app: Flask,
) -> None:
    with app.app_context(), writing() as session:
        publisher.publish(session, small_pack(), datetime.now(UTC))
    client = desk_client(app, "publish")
    place = {"direction": "down", "from_place": "2m 00ch", "to_place": "2m 70ch"}
    worst = made(client, state="leaf", **place)
    page = client.get(worst).text
    before, _, after = page.partition(">Publish now</button>")
    assert "What it changes on the cards" in before and after
    assert re.search(r"<strong>Fern Mill[^<]* changes on \w+ of \w+ states\.</strong>", before)
    assert do(client, worst, "publish").status_code == 302
    page = client.get(worst).text
    assert re.search(r"<strong>Published: 0 of \d+ tablets have it\.</strong>", page)
    # The second says why it changes nothing: the first counts in both.
    mild = client.get(made(client, state="damp", **place)).text
    assert re.search(r"Fern Mill[^<]* is the same on all \w+ states: ", mild), mild
    assert "another warning here plans with Leaf film already" in mild
    away = client.get(made(client, state="leaf", **{**place, "direction": "up"})).text
    assert "What it changes on the cards" in away
