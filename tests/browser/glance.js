/**
 * Watches what a glance costs, from outside the app: when the first card stood, which stores
 * were opened and read, what a new fix changed on the page.
 */
(() => {
  if (window.glance) return;
  const now = performance.now.bind(performance);
  const glance = { cardAt: null, paintedAt: null, databases: 0, transactions: [], reads: 0, bytes: 0, writes: 0, changed: 0 };
  window.glance = glance;

  /** The first element of the app's page that says something of the trip. */
  const useful = () => document.querySelector(".line.name, .road .stop, .road li");
  const seen = new MutationObserver(() => {
    if (!useful()) return;
    seen.disconnect();
    glance.cardAt = now();
    // Painted: the frame after the one that draws it has begun.
    requestAnimationFrame(() => setTimeout(() => (glance.paintedAt = now())));
  });
  seen.observe(document, { childList: true, subtree: true });

  const open = indexedDB.open.bind(indexedDB);
  indexedDB.open = (...all) => ((glance.databases += 1), open(...all));
  const begin = IDBDatabase.prototype.transaction;
  IDBDatabase.prototype.transaction = function (stores, mode, ...more) {
    glance.transactions.push({ at: now(), stores: [stores].flat(), mode: mode ?? "readonly", before: glance.cardAt === null });
    return begin.call(this, stores, mode, ...more);
  };
  for (const name of ["get", "getAll", "getAllKeys", "getKey", "count"]) {
    const ask = IDBObjectStore.prototype[name];
    IDBObjectStore.prototype[name] = function (...all) {
      glance.reads += 1;
      const request = ask.apply(this, all);
      request.addEventListener("success", () => {
        if (glance.cardAt === null && request.result instanceof ArrayBuffer) glance.bytes += request.result.byteLength;
      });
      return request;
    };
  }
  for (const name of ["put", "add", "delete", "clear"]) {
    const act = IDBObjectStore.prototype[name];
    IDBObjectStore.prototype[name] = function (...all) {
      glance.writes += 1;
      return act.apply(this, all);
    };
  }

  /** Everything the page changes from here on is counted. */
  glance.watch = () => {
    glance.changed = 0;
    new MutationObserver((all) => (glance.changed += all.length)).observe(document.documentElement, {
      childList: true, subtree: true, characterData: true, attributes: true,
    });
  };
})();
