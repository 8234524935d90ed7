"""Packs on the tablet, the real modules in a real browser: R18, R46, R47, R48, R50."""

from __future__ import annotations

import gzip
import hashlib
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from playwright.sync_api import Playwright, Request, Route

from tests.browser.packs import Depot, Modules, names
from tests.browser.tablet import Tablet
from tests.support.fake_pack import FakePack
from tests.support.pack_schemas import schema
from tests.support.server import Server
from tests.support.small_pack import small_pack

ROOT = Path(__file__).parents[2]
GOLDEN = ROOT / "tests" / "golden" / "pack_v1"
OLD = small_pack(name="Larch Valley, old")
NEW = small_pack(name="Larch Valley, new")
OTHER = small_pack("salt-line", "Salt Line")
LARGEST = 256 * 1024
#: From call ``n`` on nothing reaches storage or network ("kill"), or call ``n`` alone fails.
PLANT = """(m, n, mode) => {
    let count = 0;
    window.hit = false;
    const plant = (holder, name) => {
        const real = holder[name];
        holder[name] = function (...args) {
            count += 1;
            if (count < n || (mode === "fail" && count > n)) return real.apply(this, args);
            window.hit = true;
            // What was under way in this transaction dies with the page.
            if (mode === "kill" && this instanceof IDBObjectStore) {
                try { this.transaction.abort(); } catch {}
            }
            throw name === "fetch" ? new TypeError("planted") : new DOMException("planted");
        };
    };
    plant(window, "fetch");
    plant(IDBDatabase.prototype, "transaction");
    const calls = ["get", "put", "delete", "count", "getAllKeys"];
    for (const name of calls) plant(IDBObjectStore.prototype, name);
    plant(SubtleCrypto.prototype, "digest");
}"""


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """One depot for all tests here: a pack once published stays what it is."""
    with Server(tmp_path_factory.mktemp("data")) as server:
        Depot(server.data).publish(OLD, NEW, OTHER)
        yield server


@pytest.fixture
def depot(place: Server) -> Depot:
    return Depot(place.data)


@pytest.fixture(scope="module")
def one_page(
    engine: Playwright, place: Server, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Modules]:
    tablet = Tablet(engine, tmp_path_factory.mktemp("profile")).start()
    yield Modules(tablet, place)
    tablet.close()
    assert tablet.errors == []


@pytest.fixture
def modules(one_page: Modules) -> Iterator[Modules]:
    """A tablet with nothing on it."""
    one_page.wipe()
    yield one_page
    one_page.page.context.unroute_all(behavior="ignoreErrors")


def test_the_small_pack_has_the_shape_of_a_real_one():
    for file in small_pack().files:
        shape = schema(file.kind)
        body = json.loads(gzip.decompress(file.gz))
        assert [
            e.message for e in jsonschema.Draft202012Validator(shape).iter_errors(body)
        ] == []


def test_a_pack_of_format_version_1_from_the_golden_files_still_opens(
    modules: Modules,
):
    """The files are kept as they were written; this version of the app must open them."""
    kept = {path.stem: path.read_bytes() for path in GOLDEN.glob("*.json")}
    assert len(kept) == 4
    manifest = "78dad1aeab92cfbc4905d7c4296742e393425c699617d5b5d6d83d42c1377f91"
    assert manifest in kept
    modules.page.context.route(
        "**/packs/*",
        lambda route: route.fulfill(
            body=kept[route.request.url.rsplit("/", 1)[1]], content_type="application/json"
        ),
    )
    golden = FakePack("larch-valley", "Golden Larch", manifest, ())
    assert modules.install(golden) == "done"
    assert modules.opened() == "Golden Larch"
    assert modules.files() == set(kept)


