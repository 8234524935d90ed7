import assert from "node:assert/strict";
import { plainReason } from "../../static/core/answer.js";
import { backOff, batchOf, judge } from "../../static/core/outbox.js";
import { reportsOf } from "../../static/core/rows.js";
import { World, foreign, html, json, report } from "./outbox_world.js";

const DAY = 24 * 3600_000;
const dead = () => new TypeError("Failed to fetch");
const timedOut = () => Object.assign(new Error("deadline"), { name: "TimeoutError" });

const FAULTS = {
  "no network": () => ({ before: dead() }),
  "no answer in time": () => ({ before: timedOut() }),
  "answer lost after the depot stored it": () => ({ after: dead() }),
  "500": () => ({ answer: json(500, { code: "internal" }) }),
  "503 of a front server": () => ({ answer: html(503) }),
  "a portal's page": () => ({ answer: html(200) }),
  "answer names nobody": () => ({ answer: json(200, { results: [] }) }),
  "everyone is to try again": () => ({ answer: json(200, { results: [{ id: report(1).id, result: "retry" }] }) }),
};

for (const [name, fault] of Object.entries(FAULTS)) {
  Deno.test(`nothing lost, nothing twice while requests 1 to n fail: ${name}`, async () => {
    for (let n = 1; n <= 6; n++) {
      const world = new World(120, { fault: (call) => (call < n ? fault() : null) });
      const outbox = world.outbox();
      for (let tries = 0; world.rows.size > 0; tries++) {
        assert.ok(tries <= n, "it never ends");
        await outbox.flush();
        assert.equal(world.rows.size + world.receipts.size, 120);
        world.mono += outbox.pause();
      }
      assert.equal(world.depot.size, 120);
      assert.equal(world.stored, 120);
      assert.equal(outbox.contact(), "online");
    }
  });

  Deno.test(`only the nth request fails: ${name}`, async () => {
    for (let n = 1; n <= 4; n++) {
      const world = new World(120, { fault: (call) => (call === n ? fault() : null) });
      const outbox = world.outbox();
      for (let tries = 0; world.rows.size > 0 && tries < 5; tries++) {
        await outbox.flush();
        world.mono += outbox.pause();
      }
      assert.deepEqual([world.rows.size, world.stored, world.receipts.size], [0, 120, 120]);
    }
  });
}

Deno.test("not counted: all are offered once, kept, and offered again once enrolled", async () => {
  let enrolled = false;
  const heldBack = (items) => json(200, {
    results: items.map(({ id }, n) => ({ id, result: "retry", code: n % 2 ? "no_room" : "received_not_counted" })),
  });
  const seen = new Set();
  const world = new World(120, {
    fault: (_call, { items }) => {
      for (const { id } of items) seen.add(id);
      return enrolled ? null : { answer: heldBack(items) };
    },
  });
  const outbox = world.outbox();
  await outbox.flush();
  assert.deepEqual([world.rows.size, seen.size, world.calls], [120, 120, 3]);
  assert.equal(outbox.contact(), "enrol");
  assert.ok(outbox.pause() >= 900_000, "what does not count is not offered every few seconds");
  await outbox.flush({ newNetwork: true });
  assert.equal(world.calls, 3);
  enrolled = true;
  await outbox.flush({ byHand: true });
  assert.deepEqual([world.rows.size, world.stored, world.receipts.size], [0, 120, 120]);
  assert.equal(outbox.contact(), "online");
});

Deno.test("a tablet not enrolled is told so also when it is turned away", () => {
  for (const [status, code] of [[503, "disk_low"], [429, "too_many_not_enrolled"]]) {
    const verdict = judge(json(status, { code }, { retryAfter: "600" }), 0);
    assert.deepEqual(verdict, { kind: "later", contact: "enrol", wait: 600_000, asked: true });
    assert.equal(judge(foreign(status, { code }), 0).contact, "fault");
  }
});

