"""The register of listed places: over the files, proposed by reports, in the next pack."""

from __future__ import annotations

import re
import uuid
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from sqlalchemy import select, text

from tests.support.desk import desk_client, submit
from tests.support.fake_pack import FakePack, file
from tests.support.queries import counted
from tests.support.reports import CHANGE, batch, item
from tests.support.warned import BASE, warn
from webapp.commands import prepare
from webapp.lines import in_use
from webapp.packs.faults import RouteFaults
from webapp.packs.read import read_route
from webapp.packs.register import fit_listed
from webapp.packs.service import demo_routes
from webapp.plain import config
from webapp.publish import service as publisher
from webapp.records.places import proposals as proposals_
from webapp.records.places import register as register_
from webapp.records.places import service
from webapp.records.places.register import place_id
from webapp.records.reports import actions
from webapp.records.reports.models import Report
from webapp.records.warnings import service as warnings
from webapp.store.db import reading, writing

NOW = datetime.now(UTC)
WOOD = {
    **{"key": "larch-wood", "name": "Larch Wood", "from_m": 30000.0, "to_m": 31000.0},
    **{"directions": ["down"], "state": "leaf", "season": {"from": "10-01", "to": "12-13"}},
    **{"reason": "trees close on both sides", "source": "the owner's list, sheet 4"},
}
TYPED = {
    **{"name": "Mill stream", "direction": "down", "from_place": "25m 00ch"},
    **{"to_place": "25m 40ch", "state": "damp", "season_from": "", "season_to": ""},
    **{"reason": "mist from the stream", "source": "this depot, letter 7"},
}


def line_pack(*listed: Any, route: str = "larch-valley") -> FakePack:
    head = {**BASE["route"], "key": route}
    base = file("base", {**BASE, "route": head, "listed": list(listed)})
    entry = {"kind": "base", "sha256": base.sha256}
    manifest = file("manifest", {"route": route, "files": [entry]})
    return FakePack(route, "Larch Valley", manifest.sha256, (manifest, base))


def publish(app: Flask, *listed: Any) -> None:
    with app.app_context(), writing() as session:
        publisher.publish(session, line_pack(*listed), NOW)


@pytest.fixture
def line(app: Flask) -> Flask:
    publish(app, WOOD)
    return app


def words(client: FlaskClient, path: str) -> str:
    answer = client.get(path)
    assert answer.status_code == 200, answer.text
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.text))


def enlist(client: FlaskClient, **changes: Any) -> Any:
    fields = {"line": "larch-valley", **TYPED, **changes}
    return submit(
        client, "/desk/places/new", at="/desk/places/new?line=larch-valley", **fields
    )


def entries(app: Flask) -> list[dict[str, Any]]:
    with app.app_context(), reading() as session:
        return register_.entries(session, "larch-valley")


def test_what_the_files_list_is_shown_with_its_source_and_nothing_is_kept(line: Flask) -> None:
    shown = words(desk_client(line, "look"), "/desk/places")
    for said in ("Larch Wood", "the owner's list, sheet 4", "1 Oct to 13 Dec", "Listed"):
        assert said in shown.replace("&#39;", "'"), said
    assert "tablets do not have all of this" not in shown
    assert entries(line) == []


def test_a_place_is_listed_changed_and_retired_and_every_step_stays(line: Flask) -> None:
    client = desk_client(line)
    made = enlist(client)
    assert made.status_code == 302, made.text
    page = made.headers["Location"]
    assert "Not on tablets yet" in words(client, page)
    (entry,) = entries(line)
    assert entry["key"] == "mill-stream"
    assert (entry["from_m"], entry["to_m"]) == (40233.6, 41038.27)
    changed = submit(
        client, f"{page}/change", **{**TYPED, "state": "leaf"}, version=1, line="larch-valley"
    )
    assert changed.status_code == 302, changed.text
    gone = submit(client, f"{page}/retire", at=page, version=2, reason="stream was covered")
    assert gone.status_code == 302, gone.text
    assert entries(line)[0]["retired"] is True
    shown = words(client, page)
    for said in ("Listed by publish", "Changed by publish", "Retired by publish"):
        assert said in shown, said
    assert "stream was covered" in words(client, "/desk/places?show=retired")
    assert "Mill stream" not in words(client, "/desk/places")


