"""The state machine of what the depot tells: warnings, the index, packs.

The tablet's real network in deno asks the real application in process. Every question of a
window stands still until a rule answers it: with the truth, late, cut, lost, or by somebody
else. Meanwhile the desk goes on, and older copies of the depot are put back.
"""

from __future__ import annotations

import base64
import hashlib
import json
import random
from dataclasses import dataclass
from datetime import datetime
from typing import Any, ClassVar

from hypothesis import strategies as st
from hypothesis.stateful import initialize, invariant, rule

from tests.machine.depot import Answer, foreign, ours, page
from tests.machine.feed_depot import LONG, PACKS, ROUTES, FeedDepot, forged
from tests.machine.windows import WindowsMachine, pick
from webapp.publish.keys import canonical

FAR = "2030-01-01T00:00:00Z"
#: Some other network in the depot's place, or the depot in trouble.
OTHERS = {
    "portal page": page(200),
    "sent elsewhere": page(302),
    "front server 503": page(503),
    "empty 204": page(204),
    "JSON of another": foreign(200, {"feed_no": 10**6, "items": [], "server_time": FAR}),
    "fault": ours(500, {"code": "internal"}),
}  # fmt: skip
FATES = [*["taken"] * 9, "lost", "comes late", "cut", "another answers", "false", "of before"]
DEEDS = [
    *("warn", "warn", "amend", "end", "end long ago", "publish", "publish", "publish"),
    *("withdraw", "renew key", "settle"),
]
WHAT = ["sync", "askWarnings", "takePacks"]
Row = dict[str, Any]


@dataclass
class Asking:
    """One question of a window as a whole, and whether nothing came between it."""

    tab: int
    what: str
    version: int
    clean: bool