Deno.test("the page is killed at every step of a flush: a new start delivers each once", async () => {
  let steps = Infinity;
  for (let n = 1; n <= steps; n++) {
    const world = new World(60, { stall: (step) => step === n });
    world.outbox().flush();
    await new Promise((resolve) => setTimeout(resolve, 0));
    assert.ok(world.rows.size + world.depot.size >= 60, `step ${n}`);
    if (world.operations < n) steps = n;
    world.locked = false; // the browser frees a dead page's locks
    world.stall = () => false;
    await world.outbox().flush();
    assert.deepEqual([world.rows.size, world.depot.size, world.stored], [0, 60, 60], `step ${n}`);
  }
  assert.ok(steps > 6);
});

Deno.test("the tablet's own storage fails once at every step: rows stay and go later", async () => {
  for (let n = 1; n <= 8; n++) {
    const world = new World(60);
    const step = world.step.bind(world);
    world.step = (work) => {
      if (world.operations + 1 !== n) return step(work);
      world.operations += 1;
      return Promise.reject(new DOMException("lost", "UnknownError"));
    };
    const outbox = world.outbox();
    for (let tries = 0; tries < 3; tries++) {
      await outbox.flush();
      world.mono += outbox.pause();
    }
    assert.deepEqual([world.rows.size, world.stored], [0, 60], `step ${n}`);
  }
});

// OFFLINE.md R2: the eleven answers after which the row is still there.
const KEEPS = {
  "200 text/html": html(200),
  "204": { status: 204, type: "", text: "", retryAfter: null, ours: true },
  "302": { status: 302, type: "", text: "", retryAfter: null, ours: false },
  "401": json(401, { code: "no_tablet" }),
  "403": json(403, { code: "revoked" }),
  "408": json(408, { code: "slow" }),
  "413": json(413, { code: "too_large" }),
  "429": json(429, { code: "wait" }),
  "500": json(500, { code: "internal" }),
  "truncated JSON": { ...json(200, {}), text: '{"results": [{"id' },
  "JSON without the id": json(200, { results: [{ id: "other", result: "created", server_no: 1 }] }),
};

for (const [name, answer] of Object.entries(KEEPS)) {
  Deno.test(`r2 the row is kept after ${name}`, async () => {
    const world = new World(1, { fault: () => ({ answer }) });
    await world.outbox().flush();
    assert.equal(world.rows.size, 1);
    assert.equal(world.receipts.size, 0);
  });
}

Deno.test("a portal that answers 404 or 400 with its own page parks nothing", async () => {
  for (const status of [400, 404, 422]) {
    const world = new World(3, { fault: () => ({ answer: html(status) }) });
    await world.outbox().flush();
    assert.ok([...world.rows.values()].every((row) => row.parked === null), String(status));
  }
});

Deno.test("no jump of the clock touches a row or the waiting", async () => {
  for (const jump of [8 * DAY, -8 * DAY, 5 * 365 * DAY]) {
    let broken = true;
    const world = new World(3, { fault: () => (broken ? { before: dead() } : null) });
    const outbox = world.outbox();
    await outbox.flush();
    world.wall += jump;
    assert.equal(world.rows.size, 3);
    assert.ok(outbox.pause() <= 5_000, "the pause does not follow the wall clock");
    broken = false;
    world.mono += outbox.pause();
    await outbox.flush();
    assert.deepEqual([world.rows.size, world.stored], [0, 3]);
  }
});

Deno.test("413 halves the batch; one that is too large alone is parked, the others arrive", async () => {
  const big = report(4).id;
  const world = new World(20, {
    fault: (_call, { items }) =>
      items.some((item) => item.id === big) ? { answer: json(413, { code: "too_large" }) } : null,
  });
  await world.outbox().flush();
  assert.deepEqual([...world.rows.keys()], [big]);
  assert.equal(world.rows.get(big).parked.code, "too_large");
  assert.equal(world.stored, 19);
});

Deno.test("a refused report is parked with the reason and blocks nobody", async () => {
  const bad = report(2).id;
  const world = new World(3);
  const accept = world.accept.bind(world);
  world.accept = (path, body) => {
    const answer = JSON.parse(accept(path, body).text);
    const results = answer.results.map((one) =>
      one.id === bad ? { id: bad, result: "rejected", code: "invalid", errors: { found: ["no"] } } : one);
    return json(200, { ...answer, results });
  };
  await world.outbox().flush();
  assert.deepEqual([...world.rows.keys()], [bad]);
  assert.deepEqual(world.rows.get(bad).parked, { code: "invalid", reason: "found: no" });
  assert.equal(world.receipts.size, 2);
});

