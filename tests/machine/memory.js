// Stands for static/data/idb.js: a disk shared by all tabs that behaves as IndexedDB with
// strict durability. What was committed survives a kill; of the rest nothing does. Each
// step of a tab is a gate at which it may be killed, held up, or fail.
import { AsyncLocalStorage } from "node:async_hooks";

export const tabs = new AsyncLocalStorage();
/** @type {Map<string, Map<string, any>>} */
export const disk = new Map();
const never = () => new Promise(() => {});
let owner = null;
let queue = [];

export function format() {
  disk.clear();
  for (const name of ["kv", "packs", "outbox", "receipts", "warnings", "counts", "drafts"]) disk.set(name, new Map());
  owner = null;
  queue = [];
}

export async function gate(tab, mayFail = true) {
  if (tab.dead) return never();
  tab.steps += 1;
  if (tab.plan && tab.steps >= tab.plan.at) {
    const { what } = tab.plan;
    tab.plan = null;
    if (what === "kill") {
      tab.kill();
      return never();
    }
    if (what === "fail" && mayFail) throw new DOMException("Connection to server lost", "UnknownError");
    if (what === "full" && mayFail) throw new DOMException("No room left", "QuotaExceededError");
    if (what === "hold") await new Promise((go) => (tab.release = go));
    tab.release = null;
    if (tab.dead) return never();
  }
}

/** One transaction at a time; a browser lets some run beside each other, none overlap. */
function acquire(tab) {
  return new Promise((go) => {
    queue.push({ tab, go });
    next();
  });
}

function next() {
  if (owner || queue.length === 0) return;
  owner = queue.shift();
  owner.go();
}

function free(tab) {
  if (owner?.tab === tab) owner = null;
  next();
}

/** A killed tab's open transaction is undone, its lock on the disk is free. */
export function forget(tab) {
  queue = queue.filter((one) => one.tab !== tab);
  free(tab);
}

export async function transact(stores, mode, work) {
  const tab = tabs.getStore();
  await gate(tab);
  await acquire(tab);
  const shadow = new Map(stores.map((name) => [name, new Map(disk.get(name))]));
  let result;
  try {
    result = await work(transaction(shadow, tab));
    await gate(tab);
  } catch (error) {
    free(tab);
    throw error;
  }
  if (mode === "readwrite") for (const [name, rows] of shadow) disk.set(name, rows);
  free(tab);
  await gate(tab, false); // committed, but the tab may never hear of it
  return result;
}

function transaction(shadow, tab) {
  const step = async (run) => {
    await gate(tab);
    return structuredClone(run());
  };
  return {
    objectStore: (name) => {
      const rows = shadow.get(name);
      return {
        get: (key) => step(() => rows.get(key)),
        getAll: () => step(() => [...rows.values()]),
        getAllKeys: () => step(() => [...rows.keys()]),
        put: (value, key) => step(() => void rows.set(key ?? value.id, structuredClone(value))),
        delete: (key) => step(() => void rows.delete(key)),
        count: (key) => step(() => (key === undefined ? rows.size : Number(rows.has(key)))),
        clear: () => step(() => rows.clear()),
      };
    },
  };
}

export const done = (request) => request;
export const watch = () => {};