def test_the_audit_of_a_place_is_append_only(line: Flask) -> None:
    enlist(desk_client(line))
    with (
        line.app_context(),
        pytest.raises(Exception, match="append-only"),
        writing() as session,
    ):
        session.execute(text("UPDATE audit SET who = 'x' WHERE what = 'place.listed'"))


def test_a_place_of_the_files_is_changed_by_a_row_over_it(line: Flask) -> None:
    client, page = desk_client(line), f"/desk/places/{place_id('larch-valley', 'larch-wood')}"
    form = client.get(f"{page}/change").text
    first = dict(
        re.findall(r'<input[^>]*name="(\w+)"[^>]*type="text"[^>]*value="([^"]*)"', form)
    )
    assert "18 mi" in form, first
    fields = {**TYPED, "name": "Larch Wood", "from_place": "18m 50ch", "to_place": "19m 20ch"}
    answer = submit(client, f"{page}/change", **fields, version=0, line="larch-valley")
    assert answer.status_code == 302, answer.text
    assert [one["key"] for one in entries(line)] == ["larch-wood"]
    shown = words(client, "/desk/places")
    assert "Tablets have it as it was before" in shown
    assert shown.count("Larch Wood") == 2  # once in the list, once in what waits
    assert "the owner&#39;s list, sheet 4" in client.get(page).text  # its history knows


def test_two_desks_change_one_place_one_wins_and_the_other_loses_nothing(line: Flask) -> None:
    client, page = desk_client(line), f"/desk/places/{place_id('larch-valley', 'larch-wood')}"
    fields = {**TYPED, "version": 0, "line": "larch-valley"}
    assert submit(client, f"{page}/change", **fields).status_code == 302
    late = submit(client, f"{page}/change", **{**fields, "reason": "typed by the second"})
    assert late.status_code == 409
    assert "typed by the second" in late.text and "mist from the stream" in late.text
    retire = submit(client, f"{page}/retire", at=page, version=0, reason="x")
    assert retire.status_code == 409 and "Nothing was done" in retire.text
    same = submit(client, f"{page}/change", **{**fields, "version": 1})
    assert same.status_code == 422 and "Nothing was changed" in same.text


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        ("from_place", "31 miles", "is not miles and chains"),
        ("to_place", "99m 00ch", "is off the line"),
        ("to_place", "24m 00ch", "is reversed"),
        ("season_from", "31-10", "is not a day"),
        ("season_from", "10-01", "half a season"),
        ("name", "", "Fill this in."),
        ("name", "two\u202elines", "unseen character"),
        ("reason", "x\0y", "NUL"),
    ],
)
def test_a_bad_field_is_named_and_nothing_is_kept(
    line: Flask, field: str, typed: str, said: str
) -> None:
    answer = enlist(desk_client(line), **{field: typed})
    assert answer.status_code == 422
    assert said in answer.text and "this depot, letter 7" in answer.text
    assert entries(line) == []


def reported(app: Flask, days: list[int], at_m: float = 45000.0, **changes: Any) -> None:
    """One report for each number of days ago."""
    client = app.test_client()
    client.get("/")
    client.set_cookie("sih-tablet", client.get_cookie("sih-tablet").value)  # type: ignore[union-attr]
    rows = [
        item(n, at_m=at_m + 100 * n, **changes) | {"observed_at": _ago(day)}
        for n, day in enumerate(days, 1)
    ]
    sent = batch(*rows, install_id=str(uuid.uuid4()))
    answer = client.post("/api/outbox", json=sent, headers=CHANGE)
    assert {one["result"] for one in answer.get_json()["results"]} == {"created"}


def _ago(days: int) -> str:
    return (NOW - timedelta(days=days)).isoformat()


def proposals(app: Flask, now: datetime | None = None) -> list[proposals_.Proposal]:
    with app.app_context(), reading() as session:
        bases = in_use.bases(session)
        return proposals_.found(
            session, bases, proposals_.Rule(), now or datetime.now(UTC), "UTC"
        )