Deno.test("a second call during a flush runs nothing beside it", async () => {
  const world = new World(200);
  const outbox = world.outbox();
  await Promise.all([outbox.flush(), outbox.flush(), outbox.flush({ byHand: true })]);
  assert.equal(world.mostInFlight, 1);
  assert.equal(world.stored, 200);
  assert.equal(world.calls, 4);
});

Deno.test("a report saved at the very end of a flush is not forgotten", async () => {
  const world = new World(1);
  const outbox = world.outbox();
  world.unlocking = () => {
    world.unlocking = () => {};
    world.rows.set(report(2).id, report(2));
    outbox.flush();
  };
  await outbox.flush();
  assert.deepEqual([world.rows.size, world.stored], [0, 2]);
});

Deno.test("while another window flushes, this one sends nothing", async () => {
  const world = new World(3);
  world.locked = true;
  await world.outbox().flush();
  assert.deepEqual([world.calls, world.rows.size], [0, 3]);
});

Deno.test("five windows without locks still count each report once", async () => {
  const world = new World(50);
  const windows = Array.from({ length: 5 }, () => {
    world.locked = false;
    return world.outbox();
  });
  const free = { set: () => {}, get: () => false };
  Object.defineProperty(world, "locked", { set: free.set, get: free.get });
  await Promise.all(windows.map((one) => one.flush()));
  assert.deepEqual([world.rows.size, world.stored, world.receipts.size], [0, 50, 50]);
});

Deno.test("a row is frozen before the first byte leaves", async () => {
  const world = new World(2);
  let seen = null;
  world.fault = () => {
    seen = [...world.rows.values()].map((row) => [row.tries, row.firstTryAt]);
    return { before: dead() };
  };
  await world.outbox().flush();
  assert.deepEqual(seen, [[1, world.wall], [1, world.wall]]);
});

Deno.test("back-off doubles with jitter from 5 s to 5 min", () => {
  for (const random of [0, 0.3, 0.999]) {
    const pauses = Array.from({ length: 40 }, (_, i) => backOff(i, random));
    assert.ok(pauses.every((pause) => pause >= 5_000 && pause <= 300_000));
    assert.ok(pauses.every((pause, i) => i === 0 || pause >= pauses[i - 1]));
    assert.ok(pauses[39] >= 150_000);
  }
});

Deno.test("waits as asked by Retry-After, and not at all when the driver asks", async () => {
  let wait = "120";
  const world = new World(1, {
    fault: () => (wait ? { answer: { ...json(503, { code: "busy" }), retryAfter: wait } } : null),
  });
  const outbox = world.outbox();
  await outbox.flush();
  assert.equal(outbox.pause(), 120_000);
  await outbox.flush();
  assert.equal(world.calls, 1);
  wait = "";
  await outbox.flush({ byHand: true });
  assert.deepEqual([world.rows.size, outbox.pause()], [0, 0]);
});

Deno.test("Retry-After may be a date", () => {
  const now = Date.parse("2026-11-25T06:00:00Z");
  const answer = { ...html(503), retryAfter: "Wed, 25 Nov 2026 06:01:00 GMT" };
  assert.equal(judge(answer, now).wait, 60_000);
});

Deno.test("a batch holds at most 50 items and 256 KiB, oldest first", () => {
  const rows = Array.from({ length: 200 }, (_, i) => report(200 - i));
  assert.deepEqual(batchOf(rows, 50).map((row) => row.seq), Array.from({ length: 50 }, (_, i) => i + 1));
  const long = Array.from({ length: 50 }, (_, i) => report(i + 1, "\u{1F682}".repeat(2000)));
  const batch = batchOf(long, 50);
  assert.ok(JSON.stringify(batch.map((row) => row.item)).length > 0);
  const bytes = new TextEncoder().encode(JSON.stringify({ items: batch.map((row) => row.item) }));
  assert.ok(bytes.length < 256 * 1024 && batch.length > 20);
  assert.equal(batchOf([report(1, "x".repeat(300_000))], 50).length, 1);
});

