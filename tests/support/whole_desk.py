"""A depot with one of everything, so that every page of the desk has something to show.

Whoever adds a table that a page shows adds a row of it here, with `say` in place of every
word that a person may choose, and what stands in the page's address to `Depot.ids`.
"""

from __future__ import annotations

import re
import uuid
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

from flask import Flask
from sqlalchemy import select

from calc.weather.observation import Hour
from tests.support.reports import CHANGE, batch, item
from tests.support.seals import seal
from tests.support.small_pack import small_pack
from tests.support.warned import typed
from webapp.lines import in_use
from webapp.packs.register import fit_listed
from webapp.publish import service as publisher
from webapp.publish.models import PackProposal
from webapp.records import control, tablets
from webapp.records import not_enrolled as strangers
from webapp.records.people import service as people
from webapp.records.places import register, treatments
from webapp.records.places import service as places
from webapp.records.places.models import ListedPlace
from webapp.records.reports import actions
from webapp.records.reports.models import Report
from webapp.records.restrictions import service as restrictions
from webapp.records.warnings import service as warnings
from webapp.records.weather import held
from webapp.records.weather.columns import Column, Columns
from webapp.records.weather.reader import Observed
from webapp.store.db import writing

NOW = datetime(2026, 11, 25, 6, 40, tzinfo=UTC)
PASSWORD = "quiet brakes hold longer"
Say = Callable[[str, int], str]


def plain_words(what: str, most: int) -> str:
    """What a well-meaning person types; never the same twice."""
    return f"words for {what}"[:most]


@dataclass
class Depot:
    """Tokens of two tablets; what an address may hold, by (endpoint, argument) or argument."""

    tablet: str = ""
    revoked: str = ""
    ids: dict[tuple[str, str] | str, str] = field(default_factory=dict)


def fill(app: Flask, say: Say = plain_words) -> Depot:
    """Put one of everything into an empty store; ``say(what, most)`` makes the words."""
    depot = Depot()
    depot.ids.update(build="x", key="x", sha="0" * 64, action="disable")
    depot.ids["step_id"] = str(uuid.UUID(int=30))  # refused before it is looked for
    depot.ids["shell.file", "name"] = "x.js"
    depot.ids["shell.typeface", "name"] = "x.woff2"
    with app.app_context():
        _publish(app)
        _enrol(depot, say)
        _people(depot)
        _warn(depot, say)
    _report(app, depot, say)
    _stranger(app, depot, say)
    _seal(app, depot, say)
    with app.app_context():
        _note(say)
        _control(depot, say)
        _places(depot, say)
        _restrict(depot, say)
        _propose(depot, say)
        _weather(depot, say)
    return depot


def every_call(app: Flask) -> Iterator[tuple[str, str, str]]:
    """Method, rule and endpoint of all there is."""
    for rule in app.url_map.iter_rules():
        for method in (rule.methods or set()) - {"HEAD", "OPTIONS"}:
            yield method, rule.rule, rule.endpoint


def address(depot: Depot, rule: str, endpoint: str) -> str:
    """The rule with something that is there in place of each argument."""

    def known(match: re.Match[str]) -> str:
        found = depot.ids.get((endpoint, match[1])) or depot.ids.get(match[1])
        assert found, f"{rule}: say in tests/support/whole_desk.py what <{match[1]}> may be"
        return found

    return re.sub(r"<(?:[^<>:]*:)?(\w+)>", known, rule)


def desk_addresses(app: Flask, depot: Depot) -> dict[str, str]:
    """What a person at the desk can open, by rule: pages, and files among them."""
    return {
        rule: address(depot, rule, endpoint)
        for method, rule, endpoint in sorted(every_call(app))
        if method == "GET" and rule.startswith("/desk")
    }


def _publish(app: Flask) -> None:
    """As the server does at its start: key, pack, signature."""
    keys = app.extensions["depot_key"]
    with writing() as session:
        publisher.ready(session, keys, NOW)
        publisher.publish(session, small_pack(), NOW, keys.load())


def _propose(depot: Depot, say: Say) -> None:
    """Somebody proposes the pack in use once more."""
    sha = small_pack().sha256
    plain = {"route": small_pack().route, "name": "Larch Valley", "made_at": NOW}
    plain |= {"cause": "files", "register": [], "pack": sha, "former": sha, "made_by": "test"}
    with writing() as session:
        first = PackProposal(
            state="proposed",
            reason=say("why a pack is proposed", 400),
            doubts=[say("a doubt about a route", 200)],
            problem=say("what was wrong with a route", 400),
            **plain,
        )
        session.add(first)
        session.flush()
        depot.ids.update(route=small_pack().route, pack=sha, number=str(first.id))


