"""The state machine: everything that can befall an outbox, in any order Hypothesis thinks of.

Two sides: the tablet's real outbox in deno (`tablet.py`), with as many windows as the rules
open, and the real application in process (`depot.py`). Every request of a window stands
still until a rule answers it, so that answers come late, twice, in any order, or never.
"""

from __future__ import annotations

import json
import random
import uuid
from typing import Any, ClassVar

from hypothesis import strategies as st
from hypothesis.stateful import initialize, invariant, precondition, rule

from tests.machine.depot import Answer, Depot, foreign, ours, page
from tests.machine.windows import WindowsMachine, pick

HOUR = 3600_000
NOW = 1_795_600_000_000
JUMPS = [-8 * 24 * HOUR, 8 * 24 * HOUR, 5 * 365 * 24 * HOUR, -HOUR, HOUR]
#: What some other network says in the depot's place, or the depot without taking anything.
FOREIGN = {
    "portal page": page(200),
    "portal's own 404": page(404),
    "sent elsewhere": page(302),
    "front server 503": page(503),
    "front server 413": page(413),
    "empty 204": page(204),
    "JSON that refuses": foreign(422, {"code": "invalid", "detail": "no"}),
    "JSON 400": foreign(400, {"code": "invalid_json"}),
    "JSON 413": foreign(413, {"code": "too_large"}),
    "not enrolled": ours(401, {"code": "no_tablet"}),
    "revoked": ours(403, {"code": "revoked"}),
    "request timed out": ours(408, {"code": "slow"}),
    "too many": ours(429, {"code": "wait"}, "120"),
    "fault": ours(500, {"code": "internal"}),
    "our 404": ours(404, {"code": "not_found"}),
    "names nobody": ours(200, {"results": []}),
}
FATES = [
    *("taken", "taken", "taken", "lost on the way", "answer lost", "comes late", "doubled"),
    *("server killed", "server killed", "database fails", "says stored", "answer cut"),
    *("one rejected", "one put off", "one not named", "too large"),
    *("another answers",) * 4,
]


