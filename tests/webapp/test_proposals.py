"""Packs are proposed, compared and approved; two desks at once; back in one step."""

from __future__ import annotations

import gzip
import json
import re
import threading
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from sqlalchemy import select

from tests.support.desk import PASSWORD, account, entered, submit
from tests.support.fake_pack import FakeFile, FakePack
from tests.support.small_pack import small_pack
from webapp.commands import proposals as pack_commands
from webapp.lines import in_use as in_use_
from webapp.packs import compare
from webapp.packs.files import Pack, close_pack, pack_file
from webapp.packs.register import fit_listed
from webapp.publish import builder, compare_picture, proposals, service
from webapp.publish.models import PackProposal
from webapp.records.places import service as places
from webapp.store.audit import AuditEntry
from webapp.store.db import reading, writing

NOW = datetime(2026, 11, 30, 12, tzinfo=UTC)
GOLDEN = Path(__file__).parents[1] / "golden" / "pack_v1"
ROUTE = "larch-valley"
PAGE = "/desk/packs/proposals"
Json = dict[str, Any]


def pack(
    shift: int = 0, *, words: str = "", source: bool = True, listed: Sequence[Json] = ()
) -> Pack:
    """The small pack with every brake point so much earlier, and a source of its own."""
    made = small_pack()
    plain = {file.kind: json.loads(gzip.decompress(file.gz)) for file in made.files}
    base, table, pictures = plain["base"], plain["table"], plain["pictures"]
    base["note"], base["listed"] = words, list(listed)
    first = pack_file("base", "base", base)
    table["base"] = pictures["base"] = first.sha256
    table["columns"]["brake"] = _each(table["columns"]["brake"], shift)
    pictures["filler"] = ""
    files = [first, pack_file("table", "table", table)]
    files.append(pack_file("pictures", "pictures-unit-4", pictures))
    content = {"format": "step-in-hand/source", "version": 1, "register": []}
    content["files"] = {"route.toml": f"# {shift} {words}"}
    mine = pack_file("source", "source", content) if source else None
    return close_pack(ROUTE, "Larch Valley", files, mine)


def _each(value: Any, shift: int) -> Any:
    return [_each(one, shift) for one in value] if isinstance(value, list) else value + shift


def propose(app: Flask, what: Pack, who: str = "fenn") -> int:
    with app.app_context(), writing() as session:
        return proposals.propose(session, what, who, "a test", NOW).id


def in_use(app: Flask) -> str | None:
    with app.app_context(), reading() as session:
        return proposals.current_pack(session, ROUTE)


def publish(app: Flask, what: Pack) -> None:
    with app.app_context(), writing() as session:
        proposals.store(session, what)
        service.publish(session, what, NOW)


@pytest.fixture
def line(app: Flask) -> Flask:
    """A depot with one line in use and two people who may publish."""
    publish(app, pack())
    app.extensions["start_builder"] = lambda _app: None
    # Made as a demo, so that no secret is needed; what follows is about a depot in service.
    app.config["DEMO"] = False
    return app


@pytest.fixture
def fenn(line: Flask) -> FlaskClient:
    return entered(line, account(line, "fenn", "publish"))


@pytest.fixture
def vale(line: Flask) -> FlaskClient:
    return entered(line, account(line, "vale", "publish"))


def press(client: FlaskClient, number: int, what: str, **fields: str) -> Any:
    return submit(client, f"{PAGE}/{number}/{what}", at=f"{PAGE}/{number}", **fields)


def shown(client: FlaskClient, path: str) -> str:
    answer = client.get(path)
    assert answer.status_code == 200, answer.text
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.text))


