"""Warnings on a real tablet: R34, R44, R81, R82. The command publishes, the card is slower."""

from __future__ import annotations

import json
import re
import subprocess
import sys
import urllib.request
from typing import Any

import pytest
from playwright.sync_api import Page, Request, expect

from tests.browser.tablet import Cab, Tablet, card_words, unfold
from tests.browser.test_next_stop import calls, forbidden
from tests.support.server import Server
from webapp.lines.lookup import look_up

READ = """async () => {
    const db = await new Promise((done) => {
        indexedDB.open("step-in-hand").onsuccess = (event) => done(event.target.result);
    });
    const tx = db.transaction(["kv", "warnings"]);
    const [cursor, rows] = await Promise.all([
        tx.objectStore("kv").get("warnings"), tx.objectStore("warnings").getAll(),
    ].map((ask) => new Promise((done) => (ask.onsuccess = () => done(ask.result)))));
    db.close();
    return { cursor, rows };
}"""
CHANGE = """async ([store, how, key]) => {
    const db = await new Promise((done) => {
        indexedDB.open("step-in-hand").onsuccess = (event) => done(event.target.result);
    });
    const tx = db.transaction([store], "readwrite");
    if (how === "clear") tx.objectStore(store).clear();
    else tx.objectStore(store).delete(key);
    await new Promise((done) => (tx.oncomplete = done));
    db.close();
}"""
# From the nth write to the warnings or their cursor on, each fails as on a full disk.
FAIL_NTH = """(n) => {
    window.writes = 0;
    window.whole ??= Object.fromEntries(["put", "delete", "clear"].map(
        (name) => [name, IDBObjectStore.prototype[name]]));
    for (const name of Object.keys(window.whole)) {
        IDBObjectStore.prototype[name] = function (...given) {
            const cursor = this.name === "kv" && given[1] === "warnings";
            const ours = this.name === "warnings" || cursor;
            if (ours && (window.writes += 1) >= n) {
                throw new DOMException("no room", "QuotaExceededError");
            }
            return window.whole[name].apply(this, given);
        };
    }
}"""
NEVER = "Warnings never reached this tablet. Ask the signaller for all of them."
BROKEN = "The warnings on this tablet cannot be read. Ask the signaller for all of them."
W5 = re.compile(r"^Warnings held here \d\d:\d\d\. For newer ones ask the signaller\.$")
LEAF_AT_CORVANE = (
    *("--line", "kettle-bay", "--direction", "down", "--state", "leaf"),
    *("--from", "21m 00ch", "--to", "21m 15ch", "--reason", "leaves on the rail"),
    *("--told-by", "signaller", "--reference", "12"),
)


ENDED = ("--told-by", "signaller", "--override", "a test")