class FeedsMachine(WindowsMachine):
    """Give `tablet`, `depot` and `seen` in a subclass."""

    depot: ClassVar[FeedDepot]

    def __init__(self) -> None:
        super().__init__()
        self.state: dict[str, Any] = {}
        self.count = 0
        self.chance = random.Random(0)
        self.version = 0  # of what is true at the depot
        self.inflight: dict[int, Row] = {}
        self.slow: list[tuple[int, Answer]] = []  # answers the network brings some time
        self.before: dict[str, list[Answer]] = {}  # by path: what was answered to it
        self.asking: dict[str, Asking] = {}
        self.plagued: set[int] = set()
        self.copies: list[Any] = []
        self.undeclared = False
        self.ever_undeclared = False
        self.over: set[str] = set()
        self.told: set[str] = set()  # warnings as the depot told them, whole
        self.held: set[tuple[str, int, str]] = set()  # what the tablet had on its disk
        self.signed: set[str] = set()
        self.proven: dict[int, set[str]] = {}  # by the depot's time: the index that stood
        self.rotten: set[str] = set()
        self.floor: dict[str, int] = {}  # by epoch
        self.serial = -1

    @initialize(seed=st.integers(1, 2**30), locks=st.booleans())
    def start(self, seed: int, locks: bool) -> None:
        self.chance = random.Random(seed)
        self.depot.begin()
        self.tell("reset", seed=seed, locks=locks, wall=0)
        self.depot.publish_pack(0)
        self.depot.warn(0)
        self.learn_truth()
        tab = self.new_tab()
        self.tell("enrolled", tab=tab, tag=self.tag(), key=self.depot.keys())

    # What happens at the depot

    @rule(what=st.sampled_from(DEEDS), n=pick)
    def at_the_desk(self, what: str, n: int) -> None:
        self.note(what)
        if n % 3 == 0:
            self.copies = [*self.copies[-2:], self.depot.copy()]
        if what == "end long ago":
            self.depot.end(n, LONG)
        elif what == "publish":
            self.depot.publish_pack(n)
        else:
            getattr(self.depot, what.replace(" ", "_"))(n)
        self.learn_truth()

    @rule(which=pick, declared=st.sampled_from([True, True, False]))
    def an_older_copy_is_put_back(self, which: int, declared: bool) -> None:
        if self.copies:
            self.put_back(self.copies[which % len(self.copies)], declared)

    @rule(tab=pick, deed=st.sampled_from(DEEDS), x=pick, declared=st.booleans())
    def what_a_tablet_heard_is_forgotten(
        self, tab: int, deed: str, x: int, declared: bool
    ) -> None:
        copy = self.depot.copy()
        self.at_the_desk("warn", x)
        self.at_the_desk(deed, x)
        self.good_contact(tab, "sync")
        self.put_back(copy, declared)
        if x % 2:
            self.good_contact(tab, "askWarnings")

    def put_back(self, copy: Any, declared: bool) -> None:
        """Somebody may say so much later only."""
        self.note("put back" if declared else "put back, not said")
        self.depot.put_back(copy)
        self.undeclared, self.ever_undeclared = True, self.ever_undeclared or not declared
        if declared:
            self.declare()
        self.learn_truth()

    @rule()
    def declare(self) -> None:
        if not self.undeclared:
            return
        self.depot.declare()
        self.undeclared = False
        self.learn_truth()

    # What a window does

    @rule(tab=pick, what=st.sampled_from(WHAT), requests=st.integers(1, 14))
    def contact(self, tab: int, what: str, requests: int) -> None:
        """One window asks; each question meets a fate by plain chance."""
        one = self.ask(self.a_tab(tab), what)
        for _ in range(requests):
            mine = [n for n in self.waiting() if self.inflight[n]["tab"] == one]
            if not mine:
                return
            self.befall(mine[0], self.chance.choice(FATES), self.chance.randrange(1000))

    @rule(tab=pick, what=st.sampled_from(WHAT))
    def good_contact(self, tab: int, what: str) -> None:
        one = self.ask(self.a_tab(tab), what)
        self.answer_all(one)

    @rule(tab=pick, what=st.sampled_from(WHAT))
    def ask_only(self, tab: int, what: str) -> None:
        self.ask(self.a_tab(tab), what)

    @rule(which=pick, fate=st.sampled_from(FATES), x=pick)
    def one_request(self, which: int, fate: str, x: int) -> None:
        if self.waiting():
            self.befall(self.waiting()[which % len(self.waiting())], fate, x)

    @rule(which=pick)
    def release(self, which: int) -> None:
        """What is drawn does not hang on how things stand: so it is drawn again alike."""
        held = self.state["held"]
        if held:
            self.tell("release", tab=held[which % len(held)])

    @rule(which=pick)
    def late_answer(self, which: int) -> None:
        if self.slow:
            self.brought(self.slow.pop(which % len(self.slow)))

    @rule(tab=pick, what=st.sampled_from(WHAT[1:]), deed=st.sampled_from(DEEDS), n=pick)
    def another_window_hears_of_it_first(self, tab: int, what: str, deed: str, n: int) -> None:
        one = self.ask(self.a_tab(tab), what)
        for each in [n for n in self.waiting() if self.inflight[n]["tab"] == one]:
            self.befall(each, "comes late", 0)
        self.at_the_desk(deed, n)
        self.answer_all(self.ask(self.new_tab(), what))
        while self.slow:
            self.brought(self.slow.pop())
        self.answer_all(one)

    def brought(self, slow: tuple[int, Answer]) -> None:
        n, answer = slow
        if n in self.waiting():
            self.note("late answer")
            self.hand(n, answer, honest=False)

    @rule(tab=pick)
    def tell_depot(self, tab: int) -> None:
        self.tell("tellDepot", tab=self.a_tab(tab), tag=self.tag())

    @rule(tab=pick)
    def wake(self, tab: int) -> None:
        """The window is opened anew: what the disk holds comes before the screens."""
        self.tell("wake", tab=self.a_tab(tab), tag=self.tag())

    @rule(
        tab=pick,
        what=st.sampled_from(WHAT),
        after=st.integers(1, 40),
        kind=st.sampled_from(["fail", "full", "kill"]),
    )
    def the_next_contact_ends_badly(self, tab: int, what: str, after: int, kind: str) -> None:
        """At its nth step, everything else being well."""
        one = self.a_tab(tab)
        self.tell("plan", tab=one, what=kind, after=after)
        self.ask(one, what)
        self.answer_all(one)

    @rule(x=pick)
    def a_file_goes_bad(self, x: int) -> None:
        files = sorted(self.state.get("files", {}))
        if files and x % 3 == 0:
            self.rotten.add(files[x % len(files)])
            one = self.a_tab(x)
            self.tell("rot", tab=one, tag=self.tag(), sha=files[x % len(files)])

    @rule(tab=pick)
    def the_whole_comes_out_of_a_cache(self, tab: int) -> None:
        """An older whole is no answer, whoever kept it."""
        kept = self.depot.ask("/api/warnings?since=0")
        self.at_the_desk("warn", tab)
        one = self.a_tab(tab)
        self.answer_all(self.ask(one, "askWarnings"))
        for deed in ("warn", "end long ago"):
            self.at_the_desk(deed, tab)
        self.ask(one, "askWarnings")
        for n in [n for n in self.waiting() if self.inflight[n]["tab"] == one]:
            self.hand(n, kept, honest=False)

    @rule(tab=pick, x=pick)
    def another_signs_the_index(self, tab: int, x: int) -> None:
        one = self.ask(self.a_tab(tab), "takePacks")
        for n in [n for n in self.waiting() if self.inflight[n]["tab"] == one]:
            self.befall(n, "false", x)
        self.answer_all(one)

    @rule(
        tab=pick,
        n=pick,
        deed=st.sampled_from(["publish", "withdraw"]),
        asked=st.integers(2, 5),
    )
    def the_desk_goes_on_while_a_pack_comes(
        self, tab: int, n: int, deed: str, asked: int
    ) -> None:
        """Another window hears of it first."""
        self.at_the_desk("publish", n)
        one = self.ask(self.a_tab(tab), "takePacks")
        for _ in range(asked):
            for each in [n for n in self.waiting() if self.inflight[n]["tab"] == one][:1]:
                self.befall(each, "taken", 0)
        self.at_the_desk(deed, n + 2)
        self.answer_all(self.ask(self.new_tab(), "takePacks"))
        self.answer_all(one)

    # What befalls a question

    def befall(self, n: int, fate: str, x: int) -> None:
        self.note(fate)
        getattr(self, fate.replace(" ", "_"))(n, self.inflight[n], x)

    def taken(self, n: int, asked: Row, _x: int) -> None:
        self.hand(n, self.answer_of(asked), honest=True)

    def lost(self, n: int, asked: Row, x: int) -> None:
        """The question, or its answer."""
        if x % 2 and asked["body"]:
            self.answer_of(asked)
        self.hand(n, None, honest=False)

    def comes_late(self, n: int, asked: Row, _x: int) -> None:
        """It is true by now; it may arrive when it is not any more."""
        self.slow.append((n, self.answer_of(asked)))

    def cut(self, n: int, asked: Row, x: int) -> None:
        answer = dict(self.answer_of(asked))
        if "base64" in answer:
            plain = base64.b64decode(answer["base64"])
            answer["base64"] = base64.b64encode(plain[: x % len(plain)]).decode()
        else:
            answer["text"] = answer["text"][: -1 - x % 200]
        self.hand(n, answer, honest=False)

    def another_answers(self, n: int, _asked: Row, x: int) -> None:
        name = sorted(OTHERS)[x % len(OTHERS)]
        self.note(name)
        self.hand(n, OTHERS[name], honest=False)

    def false(self, n: int, asked: Row, x: int) -> None:
        """An index that is not the depot's; other bytes under a file's name."""
        answer, path = self.answer_of(asked), asked["path"]
        if path == "/api/index" and answer["status"] == 200:
            answer = forged(answer, x)
        elif "base64" in answer:
            other = PACKS[ROUTES[0], 0].files[x % 4].sha256
            answer = self.depot.ask(f"/packs/{other}")
        else:
            self.hand(n, None, honest=False)
            return
        self.hand(n, answer, honest=False)

    def of_before(self, n: int, asked: Row, x: int) -> None:
        """Somebody kept the answer to this very question and gives it once more."""
        known = self.before.get(asked["path"], [])
        if known and not asked["body"]:
            self.note("answered as before")
            self.hand(n, known[x % len(known)], honest=False)
        else:
            self.lost(n, asked, 0)

    # What must hold after each step

    @invariant()
    def a_warning_held_is_one_the_depot_told(self) -> None:
        for row in self.rows():
            plain = {key: row[key] for key in row if key != "heldBefore"}
            assert _text(plain) in self.told, "a warning that the depot never told so"

    @invariant()
    def numbers_do_not_fall(self) -> None:
        """The feed's within its epoch; the index's, whatever happens."""
        cursor, index = self.state.get("cursor"), self.state.get("index")
        if cursor and cursor["epoch"] and not self.ever_undeclared:
            floor = self.floor.get(cursor["epoch"], 0)
            assert cursor["feedNo"] >= floor, "the feed's number fell"
            self.floor[cursor["epoch"]] = cursor["feedNo"]
        if index:
            assert index["serial"] >= self.serial, "the index's serial fell"
            self.serial = index["serial"]

    @invariant()
    def the_index_is_the_depots(self) -> None:
        index = self.state.get("index")
        assert index is None or index["text"] in self.signed, "an index of somebody else"

    @invariant()
    def packs_are_whole(self) -> None:
        files = self.state.get("files", {})
        self.rotten = {sha for sha in self.rotten if files.get(sha, sha) != sha}
        for sha, found in files.items():
            assert found == sha or sha in self.rotten, "a file is not what its name says"
        for pointer in self.state.get("packs", {}).values():
            for one in (pointer["current"], pointer["previous"]):
                named = [one["sha"], *(file["sha256"] for file in one["files"])] if one else []
                assert set(named) <= set(files), "half a pack is chosen"

    @invariant()
    def it_is_confirmed_by_a_proof_of_the_index_held(self) -> None:
        at, index = self.state.get("confirmed"), self.state.get("index")
        if at is not None and index:
            assert at in self.proven, "confirmed at a time at which nothing was proven"

    # How the rules do it

    def tell(self, cmd: str, **how: Any) -> None:
        before = self.state
        self.state = self.tablet.tell(cmd, **how)
        if cmd == "plan":
            self.plagued.add(how["tab"])
        for one in self.state["fetches"]:
            self.inflight[one["n"]] = one
        if cmd != "reset":
            self.compare(before)
        for row in self.rows():
            self.held.add((row["id"], row["rev"], row["reason"]))
        for one in self.state["settled"]:
            self.learn(one)

    def compare(self, before: Row) -> None:
        """What one step took away or put in use."""
        gone = _ids(before) - _ids(self.state) - self.over
        assert not gone, "a warning that did not end has gone"
        for tab, shown in self.state.get("screens", {}).items():
            was = set(before.get("screens", {}).get(tab, {}).get("warnings", []))
            assert not was - set(shown["warnings"]) - self.over, "gone from a screen"
        named = _named(before.get("index")) | _named(self.state.get("index"))
        former = before.get("packs", {})
        for route, pointer in self.state.get("packs", {}).items():
            sha = pointer["current"]["sha"]
            if former.get(route, {}).get("current", {}).get("sha") != sha:
                assert (route, sha) in named, "a pack that the newest index does not name"

    def ask(self, tab: int, what: str) -> int:
        alone = not self.asking
        tag = self.tag()
        self.asking[tag] = Asking(tab, what, self.version, alone)
        self.tell(what, tab=tab, tag=tag)
        return tab

    def learn(self, one: Row) -> None:
        """Whatever was asked and answered truly, with nothing between, is held now."""
        asked = self.asking.pop(one["tag"], None)
        living = set(self.state["tabs"])
        self.asking = {tag: was for tag, was in self.asking.items() if was.tab in living}
        if asked is None or not one["ok"] or not asked.clean or self.asking:
            return
        if asked.version != self.version or asked.tab in self.plagued:
            return
        self.note(f"whole {asked.what}")
        if asked.what != "takePacks":
            self.check_warnings()
        if asked.what != "askWarnings" and not self.ever_undeclared:
            self.check_packs()

    def check_warnings(self) -> None:
        """What ended is gone, what lives is here, the rest is marked.

        Also marked is a wording later than the depot's, until that is told again.
        """
        living = self.depot.living()
        marked = {row["id"]: row["rev"] for row in self.rows() if row.get("heldBefore")}
        here = {row["id"]: row for row in self.rows() if row["id"] not in marked}
        told = {id: one for id, one in living.items() if one["rev"] >= marked.get(id, 0)}
        assert here == told, "not what the depot tells"

    def check_packs(self) -> None:
        index = self.depot.index()
        assert self.state["index"]["text"] == index["signed"], "not the index that stands"
        for route in index["routes"]:
            assert self.pack_of(route["key"]) == route["pack"], "not the pack in use"

    def pack_of(self, route: str) -> str | None:
        pointer = self.state["packs"].get(route)
        return pointer and pointer["current"]["sha"]

    def learn_truth(self) -> None:
        self.version += 1
        self.over |= self.depot.over()
        self.told |= {_text(one) for one in self.depot.living().values()}

    def answer_of(self, asked: Row) -> Answer:
        path = asked["path"]
        if asked["body"]:
            return self.depot.take(asked["body"])
        answer = self.depot.ask(path, asked.get("etag"))
        if answer["status"] == 200:
            self.remember(path, answer)
        return answer

    def remember(self, path: str, answer: Answer) -> None:
        if path == "/api/index":
            self.signed.add(json.loads(answer["text"])["signed"])
        if path.startswith("/api/proof"):
            said = json.loads(json.loads(answer["text"])["signed"])
            self.proven.setdefault(_ms(said["at"]), set()).add(said["index"])
        if not path.startswith("/packs/"):
            self.before[path] = [*self.before.get(path, [])[-3:], answer]

    def hand(self, n: int, answer: Answer | None, *, honest: bool) -> None:
        tab = self.inflight[n]["tab"]
        if not honest:
            for one in self.asking.values():
                one.clean = one.clean and one.tab != tab
        confirmed = self.state.get("confirmed")
        self.give(n, answer)
        if self.state.get("confirmed") != confirmed and self.state["index"]:
            text = self.state["index"]["text"].encode()
            stood = self.proven.get(self.state["confirmed"], set())
            assert hashlib.sha256(text).hexdigest() in stood, "confirmed by another's proof"

    def answer_all(self, tab: int) -> None:
        for _ in range(60):
            mine = [n for n in self.waiting() if self.inflight[n]["tab"] == tab]
            if not mine:
                return
            self.befall(mine[0], "taken", 0)

    def rows(self) -> list[Row]:
        rows: list[Row] = self.state.get("warnings", [])
        return rows

    # In the end tablet and depot agree

    def teardown(self) -> None:
        if not self.state:
            return
        while self.state["held"]:
            self.tell("release", tab=self.state["held"][0])
        for one in self.state["tabs"]:
            self.tell("kill", tab=one)
        self.asking, self.slow = {}, []
        if self.undeclared:
            self.declare()
        tab = self.settle_all()
        self.check_warnings()
        assert len(self.rows()) == len(self.depot.living()), "one is still marked"
        self.check_packs()
        for route in self.depot.index()["routes"]:
            self.open_pack(tab, route)
        told = {row["id"]: (row["rev"], row["reason"]) for row in self.rows()}
        assert self.depot.received() == told, "the depot was told of other warnings"

    def settle_all(self) -> int:
        """The network is good at last, and the desk settles what is held from before."""
        tab = self.new_tab()
        self.tell("wake", tab=tab, tag=self.tag())
        for n in range(6):
            self.ask(tab, "sync")
            self.answer_all(tab)
            self.tell("tellDepot", tab=tab, tag=self.tag())
            self.answer_all(tab)
            settled = [self.depot.settle(n + more) for more in range(4)]
            self.learn_truth()
            if n and not any(settled):
                break
        self.ask(tab, "sync")
        self.answer_all(tab)
        self.tell("tellDepot", tab=tab, tag=self.tag())
        self.answer_all(tab)
        return tab

    def open_pack(self, tab: int, route: Row) -> None:
        """It opens; one of which a file went bad is fetched once more."""
        for _ in range(2):
            self.tell("openPack", tab=tab, tag=self.tag(), route=route["key"])
            if self.state["settled"][0]["value"] == route["pack"]:
                return
            self.ask(tab, "sync")
            self.answer_all(tab)
        raise AssertionError("the pack in use does not open")


def _ids(state: Row) -> set[str]:
    return {row["id"] for row in state.get("warnings", [])}


def _named(index: Row | None) -> set[tuple[str, str]]:
    routes = json.loads(index["text"])["routes"] if index else []
    return {(one["key"], one["pack"]) for one in routes}


def _text(row: Row) -> str:
    return canonical(row)


def _ms(moment: str) -> int:
    """As the tablet reads it: what is below a thousandth is left off."""
    at = datetime.fromisoformat(moment)
    return int(at.replace(microsecond=0).timestamp()) * 1000 + at.microsecond // 1000