def _weather(depot: Depot, say: Say) -> None:
    """A line's weather of one station, some hours of it made worse, its columns said."""
    now = datetime.now(UTC)
    depot.ids["line_key"] = small_pack().route
    hours = tuple(
        Observed(
            now.replace(minute=0, second=0, microsecond=0) + timedelta(hours=n), Hour(air=8)
        )
        for n in range(30)
    )
    given = held.Given(
        hours, say("a file of weather", 200), held.Station(say("a station", 120))
    )
    times = {"from_at": now, "until_at": now + timedelta(hours=5)}
    made_worse = {"state": "damp", "reason": say("why hours are worse", 200), **times}
    columns = Columns({"time": Column(say("a column", 100), "utc")})
    with writing() as session:
        base = in_use.bases(session)[small_pack().route]
        held.keep(session, base, given, "test", now)
        held.keep_columns(session, small_pack().route, columns, "test", now)
        made = held.make_worse(session, base, made_worse, "test", now)
        depot.ids["change_id"] = str(made)


def _enrol(depot: Depot, say: Say) -> None:
    with writing() as session:
        depot.tablet = tablets.enrol(session, say("a tablet", 60), NOW)
        depot.revoked = tablets.enrol(session, say("a revoked tablet", 60), NOW)
        session.flush()
        gone = tablets.known(session, depot.revoked)
        here = tablets.known(session, depot.tablet)
        assert gone and here
        tablets.revoke(session, gone.id, NOW)
        depot.ids["device_id"] = str(here.id)


def _people(depot: Depot) -> None:
    with writing() as session:
        wanted = people.Wanted("somebody", "look", False)
        made = people.make(session, wanted, PASSWORD, "test", NOW, own=True)
        depot.ids["person_id"] = str(made)


def _warn(depot: Depot, say: Say) -> None:
    words = {
        "from_place": "1m 20ch",
        "to_place": "2m 10ch",
        "reason": say("a warning's reason", 200),
        "told_by": say("who told the warning", 120),
        "reference": say("a warning's reference", 120),
    }
    with writing() as session:
        for n, rest in enumerate(((), ("published",), ("published", "ended"))):
            name = uuid.UUID(int=20 + n)  # pages that order by id must not differ
            made = warnings.draft(session, typed(**words), "test", NOW, name)
            if "published" in rest:
                warnings.publish(session, made.id, made.rev, "test", NOW)
                depot.ids["warning_id"] = str(made.id)
            if "ended" in rest:
                warnings.end(session, made.id, made.rev, words["told_by"], "test", NOW)


def _report(app: Flask, depot: Depot, say: Say) -> None:
    """Three reports of the tablet, the last a correction, with a gap and a refusal."""
    free = ("text", "place", "driver_name", "route", "direction", "target")
    free += ("train", "rail_state")
    words = {name: say(f"a report's {name}", 90) for name in free}
    first = item(1, id=str(uuid.UUID(int=10)), flats_suspected=True, **words)
    known = item(
        2,
        id=str(uuid.UUID(int=11)),
        flats_suspected=True,
        train_not_seen=True,
        supersedes=first["id"],
    )
    refused = item(5, **{say("an unknown field", 40): 1})
    refused["body"]["found"] = say("what was found", 40)
    client = app.test_client()
    client.set_cookie("sih-tablet", depot.tablet)
    answer = client.post("/api/outbox", json=batch(first, known, refused), headers=CHANGE)
    assert [one["result"] for one in answer.get_json()["results"]] == [
        "created",
        "created",
        "rejected",
    ]
    depot.ids["own.own", "name"] = first["id"]
    for page in ("single", "review", "reopen", "join", "part", "note"):
        depot.ids[f"reports.{page}", "name"] = first["id"]
    depot.ids["report_id"] = first["id"]


def _stranger(app: Flask, depot: Depot, say: Say) -> None:
    """A report and a seal of a tablet that is not enrolled, the one set aside."""
    free = ("text", "place", "driver_name", "route", "direction", "target", "train")
    words = {name: say(f"a stranger's {name}", 90) for name in free}
    said = {"card": [say("a stranger's card", 500)], "app_build": say("a build", 64)}
    both = (item(n, flats_suspected=True, **words) for n in (1, 2))
    sent = batch(*both, seal(3, **said))
    answer = app.test_client().post("/api/outbox", json=sent, headers=CHANGE)
    assert {one["result"] for one in answer.get_json()["results"]} == {"retry"}
    with app.app_context(), writing() as session:
        first, *_ = strangers.page(session, 1, aside=False).rows
        strangers.set_aside(session, [first.no], say("why aside", 200), "test", NOW)
        depot.ids["no"] = str(first.no)