def test_a_later_mark_takes_two_people(
    line: Flask, fenn: FlaskClient, vale: FlaskClient
) -> None:
    number = propose(line, pack(-100))
    page = shown(fenn, f"{PAGE}/{number}")
    assert "Begins later" in page and "Needs a second person: begins later" in page
    assert "You proposed it" in page and "Publish to tablets" not in page
    client_token = submit(fenn, f"{PAGE}/{number}/approve", at=f"{PAGE}/{number}")
    assert client_token.status_code == 409 and "Another person" in client_token.text
    assert in_use(line) == pack().sha256
    assert press(vale, number, "approve").status_code == 302
    assert in_use(line) == pack(-100).sha256
    assert "Published by vale" in shown(vale, f"{PAGE}/{number}")


def test_a_demo_is_published_alone_and_says_so(line: Flask, fenn: FlaskClient) -> None:
    line.config["DEMO"] = True
    number = propose(line, pack(-100))
    page = shown(fenn, f"{PAGE}/{number}")
    assert "Needs a second person" in page and "This is a demo" in page
    assert press(fenn, number, "approve").status_code == 302
    assert in_use(line) == pack(-100).sha256


@pytest.mark.parametrize("ats", [(90.0, 120.0), (300.0, 330.0), (90.0, 330.0), (90.0,)])
def test_no_line_of_a_picture_crosses_the_word_of_the_other(ats: tuple[float, ...]) -> None:
    for given in (ats, ats[::-1]):
        found = compare_picture.stems([(at, "in use now") for at in given])
        assert sorted(stem.at for stem in found) == list(ats)
        for word in found:
            reach = 4 + 70  # its word at 12 px is no longer
            ends = word.at + reach if word.anchor == "start" else word.at - reach
            low, high = sorted((word.at, ends))
            crossed = [one for one in found if low < one.at < high and one.row > word.row]
            assert not crossed, given


def test_an_earlier_mark_takes_one(line: Flask, fenn: FlaskClient) -> None:
    number = propose(line, pack(100))
    assert "One person may publish this" in shown(fenn, f"{PAGE}/{number}")
    assert press(fenn, number, "approve").status_code == 302
    assert in_use(line) == pack(100).sha256


def test_who_may_only_look_or_review_publishes_nothing(line: Flask) -> None:
    number = propose(line, pack(100))
    for role in ("look", "review"):
        client = entered(line, account(line, role, role))
        assert "Publish to tablets" not in shown(client, f"{PAGE}/{number}")
        answer = client.post(f"{PAGE}/{number}/approve")
        assert answer.status_code == 403
    assert in_use(line) == pack().sha256


def test_the_audit_and_the_hand_over_say_who_and_why(
    line: Flask, fenn: FlaskClient, vale: FlaskClient
) -> None:
    number = propose(line, pack(-100))
    press(vale, number, "approve")
    with line.app_context(), reading() as session:
        rows = session.scalars(
            select(AuditEntry).where(AuditEntry.what.like("pack.%")).order_by(AuditEntry.id)
        )
        found = [(row.what, row.who, row.new) for row in rows]
    assert [(what, who) for what, who, _ in found] == [
        ("pack.proposed", "fenn"),
        ("pack.published", "vale"),
    ]
    assert found[1][2]["proposed_by"] == "fenn"
    assert found[1][2]["second_person_for"] == ["begins later"]
    page = shown(vale, "/desk/handover?since=2026-11-30T00:00")
    assert "Pack published" in page and "a test" in page


def test_a_dropped_proposal_says_why_and_reaches_nobody(
    line: Flask, fenn: FlaskClient, vale: FlaskClient
) -> None:
    number = propose(line, pack(-100))
    assert press(vale, number, "drop", reason=" ").status_code == 422
    assert press(vale, number, "drop", reason="the gradient is wrong").status_code == 302
    assert "Dropped by vale" in shown(fenn, f"{PAGE}/{number}")
    assert press_dead(fenn, number).status_code == 409
    assert in_use(line) == pack().sha256


def press_dead(client: FlaskClient, number: int) -> Any:
    return submit(client, f"{PAGE}/{number}/approve", at="/desk/password")


