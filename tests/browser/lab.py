"""The outbox's own modules in a window of the real app, to be worked past its screens."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path
from typing import Any

from playwright.sync_api import Page

from tests.support.server import Server
from webapp.tablet.build import find_static

LAB = """async () => {
    const script = [...document.scripts].find((one) => one.src.includes("/app/"));
    const root = new URL(".", script.src).href;
    const load = (name) => import(root + name);
    const [core, rows, api, locks, report] = await Promise.all([
        "core/outbox.js", "data/outbox-rows.js", "data/api.js", "data/locks.js",
        "core/report.js"].map(load));
    const outbox = core.createOutbox({
        request: api.post, store: rows, lock: locks.ifFree, now: Date.now,
        elapsed: () => performance.now(), random: Math.random,
        installId: rows.installId, build: "lab", installed: () => true, changed: () => {},
    });
    const here = { view: null, index: 0, at: null, position: null, route: "kettle-bay" };
    const draft = (text) => ({ ...report.newDraft(here, Date.now()),
        direction: "down", found: "reportable", text });
    window.lab = {
        rows, outbox, root, report,
        save: (text) => rows.queueReport(draft(text), Date.now()).then((row) => row.id),
        flush: () => outbox.flush({ byHand: true }),
        left: () => rows.readAll().then((all) => all.rows.length),
    };
}"""
# A worker of the same origin that does nothing but send what is there, over and over.
WORKER = """
NAVIGATOR
const [core, rows, api, locks] = await Promise.all(["core/outbox.js", "data/outbox-rows.js",
    "data/api.js", "data/locks.js"].map((name) => import("./" + name)));
const outbox = core.createOutbox({
    request: api.post, store: rows, lock: locks.ifFree, now: Date.now,
    elapsed: () => performance.now(), random: Math.random,
    installId: rows.installId, build: "worker", installed: () => true,
    changed: () => postMessage("sent"),
});
setInterval(() => outbox.flush({ byHand: true }), 15);
"""
NO_LOCKS = """
Object.defineProperty(Object.getPrototypeOf(navigator), "locks", { value: undefined });
"""
SERVE = """
import sys
from pathlib import Path
from webapp.tablet import build as service
static = Path(sys.argv.pop(1))
service.find_static = lambda: static
from webapp.commands.cli import main
main()
"""


def serve_with_worker(folder: Path, *, locks: bool) -> Server:
    """Return a server, not started, whose app has one more file: a worker that sends."""
    static = folder / "static"
    shutil.copytree(find_static(), static)
    (static / "flusher.js").write_text(WORKER.replace("NAVIGATOR", "" if locks else NO_LOCKS))
    # Named in the page, so that the tablet keeps them: windows open while the server is dead.
    parts = [path.relative_to(static).as_posix() for path in static.glob("[cdw]*/*.js")]
    named = "".join(f'<!-- "/app/__BUILD__/{name}" -->\n' for name in (*parts, "flusher.js"))
    page = static / "index.html"
    page.write_text(page.read_text("utf-8").replace("</head>", f"{named}</head>"), "utf-8")
    return Server(folder / "data", command=[sys.executable, "-c", SERVE, str(static)])


def install_lab(page: Page) -> Page:
    page.evaluate(LAB)
    return page


def lab(page: Page, call: str, *arguments: Any) -> Any:
    """Call one of the lab's functions and return what it gives."""
    return page.evaluate(
        "([call, given]) => window.lab[call](...given)", [call, list(arguments)]
    )


def texts(server: Server) -> list[str]:
    """What each report at the depot says, sorted; one entry a row."""
    query = "SELECT json_extract(item, '$.body.text') FROM report"
    return sorted(str(row[0]) for row in server.rows(query))
