// A tablet's storage and a depot that can fail on command, for the tests of core/outbox.js.
import { createOutbox } from "../../static/core/outbox.js";

export const json = (status, body, more = {}) => ({
  status,
  type: status < 400 ? "application/json" : "application/problem+json",
  text: JSON.stringify(body),
  retryAfter: null,
  ours: true,
  ...more,
});
export const html = (status) => ({
  status, type: "text/html", text: "<html>Log in</html>", retryAfter: null, ours: false,
});
/** JSON of some other server: whatever it says, it is not the depot. */
export const foreign = (status, body) => json(status, body, { ours: false });

export function report(seq, text = "") {
  const id = `00000000-0000-4000-8000-${String(seq).padStart(12, "0")}`;
  const item = { kind: "report", id, seq, observed_at: "2026-11-25T05:12:00.000Z", body: { text } };
  return { id, seq, savedAt: 0, item, tries: 0, firstTryAt: null, parked: null };
}

export class World {
  constructor(count, options = {}) {
    this.rows = new Map(Array.from({ length: count }, (_, i) => report(i + 1)).map((r) => [r.id, r]));
    this.receipts = new Map();
    this.depot = new Map();
    this.stored = 0; // inserts at the depot, to see doubles
    this.calls = 0;
    this.operations = 0;
    this.wall = Date.parse("2026-11-25T06:00:00Z");
    this.mono = 0;
    this.inFlight = 0;
    this.mostInFlight = 0;
    this.locked = false;
    this.bodies = [];
    this.unlocking = () => {}; // the flush looked at the rows for the last time
    Object.assign(this, { fault: () => null, stall: () => false, most: Infinity }, options);
  }

  /** Each step from outside may stand still for ever, as when the page is killed there. */
  async step(work) {
    this.operations += 1;
    if (this.stall(this.operations)) return new Promise(() => {});
    return work();
  }

  /** @param {object} [more] */
  outbox(more = {}) {
    return createOutbox({
      request: (path, body) => this.step(() => this.request(path, body)),
      store: {
        waiting: () => this.step(() => [...this.rows.values()].filter((r) => !r.parked)),
        freeze: (ids, at) => this.step(() => this.freeze(ids, at)),
        settle: (acks, parks) => this.step(() => this.settle(acks, parks)),
      },
      lock: async (_name, work) => {
        if (this.locked) return false;
        this.locked = true;
        try {
          await work();
          this.unlocking();
        } finally {
          this.locked = false;
        }
        return true;
      },
      now: () => this.wall,
      elapsed: () => this.mono,
      random: () => 0.5,
      installId: async () => "install",
      build: "test",
      installed: () => true,
      changed: () => {},
      ...more,
    });
  }

  freeze(ids, at) {
    const there = ids.map((id) => this.rows.get(id)).filter((row) => row && !row.parked);
    const frozen = there.map((row) => ({ ...row, tries: row.tries + 1, firstTryAt: row.firstTryAt ?? at }));
    for (const row of frozen) this.rows.set(row.id, row);
    return frozen;
  }

  settle(acks, parks) {
    for (const ack of acks) {
      if (!this.depot.has(ack.id)) throw new Error(`row ${ack.id} given up, depot has none`);
      this.receipts.set(ack.id, ack);
      this.rows.delete(ack.id);
    }
    for (const { id, ...parked } of parks) this.rows.set(id, { ...this.rows.get(id), parked });
  }

  async request(path, body) {
    this.calls += 1;
    this.inFlight += 1;
    this.mostInFlight = Math.max(this.mostInFlight, this.inFlight);
    try {
      await Promise.resolve();
      const fault = this.fault(this.calls, JSON.parse(body));
      if (fault?.before) throw fault.before;
      if (fault?.answer) return fault.answer;
      const answer = this.accept(path, JSON.parse(body));
      if (fault?.after) throw fault.after;
      return answer;
    } finally {
      this.inFlight -= 1;
    }
  }

  accept(path, { items, ...head }) {
    if (path !== "/api/outbox") throw new Error(path);
    this.bodies.push({ items, ...head });
    if (items.length > this.most) return json(413, { code: "too_large" });
    const results = items.map((item) => {
      const known = this.depot.has(item.id);
      if (!known) this.stored += 1;
      if (!known) this.depot.set(item.id, { item, server_no: this.stored });
      return {
        id: item.id,
        result: known ? "duplicate" : "created",
        server_no: this.depot.get(item.id).server_no,
        received_at: "2026-11-25T06:00:00+00:00",
      };
    });
    return json(200, { server_time: "2026-11-25T06:00:00+00:00", results });
  }
}