Deno.test("the words for each kind of silence", async () => {
  const cases = [
    [{ before: dead() }, "offline"],
    [{ before: timedOut() }, "slow"],
    [{ answer: html(200) }, "portal"],
    [{ answer: json(401, { code: "no_tablet" }) }, "enrol"],
    [{ answer: json(500, { code: "internal" }) }, "fault"],
    [{ answer: html(511) }, "portal"],
  ];
  for (const [fault, contact] of cases) {
    const world = new World(1, { fault: () => fault });
    const outbox = world.outbox();
    await outbox.flush();
    assert.equal(outbox.contact(), contact);
  }
});

// The answer of some other server, however much it looks like the depot's, parks nothing.
const FOREIGN = {
  "a refusal in JSON": foreign(422, { code: "invalid", detail: "no" }),
  "a bad request in JSON": foreign(400, { code: "invalid_json" }),
  "all rejected": foreign(200, { results: [{ id: report(1).id, result: "rejected", code: "invalid" }] }),
  "all stored": foreign(200, { results: [{ id: report(1).id, result: "created", server_no: 9 }] }),
  "too large": foreign(413, { code: "too_large" }),
  "too large, as a page": html(413),
  "our 404": json(404, { code: "not_found" }),
  "our 405": json(405, { code: "method_not_allowed" }),
};

for (const [name, answer] of Object.entries(FOREIGN)) {
  Deno.test(`r1 r4 nothing is parked or given up by ${name}`, async () => {
    const world = new World(3, { fault: () => ({ answer }) });
    const outbox = world.outbox();
    for (let n = 0; n < 3; n++) {
      await outbox.flush();
      world.mono += outbox.pause();
    }
    assert.equal(world.rows.size, 3);
    assert.ok([...world.rows.values()].every((row) => row.parked === null));
    assert.ok(outbox.pause() >= 0 && world.calls < 20);
  });
}

Deno.test("one that is too large for a front server does not hold up the others", async () => {
  const big = report(1).id;
  const world = new World(9, {
    fault: (_call, { items }) => (items.some((item) => item.id === big) ? { answer: html(413) } : null),
  });
  const outbox = world.outbox();
  await outbox.flush();
  assert.deepEqual([...world.rows.keys()], [big]);
  assert.equal(world.rows.get(big).parked, null);
  assert.ok(outbox.pause() >= 5_000);
});

Deno.test("a batch refused as a whole: the guilty one is found and parked alone", async () => {
  const bad = report(7).id;
  const problem = { code: "invalid", errors: { items: { 0: { body: { found: ["Send one of: good."] } } } } };
  const world = new World(20, {
    fault: (_call, { items }) => (items.some((item) => item.id === bad) ? { answer: json(422, problem) } : null),
  });
  await world.outbox().flush();
  assert.deepEqual([...world.rows.keys()], [bad]);
  assert.deepEqual(world.rows.get(bad).parked, { code: "invalid", reason: "found: Send one of: good." });
});

Deno.test("r8 a pause that the old network caused ends with a new one; one the depot asked for does not", async () => {
  let fault = { before: dead() };
  const world = new World(1, { fault: () => fault });
  const outbox = world.outbox();
  await outbox.flush();
  await outbox.flush();
  assert.equal(world.calls, 1);
  fault = { answer: { ...json(503, { code: "busy" }), retryAfter: "60" } };
  await outbox.flush({ newNetwork: true });
  assert.equal(world.calls, 2);
  fault = null;
  await outbox.flush({ newNetwork: true });
  assert.equal(world.calls, 2);
  await outbox.flush({ byHand: true });
  assert.equal(world.rows.size, 0);
});

Deno.test("what lies here goes to nobody who is not admitted, and is asked again", async () => {
  const world = new World(3);
  let who = "stranger";
  const outbox = world.outbox({ admit: async () => who });
  await outbox.flush();
  assert.deepEqual([world.calls, world.rows.size, outbox.contact()], [0, 3, "stranger"]);
  assert.ok(outbox.pause() > 0);
  who = null;
  world.mono += outbox.pause();
  await outbox.flush();
  assert.deepEqual([world.rows.size, outbox.contact()], [0, "online"]);
});

