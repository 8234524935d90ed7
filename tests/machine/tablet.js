// A tablet that is told by lines of JSON what to do, and that answers each with a line when
// nothing of it can go on: every request of its outbox is answered by the other side.
//
//   deno run --import-map MAP tablet.js file:///…/static/
import { FEEDS, feedsState, idle, stand } from "./feeds.js";
import { disk, forget, format, gate, tabs } from "./memory.js";

const ROOT = Deno.args[0];
const { createOutbox } = await import(`${ROOT}core/outbox.js`);
const { correctionOf, editOf, newDraft } = await import(`${ROOT}core/report.js`);
const rows = await import(`${ROOT}data/outbox-rows.js`);
const { keepDraft } = await import(`${ROOT}data/draft-rows.js`);

const prefix = crypto.randomUUID().slice(0, 13);
let made = 0;
crypto.randomUUID = () => `${prefix}-4000-8000-${String(++made).padStart(12, "0")}`;

const world = { locks: true, wall: 0, mono: 0, seed: 1, lockOwner: null, owners: new Map() };
let open = new Map();
let pending = new Map();
let report = { settled: [], fetches: [] };
let fetches = 0;
await stand(world, (path, body, etag) => request(tabs.getStore(), path, body, etag), ROOT);

function random() {
  world.seed = (world.seed * 1103515245 + 12345) % 2147483648;
  return world.seed / 2147483648;
}

function newTab(id) {
  const tab = { id, dead: false, steps: 0, plan: null, release: null };
  tab.kill = () => {
    tab.dead = true;
    if (world.lockOwner === tab) world.lockOwner = null;
    for (const [name, owner] of world.owners) if (owner === tab) world.owners.delete(name);
    forget(tab);
  };
  tab.outbox = createOutbox({
    request: (path, body) => request(tab, path, body),
    store: { waiting: rows.waiting, freeze: rows.freeze, settle: rows.settle },
    lock: (_name, work) => lock(tab, work),
    now: () => world.wall,
    elapsed: () => world.mono,
    random,
    installId: rows.installId,
    build: "machine",
    installed: () => true,
    changed: () => {},
  });
  return tab;
}

async function request(tab, path, body, etag) {
  await gate(tab);
  const n = ++fetches;
  const answer = await new Promise((resolve, reject) => {
    pending.set(n, { tab, resolve, reject });
    report.fetches.push({ n, tab: tab.id, path, etag, body: body ? JSON.parse(body) : null });
  });
  await gate(tab);
  return answer;
}

async function lock(tab, work) {
  if (!world.locks) return await work(), true;
  await gate(tab);
  if (world.lockOwner) return false;
  world.lockOwner = tab;
  try {
    await work();
  } finally {
    if (world.lockOwner === tab) world.lockOwner = null;
  }
  return true;
}

/** Begin something in a tab; what becomes of it is told when it is known. */
function begin(tab, tag, work) {
  tabs.run(tab, () => {
    work().then(
      (value) => report.settled.push({ tag, ok: true, value: value ?? null }),
      (error) => report.settled.push({ tag, ok: false, error: String(error) }),
    );
  });
}

function draftOf({ text, change, from, draft }) {
  if (change) {
    const { item } = disk.get("outbox").get(from) ?? disk.get("receipts").get(from);
    const make = change === "edit" ? editOf : correctionOf;
    return { ...make(item.body, from, item.observed_at, world.wall), text };
  }
  const here = { view: null, index: 0, at: null, position: null, route: "kettle-bay" };
  return { ...newDraft(here, world.wall), direction: "down", found: "reportable", text, ...(draft && { id: draft }) };
}

/** What the version before left on the disk. */
function downgrade() {
  const known = ["id", "seq", "savedAt", "item", "tries", "firstTryAt", "parked"];
  const old = (row) => Object.fromEntries(known.map((name) => [name, row[name]]));
  for (const [id, row] of disk.get("outbox")) disk.get("outbox").set(id, old(row));
  for (const name of ["warnings", "counts"]) disk.get(name).clear();
}

const COMMANDS = {
  reset({ seed, locks, wall }) {
    open = new Map();
    pending = new Map();
    Object.assign(world, { seed, locks, wall, mono: 0, lockOwner: null, owners: new Map() });
    format();
  },
  open: ({ tab }) => open.set(tab, newTab(tab)),
  begin: ({ tab, tag, ...how }) => begin(open.get(tab), tag, () => keepDraft(draftOf(how))),
  save: ({ tab, tag, ...how }) => begin(open.get(tab), tag, () => rows.queueReport(draftOf(how), world.wall)),
  flush: ({ tab, tag, byHand, newNetwork }) => begin(open.get(tab), tag, () => open.get(tab).outbox.flush({ byHand, newNetwork })),
  offer: ({ tab, tag, said }) => begin(open.get(tab), tag, () => rows.offerAgain(said, null)),
  again: ({ tab, tag, id }) => begin(open.get(tab), tag, () => rows.unpark(id)),
  aside: ({ tab, tag, id }) => begin(open.get(tab), tag, () => rows.putAside(id, world.wall)),
  item: ({ tab, tag, item }) => begin(open.get(tab), tag, () => rows.queueItem(item, world.wall)),
  answer({ n, answer, error }) {
    const { resolve, reject } = pending.get(n);
    pending.delete(n);
    if (answer) resolve(answer);
    else reject(error === "timeout" ? Object.assign(new Error(), { name: "TimeoutError" }) : new TypeError("Failed to fetch"));
  },
  plan({ tab, what, after }) {
    const one = open.get(tab);
    one.plan = { what, at: one.steps + after };
  },
  kill({ tab }) {
    // It may have died of a plan of its own when another's death let it go on.
    open.get(tab)?.kill();
    open.delete(tab);
  },
  release: ({ tab }) => open.get(tab).release?.(),
  clock({ wall, mono }) {
    world.wall += wall;
    world.mono += mono;
  },
  wipe() {
    for (const tab of open.values()) tab.kill();
    open.clear();
    format();
  },
  downgrade,
};
for (const [name, what] of Object.entries(FEEDS)) {
  // A window may have died of a plan of its own within one rule.
  COMMANDS[name] = ({ tab, tag, ...how }) => open.has(tab) && begin(open.get(tab), tag, () => what(how));
}

function state() {
  const gone = [...open.values()].filter((tab) => tab.dead);
  for (const tab of gone) open.delete(tab.id);
  const held = [...open.values()].filter((tab) => tab.release).map((tab) => tab.id);
  return {
    ...report,
    tabs: [...open.keys()],
    held,
    waiting: [...pending].filter(([, one]) => !one.tab.dead).map(([n]) => n),
    rows: [...disk.get("outbox").values()],
    receipts: [...disk.get("receipts").values()],
    drafts: [...disk.get("drafts").values()],
    install: disk.get("kv").get("install_id") ?? null,
    ...feedsState(open),
  };
}

const encoder = new TextEncoder();
let rest = "";
for await (const chunk of Deno.stdin.readable.pipeThrough(new TextDecoderStream())) {
  const lines = (rest + chunk).split("\n");
  rest = lines.pop();
  for (const line of lines) {
    const { cmd, ...how } = JSON.parse(line);
    report = { settled: [], fetches: [] };
    COMMANDS[cmd](how);
    // After a turn of the loop no promise is left that could go on by itself.
    do await new Promise((go) => setTimeout(go, 0)); while (!idle());
    Deno.stdout.writeSync(encoder.encode(`${JSON.stringify(state())}\n`));
  }
}
