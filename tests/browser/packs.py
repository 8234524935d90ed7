"""For tests of packs: publish into a running server, and drive the app's modules alone."""

from __future__ import annotations

import json
import urllib.request
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from playwright.sync_api import Page, expect

from tests.browser.tablet import Tablet
from tests.support.fake_pack import FakePack
from tests.support.server import Server
from webapp import create_app
from webapp.commands import prepare
from webapp.publish import keys as keys_
from webapp.publish import service
from webapp.store.db import db, writing


class Depot:
    """The desk's side of a data folder that a server may be running on."""

    def __init__(self, data: Path) -> None:
        self._data = data

    def publish(self, *packs: FakePack) -> None:
        def action(session: Any, key: Any, now: datetime) -> None:
            for pack in packs:
                service.publish(session, pack, now, key)

        self._do(action)

    def withdraw(self, route: str, reason: str) -> None:
        self._do(
            lambda session, key, now: service.withdraw(
                session, route, reason, now, key, "test"
            )
        )

    def renew_key(self) -> None:
        keys = keys_.KeyFile(self._data)
        self._do(lambda session, _key, now: service.renew_key(session, keys, now, "test"))

    def _do(self, action: Any) -> None:
        app = create_app({"DATA": self._data, "DEMO": True})
        prepare.migrate(app)
        with app.app_context():
            with writing() as session:
                now = datetime.now(UTC)
                service.ready(session, app.extensions["depot_key"], now)
                action(session, app.extensions["depot_key"].load(), now)
            db.engine.dispose()


class Modules:
    """A page of the app's address without the app: only the modules a test asks for."""

    def __init__(self, tablet: Tablet, server: Server) -> None:
        self._url = f"{server.url}/manifest.webmanifest"
        with urllib.request.urlopen(f"{server.url}/api/index", timeout=10) as answer:
            self._root = f"/app/{json.load(answer)['app_build']}/data"
        self.page: Page = tablet.page
        self.afresh()

    def afresh(self) -> None:
        """Start the page again: whatever ran is gone, as after a kill; storage stays."""
        self.page.goto(self._url)

    def wipe(self) -> None:
        """Take all storage away, as if the app had never been here."""
        self.page.context.unroute_all(behavior="ignoreErrors")
        self.afresh()
        self.page.evaluate(
            """() => new Promise((done) => {
                indexedDB.deleteDatabase("step-in-hand").onsuccess = done;
            })"""
        )

    def run(self, script: str, *arguments: Any) -> Any:
        """Run `script`, a function of `m` (all modules) and of the arguments."""
        return self.page.evaluate(
            f"""async ([root, args]) => {{
                const names = ["install", "packs", "take-packs", "verify", "idb", "keep"];
                const all = names.map((name) => import(`${{root}}/${{name}}.js`));
                const m = Object.assign({{}}, ...(await Promise.all(all)));
                m.raw = (on, how, work) => m.transact(on, how, (tx) => work(tx, m.done));
                return ({script})(m, ...args);
            }}""",
            [self._root, list(arguments)],
        )

    def install(self, pack: FakePack) -> str:
        """Install; give "done", or why not."""
        said: str = self.run(
            """(m, route, sha) => m.install(route, sha, 1).then(
                (here) => here ? "done" : "busy", (error) => error.why ?? String(error))""",
            pack.route,
            pack.sha256,
        )
        return said

    def opened(self, route: str = "larch-valley", sha: str | None = None) -> str | None:
        """Open the route's pack; give the name of the line, seen to be of one piece."""
        return self.run(
            """async (m, route, sha) => {
                const pack = await m.openPack(route, sha);
                if (!pack) return null;
                const base = pack.files.find((file) => file.kind === "base").sha256;
                if (pack.table.base !== base) throw new Error("a mix");
                return pack.base.route.name;
            }""",
            route,
            sha,
        )

    def files(self) -> set[str]:
        """Names of all pack files in the tablet's storage."""
        return set(
            self.run(
                """(m) => m.raw(["packs"], "readonly", (tx, done) =>
                    done(tx.objectStore("packs").getAllKeys()))"""
            )
        )


def names(*packs: FakePack) -> set[str]:
    return {file.sha256 for pack in packs for file in pack.files}


def until_synced(page: Page) -> None:
    """Let the app ask the depot now, as it does when the network comes back."""
    page.evaluate("() => dispatchEvent(new Event('online'))")
    expect(page.locator("body")).to_be_visible()