def test_repeated_reports_propose_a_place_with_how_many_and_how_sure(line: Flask) -> None:
    reported(line, [20, 9, 1])
    reported(line, [3], found="good")
    reported(line, [2, 1], at_m=20000.0)  # two are too few
    (one,) = proposals(line)
    assert (len(one.reports), len(one.days), one.better) == (3, 3, 1)
    assert one.from_m <= 44900 < one.from_m + 101 and one.to_m - 101 < 45500 <= one.to_m
    assert one.sure.startswith("Rather sure")
    shown = words(desk_client(line, "look"), "/desk/places?show=proposed")
    assert "3 reportable reports on 3 days" in shown and "1 report said good" in shown
    assert "no. 1 , no. 2 , no. 3" in shown or "no. 1" in shown


def join(app: Flask, number: int, main: int) -> None:
    """Say at the desk that two reports are of one event."""
    with app.app_context(), writing() as session:
        query = select(Report.id, Report.version).where(Report.server_no == number)
        name, version = session.execute(query).one()
        actions.join(session, name, version, main, "a test", NOW)


def test_reports_joined_to_one_propose_once(line: Flask) -> None:
    """Two trains in one slide are one event; only a third event makes it a place."""
    reported(line, [20, 9, 9])
    assert [len(one.reports) for one in proposals(line)] == [3]
    join(line, 3, 2)
    assert proposals(line) == []
    reported(line, [3, 3], found="good")
    reported(line, [1])
    join(line, 5, 4)
    (one,) = proposals(line)
    assert sorted(met.server_no for met in one.reports) == [1, 2, 6] and one.better == 1


def test_one_day_is_called_not_sure(line: Flask) -> None:
    reported(line, [1, 1, 1])
    (one,) = proposals(line)
    assert len(one.days) == 1 and one.sure.startswith("Not sure")


def test_at_a_place_listed_as_the_worst_that_can_be_planned_with_nothing_is_proposed(
    line: Flask,
) -> None:
    reported(line, [3, 2, 1], at_m=30300.0)
    assert proposals(line) == []
    reported(line, [3, 2, 1], at_m=30300.0, direction="up")
    assert len(proposals(line)) == 1  # it is listed the other way only


def test_a_listed_place_that_is_too_mild_is_proposed_again(app: Flask) -> None:
    """It is listed as damp, and trains that planned for that met worse."""
    publish(app, {**WOOD, "state": "damp"})
    reported(app, [3, 2, 1], at_m=30300.0)
    (one,) = proposals(app)
    assert [place.state for place in one.listed] == ["damp"]
    client = desk_client(app)
    shown = words(client, "/desk/places?show=proposed")
    assert "Listed already, and found worse: Larch Wood" in shown
    form = client.get(f"/desk/places/new?proposal={one.first}").text
    assert re.search(r'<option selected value="leaf">', form) and "Listed already" in form


def test_what_is_changed_after_its_reports_is_proposed_no_more(app: Flask) -> None:
    publish(app, {**WOOD, "state": "damp", "season": None})
    reported(app, [3, 2, 1], at_m=30300.0)
    client, place = desk_client(app), place_id("larch-valley", "larch-wood")
    said = {
        **TYPED,
        "name": "Larch Wood",
        "from_place": "18m 52ch",
        "to_place": "19m 20ch",
        "reason": "leaves",
    }
    answer = submit(client, f"/desk/places/{place}/change", **said, version=0)
    assert answer.status_code == 302, answer.text
    assert proposals(app) == []


def test_a_proposed_season_is_the_months_of_its_reports(line: Flask) -> None:
    """Of other months three days say nothing, and all the year is a driver's minutes."""
    reported(line, [20, 9, 1])
    (one,) = proposals(line)
    form = desk_client(line).get(f"/desk/places/new?proposal={one.first}").text
    first, last = one.days[0], one.days[-1]
    assert re.search(rf'name="season_from"[^>]*value="{first:%m}-01"', form)
    assert re.search(rf'name="season_to"[^>]*value="{last:%m}-(28|30|31)"', form)


def test_a_new_place_begins_with_no_state_chosen(line: Flask) -> None:
    form = desk_client(line).get("/desk/places/new?line=larch-valley").text
    assert re.search(r'<option[^>]*value="">Choose</option>', form)
    answer = enlist(desk_client(line), state="")
    assert answer.status_code == 422 and "Rail state to plan with there" in answer.text