def test_two_desks_approve_at_once_and_one_index_comes_of_it(
    line: Flask, fenn: FlaskClient, vale: FlaskClient
) -> None:
    numbers = [propose(line, pack(100)), propose(line, pack(200))]
    barrier = threading.Barrier(2)

    def work(pair: tuple[FlaskClient, int]) -> int:
        client, number = pair
        token = re.search(
            r'name="csrf_token" value="([^"]+)"', client.get(f"{PAGE}/{number}").text
        )
        assert token
        barrier.wait()
        answer = client.post(
            f"{PAGE}/{number}/approve",
            data={"csrf_token": token[1]},
            headers={"Accept": "text/html"},
        )
        return int(answer.status_code)

    with ThreadPoolExecutor(2) as pool:
        codes = sorted(pool.map(work, zip((fenn, vale), numbers, strict=True)))
    assert codes == [302, 409], "the second sees that the line's pack changed since"
    left = next(n for n in numbers if "out of date" in press_again(fenn, n))
    assert press(fenn, left, "compare").status_code == 302


def press_again(client: FlaskClient, number: int) -> str:
    answer = submit(client, f"{PAGE}/{number}/approve", at="/desk/password")
    return str(answer.text)


def test_an_earlier_pack_is_listed_compared_and_put_back(
    line: Flask, fenn: FlaskClient, vale: FlaskClient
) -> None:
    first, second = pack(), pack(100)
    press(fenn, propose(line, second), "approve")
    page = shown(fenn, f"/desk/packs/{ROUTE}")
    assert first.sha256[:8] in page and "in use" in page and "a test" in page
    path = f"/desk/packs/{ROUTE}/back/{first.sha256}"
    answer = submit(fenn, path, reason="the new one is wrong")
    assert answer.status_code == 302
    number = int(answer.headers["Location"].rsplit("/", 1)[1])
    assert "Needs a second person: begins later" in shown(vale, f"{PAGE}/{number}")
    press(vale, number, "approve")
    assert in_use(line) == first.sha256
    again = submit(fenn, path, reason="once more")
    assert again.status_code == 422 and "is in use" in again.text


def test_one_pack_is_withdrawn_and_the_line_keeps_the_other(
    line: Flask, fenn: FlaskClient
) -> None:
    first, second = pack(), pack(100)
    press(fenn, propose(line, second), "approve")
    path = f"/desk/packs/{ROUTE}/withdraw"
    assert submit(fenn, f"{path}?pack={first.sha256}", reason="bad").status_code == 302
    assert in_use(line) == second.sha256
    index = line.test_client().get("/api/index").get_json()
    inside = json.loads(index["signed"])
    assert [one["packs"] for one in inside["withdrawn"]] == [[first.sha256]]
    assert submit(fenn, path, reason="marks are wrong").status_code == 302
    assert in_use(line) is None
    assert "Withdrawn" in shown(fenn, "/desk/packs")


def test_advice_after_a_withdrawal_takes_two(line: Flask, fenn: FlaskClient) -> None:
    submit(fenn, f"/desk/packs/{ROUTE}/withdraw", reason="marks are wrong")
    number = propose(line, pack(100))
    assert "advice again after a withdrawal" in shown(fenn, f"{PAGE}/{number}")
    assert press_dead(fenn, number).status_code == 409


def test_the_first_pack_of_a_line_takes_two(app: Flask) -> None:
    fenn = entered(app, account(app, "fenn", "publish"))
    number = propose(app, pack())
    page = shown(fenn, f"{PAGE}/{number}")
    assert "Needs a second person: first pack of this line" in page


def test_doubts_that_nobody_confirmed_take_two(line: Flask, fenn: FlaskClient) -> None:
    with line.app_context(), writing() as session:
        number = proposals.propose(
            session, pack(100), "fenn", "x", NOW, doubts=["gradients.csv row 4: odd"]
        ).id
    page = shown(fenn, f"{PAGE}/{number}")
    assert "doubts that nobody confirmed" in page and "gradients.csv row 4" in page


