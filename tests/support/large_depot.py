"""A depot after three seasons, put straight into the tables: the same rows for the same seed.

It is filled past the services, since they take one report at a time; what they would have
kept beside a row is therefore written here too. Whoever adds a table that grows adds it.
Begins on a depot whose packs are published: reports and warnings are about their lines.
"""

from __future__ import annotations

import hashlib
import random
import uuid
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from itertools import islice
from typing import Any

from sqlalchemy import Connection, func, insert, select, text, update

from tests.support.large_register import registers
from tests.support.reports import body
from webapp.lines import in_use
from webapp.records.control import TrainBar, WheelCheck
from webapp.records.people.models import Person
from webapp.records.reports.models import Answer, Note, Refusal, Report, ReportWords
from webapp.records.reports.rank import DONE, happened, urgency
from webapp.records.reports.search import searched
from webapp.records.seals import Seal
from webapp.records.tablets import Device, TabletPack
from webapp.records.warnings import service as warnings
from webapp.records.warnings.models import (
    ClearingStep,
    Warned,
    WarningClock,
    WarningReach,
    WarningReceipt,
    WarningRev,
)
from webapp.store.audit import AuditEntry
from webapp.store.db import Base, db, reading

Json = dict[str, Any]
Rows = Iterator[tuple[type[Base], Json]]
AT_ONCE, LUCK = 5_000, 20261125
BASES = ("Harrowmere", "Kettle Bay", "Orrin Head", "Sandling", "")
SEASONS, SEASON = 3, timedelta(days=70)
SIGNS = ("slide", "slip at start", "overrun", "stopped short", "leaves", "dull railhead")
SAID = (
    "slid from the bridge to the ramp, held step two and waited",
    "leaves lying thick under the trees by the cutting",
    "wheels picked up again near the signal, stopped at the mark",
    "light rain after a dry week, rail looked dull",
    "no trouble here, braked early",
)
#: One report in a thousand says this, so a search can be rare.
RARE_WORD = "buddleia"
WHO = "j.seeded"


@dataclass(frozen=True)
class Sizes:
    """How much there is: by default what three seasons leave at a large depot."""

    reports: int = 200_000
    tablets: int = 500
    live: int = 60
    drafts: int = 12
    ended: int = 5_000
    people: int = 40
    places: int = 240
    retired: int = 60
    declined: int = 300
    treatments: int = 12_000
    slow: int = 150
    slow_ahead: int = 40
    slow_ended: int = 3_000
    seals: int = 400


@dataclass
class Seed:
    """What the rows are drawn from; `devices` and `named` are filled on the way."""

    now: datetime
    sizes: Sizes
    lines: dict[str, Json]
    packs: dict[str, str]
    luck: random.Random
    devices: list[uuid.UUID] = field(default_factory=list)
    #: Some reports, for what names one.
    named: list[uuid.UUID] = field(default_factory=list)

    def name(self) -> uuid.UUID:
        return uuid.UUID(int=self.luck.getrandbits(128), version=4)

    def chance(self, share: float) -> bool:
        return self.luck.random() < share


def fill_large(now: datetime, sizes: Sizes | None = None, luck: int = LUCK) -> None:
    """Fill the store of the application whose context is pushed; again with other luck."""
    with reading() as session:
        drawn = random.Random(luck)
        bases = {line: base.file for line, base in in_use.bases(session).items()}
        seed = Seed(now, sizes or Sizes(), bases, in_use.packs(session), drawn)
        first = (session.scalar(select(func.max(Report.server_no))) or 0) + 1
        feed = session.scalars(select(WarningClock.n)).one()
        seal = (session.scalar(select(func.max(Seal.no))) or 0) + 1
    with db.engine.begin() as link:
        _put(link, _devices(seed))
        _put(link, _reports(seed, first))
        _put(link, _warnings(seed, feed))
        _put(link, registers(seed, seal))
        _put(link, _rest(seed))
        link.execute(update(WarningClock).values(n=_last_feed(link)))
        _settle(link)


def _put(link: Connection, rows: Rows) -> None:
    """Write rows many at a time, those that others refer to first."""
    order = {table.name: n for n, table in enumerate(Base.metadata.sorted_tables)}
    while some := list(islice(rows, AT_ONCE)):
        by_table: dict[type[Base], list[Json]] = {}
        for table, row in some:
            by_table.setdefault(table, []).append(row)
        for table in sorted(by_table, key=lambda one: order[one.__tablename__]):
            link.execute(insert(table), by_table[table])


