/**
 * IndexedDB with promises. "Saved" means that the transaction is complete and on disk
 * (strict). A connection the system has killed is dropped, opened again and tried once more.
 *
 * @typedef {"blocked" | "damaged" | "newer" | "none"} Trouble why the storage does not open:
 *   another window holds it; it cannot be read; a newer app wrote it; this browser keeps nothing
 * @typedef {{onTrouble: (why: Trouble) => void, onOpened: () => void}} Watcher
 */

const NAME = "step-in-hand";
const VERSION = 3;
const WATCHDOG_MS = 5_000;
/** A storage that takes a request and never answers it must not hold an outbox's lock for ever. */
const ANSWER_MS = 15_000;
/** What browsers throw when the handle is dead although nobody closed it. */
const DEAD = new Set(["InvalidStateError", "UnknownError", "AbortError", "TransactionInactiveError"]);

/** @type {Promise<IDBDatabase> | null} */
let handle = null;
/** @type {Watcher} */
let watcher = { onTrouble: () => {}, onOpened: () => {} };

/** @param {Watcher} wanted */
export function watch(wanted) {
  watcher = wanted;
}

/**
 * @template T
 * @param {IDBRequest<T>} request
 * @returns {Promise<T>}
 */
export function done(request) {
  const ended = new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
  // One of several may fail when nobody waits for it any more: the first told it all.
  ended.catch(() => {});
  return ended;
}

/**
 * Run ``work`` in one transaction and give its result once that is on disk.
 * @template T
 * @param {string[]} stores
 * @param {IDBTransactionMode} mode
 * @param {(tx: IDBTransaction) => Promise<T>} work
 * @returns {Promise<T>}
 */
export async function transact(stores, mode, work) {
  try {
    return await once(stores, mode, work);
  } catch (error) {
    if (!(error instanceof DOMException) || !DEAD.has(error.name)) throw error;
    await drop();
    return await once(stores, mode, work);
  }
}

/**
 * @template T
 * @param {string[]} stores
 * @param {IDBTransactionMode} mode
 * @param {(tx: IDBTransaction) => Promise<T>} work
 * @returns {Promise<T>}
 */
async function once(stores, mode, work) {
  const db = await soon(open());
  const tx = db.transaction(stores, mode, { durability: "strict" });
  const complete = new Promise((resolve, reject) => {
    tx.oncomplete = () => resolve(undefined);
    tx.onabort = () => reject(tx.error ?? new DOMException("transaction aborted", "AbortError"));
  });
  // When ``work`` throws first, nobody waits for this one any more.
  complete.catch(() => {});
  return answered(tx, work(tx).then((result) => complete.then(() => result), (error) => {
    undo(tx);
    throw error;
  }));
}

/**
 * A call that throws ends ``work``, not its transaction: what was written before it would
 * stay, half of a whole.
 * @param {IDBTransaction} tx
 */
function undo(tx) {
  try {
    tx.abort();
  } catch {
    // It has ended by itself.
  }
}

/**
 * @template T
 * @param {IDBTransaction} tx
 * @param {Promise<T>} working
 * @returns {Promise<T>}
 */
function answered(tx, working) {
  return new Promise((resolve, reject) => {
    const watchdog = setTimeout(() => {
      // What is called not saved must not be saved after all.
      undo(tx);
      void drop();
      reject(new DOMException("storage does not answer", "TimeoutError"));
    }, ANSWER_MS);
    working.then(resolve, reject).finally(() => clearTimeout(watchdog));
  });
}

/** @returns {Promise<IDBDatabase>} */
function open() {
  handle ??= connect().catch((error) => {
    handle = null;
    watcher.onTrouble(troubleOf(error));
    throw error;
  });
  return handle;
}

/**
 * Nothing is ever deleted to get a storage open: it may hold what was not sent yet.
 * @param {unknown} error
 * @returns {Trouble}
 */
function troubleOf(error) {
  const name = error instanceof Error || error instanceof DOMException ? error.name : "";
  if (name === "VersionError") return "newer";
  // Storage forbidden by the browser's settings, or a browser that has none.
  return name === "SecurityError" || !globalThis.indexedDB ? "none" : "damaged";
}

/**
 * A storage held by another window must not hold the driver up: "not saved" after 5 s.
 * The opening itself goes on, and is asked for again next time: some never end.
 * @param {Promise<IDBDatabase>} opening
 * @returns {Promise<IDBDatabase>}
 */
function soon(opening) {
  return new Promise((resolve, reject) => {
    const watchdog = setTimeout(() => {
      if (handle === opening) handle = null;
      watcher.onTrouble("blocked");
      reject(new DOMException("storage does not open", "TimeoutError"));
    }, WATCHDOG_MS);
    opening.then(resolve, reject).finally(() => clearTimeout(watchdog));
  });
}

async function drop() {
  const old = handle;
  handle = null;
  (await old?.catch(() => null))?.close();
}

/** @returns {Promise<IDBDatabase>} */
function connect() {
  return new Promise((resolve, reject) => {
    const request = indexedDB.open(NAME, VERSION);
    // Another window may hold an old version: say so, and go on when it lets go.
    request.onblocked = () => watcher.onTrouble("blocked");
    request.onupgradeneeded = ({ oldVersion }) => {
      upgrade(request.result);
      if (oldVersion < 3 && request.transaction) carryDrafts(request.transaction);
    };
    request.onerror = () => reject(request.error);
    request.onsuccess = () => {
      const db = request.result;
      // One that comes after its time is used by nobody, so it must hold up nobody.
      db.onversionchange = () => (db.close(), drop());
      db.onclose = () => (handle = null);
      resolve(db);
      watcher.onOpened();
    };
  });
}

/**
 * Only ever adds: a store may hold what was not sent yet.
 * @param {IDBDatabase} db
 */
function upgrade(db) {
  const wanted = {
    kv: undefined, packs: undefined, outbox: "id", receipts: "id",
    // Since version 2: warnings held, by id; approaches counted but not handed over yet.
    warnings: "id", counts: undefined,
    // Since version 3: reports begun and not saved, by the id that each will have as a report.
    drafts: "id",
  };
  for (const [name, keyPath] of Object.entries(wanted)) {
    if (!db.objectStoreNames.contains(name)) db.createObjectStore(name, keyPath ? { keyPath } : {});
  }
}

/**
 * Up to version 2 there was one draft, and a list of marks made on the move: each becomes a row.
 * @param {IDBTransaction} tx
 */
function carryDrafts(tx) {
  const [kv, drafts] = [tx.objectStore("kv"), tx.objectStore("drafts")];
  /** @type {number[]} the mark that the draft began with is that draft */
  const begun = [];
  for (const [name, marked] of /** @type {const} */ ([["draft", false], ["marks", true]])) {
    const asked = kv.get(name);
    // One that cannot be read stays where it is: it must not keep the whole storage shut.
    asked.onerror = (event) => (event.preventDefault(), event.stopPropagation());
    asked.onsuccess = () => {
      for (const one of [asked.result ?? []].flat()) {
        if (begun.includes(one.openedAt)) continue;
        begun.push(one.openedAt);
        drafts.put({ ...one, id: crypto.randomUUID(), marked });
      }
      kv.delete(name);
    };
  }
}
