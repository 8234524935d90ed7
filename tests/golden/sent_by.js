/**
 * Print what the app of some checkout sends: `deno run sent_by.js STATIC_FOLDER`. Its own
 * core makes the bodies and the envelope; only ids and clock are given, so that the same
 * checkout always prints the same.
 */

const root = new URL(`file://${Deno.args[0]}/`);
const { newDraft, bodyOf } = await import(new URL("core/report.js", root).href);
const { createOutbox } = await import(new URL("core/outbox.js", root).href);
const { rfc3339 } = await import(new URL("core/clock.js", root).href);

const START = Date.UTC(2026, 10, 25, 6, 40);
const position = { lat: 54.1, lon: -2.5, accuracy_m: 12, age_s: 1.5 };
const ids = [1, 2, 3, 4].map((n) => `0192f0c1-7000-4000-8000-00000000000${n}`);

/** @param {number} seq @param {Record<string, unknown>} changes */
function row(seq, changes) {
  const now = START + seq * 60_000;
  const here = { view: null, index: 0, at: 51_234.5, position, route: "larch-valley" };
  const draft = { ...newDraft(here, now), direction: "down", ...changes };
  const item = { kind: "report", id: ids[seq - 1], seq, observed_at: rfc3339(now), body: bodyOf(draft) };
  return { id: item.id, seq, savedAt: now, item, tries: 0, firstTryAt: null, parked: null };
}

const batches = [
  [
    row(1, { found: "good", weather: "dry" }),
    row(2, {
      found: "reportable", happened: ["leaves", "slide"], step: "2", weather: "mist", sand_used: true,
      flats_suspected: true, toldAt: START, text: "Slid from the bridge\non: 50 m – “all” wheels 🧊",
      place: "Kettle Bay", driver_name: "A. Driver", rail_state: "leaf film", train: "three-step/8",
    }),
  ],
  [row(3, { found: "expected", position: null, at_m: null, supersedes: ids[0] }), row(4, { found: "good" })],
];

/** @type {string[]} */
const sent = [];
for (const rows of batches) {
  const outbox = createOutbox({
    request: (_path, body) => {
      sent.push(body);
      return Promise.reject(new TypeError("nobody there"));
    },
    store: { waiting: () => Promise.resolve(rows), freeze: async () => {}, settle: async () => {} },
    lock: async (_name, work) => (await work(), true),
    now: () => START + 3600_000,
    elapsed: () => 0,
    random: () => 0,
    installId: () => Promise.resolve("0192f0c1-0000-4000-8000-000000000001"),
    build: "0123456789abcdef",
    changed: () => {},
  });
  await outbox.flush();
}
console.log(JSON.stringify(sent));