def test_a_source_is_kept_at_the_depot_and_no_tablet_fetches_it(line: Flask) -> None:
    made = pack()
    assert made.source is not None
    with line.app_context(), reading() as session:
        assert proposals.source_of(session, made.sha256) == made.source.sha256
        assert in_use_.content(session, made.source.sha256)["files"]
    assert line.test_client().get(f"/packs/{made.source.sha256}").status_code == 404
    assert line.test_client().get(f"/packs/{made.sha256}").status_code == 200


# Building in the background.


def asked(line: Flask, client: FlaskClient) -> int:
    answer = submit(client, f"/desk/packs/{ROUTE}/build", reason="the register changed")
    assert answer.status_code == 302, answer.text
    return int(answer.headers["Location"].rsplit("/", 1)[1])


@pytest.fixture
def built(monkeypatch: pytest.MonkeyPatch) -> list[Json]:
    """What the builder was given; it builds a pack that begins later."""
    given: list[Json] = []

    def build(content: Json, _folder: Path, tell: Callable[[str, int, int], None]) -> Pack:
        given.append(content)
        tell("Down", 1, 2)
        return pack(-100)

    monkeypatch.setattr(builder, "build_source", build)
    monkeypatch.setattr(builder, "open_doubts", lambda *_: [])
    return given


def state(app: Flask, number: int) -> str:
    with app.app_context(), reading() as session:
        return proposals.any_of(session, number).state


def test_the_desk_builds_from_the_last_source_and_compares(
    line: Flask, fenn: FlaskClient, built: list[Json]
) -> None:
    number = asked(line, fenn)
    assert "Queued" in shown(fenn, f"{PAGE}/{number}")
    again = submit(fenn, f"/desk/packs/{ROUTE}/build", reason="twice")
    assert again.status_code == 422 and "waiting or at work already" in again.text
    builder.work(line)
    assert state(line, number) == "proposed"
    assert built[0]["files"] == {"route.toml": "# 0 "}
    assert "Begins later" in shown(fenn, f"{PAGE}/{number}")
    assert in_use(line) == pack().sha256


def test_a_build_is_stopped_and_resumed(
    line: Flask, fenn: FlaskClient, built: list[Json], monkeypatch: pytest.MonkeyPatch
) -> None:
    number, whole = asked(line, fenn), builder.build_source

    def stopped(content: Json, folder: Path, tell: Callable[[str, int, int], None]) -> Pack:
        with writing() as session:
            proposals.stop(session, number)
        return whole(content, folder, tell)

    monkeypatch.setattr(builder, "build_source", stopped)
    builder.work(line)
    assert state(line, number) == "stopped"
    monkeypatch.setattr(builder, "build_source", whole)
    assert press(fenn, number, "resume").status_code == 302
    builder.work(line)
    assert state(line, number) == "proposed"


def test_a_killed_build_leaves_nothing_and_begins_again(
    line: Flask, fenn: FlaskClient, built: list[Json], monkeypatch: pytest.MonkeyPatch
) -> None:
    number, whole = asked(line, fenn), builder.build_source

    def killed(*_args: Any) -> Pack:
        raise KeyboardInterrupt

    monkeypatch.setattr(builder, "build_source", killed)
    with pytest.raises(KeyboardInterrupt):
        builder.work(line)
    assert state(line, number) == "building"
    monkeypatch.setattr(builder, "build_source", whole)
    builder.work(line)
    assert state(line, number) == "proposed"


def test_one_builder_works_even_when_two_are_started(
    line: Flask, fenn: FlaskClient, built: list[Json]
) -> None:
    number = asked(line, fenn)
    with builder._alone(Path(line.config["DATA"]) / builder.LOCK) as mine:
        assert mine
        builder.work(line)
        assert state(line, number) == "queued"
    builder.work(line)
    assert state(line, number) == "proposed"