def command(server: Server, *arguments: str) -> str:
    """Type `step-in-hand warning …` on the depot's machine; return the warning's id."""
    words = [*arguments, "--who", "a test", "--data", str(server.data)]
    run = subprocess.run(
        [sys.executable, "-m", "webapp.commands.cli", "warning", *words],
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert run.returncode == 0, run.stderr
    return run.stdout.split()[0]


# Again after a while: the first asks nothing anew while the app is still asking.
ASK = """() => {
    const ask = () => dispatchEvent(new Event("online"));
    window.asking = setInterval(ask, 3000);
    ask();
}"""


def sync(tablet: Tablet) -> None:
    """Ask the depot now, as when the network comes back; wait until its answer is taken."""
    # What the browser said meanwhile, while nobody listened, is heard now and not below.
    tablet.page.evaluate("0")
    asked = False

    def asks(request: Request) -> bool:
        nonlocal asked
        asked = asked or "/api/warnings" in request.url
        return asked

    # What comes next is asked when the warnings are on the disk and on the screen, or failed.
    with tablet.page.expect_response(lambda one: asked and "/api/restrictions" in one.url):
        with tablet.page.expect_request(asks):
            tablet.page.evaluate(ASK)
        tablet.page.evaluate("clearInterval(window.asking)")
    tablet.page.wait_for_timeout(300)


def road(page: Page) -> list[str]:
    """Each stop and board as it stands in the Brief with its runs opened."""
    # Opening a run, or news from the depot, draws the list anew: read it when all are open.
    for _ in range(20):
        unfold(page)
        found = page.locator(".road summary").all_inner_texts()
        if page.locator(".road summary:visible").count() == len(found):
            break
        page.wait_for_timeout(100)
    return [text.replace("\u00a0", " ") for text in found]


@pytest.fixture
def table(demo_server: Server) -> dict[str, Any]:
    def get(path: str) -> Any:
        with urllib.request.urlopen(demo_server.url + path, timeout=10) as answer:
            return json.loads(answer.read())

    pack = next(
        one["pack"] for one in get("/api/index")["routes"] if one["key"] == "kettle-bay"
    )
    files = get(f"/packs/{pack}")["files"]
    found: dict[str, Any] = get(
        f"/packs/{next(file['sha256'] for file in files if file['kind'] == 'table')}"
    )
    return found


def advice(
    base: dict[str, Any], table: dict[str, Any], key: str, state: str
) -> dict[str, Any]:
    """What the pack says for the four-car train at its own approach speed."""
    targets = [target["key"] for target in base["targets"]]
    trains = [(t["type"], t["formation"], t["isolated_cars"]) for t in base["trains"]]
    found: dict[str, Any] = look_up(
        base,
        table,
        target=targets.index(key),
        train=trains.index(("disc", "4", 0)),
        state=[one["key"] for one in base["states"]].index(state),
        season=1 if in_season(base, key) else 0,
        speed=None,
    )
    return found


def in_season(base: dict[str, Any], key: str) -> bool:
    target = next(one for one in base["targets"] if one["key"] == key)
    assert all(
        place["season"] is None for place in base["listed"] if place["key"] in target["listed"]
    )
    return bool(target["listed"])


def test_a_warning_makes_its_stop_slower_and_earlier_offline_and_goes_when_it_ends(
    tablet: Tablet, demo_server: Server, base: dict[str, Any], table: dict[str, Any]
):
    page = tablet.page
    tablet.prepare("Damp")
    expect(page.locator(".w5")).to_have_text(W5)
    assert page.locator(".warning").count() == 0
    before = road(page)
    at = next(i for i, text in enumerate(before) if "Corvane" in text)
    damp = advice(base, table, "corvane/down", "damp")
    leaf = advice(base, table, "corvane/down", "leaf")
    assert leaf["brake"] > damp["brake"], "the control: the two states differ here"
    assert f"Begin before {damp['mark']['words']}" in before[at]

    name = command(demo_server, "publish", *LEAF_AT_CORVANE)
    sync(tablet)
    warned = road(page)
    assert f"Begin before {leaf['mark']['words']}" in warned[at]
    assert f"before {leaf['worse']['mark']['words']}" in warned[at]
    assert "Leaf film, warned" in warned[at]
    assert warned[:at] + warned[at + 1 :] == before[:at] + before[at + 1 :]
    told = page.locator(".warning").inner_text()
    assert "Leaf film, 21 mi 00 ch to 21 mi 15 ch: leaves on the rail" in told
    assert "Told by signaller, 12." in told and "Planned with it: Corvane." in told
    assert "just now" in told or "min old" in told

    demo_server.kill()
    page.reload()
    page.wait_for_selector(".road")
    assert road(page) == warned, "offline the warning is as it was"
    tablet.go("Next stop")
    for stop in calls(base)[1 : [one["key"] for one in calls(base)].index("corvane/down") + 1]:
        page.get_by_role("button", name=f"Show {stop['name']}").click()
    card = page.locator(".card").inner_text()
    assert f"Begin before {leaf['mark']['words']}" in " ".join(card.split())
    planned = re.compile(r"^Planned rail: leaf film, warned \d\d:\d\d$")
    expect(page.locator(".planned")).to_have_text(planned)
    assert len(card_words(page)) <= 25

    demo_server.start()
    command(demo_server, "end", name, "--rev", "2", *ENDED)
    tablet.go("Brief")
    sync(tablet)
    assert road(page) == before
    assert page.locator(".warning").count() == 0
    expect(page.locator(".w5")).to_have_text(W5)
    assert "no warning" not in tablet.words().lower()


def held(tablet: Tablet) -> tuple[int, set[str]]:
    """Return the cursor on disk and the reasons of the warnings beside it."""
    found = tablet.page.evaluate(READ)
    return (found["cursor"] or {}).get("feedNo", 0), {row["reason"] for row in found["rows"]}


def test_r44_r66_a_write_that_fails_leaves_the_old_warnings_or_the_new_ones(
    tablet: Tablet, demo_server: Server
):
    """Fail the nth write for n = 1, 2, … until none fails: the cursor never leads the rows."""
    first = command(demo_server, "publish", *LEAF_AT_CORVANE, "--reason", "first")
    sync(tablet)
    assert held(tablet) == (1, {"first"})
    # Nothing is taken between the two, however long they last.
    tablet.page.evaluate(FAIL_NTH, 1)
    command(demo_server, "publish", *LEAF_AT_CORVANE, "--reason", "second")
    command(demo_server, "end", first, "--rev", "2", *ENDED)
    failures = 0
    for n in range(1, 12):
        tablet.page.evaluate(FAIL_NTH, n)
        sync(tablet)
        if held(tablet) != (1, {"first"}):
            break
        failures += 1
    assert failures == 3, "a put, a delete and the cursor"
    assert held(tablet) == (3, {"second"})


def test_r44_what_a_restored_depot_does_not_name_stays_and_is_marked(
    tablet: Tablet, demo_server: Server
):
    """It may have been told after the backup: only a person at the depot ends it."""
    tablet.prepare("Damp")
    command(demo_server, "publish", *LEAF_AT_CORVANE, "--reason", "kept")
    demo_server.stop()
    files = ("step-in-hand.sqlite3", "step-in-hand.sqlite3-wal", "step-in-hand.sqlite3-shm")
    copy = {
        name: (demo_server.data / name).read_bytes()
        for name in files
        if (demo_server.data / name).exists()
    }
    demo_server.start()
    command(demo_server, "publish", *LEAF_AT_CORVANE, "--reason", "forgotten by the depot")
    sync(tablet)
    assert held(tablet) == (2, {"kept", "forgotten by the depot"})
    demo_server.stop()
    for name in files:
        (demo_server.data / name).unlink(missing_ok=True)
    for name, content in copy.items():
        (demo_server.data / name).write_bytes(content)
    demo_server.start()
    # As many numbers as before: only the mark tells that it is another history.
    command(demo_server, "publish", *LEAF_AT_CORVANE, "--reason", "made after it")
    sync(tablet)
    assert held(tablet) == (2, {"kept", "forgotten by the depot", "made after it"})
    held_since = tablet.page.get_by_text("Held since before the depot was restored.")
    expect(held_since).to_have_count(1)


def test_r82_without_rows_or_cursor_it_never_looks_as_if_nothing_were_warned(
    tablet: Tablet, demo_server: Server
):
    page = tablet.page
    tablet.prepare("Damp")
    command(demo_server, "publish", *LEAF_AT_CORVANE)
    sync(tablet)
    expect(page.locator(".w5")).to_have_text(W5)
    demo_server.stop()
    page.evaluate(CHANGE, ["kv", "delete", "warnings"])
    page.reload()
    expect(page.locator(".w5")).to_have_text(NEVER)
    expect(page.locator(".warning")).to_have_count(1)  # what is held still counts
    demo_server.start()
    sync(tablet)
    expect(page.locator(".w5")).to_have_text(W5)
    demo_server.stop()
    page.evaluate(CHANGE, ["warnings", "clear", None])
    page.reload()
    expect(page.locator(".w5")).to_have_text(NEVER)
    demo_server.start()
    sync(tablet)
    expect(page.locator(".w5")).to_have_text(W5)
    expect(page.locator(".warning")).to_have_count(1)
    demo_server.stop()
    tablet.context.add_init_script(
        """const whole = IDBDatabase.prototype.transaction;
        IDBDatabase.prototype.transaction = function (names, ...more) {
            const gone = [names].flat().includes("warnings");
            if (gone) throw new DOMException("gone", "NotFoundError");
            return whole.call(this, names, ...more);
        };"""
    )
    page.reload()
    expect(page.locator(".w5")).to_have_text(BROKEN)
    assert "no warning" not in tablet.words().lower()


def test_what_a_warning_changes_on_a_card_is_said_on_card_and_brief_after_a_restart_too(
    tablet: Tablet, demo_server: Server, base: dict[str, Any], cab: Cab
):
    page = tablet.page
    tablet.prepare("Wet")
    tablet.go("Next stop")
    first = calls(base)[0]
    expect(page.locator(".line.name")).to_contain_text(first["name"].upper())
    changed = page.locator(".changed")
    expect(changed).to_be_empty()
    mark = page.locator(".line.begin .main").inner_text()
    line = ("--line", "kettle-bay", "--direction", "down", "--state", "leaf", "--told-by", "s")
    where = ("--from", "10 mi 00 ch", "--to", "10 mi 70 ch", "--reason", "film")
    name = command(demo_server, "publish", *line, *where)
    sync(tablet)
    assert page.locator(".line.begin .main").inner_text() != mark, "the control"
    said = re.compile(r"^Changed since \d\d:\d\d: begins earlier.* \(warned\)$")
    expect(changed).to_have_text(said)
    words = changed.inner_text()
    page.reload()
    expect(changed).to_have_text(words)
    tablet.go("Brief")
    expect(page.locator(".first-screen .since")).to_contain_text(f"{first['name']}: {words}")
    # On the run to it the words stay, and none of them is one that may not be there.
    tablet.go("Next stop")
    cab.at(first["platform_from_m"] - 2_500, 20)
    cab.at(first["platform_from_m"] - 2_480, 20)
    expect(page.locator("body")).to_have_class(re.compile("moving"))
    expect(changed).to_have_text(words)
    assert forbidden(tablet.words()) == []
    cab.stand(first["platform_from_m"] - 2_400)
    expect(page.locator("body")).not_to_have_class(re.compile("moving"))
    expect(changed).to_be_empty()
    command(demo_server, "end", name, "--rev", "2", *ENDED)
    sync(tablet)
    expect(changed).to_have_text(re.compile(r"begins later.* \(warning over\)$"))


def test_a_warning_that_comes_while_the_card_is_frozen_shows_at_the_next_card(
    tablet: Tablet, demo_server: Server, base: dict[str, Any], cab: Cab
):
    page = tablet.page
    tablet.prepare("Damp")
    tablet.go("Next stop")
    first, second = calls(base)[:2]
    cab.at(first["platform_from_m"] - 2_500, 30)
    cab.at(first["platform_from_m"] - 900, 30)
    cab.at(first["platform_from_m"] - 890, 30)
    expect(page.locator("body")).to_have_class(re.compile("moving"))
    frozen = (".card", ".changed", ".planned")
    before = [page.locator(part).inner_text() for part in frozen]
    line = ("--line", "kettle-bay", "--direction", "down", "--state", "leaf", "--told-by", "s")
    # From the first platform to the second: it meets both approaches.
    command(demo_server, "publish", *line, "--from", "10m", "--to", "13m", "--reason", "film")
    sync(tablet)
    assert held(tablet)[1] == {"film"}
    cab.at(first["platform_from_m"] - 300, 20)
    cab.at(first["platform_from_m"] - 20, 5)
    assert [page.locator(part).inner_text() for part in frozen] == before
    cab.stand(first["mark_m"][0])
    expect(page.locator("body")).not_to_have_class(re.compile("moving"))
    on = page.get_by_role("button", name=f"Show {second['name']}")
    if on.count():  # not sure of the place, it asks instead of stepping on
        on.click()
    expect(page.locator(".line.name")).to_contain_text(second["name"].upper())
    expect(page.locator(".planned")).to_contain_text("Planned rail: leaf film, warned")