Deno.test("r8 some other network's Retry-After neither puts off a new network nor a tablet that has failed long", async () => {
  let fault = { before: dead() };
  const world = new World(1, { fault: () => fault });
  const outbox = world.outbox();
  for (let n = 0; n < 9; n++) {
    await outbox.flush();
    world.mono += outbox.pause();
  }
  fault = { answer: { ...html(503), retryAfter: "1" } };
  await outbox.flush();
  assert.equal(outbox.pause(), 1_000);
  fault = null;
  await outbox.flush({ newNetwork: true });
  assert.equal(world.rows.size, 0);
});

Deno.test("r8 a long pause that some other network asks for ends with a new one", async () => {
  let fault = { answer: { ...html(503), retryAfter: "240" } };
  const world = new World(1, { fault: () => fault });
  const outbox = world.outbox();
  await outbox.flush();
  assert.equal(outbox.pause(), 240_000);
  fault = null;
  await outbox.flush({ newNetwork: true });
  assert.equal(world.rows.size, 0);
});

Deno.test("r8 some other network's Retry-After holds for no more than the longest pause", () => {
  const asks = (ours) => ({ ...json(503, { code: "busy" }, { ours }), retryAfter: "86400" });
  assert.deepEqual([judge(asks(false), 0).wait, judge(asks(true), 0).wait], [300_000, 3_600_000]);
});

Deno.test("r8 pauses along a long silence, by a clock that is ours", async () => {
  const world = new World(1, { fault: () => ({ before: dead() }) });
  const outbox = world.outbox();
  const pauses = [];
  for (let n = 0; n < 9; n++) {
    await outbox.flush();
    pauses.push(outbox.pause());
    world.mono += outbox.pause() - 1;
    await outbox.flush(); // a moment too early
    assert.equal(world.calls, n + 1);
    world.mono += 1;
  }
  // The random source gives 0.5: three quarters of 5 s, 10 s, 20 s ... and 5 s at least.
  assert.deepEqual(pauses, [5_000, 7_500, 15_000, 30_000, 60_000, 120_000, 225_000, 225_000, 225_000]);
  const flushed = outbox.flush({ byHand: true });
  await flushed;
  assert.equal(outbox.pause(), 5_000, "by hand the back-off begins anew");
});

Deno.test("r29 what is sent is what was frozen, not what was read before", async () => {
  const world = new World(1);
  const before = world.freeze.bind(world);
  world.freeze = (ids, at) => {
    const row = world.rows.get(ids[0]);
    world.rows.set(row.id, { ...row, item: { ...row.item, body: { text: "edited meanwhile" } } });
    return before(ids, at);
  };
  await world.outbox().flush();
  assert.equal([...world.depot.values()][0].item.body.text, "edited meanwhile");
});

Deno.test("r6 items without a number pass through, after the reports, and count as no report", async () => {
  const world = new World(2);
  for (const [id, kind] of [["c", "counts"], ["r", "receipt"]]) {
    const item = { kind, id, body: { n: 1 } };
    world.rows.set(id, { id, seq: null, savedAt: 5, item, tries: 0, firstTryAt: null, parked: null });
  }
  assert.equal(reportsOf([...world.rows.values()]).length, 2);
  assert.deepEqual(batchOf([...world.rows.values()].toReversed(), 50).map((row) => row.seq), [1, 2, null, null]);
  await world.outbox().flush();
  assert.deepEqual([world.rows.size, world.stored], [0, 4]);
});

Deno.test("a fault of the tablet's own storage is not called a fault of the depot", async () => {
  const world = new World(1);
  world.settle = () => Promise.reject(new DOMException("lost", "UnknownError"));
  const outbox = world.outbox();
  await outbox.flush();
  assert.equal(outbox.contact(), "storage");
  assert.equal(world.rows.size, 1);
});

Deno.test("the depot's faults by field become sentences", () => {
  const errors = { body: { found: ["Send one of: good."], position: { lat: ["Send a number."] } }, _schema: ["No."] };
  assert.equal(plainReason(errors), "found: Send one of: good. lat: Send a number. No.");
  assert.equal(plainReason(undefined), "");
});