def test_faults_of_a_build_are_shown_with_file_and_row(line: Flask, fenn: FlaskClient) -> None:
    number = asked(line, fenn)
    builder.work(line)
    page = shown(fenn, f"{PAGE}/{number}")
    assert state(line, number) == "failed" and "route.toml" in page


def test_a_pack_without_a_source_says_how_its_files_come_here(app: Flask) -> None:
    publish(app, pack(source=False))
    client = entered(app, account(app, "fenn", "publish"))
    answer = submit(client, f"/desk/packs/{ROUTE}/build", reason="x")
    assert answer.status_code == 422 and "step-in-hand pack propose FOLDER" in answer.text
    assert "from before they were kept" in shown(client, "/desk/packs")


# The command line: the same, by login and password.


@pytest.fixture
def run(line: Flask, monkeypatch: pytest.MonkeyPatch) -> Callable[..., Any]:
    made = {"folder": pack(-100), "other": pack(100)}
    monkeypatch.setattr(pack_commands, "open_data", lambda _data, **_more: line)
    monkeypatch.setattr(pack_commands, "route_folder", Path)
    monkeypatch.setattr(pack_commands, "route_key", lambda _folder: ROUTE)
    monkeypatch.setattr(
        pack_commands, "build_pack", lambda folder, register: made[str(folder)]
    )
    monkeypatch.setattr(pack_commands, "open_doubts", lambda *_: [])
    for login in ("fenn", "vale"):
        account(line, login, "publish")
    account(line, "reed", "review")

    def call(name: str, *words: str, password: str = PASSWORD) -> Any:
        command = next(one for one in pack_commands.COMMANDS if one.name == name)
        return line.test_cli_runner().invoke(command, list(words), input=f"{password}\n")

    return call


def test_the_command_line_publishes_what_one_may_and_proposes_the_rest(
    line: Flask, run: Callable[..., Any]
) -> None:
    told = run("publish", "folder", "--login", "fenn", "--reason", "new survey")
    assert "BEGINS LATER: 2 stops" in told.output, told.output
    assert "Proposed as number 1" in told.output
    assert in_use(line) == pack().sha256
    mine = run("approve", "1", "--login", "fenn")
    assert mine.exit_code and "You proposed it yourself" in mine.output
    assert "is in index 2" in run("approve", "1", "--login", "vale").output
    earlier = run("publish", "other", "--login", "fenn", "--reason", "back again")
    assert "is in index 3" in earlier.output, earlier.output
    lines = run("history", ROUTE).output.splitlines()
    assert "in use, by fenn: back again" in lines[0]
    assert "by fenn and vale: new survey" in lines[1]
    back = run("back", ROUTE, pack(-100).sha256[:8], "--login", "vale", "--reason", "x")
    assert "Proposed as number 3" in back.output, back.output


@pytest.mark.parametrize(
    ("words", "password", "said"),
    [
        (("--reason", "x"), PASSWORD, "say who you are: --login"),
        (("--login", "fenn"), PASSWORD, "say why in 1 to 500"),
        (("--login", "fenn", "--reason", "x"), "wrong", "does not open an account fenn"),
        (("--login", "reed", "--reason", "x"), PASSWORD, "not have the right to publish"),
    ],
)
def test_who_publishes_is_known_by_name(
    line: Flask, run: Callable[..., Any], words: tuple[str, ...], password: str, said: str
) -> None:
    told = run("publish", "other", *words, password=password)
    assert told.exit_code and said in told.output, told.output
    assert in_use(line) == pack().sha256


def test_a_demo_needs_nobody_and_says_so(line: Flask, run: Callable[..., Any]) -> None:
    line.config["DEMO"] = True
    assert "A demo: published without a second person" in run("publish", "folder").output
    assert in_use(line) == pack(-100).sha256