def test_an_accepted_proposal_is_listed_and_proposed_no_more(line: Flask) -> None:
    reported(line, [20, 9, 1])
    client, (one,) = desk_client(line), proposals(line)
    form = client.get(f"/desk/places/new?proposal={one.first}").text
    assert "drivers&#39; reports of this depot, no. 1, 2, 3" in form
    first = {**TYPED, "from_place": "27m 70ch", "to_place": "28m 25ch"}
    answer = submit(
        client, "/desk/places/new", at=f"/desk/places/new?proposal={one.first}",
        **first, proposal=one.first, line="larch-valley",
    )  # fmt: skip
    assert answer.status_code == 302, answer.text
    assert proposals(line) == []
    assert "proposed by reports no." in words(client, answer.headers["Location"])


def test_a_declined_proposal_comes_again_only_by_new_reports(line: Flask) -> None:
    reported(line, [20, 9, 1])
    client, (one,) = desk_client(line), proposals(line)
    at = "/desk/places?show=proposed"
    said = {"proposal": one.first, "reason": "one wheelset of one train"}
    old = submit(client, "/desk/places/decline", at=at, **said, newest=2)
    assert old.status_code == 409  # a report came that nobody had read
    bare = submit(client, "/desk/places/decline", at=at, proposal=one.first, newest=3)
    assert bare.status_code == 422 and "Why not" in bare.text
    assert submit(client, "/desk/places/decline", at=at, **said, newest=3).status_code == 302
    assert proposals(line) == []
    reported(line, [1, 1])
    assert proposals(line) == []
    reported(line, [1])
    assert [len(one.reports) for one in proposals(line)] == [3]


def test_the_register_is_read_page_by_page_with_few_questions(line: Flask) -> None:
    with line.app_context(), writing() as session:
        base = in_use.bases(session)["larch-valley"]
        for n in range(120):
            said = {**TYPED, "name": f"Cutting {n}", "from": "25m 00ch", "to": "25m 40ch"}
            service.enlist(session, base, said, "a test", NOW, fit=fit_listed)
    client, seen, path = desk_client(line, "look"), [], "/desk/places"
    for _ in range(9):
        with counted(line) as asked:
            page = client.get(path).text
        assert len([one for one in asked if one.startswith("SELECT")]) <= 14
        found = re.findall(r'<h2><a href="/desk/places/([^"]+)"', page)
        assert len(found) <= 50
        seen += found
        more = re.search(r'href="([^"]+after=[^"]+)"', page)
        if more is None:
            break
        path = more[1].replace("&amp;", "&")
    assert len(seen) == len(set(seen)) == 121


def entry(**changes: Any) -> dict[str, Any]:
    said = {**{"key": "mill", "retired": False, "name": "Mill"}, **{"direction": "down"}}
    said |= {"from_m": 50000.0, "to_m": 50500.0, "state": "damp", "season_from": ""}
    return {**said, "season_to": "", "reason": "mist", "source": "a test", **changes}


def test_an_empty_register_leaves_a_route_as_it_is() -> None:
    for folder in demo_routes().values():
        assert read_route(folder, []) == read_route(folder)


def test_the_register_adds_changes_and_takes_out() -> None:
    folder = demo_routes()["kettle-bay"]
    before = read_route(folder).listed
    first, second = before[0].key, before[1].key
    register = [entry(), entry(key=first, state="leaf"), entry(key=second, retired=True)]
    after = {one.key: one for one in read_route(folder, register).listed}
    assert set(after) == {one.key for one in before} - {second} | {"mill"}
    assert (after["mill"].start, after[first].name) == (50000.0, "Mill")
    assert after[before[2].key] == before[2]


def test_a_place_that_no_longer_fits_its_line_is_named(tmp_path: Path) -> None:
    with pytest.raises(RouteFaults) as found:
        read_route(demo_routes()["kettle-bay"], [entry(state="ice"), entry(key="b", to_m=9e5)])
    said = str(found.value)
    assert "register of places, 'Mill'" in said and "Places" in said
    assert "column state" in said and "is off the line" in said


