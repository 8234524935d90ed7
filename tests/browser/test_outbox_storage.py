"""The nth call of the tablet's storage fails, for n = 1, 2, ... until none is left to fail.

R12 and the loops of the must-show list: save, freeze, send, settle, read in a real browser;
nothing lost, nothing doubled, and nothing said to be saved that is not.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import expect

from tests.browser.lab import install_lab, lab, texts
from tests.browser.tablet import Tablet
from tests.support.server import Server

# Deadlines are 60 times as fast while the storage never answers, so that this costs no
# minutes; else they are as long as a busy machine needs.
FAULTS = """
const later = window.setTimeout;
window.setTimeout = (call, ms, ...rest) =>
    later(call, fault.fast && ms > 1000 ? ms / 60 : ms, ...rest);
const fault =
    { how: "none", at: Infinity, count: 0, forever: false, fired: false, fast: false };
window.fault = fault;
const lost = () => new DOMException("Connection to server lost", "UnknownError");
function strike() {
    fault.count += 1;
    const hit = fault.forever ? fault.count >= fault.at : fault.count === fault.at;
    if (hit) fault.fired = true;
    return hit;
}
// A request under way keeps its transaction open, as one does that is never answered.
const get = IDBObjectStore.prototype.get;
function keepOpen(store, tx) {
    get.call(store, "nothing").onsuccess = () => keepOpen(store, tx);
}
function wrap(prototype, name, transactionOf) {
    const real = prototype[name];
    prototype[name] = function (...given) {
        if (!strike()) return real.apply(this, given);
        if (fault.how === "throw") throw lost();
        const tx = transactionOf(this);
        if (fault.how === "abort" && tx) {
            const request = real.apply(this, given);
            tx.abort();
            return request;
        }
        // A request that never comes to a stand, and one that fails as a real one does.
        const fake = { error: lost(), result: null, readyState: "pending", onerror: null };
        if (fault.how === "error" || fault.how === "abort") {
            later(() => {
                try { tx?.abort(); } catch {}
                fake.onerror?.();
            }, 0);
        }
        if (fault.how === "never" && tx) keepOpen(this, tx);
        return fake;
    };
}
wrap(IDBFactory.prototype, "open", () => null);
for (const name of ["get", "getAll", "getAllKeys", "put", "delete"]) {
    wrap(IDBObjectStore.prototype, name, (store) => store.transaction);
}
const begin = IDBDatabase.prototype.transaction;
IDBDatabase.prototype.transaction = function (...given) {
    if (strike() && fault.how !== "never") throw lost();
    return begin.apply(this, given);
};
"""
# The app's own triggers stay quiet: only the run itself calls the storage.
ONE_RUN = """async ([text, how, at, forever]) => {
    Object.assign(window.fault, { how, at, forever, count: 0, fired: false,
        fast: how === "never" });
    const quiet = (work) => work.then((value) => ({ value }),
        (error) => ({ error: error.name }));
    const saved = await quiet(window.lab.save(text));
    await quiet(window.lab.flush());
    const read = await quiet(window.lab.rows.readAll());
    const { fired, count } = window.fault;
    Object.assign(window.fault, { how: "none", at: Infinity, forever: false, fast: false });
    const shown = read.value?.rows.length ?? null;
    return { saved: saved.error ?? "saved", fired, count, shown };
}"""


def assert_numbered(server: Server) -> None:
    """Number and row are written together or not at all: no gap, none twice."""
    numbers = [row[0] for row in server.rows("SELECT seq FROM report ORDER BY seq")]
    assert numbers == list(range(1, len(numbers) + 1))


@pytest.fixture
def window(new_tablet: Callable[..., Tablet], server: Server) -> Any:
    tablet = new_tablet()
    tablet.context.add_init_script(FAULTS)
    tablet.open(server.url)
    install_lab(tablet.page)
    # The first delivery makes the install id and lets the app's own start come to its end.
    lab(tablet.page, "save", "first")
    lab(tablet.page, "flush")
    tablet.page.wait_for_timeout(500)
    return tablet.page


@pytest.mark.parametrize("how", ["throw", "error", "abort", "never"])
def test_r12_the_nth_call_of_the_storage_fails_once(
    window: Any, server: Server, how: str
) -> None:
    expected = texts(server)
    assert expected == ["first"]
    for n in range(1, 200):
        text = f"{how} {n:03}"
        run = window.evaluate(ONE_RUN, [text, how, n, False])
        for _ in range(5):
            if lab(window, "left") == 0:
                break
            lab(window, "flush")
        assert lab(window, "left") == 0, f"{how} at call {n}"
        if run["saved"] == "saved":
            expected.append(text)
        else:
            assert how == "never", f"{how} at call {n}: one failure is made good: {run}"
        assert texts(server) == sorted(expected), f"{how} at call {n}: {run}"
        if not run["fired"]:
            break
    else:
        raise AssertionError("it never came to an end")
    assert n > 15, "hardly a call was met"
    assert_numbered(server)


@pytest.mark.parametrize("how", ["throw", "error", "abort", "never"])
def test_r12_from_the_nth_call_on_the_storage_fails_for_ever(
    window: Any, server: Server, how: str
) -> None:
    expected = texts(server)
    most = 40 if how != "never" else 12
    for n in range(1, most):
        text = f"{how} {n:03}"
        run = window.evaluate(ONE_RUN, [text, how, n, True])
        if run["saved"] == "saved":
            expected.append(text)
        for _ in range(5):
            lab(window, "flush")
            if lab(window, "left") == 0:
                break
        assert lab(window, "left") == 0
        assert texts(server) == sorted(expected), f"{how} from call {n}: {run}"
        if not run["fired"]:
            break
    assert n > 6
    assert_numbered(server)


def test_r12_a_row_that_the_disk_does_not_give_back_is_shown(
    window: Any, server: Server
) -> None:
    server.kill()
    for text in ("one", "two", "three"):
        lab(window, "save", text)
    damaged = window.evaluate(
        """async () => {
            const { rows } = await window.lab.rows.readAll();
            const id = rows.find((row) => row.item.body.text === "two").id;
            const [get, all] = [IDBObjectStore.prototype.get, IDBObjectStore.prototype.getAll];
            const fail = (store) => {
                const fake = {};
                setTimeout(() => {
                    try { store.transaction.abort(); } catch {}
                    fake.error = new DOMException("cannot read a large value", "UnknownError");
                    fake.onerror?.();
                }, 0);
                return fake;
            };
            IDBObjectStore.prototype.get = function (key) {
                return key === id ? fail(this) : get.call(this, key);
            };
            IDBObjectStore.prototype.getAll = function (...given) {
                return this.name === "outbox" ? fail(this) : all.apply(this, given);
            };
            return id;
        }"""
    )
    window.evaluate("() => { location.hash = '#outbox'; }")
    server.start()
    window.evaluate("() => { dispatchEvent(new Event('online')); }")
    lost = window.locator(".report-row", has_text="does not give back")
    expect(lost).to_have_count(1)
    expect(window.locator(".standing")).to_contain_text("1 report needs attention.")
    assert damaged
    lab(window, "flush")
    assert texts(server) == ["first", "one", "three"], "the others are not held up"