def test_compare_shows_all_to_a_program_and_publishes_nothing(
    line: Flask, run: Callable[..., Any]
) -> None:
    found = json.loads(run("compare", "folder", "--json").output)
    assert found["second_person"] == ["begins later"]
    assert found["changes"]["later"][0]["cards"][0]["new"]["brake"]
    with line.app_context(), reading() as session:
        assert session.scalars(select(PackProposal)).all() == []
    assert in_use(line) == pack().sha256


def former_version() -> FakePack:
    """The pack that the first release wrote: no source, no column that came later."""
    kept = {path.stem: path.read_bytes() for path in GOLDEN.glob("*.json")}
    sha = next(one for one, text in kept.items() if b"step-in-hand/manifest" in text)
    manifest = json.loads(kept[sha])
    kinds = {sha: "manifest"} | {one["sha256"]: one["kind"] for one in manifest["files"]}
    files = tuple(
        FakeFile(kinds[one], one, len(text), gzip.compress(text, mtime=0))
        for one, text in kept.items()
    )
    return FakePack(manifest["route"], manifest["name"], sha, files)


def test_a_pack_of_the_former_version_is_published_anew_through_the_comparison(
    app: Flask,
) -> None:
    old, new = former_version(), pack(-100)
    assert old.route == ROUTE
    app.config["DEMO"] = False
    with app.app_context(), writing() as session:
        for file in old.files:
            service.store_file(session, file)
        service.publish(session, old, NOW)
    fenn, vale = (entered(app, account(app, name)) for name in ("fenn", "vale"))
    number = propose(app, new)
    page = fenn.get(f"{PAGE}/{number}").text
    assert old.sha256[:8] in page and "Begins later" in page, "every card beside the old one"
    assert in_use(app) == old.sha256, "until somebody has seen what it changes"
    assert press(fenn, number, "approve").status_code == 409
    assert press(vale, number, "approve").status_code == 302
    assert in_use(app) == new.sha256
    history = fenn.get(f"/desk/packs/{ROUTE}").text
    assert old.sha256[:8] in history and "Its route files are not here" in history


def test_comparison_is_empty_for_the_same_pack(line: Flask) -> None:
    with line.app_context(), reading() as session:
        same = proposals.parts(session, pack().sha256)
    found = compare.compare(same, same, date(2026, 11, 30))
    assert found.nothing


WOOD = {
    **{"key": "larch-wood", "name": "Larch Wood", "from_m": 3000.0, "to_m": 3400.0},
    **{"directions": ["down"], "state": "leaf", "season": None},
    **{"reason": "trees close on both sides", "source": "the owner's list, sheet 4"},
}


def test_the_register_goes_into_the_pack_and_its_changes_are_said(
    line: Flask, run: Callable[..., Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    publish(line, pack(listed=[WOOD]))
    typed = {"name": "Mill stream", "direction": "down", "from": "0m 50ch", "to": "0m 60ch"}
    typed |= {"state": "damp", "season_from": "", "season_to": ""}
    typed |= {"reason": "mist from the stream", "source": "this depot, letter 7"}
    with line.app_context(), writing() as session:
        base = in_use_.base(session, pack(listed=[WOOD]).sha256)
        places.enlist(session, base, typed, "a test", NOW, fit=fit_listed)
    given: list[Any] = []

    def build(_folder: Path, register: Any) -> Pack:
        given.append(register)
        return pack(100, listed=[{**WOOD, "key": "new", "name": "New Wood"}])

    monkeypatch.setattr(pack_commands, "build_pack", build)
    told = run("compare", "folder").output
    assert [one["key"] for one in given[0]] == ["mill-stream"]
    assert "listed place new: New Wood" in told, told
    assert "listed place leaving: Larch Wood" in told
    assert "listed place, Larch Wood: gone (second person)" in told