def _settle(link: Connection) -> None:
    """Let the numbers go on behind the rows; PostgreSQL counts them by itself in time.

    SQLite is not told: nothing at the depot does, so its plans are those without counts.
    """
    if link.dialect.name == "postgresql":
        for table in ("report.server_no", "report_note.id", "audit.id", "seal.no"):
            owner, column = table.split(".")
            link.execute(
                text(
                    f"SELECT setval(pg_get_serial_sequence('{owner}', '{column}'), "
                    f"(SELECT max({column}) FROM {owner}))"
                )
            )
        link.execute(text("ANALYZE"))


def _last_feed(link: Connection) -> int:
    return link.scalar(select(func.max(WarningRev.feed_no))) or 0


def _devices(seed: Seed) -> Rows:
    for n in range(seed.sizes.tablets):
        name = seed.name()
        seed.devices.append(name)
        yield (
            Device,
            {
                "id": name,
                "token_sha": hashlib.sha256(name.bytes).hexdigest(),
                "label": f"tablet {n:03}",
                "base": BASES[n % len(BASES)],
                "enrolled_at": seed.now - SEASON * 15,
                "revoked_at": seed.now - SEASON if n % 25 == 7 else None,
                "last_heard_at": seed.now - timedelta(minutes=seed.luck.randrange(6_000)),
                "app_build": "0123456789abcdef",
                "installed": n % 9 > 0,
            },
        )
    for name in seed.devices:
        for line, pack in seed.packs.items():
            row = {"device_id": name, "line_key": line, "pack_sha": pack, "told_at": seed.now}
            yield TabletPack, row


def _moments(seed: Seed) -> list[datetime]:
    """When reports arrived: in the last weeks of three autumns, rising."""
    year, span = timedelta(days=365), SEASON.total_seconds()
    return sorted(
        seed.now - year * (n % SEASONS) - timedelta(seconds=seed.luck.uniform(0, span))
        for n in range(seed.sizes.reports)
    )