class OutboxMachine(WindowsMachine):
    """Give `tablet`, `depot` and `seen` in a subclass."""

    depot: ClassVar[Depot]

    def __init__(self) -> None:
        super().__init__()
        self.saved: dict[str, str] = {}  # id: what the driver was told is saved
        self.wiped: set[str] = set()
        self.refused: set[str] = set()  # ids that the depot itself refused, so may be parked
        self.trying: dict[
            str, str
        ] = {}  # text: the row it edits, or ""; not known to be saved
        self.found: set[str] = set()  # texts that were seen on the disk
        self.tags: dict[str, str] = {}
        self.of_draft: dict[str, str] = {}  # text: the draft it is saved from
        self.frozen: dict[str, Any] = {}
        self.inflight: dict[int, dict[str, Any]] = {}
        self.late: list[dict[str, Any]] = []  # requests the network delivers some time
        self.installs: set[str] = set()
        self.kept: list[dict[str, Any]] = []
        self.stale = False
        self.forgotten: set[str] = set()  # lost in a restore, not offered again yet
        self.state: dict[str, Any] = {}
        self.count = 0
        self.locks, self.chance = True, random.Random(0)

    @initialize(seed=st.integers(1, 2**30), locks=st.booleans(), saves=st.integers(1, 3))
    def start(self, seed: int, locks: bool, saves: int) -> None:
        self.locks, self.chance = locks, random.Random(seed)
        self.tell("reset", seed=seed, locks=locks, wall=NOW)
        tab = self.a_tab(0)
        for _ in range(saves):
            self.save_in(tab)

    # What the driver does

    @rule(tab=pick)
    def save(self, tab: int) -> None:
        self.save_in(self.a_tab(tab))

    @rule(tab=pick, which=pick, change=st.sampled_from(["edit", "correct"]))
    def save_again(self, tab: int, which: int, change: str) -> None:
        """Change a report that was never tried, or correct one that was."""
        known = [row["id"] for row in self.state["rows"] + self.state["receipts"]]
        if known:
            self.save_in(self.a_tab(tab), change, known[which % len(known)])

    @rule(tab=pick, other=pick, late=st.booleans())
    def one_draft_in_two_windows(self, tab: int, other: int, late: bool) -> None:
        """Both save it; a word of one may still be on its way to the disk."""
        self.count += 1
        draft, text = str(uuid.uuid4()), f"report {self.count}"
        self.tell("begin", tab=self.a_tab(tab), tag=self.tag(), text=text, draft=draft)
        self.save_in(self.a_tab(tab), draft=draft)
        if late:
            self.tell("begin", tab=self.a_tab(other), tag=self.tag(), text=text, draft=draft)
        self.save_in(self.a_tab(other), draft=draft)
        self.note("one draft in two windows")

    @rule(tab=pick, hand=st.booleans(), network=st.booleans())
    def flush(self, tab: int, hand: bool, network: bool) -> None:
        self.tell(
            *("flush",),
            **{"tab": self.a_tab(tab), "tag": self.tag(), "byHand": hand},
            newNetwork=network,
        )

    @rule(tab=pick, which=pick, what=st.sampled_from(["again", "aside"]))
    def deal_with_parked(self, tab: int, which: int, what: str) -> None:
        parked = [row["id"] for row in self.state["rows"] if row["parked"]]
        if parked:
            self.note(f"parked: {what}")
            name = parked[which % len(parked)]
            self.tell(what, tab=self.a_tab(tab), tag=self.tag(), id=name)

    # What befalls the tablet

    @rule(jump=st.sampled_from(JUMPS))
    def clock_jumps(self, jump: int) -> None:
        self.tell("clock", wall=jump, mono=0)

    @rule(wait=st.sampled_from([5_000, 60_000, 4 * HOUR]))
    def time_goes_by(self, wait: int) -> None:
        self.tell("clock", wall=wait, mono=wait)

    @rule(sure=st.integers(0, 5))
    def wipe_storage(self, sure: int) -> None:
        if sure != 3:
            return
        self.note("wiped")
        self.wiped |= {row["id"] for row in self.state["rows"] + self.state["receipts"]}
        self.tell("wipe")
        self.drop_tries()

    @rule()
    def new_version(self) -> None:
        """Every window closes; the next one finds what the version before left behind."""
        for tab in list(self.state["tabs"]):
            self.tell("kill", tab=tab)
        self.drop_tries()
        self.tell("downgrade")
        self.new_tab()

    @rule(tab=pick, sure=st.integers(0, 4), keep=st.integers(0, 5), contact=st.booleans())
    def depot_is_put_back(self, tab: int, sure: int, keep: int, contact: bool) -> None:
        """To an older copy of itself; a window may hear of it at once, or much later."""
        if sure != 3:
            return
        self.note("put back")
        self.forgotten |= self.depot.put_back(self.installs, keep)
        self.stale = True
        if contact:
            self.offer(self.a_tab(tab))

    @rule(tab=pick)
    def contact(self, tab: int) -> None:
        self.offer(self.a_tab(tab))

    def offer(self, tab: int) -> None:
        self.tell("offer", tab=tab, tag=self.tag(), said=self.depot.says())

    # What befalls a request

    @rule(tab=pick, requests=st.integers(1, 4))
    def send(self, tab: int, requests: int) -> None:
        """One window sends by hand; each request it makes meets a fate by plain chance.

        Hypothesis's own draws come in clusters; a short run would miss half of the fates.
        """
        one = self.a_tab(tab)
        self.tell("flush", tab=one, tag=self.tag(), byHand=True)
        for _ in range(requests):
            mine = [n for n in self.waiting() if self.inflight[n]["tab"] == one]
            if mine:
                self.befall(mine[0], self.chance.choice(FATES), self.chance.randrange(1000))

    @rule(after=st.integers(1, 9), edit=st.booleans(), x=pick)
    def two_windows(self, after: int, edit: bool, x: int) -> None:
        """One stands still somewhere in its flush while another changes or sends the rows."""
        one, other = self.new_tab(), self.new_tab()
        self.tell("plan", tab=one, what="hold", after=after)
        self.tell("flush", tab=one, tag=self.tag(), byHand=True)
        if edit and self.rows():
            self.save_in(other, "edit", self.rows()[x % len(self.rows())]["id"])
        self.tell("flush", tab=other, tag=self.tag(), byHand=True)
        for n in self.waiting():
            if self.inflight[n]["tab"] == other:
                self.befall(n, "taken", x)
        if one in self.state["held"]:
            self.tell("release", tab=one)
        for n in self.waiting():
            if self.inflight[n]["tab"] == one:
                self.befall(n, FATES[x % len(FATES)], x)
        self.tell("kill", tab=other)
        if one in self.state["tabs"]:
            self.tell("kill", tab=one)

    @precondition(lambda self: self.waiting())
    @rule(which=pick, fate=st.sampled_from(FATES), x=pick)
    def one_request(self, which: int, fate: str, x: int) -> None:
        """Any request that is on its way meets its fate, in any order."""
        self.befall(self.waiting()[which % len(self.waiting())], fate, x)

    @precondition(lambda self: self.late)
    @rule(which=pick)
    def late_delivery(self, which: int) -> None:
        self.note("delivered late")
        self.take(self.late.pop(which % len(self.late)))

    def befall(self, n: int, fate: str, x: int) -> None:
        self.note(fate)
        getattr(self, fate.replace(" ", "_"))(n, self.inflight[n]["body"], x)

    def another_answers(self, n: int, _body: dict[str, Any], x: int) -> None:
        name = sorted(FOREIGN)[x % len(FOREIGN)]
        self.note(name)
        self.give(n, FOREIGN[name])

    def taken(self, n: int, body: dict[str, Any], _x: int) -> None:
        self.give(n, self.take(body))

    def lost_on_the_way(self, n: int, _body: dict[str, Any], x: int) -> None:
        self.give(n, None, ("dead", "timeout")[x % 2])

    def answer_lost(self, n: int, body: dict[str, Any], x: int) -> None:
        self.take(body)
        self.give(n, None, ("dead", "timeout")[x % 2])

    def comes_late(self, n: int, body: dict[str, Any], _x: int) -> None:
        """The tablet gives up waiting; the network delivers it some other time."""
        self.late.append(body)
        self.give(n, None, "timeout")

    def doubled(self, n: int, body: dict[str, Any], x: int) -> None:
        answers = [self.take(body), self.take(body)]
        self.give(n, answers[x % 2])

    def server_killed(self, n: int, body: dict[str, Any], x: int) -> None:
        """At the nth statement; COMMIT is one of them."""
        answer = self.depot.take_and_die(body, 1 + x % 12)
        self.note("server killed" if answer is None else "server lived")
        self.stale = True
        self.give(n, answer)

    def database_fails(self, n: int, body: dict[str, Any], x: int) -> None:
        answer = self.depot.take_and_fail(body, 1 + x % 12)
        self.note(f"database failed: {answer['status']}")
        self.stale = True
        self.give(n, answer)

    def says_stored(self, n: int, body: dict[str, Any], _x: int) -> None:
        """Some other network repeats the ids and says stored, but it is not the depot."""
        results = [{"id": item["id"], "result": "created"} for item in body["items"]]
        self.give(n, foreign(200, {"results": results}))

    def answer_cut(self, n: int, body: dict[str, Any], x: int) -> None:
        answer = self.take(body)
        self.give(n, {**answer, "text": answer["text"][: -1 - x % 200]})

    def one_rejected(self, n: int, body: dict[str, Any], x: int) -> None:
        self.all_but_one(n, body, x, "rejected")

    def one_put_off(self, n: int, body: dict[str, Any], x: int) -> None:
        self.all_but_one(n, body, x, "retry")

    def one_not_named(self, n: int, body: dict[str, Any], x: int) -> None:
        self.all_but_one(n, body, x, None)

    def all_but_one(self, n: int, body: dict[str, Any], x: int, result: str | None) -> None:
        """The depot takes all but one; that one it refuses, puts off, or does not name."""
        left: str = body["items"][x % len(body["items"])]["id"]
        rest = [one for one in body["items"] if one["id"] != left]
        results = json.loads(self.take({**body, "items": rest})["text"])["results"]
        if result == "rejected":
            self.refused.add(left)
        if result:
            one = {"id": left, "result": result, "code": "invalid", "server_no": None}
            results.append({**one, "received_at": None, "errors": {"text": ["no"]}})
        self.give(n, ours(200, {"results": results}))

    def too_large(self, n: int, body: dict[str, Any], _x: int) -> None:
        if len(body["items"]) == 1:
            self.refused.add(body["items"][0]["id"])
        self.give(n, ours(413, {"code": "too_large"}))

    # What must hold after each step

    @invariant()
    def nothing_is_lost(self) -> None:
        """R1, R3, R66: what was said to be saved is on the tablet or at the depot."""
        there = {row["id"] for row in self.rows()} | {row["id"] for row in self.at_depot()}
        aside = {one["id"] for one in self.state.get("receipts", []) if one.get("putAside")}
        held = {one["id"] for one in self.state.get("receipts", [])} & self.forgotten
        assert set(self.saved) - self.wiped <= there | aside | held, (
            "a saved report is nowhere"
        )

    @invariant()
    def what_is_said_to_have_reached_the_depot_is_there(self) -> None:
        there = {row["id"] for row in self.at_depot()}
        said = {one["id"] for one in self.state.get("receipts", []) if not one.get("putAside")}
        self.forgotten -= there
        assert said - self.forgotten <= there, "a receipt for what the depot does not have"

    @invariant()
    def the_depot_has_each_once_and_as_saved(self) -> None:
        """R6, R26, R29: one row an id, one id a number, the text that was saved last."""
        kept = self.at_depot()
        names = [row["id"] for row in kept]
        assert len(set(names)) == len(names)
        assert len({row["no"] for row in kept}) == len(kept)
        numbers = [(row["install"], row["seq"]) for row in kept]
        assert len(set(numbers)) == len(numbers), "two reports under one number"
        for row in kept:
            said = row["item"]["body"]["text"]
            assert said == self.saved[row["id"]], "the depot has another text than the tablet"

    @invariant()
    def frozen_rows_do_not_change(self) -> None:
        """R29: what may have been seen by the depot is said for good."""
        for row in self.rows():
            if row["tries"] > 0:
                assert self.frozen.setdefault(row["id"], row["item"]) == row["item"]

    @invariant()
    def only_the_depot_parks(self) -> None:
        """R4: a page of some other network takes no report off the road."""
        assert {row["id"] for row in self.rows() if row["parked"]} <= self.refused

    @invariant()
    def a_draft_is_one_report_or_none(self) -> None:
        """What is saved is no draft any more, and no draft is saved twice or by another id."""
        here = self.state.get("rows", []) + self.state.get("receipts", [])
        saved = {row["id"] for row in here} | {row["id"] for row in self.at_depot()}
        assert not saved & {one["id"] for one in self.state.get("drafts", [])}
        texts = {row["item"]["body"]["text"]: row["id"] for row in here if row["item"]}
        for text in texts.keys() & self.of_draft.keys():
            assert texts[text] == self.of_draft[text], "a draft's report has another id"

    @invariant()
    def numbers_have_no_gap(self) -> None:
        """R20: a gap at the desk means a lost report, so the tablet makes none."""
        install = self.state.get("install")
        here = self.state.get("rows", []) + self.state.get("receipts", [])
        numbers = {row["seq"] for row in here if row["item"]["kind"] == "report"}
        numbers |= {row["seq"] for row in self.at_depot() if row["install"] == install}
        assert numbers == set(range(1, len(numbers) + 1)), "a number is missing"

    def teardown(self) -> None:
        if not self.state:
            return
        self.settle_all()
        assert self.rows() == [], "something is left on the tablet"
        there = {row["id"] for row in self.at_depot()}
        aside = {one["id"] for one in self.state["receipts"] if one.get("putAside")}
        assert set(self.saved) - self.wiped <= there | aside
        assert there <= set(self.saved)
        links = {row["id"]: row["supersedes"] for row in self.at_depot() if row["supersedes"]}
        assert all(old in self.saved and old != new for new, old in links.items())
        self.check_all()

    def settle_all(self) -> None:
        """The network is good at last: held windows go on, late requests come, all is sent."""
        while self.state["held"]:
            self.tell("release", tab=self.state["held"][0])
        while self.late:
            self.take(self.late.pop())
        tab = self.new_tab()
        for other in [one for one in self.state["tabs"] if one != tab]:
            self.tell("kill", tab=other)
        self.drop_tries()
        self.offer(tab)
        for row in [row for row in self.rows() if row["parked"]]:
            self.tell("again", tab=tab, tag=self.tag(), id=row["id"])
        for _ in range(20):
            self.tell("flush", tab=tab, tag=self.tag(), byHand=True)
            while self.waiting():
                self.befall(self.waiting()[0], "taken", 0)
            if not self.rows():
                return

    def check_all(self) -> None:
        self.nothing_is_lost()
        self.what_is_said_to_have_reached_the_depot_is_there()
        self.the_depot_has_each_once_and_as_saved()
        self.numbers_have_no_gap()

    # How the rules do it

    def tell(self, cmd: str, **how: Any) -> None:
        self.state = self.tablet.tell(cmd, **how)
        if self.state["install"]:
            self.installs.add(self.state["install"])
        for one in self.state["fetches"]:
            self.check_request(one)
            self.inflight[one["n"]] = one
        in_hand = dict(self.trying)
        for one in self.state["settled"]:
            self.learn(one, in_hand)
        self.adopt()

    def check_request(self, one: dict[str, Any]) -> None:
        """R16: with the browser's locks nobody sends what has arrived or is on its way."""
        assert len(one["body"]["items"]) <= 50
        if not self.locks:
            return
        asked = {item["id"] for item in one["body"]["items"]}
        assert not asked & {row["id"] for row in self.state["receipts"]}, "sent again"
        for n in self.waiting():
            others = self.inflight.get(n, one)["body"]["items"]
            alone = not asked & {item["id"] for item in others}
            assert n == one["n"] or alone, "two windows send one report"

    def learn(self, one: dict[str, Any], in_hand: dict[str, str]) -> None:
        """What is told to be saved is on the disk, or was there before it was told.

        A window that stood still between its commit and its word is late with it: the
        driver may have changed that row since, and what was written last counts. Of two
        changes of one row that end in one turn, either may have been written last.
        """
        text = self.tags.pop(one["tag"], None)
        if text is None:
            return
        old = self.trying.pop(text, None)
        if not one["ok"]:
            return
        name = one["value"]["id"]
        self.note("edited in place" if old == name else "saved")
        if text in self.found:
            self.note("told late")
            return
        now = {row["id"]: row["item"]["body"]["text"] for row in self.rows()}.get(name)
        last = now == text or (now is not None and in_hand.get(now) == name)
        assert last, "said to be saved, but is not on the disk"
        self.saved[name] = now
        self.found |= {text, now}

    def adopt(self) -> None:
        """A window that died after the commit left a row of which it told nobody."""
        for row in self.state["rows"]:
            text = row["item"]["body"]["text"]
            if self.saved.get(row["id"]) == text:
                continue
            fresh = text in self.trying and text not in self.found
            assert fresh, "a row that nobody saved"
            self.saved[row["id"]] = text
            self.found.add(text)

    def drop_tries(self) -> None:
        """No window is left that could still save what it had in hand."""
        self.trying, self.tags = {}, {}

    def save_in(self, tab: int, change: str = "", old: str = "", draft: str = "") -> None:
        self.count += 1
        text = f"report {self.count}"
        tag = self.tag()
        self.trying[text], self.tags[tag] = old, text
        if draft:
            self.of_draft[text] = draft
        how = {"change": change, "from": old, "draft": draft}
        self.tell("save", tab=tab, tag=tag, text=text, **how)

    def take(self, body: dict[str, Any]) -> Answer:
        self.stale = True
        return self.depot.take(body)

    def rows(self) -> list[dict[str, Any]]:
        rows: list[dict[str, Any]] = self.state.get("rows", [])
        return rows

    def at_depot(self) -> list[dict[str, Any]]:
        if self.stale:
            self.kept, self.stale = self.depot.items(self.installs), False
        return self.kept