def test_the_demo_is_built_anew_only_when_its_register_says_something(lone_app: Flask) -> None:
    folder = demo_routes()["kettle-bay"]
    assert prepare._register_sha(lone_app, folder) == ""
    with lone_app.app_context(), writing() as session:
        publisher.publish(session, line_pack(route="kettle-bay"), NOW)
        base = in_use.bases(session)["kettle-bay"]
        said = {**TYPED, "from": "25m 00ch", "to": "25m 40ch"}
        service.enlist(session, base, said, "a test", NOW, fit=fit_listed)
    assert prepare._register_sha(lone_app, folder) != ""


@pytest.mark.parametrize("name", config.PROPOSE)
def test_a_setting_of_proposals_that_is_no_number_is_refused_by_name(name: str) -> None:
    with pytest.raises(config.SettingsError, match=name):
        config.refuse_unsafe(config.collect({name: "0", "DEMO": True}))


def test_a_treatment_is_noted_told_on_and_offered_to_the_live_warning(line: Flask) -> None:
    client, page = desk_client(line), f"/desk/places/{place_id('larch-valley', 'larch-wood')}"
    since = (NOW - timedelta(hours=2)).isoformat()
    warned = warn(line, from_place="18m 60ch", to_place="19m 00ch", now=NOW, from_at=since)
    told = {"means": "train", "next_line": "yes", "told_by": "treatment crew", "note": ""}
    at, path = NOW.strftime("%Y-%m-%dT%H:%M"), f"{page}/treatments"
    for outcome in ("missed", "done"):
        assert f"/desk/warnings/{warned.id}/steps" not in client.get(page).text
        answer = submit(client, path, **told, outcome=outcome, done_at=at)
        assert answer.status_code == 302, answer.text
    assert f"/desk/warnings/{warned.id}/steps" in client.get(page).text
    assert "treatment crew" in words(client, page)
    assert "Treatment noted" in words(client, "/desk/handover")
    late = (NOW + timedelta(days=1)).strftime("%Y-%m-%dT%H:%M")
    bad = submit(client, path, **told, outcome="done", done_at=late)
    assert bad.status_code == 422 and "Still to come" in bad.text
    change = text("UPDATE treatment SET outcome = 'done'")
    with line.app_context(), pytest.raises(Exception, match="append-only"), writing() as link:
        link.execute(change)
    with line.app_context(), reading() as session:
        assert warnings.get(session, warned.id).status == "published"  # type: ignore[union-attr]


def test_a_treatment_told_wrongly_is_taken_back_and_both_rows_stay(line: Flask) -> None:
    client, page = desk_client(line), f"/desk/places/{place_id('larch-valley', 'larch-wood')}"
    since = (NOW - timedelta(hours=2)).isoformat()
    warned = warn(line, from_place="18m 60ch", to_place="19m 00ch", now=NOW, from_at=since)
    told = {"means": "train", "next_line": "yes", "told_by": "treatment crew", "note": ""}
    told |= {"outcome": "done", "done_at": NOW.strftime("%Y-%m-%dT%H:%M")}
    assert submit(client, f"{page}/treatments", **told).status_code == 302
    [path] = re.findall(rf"{page}/treatments/[-0-9a-f]+/strike", client.get(page).text)
    bare = submit(client, path, told_by="", note="")
    assert bare.status_code == 422 and "Told by whom" in bare.text
    assert f"/desk/warnings/{warned.id}/steps" in client.get(page).text
    why = {"told_by": "shift manager", "note": "it was the other line"}
    assert submit(client, path, **why).status_code == 302
    shown = words(client, page)
    assert "done taken back" in shown and "shift manager: it was the other line" in shown
    # What suggested that the warning's place was treated is gone with it.
    assert f"/desk/warnings/{warned.id}/steps" not in client.get(page).text
    again = submit(client, path, **why)
    assert again.status_code == 409 and "is no longer in the log" in again.text
    assert path not in client.get(page).text
    assert "Treatment taken back" in words(client, "/desk/handover")
    with line.app_context(), reading() as session:
        assert sorted(session.scalars(text("SELECT outcome FROM treatment"))) == [
            "done",
            "struck",
        ]