def _reports(seed: Seed, first: int) -> Rows:
    seqs: dict[uuid.UUID, int] = {}
    former: list[tuple[uuid.UUID, str]] = []
    for n, received in enumerate(_moments(seed)):
        device = seed.luck.choice(seed.devices)
        install = _store(device, (seed.now - received).days // 365)
        seqs[install] = seqs.get(install, 0) + (2 if seed.chance(0.0005) else 1)
        row = _report(seed, (device, install, seqs[install]), received, former)
        row["server_no"] = first + n
        former = [*former[-40:], (row["id"], row["line_key"])]
        if n % 90 == 0:
            seed.named.append(row["id"])
        yield Report, row
        yield ReportWords, {"server_no": first + n, "words": searched(row["item"]["body"])}
        yield from _beside(seed, row)
        if n % 700 == 0:
            yield Refusal, _refusal(seed, device, install, received)


def _store(device: uuid.UUID, year: int) -> uuid.UUID:
    """One tablet in ten is wiped each year, and its numbers begin at 1 again."""
    return uuid.uuid5(device, str(year if device.int % 10 == 0 else "first"))


def _report(
    seed: Seed,
    number: tuple[uuid.UUID, uuid.UUID, int],
    received: datetime,
    former: list[tuple[uuid.UUID, str]],
) -> Json:
    luck, line = seed.luck, seed.luck.choice(sorted(seed.lines))
    (device, install, seq), said = number, _body(seed, line)
    seen = received - timedelta(seconds=luck.randrange(20, 1_800))
    same = [name for name, of_line in former if of_line == line]
    repeats = luck.choice(same) if same and seed.chance(0.02) else None
    if same and seed.chance(0.02):
        said["supersedes"] = str(luck.choice(same))
    apart, name = seed.chance(0.01), seed.name()
    reviewed = seed.now - received > timedelta(days=1) or seed.chance(0.5)
    waits = not reviewed and repeats is None
    item = {"kind": "report", "id": str(name), "seq": seq}
    return {
        "id": name,
        "device_id": None if apart else device,
        "install_id": install,
        "seq": seq,
        "payload_sha": f"{name.hex}{name.hex}",
        "item": {**item, "observed_at": seen.isoformat(), "body": said},
        "line_key": line,
        "direction": said["direction"],
        "at_m": said["at_m"],
        "found": said["found"],
        "rail_state": said["rail_state"],
        "pack_sha": said["pack"],
        "supersedes": uuid.UUID(said["supersedes"]) if said["supersedes"] else None,
        "observed_at": seen,
        "sent_at": received,
        "received_at": received,
        "clock_offset_s": 0.0,
        "observed_est_at": seen,
        "quarantined": apart,
        "version": 1 if waits else 2,
        "target": said["target"],
        "happened": happened(said["happened"]),
        "waiting": waits,
        "flats": said["flats_suspected"],
        "urgency": urgency(said, apart=apart) if waits else DONE,
        "reviewed_at": received + timedelta(minutes=40) if reviewed else None,
        "reviewed_by": WHO if reviewed else None,
        "repeats": repeats,
    }


def _body(seed: Seed, line: str) -> Json:
    luck, base = seed.luck, seed.lines[line]
    target = luck.choice([one for one in base["targets"] if one["place"]])
    mark = next(mark for mark in target["mark_m"] if mark is not None)
    words = [luck.choice(SAID)] if seed.chance(0.4) else []
    words += [RARE_WORD] if seed.chance(0.001) else []
    return body(
        route=line,
        pack=seed.packs[line],
        direction=target["direction"],
        target=target["key"] if seed.chance(0.8) else None,
        at_m=round(mark + luck.uniform(-1_500, 100), 1) if seed.chance(0.9) else None,
        position=None,
        found=luck.choices(("good", "expected", "reportable"), (6, 3, 1))[0],
        happened=luck.sample(SIGNS, luck.randrange(3)),
        step=luck.choice("123"),
        weather=luck.choice(("dry", "drizzle", "rain", "mist")),
        flats_suspected=seed.chance(0.005),
        told_signaller_at=None,
        text=" ".join(words),
        train=luck.choice(base["trains"])["key"],
        rail_state=luck.choice(base["states"])["key"],
    )


def _beside(seed: Seed, row: Json) -> Rows:
    """What the desk keeps beside a report it has worked on."""
    if row["reviewed_at"] is None:
        return
    at, name = row["reviewed_at"], row["id"]
    answer = {"report_id": name, "kind": "reviewed", "trains": None, "answered_at": at}
    yield Answer, answer
    yield _audited(at, "report.answer", name, {"kind": "reviewed"})
    if row["flats"] and seed.chance(0.7):
        found = {"inspected_by": "fleet", "inspected_at": at, "result": "nothing found"}
        yield WheelCheck, {"report_id": name, **found, "noted_by": WHO, "noted_at": at}
    if seed.chance(0.03):
        said = {"said_by": "signaller", "said_at": at, "reference": "", "noted_at": at}
        yield Note, {"report_id": name, **said, "text": "told the next two", "noted_by": WHO}


def _audited(at: datetime, what: str, subject: object, new: Json) -> tuple[type[Base], Json]:
    row = {"at": at, "who": WHO, "what": what, "subject": str(subject), "old": {}, "new": new}
    return AuditEntry, row


def _refusal(seed: Seed, device: uuid.UUID, install: uuid.UUID, at: datetime) -> Json:
    name = seed.name()
    return {
        "id": name,
        "payload_sha": f"{name.hex}{name.hex}",
        "device_id": device,
        "install_id": install,
        "seq": 1_000_000,
        "code": "invalid",
        "reason": "{}",
        "refused_at": at,
    }


def _warnings(seed: Seed, feed: int) -> Rows:
    """The ended ones over three seasons, then those that live, then drafts."""
    sizes = seed.sizes
    kinds = ["ended"] * sizes.ended + ["published"] * sizes.live + ["draft"] * sizes.drafts
    for n, status in enumerate(kinds):
        old = SEASON * 15 * (1 - n / max(1, sizes.ended)) if status == "ended" else SEASON / 70
        row = _warned(seed, status, seed.now - max(old, timedelta(hours=5)))
        revs = {"draft": 1, "published": 2, "ended": 3}[status]
        numbers: list[int | None] = [None]
        for _ in range(revs - 1):
            feed += 1
            numbers.append(feed)
        row |= {"rev": revs, "feed_no": numbers[-1]}
        yield Warned, row
        yield from _revisions(row, numbers)
        if status == "published":
            yield from _receipts(seed, row)
        if status == "ended":
            yield from _after(seed, row)


def _warned(seed: Seed, status: str, at: datetime) -> Json:
    luck, line = seed.luck, seed.luck.choice(sorted(seed.lines))
    base = seed.lines[line]
    target = luck.choice([one for one in base["targets"] if one["place"]])
    mark = float(next(mark for mark in target["mark_m"] if mark is not None))
    return {
        "id": seed.name(),
        "status": status,
        "line_key": line,
        "direction": target["direction"],
        "datum": base["route"]["datum"],
        "from_m": mark - 800.0,
        "to_m": mark,
        "plan_state": luck.choice(base["states"][1:])["key"],
        "reason": luck.choice(SAID),
        "from_at": at,
        "review_at": at + timedelta(hours=luck.choice((2, 8, 40))),
        "told_by": "signaller",
        "reference": f"log {luck.randrange(10_000)}",
        "told_at": at,
        "report_id": None,
        "changed_at": at + timedelta(seconds=luck.randrange(3_600)),
        "ended_at": at + timedelta(hours=4) if status == "ended" else None,
    }


def _revisions(row: Json, numbers: Iterable[int | None]) -> Rows:
    actions = ("warning.draft", "warning.publish", "warning.end")
    states = ("draft", "published", "ended")
    for n, (feed_no, action, status) in enumerate(zip(numbers, actions, states, strict=False)):
        at = row["from_at"] + timedelta(minutes=5 * n)
        said = warnings.body_of(Warned(**{**row, "status": status}))
        yield (
            WarningRev,
            {
                **{"warning_id": row["id"], "rev": n + 1, "feed_no": feed_no},
                **{"mark": f"{feed_no or 0:016}", "at": at, "body": said},
            },
        )
        yield _audited(at, action, row["id"], said)


def _receipts(seed: Seed, row: Json) -> Rows:
    for device in seed.devices:
        if not seed.chance(0.9):
            continue
        received = 2 if seed.chance(0.95) else 1
        seen = 2 if received == 2 and seed.chance(0.6) else None
        yield (
            WarningReceipt,
            {
                "warning_id": row["id"],
                "device_id": device,
                "received_rev": received,
                "received_at": row["changed_at"],
                "seen_rev": seen,
                "seen_at": row["changed_at"] if seen else None,
            },
        )


def _after(seed: Seed, row: Json) -> Rows:
    for base in BASES:
        counts = {"tablets": 96, "received": 90, "seen": 60}
        yield WarningReach, {"warning_id": row["id"], "base": base, **counts}
    for kind in ("inspected", "test stop"):
        told = {
            "told_by": "signaller",
            "told_at": row["ended_at"],
            "reference": "",
            "note": "",
        }
        yield (
            ClearingStep,
            {
                **{"id": seed.name(), "warning_id": row["id"], "kind": kind, **told},
                **{"result": "good" if kind == "test stop" else None, "strikes": None},
                **{"kept_at": row["ended_at"], "kept_by": WHO},
            },
        )


def _rest(seed: Seed) -> Rows:
    """Accounts, the log-ins that the audit holds, trains kept from somewhere."""
    for n in range(seed.sizes.people):
        yield (
            Person,
            {
                "id": seed.name(),
                "login": f"seeded-{seed.luck.getrandbits(40):010x}",
                "pass_hash": "none",
                "role": ("look", "review", "publish")[n % 3],
                "manages_people": False,
                "must_change": False,
                "made_at": seed.now - SEASON * 15,
                "disabled_at": None,
            },
        )
        for hour in range(100):
            yield _audited(
                seed.now - timedelta(hours=7 * hour), "log-in", f"seeded-{n:03}", {}
            )
    for n in range(10):
        yield (
            TrainBar,
            {
                **{"id": seed.name(), "line_key": seed.luck.choice(sorted(seed.lines))},
                **{"place": f"siding {n}", "trains": "older units", "reason": "no sand"},
                **{"decided_by": "fleet", "from_at": seed.now, "noted_by": WHO},
                **{"ended_at": None, "ended_by": None},
            },
        )