def _seal(app: Flask, depot: Depot, say: Say) -> None:
    """One seal of the tablet; it names a report that is here and one that is not."""
    words = {
        "route": say("a seal's line", 120),
        "app_build": say("a seal's build", 64),
        "card": [say("a seal's card", 500)],
        "preparation": {say("a seal's question", 120): say("a seal's answer", 120)},
        "unsent": [str(uuid.UUID(int=10)), str(uuid.UUID(int=12))],
    }
    one = seal(6, id=str(uuid.UUID(int=40)), **words)
    client = app.test_client()
    client.set_cookie("sih-tablet", depot.tablet)
    answer = client.post("/api/outbox", json=batch(one), headers=CHANGE)
    assert answer.get_json()["results"][0]["result"] == "created"
    depot.ids["seals.one", "name"] = one["id"]


def _note(say: Say) -> None:
    """The first report is noted on, and the second joined to it."""
    said = {"said_by": "signaller", "said_at": NOW, "text": say("a note", 2000)}
    said["reference"] = say("a note's reference", 120)
    with writing() as session:
        actions.note(session, uuid.UUID(int=10), 1, said, "test", NOW)
        first = session.scalar(select(Report.server_no).where(Report.id == uuid.UUID(int=10)))
        assert first is not None
        actions.join(session, uuid.UUID(int=11), 1, first, "test", NOW)


def _control(depot: Depot, say: Say) -> None:
    """Fleet looked at one train of two; one kind of train is kept from somewhere."""
    found = {"inspected_by": say("who looked at the wheels", 120), "inspected_at": NOW}
    found["result"] = say("what the wheels were like", 200)
    barred = {name: say(f"a barred train's {name}", 100) for name in ("place", "trains")}
    barred |= {name: say(f"a barring's {name}", 100) for name in ("reason", "decided_by")}
    with writing() as session:
        control.inspected(session, uuid.UUID(int=11), found, "test", NOW)
        made = control.bar(session, {"line_key": "larch-valley", **barred}, "test", NOW)
        depot.ids["bar_id"] = str(made)


def _places(depot: Depot, say: Say) -> None:
    """One place is listed, one was retired again."""
    said = {"direction": "down", "from": "2m 00ch", "to": "2m 20ch", "state": "damp"}
    said |= {"season_from": "10-01", "season_to": "12-13"}
    plain = {"name": "Larch cutting", "reason": "trees", "source": "a test"}
    with writing() as session:
        bases = in_use.bases(session)
        base = bases[small_pack().route]
        for n, what in enumerate(("a place", "a retired place")):
            made = places.enlist(session, base, {**said, **plain}, "test", NOW, fit=fit_listed)
            row = session.get_one(ListedPlace, made)
            for name in plain:  # past the check, which refuses characters that nobody sees
                setattr(row, name, say(f"{what}'s {name}", 100))
            if n:
                why = say("why a place was retired", 100)
                places.retire(session, bases, made, 1, why, "test", NOW)
                told = {"done_at": NOW, "means": "hand", "outcome": "failed"}
                told |= {
                    name: say(f"a treatment's {name}", 100) for name in ("told_by", "note")
                }
                place = register.find(session, bases, made)
                assert place
                for _ in range(2):
                    treatments.note(session, place, {**told, "next_line": "no"}, "test", NOW)
                session.flush()
                struck, stands = [one.row.id for one in treatments.of(session, made)]
                back = ("told_by", "note")
                why_not = {name: say(f"a struck treatment's {name}", 100) for name in back}
                treatments.strike(session, place, struck, why_not, "test", NOW)
                depot.ids["places.strike", "treatment_id"] = str(stands)
                depot.ids["places.strike", "place_id"] = str(made)
                depot.ids["places.one", "place_id"] = str(made)
            else:
                depot.ids["place_id"] = str(made)


def _restrict(depot: Depot, say: Say) -> None:
    """One restriction has passed its end and asks, one was ended."""
    said = {"direction": "down", "from_place": "1m 00ch", "to_place": "1m 40ch"}
    said |= {"speed": "20", "reference": say("a notice", 120)}
    said["told_by"] = say("who told a restriction", 120)
    times = {"from_at": NOW - timedelta(days=3), "until_at": NOW - timedelta(days=1)}
    gone = {"ended_at": NOW, "told_by": say("who told a restriction's end", 120)}
    gone["reason"] = say("why a restriction ended", 200)
    with writing() as session:
        base = in_use.bases(session)[small_pack().route]
        first, second = (
            restrictions.note(session, base, {**said, **times}, "test", NOW) for _ in range(2)
        )
        restrictions.end(session, second, 1, gone, "test", NOW)
        depot.ids["restriction_id"] = str(first)
        depot.ids["restrictions.end", "restriction_id"] = str(second)