@pytest.mark.parametrize("which", range(len(NEW.files)))
def test_r46_one_flipped_bit_in_any_file_and_the_former_pack_stays(
    modules: Modules, which: int
):
    assert modules.install(OLD) == "done"
    assert modules.opened() == OLD.name
    page = modules.page

    def flip(route: Route) -> None:
        body = bytearray(route.fetch().body())
        body[len(body) // 2] ^= 1
        route.fulfill(body=bytes(body), content_type="application/json")

    page.context.route(f"**/packs/{NEW.files[which].sha256}", flip)
    assert modules.install(NEW) == "damaged"
    assert NEW.files[which].sha256 not in modules.files()
    assert modules.opened() == OLD.name
    page.context.unroute_all()
    assert modules.install(NEW) == "done"
    assert modules.opened() == NEW.name


@pytest.mark.parametrize("which", range(1, len(NEW.files) - 1))
def test_r46_r50_a_file_that_went_bad_in_storage_is_fetched_again(
    modules: Modules, which: int
):
    """Base or table: the pack before steps in, one file is fetched, the new one opens."""
    bad = NEW.files[which].sha256
    assert modules.install(OLD) == "done" and modules.opened() == OLD.name
    assert modules.install(NEW) == "done"
    modules.run(
        """(m, sha) => m.raw(["packs"], "readwrite", async (tx, done) => {
            const files = tx.objectStore("packs");
            const bytes = new Uint8Array(await done(files.get(sha)));
            bytes[40] ^= 1;
            await done(files.put(bytes.buffer, sha));
        })""",
        bad,
    )
    modules.afresh()
    assert modules.opened() == OLD.name
    asked: list[str] = []

    def note(request: Request) -> None:
        asked.append(request.url.rsplit("/", 1)[1])

    modules.page.on("request", note)
    assert modules.install(NEW) == "done"
    modules.page.remove_listener("request", note)
    assert [name for name in asked if len(name) == 64] == [bad]
    assert modules.opened() == NEW.name


def test_r50_the_pack_before_goes_only_once_the_new_one_was_opened(modules: Modules):
    assert modules.install(OLD) == "done" and modules.opened() == OLD.name
    assert modules.install(NEW) == "done"
    assert modules.files() == names(OLD, NEW)
    assert modules.opened(sha=OLD.sha256) == OLD.name, "the trip in hand keeps its pack"
    assert modules.files() == names(OLD, NEW), "opening the old one proves nothing of the new"
    assert modules.opened() == NEW.name
    assert modules.files() == names(NEW)


def test_r50_a_pack_never_opened_is_no_pack_to_fall_back_to(modules: Modules, depot: Depot):
    third = small_pack(name="Larch Valley, third")
    depot.publish(third)
    assert modules.install(OLD) == "done" and modules.opened() == OLD.name
    assert modules.install(NEW) == "done"
    assert modules.install(third) == "done"
    assert modules.files() == names(OLD, third)
    assert modules.opened() == third.name


def test_a_trip_in_hand_keeps_the_files_of_its_pack(modules: Modules):
    assert modules.install(OLD) == "done" and modules.opened() == OLD.name
    modules.run("(m, sha) => m.keep('prep', {pack: sha})", OLD.sha256)
    assert modules.install(NEW) == "done" and modules.opened() == NEW.name
    assert modules.files() == names(OLD, NEW)
    assert modules.opened(sha=OLD.sha256) == OLD.name
    modules.run("(m) => m.keep('prep', undefined)")
    assert modules.install(OTHER) == "done"
    assert modules.files() == names(NEW, OTHER)


@pytest.mark.parametrize("mode", ["kill", "fail"])
def test_r47_stopped_at_any_call_the_tablet_has_the_old_pack_or_the_new_one(
    modules: Modules, mode: str
):
    """Each call of an install to storage, network or hash is the last one, or fails once."""
    n, seen = 0, set()
    while True:
        n += 1
        modules.wipe()
        assert modules.install(OLD) == "done" and modules.opened() == OLD.name
        modules.run(PLANT, n, mode)
        said = modules.install(NEW)
        hit = modules.page.evaluate("() => window.hit")
        modules.afresh()
        found = modules.opened()
        assert found in {OLD.name, NEW.name}, (n, said)
        assert said != "done" or found == NEW.name, n
        seen.add(found)
        modules.afresh()
        assert modules.install(NEW) == "done", n
        assert modules.opened() == NEW.name, n
        assert modules.files() == names(NEW), n
        if not hit:
            break
    assert seen == {OLD.name, NEW.name}
    assert n > 30, "an install makes more calls than that"


@pytest.mark.parametrize("share", [0.1, 0.5, 0.9])
def test_r48_a_cut_costs_one_file_at_most(modules: Modules, depot: Depot, share: float):
    large = small_pack(name="Larch Valley, large", fillers=(330_000, 200_000, 60_000, 330_000))
    assert max(len(file.gz) for file in large.files) <= LARGEST
    depot.publish(large)
    whole = sum(len(file.gz) for file in large.files)
    size = {file.sha256: len(file.gz) for file in large.files}
    sent = 0

    def count(route: Route) -> None:
        nonlocal sent
        sent += size[route.request.url.rsplit("/", 1)[1]]
        if cut and sent > share * whole:
            route.abort()
        else:
            route.continue_()

    modules.page.context.route("**/packs/*", count)
    cut = True
    assert "Failed to fetch" in modules.install(large)
    # Another route's pack comes meanwhile and tidies up: it must not undo what is here.
    modules.page.context.unroute_all()
    assert modules.install(OTHER) == "done"
    modules.page.context.route("**/packs/*", count)
    cut = False
    modules.afresh()
    assert modules.install(large) == "done"
    assert modules.opened() == large.name
    assert sent - whole <= LARGEST


FULL = """(m, times) => {
    const real = IDBObjectStore.prototype.put;
    let left = times;
    IDBObjectStore.prototype.put = function (...args) {
        if (this.name !== "packs" || left-- <= 0) return real.apply(this, args);
        throw new DOMException("planted", "QuotaExceededError");
    };
}"""
A_REPORT = """(m) => m.raw(["outbox"], "readwrite", (tx, done) =>
    done(tx.objectStore("outbox").put({id: "r1", seq: 1, parked: null})))"""
REPORTS = """(m) => m.raw(["outbox"], "readonly", (tx, done) =>
    done(tx.objectStore("outbox").getAllKeys()))"""


def test_r21_a_full_tablet_drops_half_fetched_packs_and_goes_on(modules: Modules):
    modules.run(A_REPORT)
    assert modules.install(OLD) == "done" and modules.opened() == OLD.name
    modules.page.context.route(
        f"**/packs/{OTHER.files[2].sha256}", lambda route: route.abort()
    )
    assert "Failed to fetch" in modules.install(OTHER)
    assert modules.files() > names(OLD)
    modules.run(FULL, 1)
    assert modules.install(NEW) == "done"
    assert modules.files() == names(OLD, NEW), "what was half here is gone, both packs are not"
    assert modules.run(REPORTS) == ["r1"]
    assert modules.opened() == NEW.name


def test_r21_a_tablet_that_stays_full_says_so_and_keeps_what_it_has(modules: Modules):
    modules.run(A_REPORT)
    assert modules.install(OLD) == "done" and modules.opened() == OLD.name
    modules.run(FULL, 1_000)
    assert modules.install(NEW) == "full"
    modules.afresh()
    assert modules.opened() == OLD.name
    assert modules.run(REPORTS) == ["r1"]
    assert modules.install(NEW) == "done"


def test_r21_room_for_a_report_is_made_by_packs_of_lines_not_chosen(modules: Modules):
    modules.run(A_REPORT)
    for pack in (OLD, OTHER):
        assert modules.install(pack) == "done" and modules.opened(pack.route) == pack.name
    modules.run("(m) => m.keep('route', 'larch-valley')")
    modules.run("(m) => m.makeRoom()")
    assert modules.files() == names(OLD, OTHER)
    modules.run("(m) => m.makeRoom({alsoOtherRoutes: true})")
    assert modules.files() == names(OLD)
    assert modules.opened("salt-line") is None and modules.opened() == OLD.name
    assert modules.run(REPORTS) == ["r1"]


def test_two_windows_at_once_end_with_one_whole_pack(modules: Modules, server: Server):
    twice: list[Any] = modules.run(
        """(m, route, sha) => Promise.all([1, 2].map(() => m.install(route, sha, 1)))""",
        NEW.route,
        NEW.sha256,
    )
    assert sorted(twice) == [False, True], "one window at a time"
    assert modules.opened() == NEW.name
    modules.wipe()
    modules.page.evaluate(
        "() => Object.defineProperty(navigator, 'locks', {value: undefined})"
    )
    modules.run(
        """(m, route, sha) => Promise.all([1, 2].map(() => m.install(route, sha, 1)))""",
        NEW.route,
        NEW.sha256,
    )
    assert modules.opened() == NEW.name and modules.files() == names(NEW)


def test_r47_no_switch_to_a_pack_of_which_a_file_went_away_meanwhile(
    modules: Modules, depot: Depot
):
    """As when another window, in a browser without locks, tidies up at a bad moment."""
    two = small_pack(name="Larch Valley, two", fillers=(2_000, 300))
    depot.publish(two)
    assert modules.install(OLD) == "done" and modules.opened() == OLD.name
    modules.run(
        """(m, last, gone) => {
            const real = window.fetch;
            window.fetch = async (path, ...rest) => {
                const answer = await real(path, ...rest);
                if (path.endsWith(last)) {
                    await m.raw(["packs"], "readwrite", (tx, done) =>
                        done(tx.objectStore("packs").delete(gone)));
                }
                return answer;
            };
        }""",
        two.files[-1].sha256,
        two.files[-2].sha256,
    )
    assert "gone again" in modules.install(two)
    assert modules.opened() == OLD.name
    modules.afresh()
    assert modules.install(two) == "done" and modules.opened() == two.name


@pytest.mark.parametrize("kind", ["manifest", "base", "table"])
def test_an_unknown_version_is_refused_in_words_and_the_former_pack_stays(
    modules: Modules, kind: str
):
    assert modules.install(OLD) == "done" and modules.opened() == OLD.name
    bodies = {file.kind: json.loads(gzip.decompress(file.gz)) for file in NEW.files}
    bodies[kind]["version"] = 2
    served: dict[str, bytes] = {}

    def named(content: object) -> str:
        body = json.dumps(content).encode()
        name = hashlib.sha256(body).hexdigest()
        served[name] = body
        return name

    base = named(bodies["base"])
    bodies["table"]["base"] = base
    inside = {"base": base, "table": named(bodies["table"])}
    bodies["manifest"]["files"] = [
        {**file, "sha256": inside[file["kind"]]}
        for file in bodies["manifest"]["files"]
        if file["kind"] in inside
    ]
    first = named(bodies["manifest"])
    modules.page.context.route(
        "**/packs/*",
        lambda route: route.fulfill(
            body=served[route.request.url.rsplit("/", 1)[1]], content_type="application/json"
        ),
    )
    assert modules.install(FakePack(NEW.route, NEW.name, first, ())) == "unreadable"
    assert modules.opened() == OLD.name
