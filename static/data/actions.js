/**
 * What a screen may ask for. Screens hold no storage and no network; they call these.
 *
 * @import {Actions, Store} from "./store.js"
 * @import {Draft} from "../core/types.js"
 * @typedef {{flush: (byHand: boolean) => Promise<void>, sync: () => Promise<void>}} Network
 */

import { startFollowing, stepByHand } from "../core/follow.js";
import { newDraft } from "../core/report.js";
import { sealed } from "../core/seal.js";
import { followLine } from "../core/trip.js";
import { stationsOf, whereIs } from "../core/where.js";
import { answering } from "./answering.js";
import { BUILD } from "./build.js";
import { dropDraft, inHandBefore, keepDraft, keepMark, readDrafts, rememberInHand, wasKept } from "./draft-rows.js";
import { dressing } from "./dress.js";
import { uncount } from "./counts.js";
import { enrol } from "./enrol.js";
import { dropAllPacks, makeRoom } from "./install.js";
import { keep, keepFollow } from "./keep.js";
import { preparing } from "./preparing.js";
import { installId, putAside, queueReport, unpark } from "./outbox-rows.js";
import { heldPacks, openPack } from "./packs.js";
import { readAll } from "./rows.js";
import { queueSeal } from "./seal.js";
import { steadyNow } from "./steady.js";
import { refreshView } from "./view.js";
import { tellOtherWindows, tellTakenUp } from "./windows.js";

/**
 * @param {Store} store
 * @param {Network} network
 * @param {Pick<Actions, "applyUpdate" | "installApp" | "emptiedTold">} shell
 * @returns {Actions}
 */
export function createActions(store, network, shell) {
  let saving = false;
  const kept = answering(store, () => refreshView(store));

  /** Only at its first report does a window take up what was begun and left: never while another may be at it. */
  let fresh = true;

  /** @param {Draft} draft */
  function takeUp(draft) {
    store.set({ draft, takenUp: null });
    rememberInHand(draft.id);
    tellTakenUp(draft.id);
    return draft;
  }

  /** @returns {Draft} */
  function newHere() {
    const { view, follow, pack } = store.get();
    const at = follow.at === null ? null : Math.round(follow.at);
    const draft = newDraft({ view, at, position: positionOf(follow.recent), route: pack?.base.route.key ?? "unknown" }, Date.now());
    return { ...draft, direction: draft.direction || (pack?.base.directions[0].key ?? "unknown") };
  }

  return {
    /** @param {string} route */
    async chooseRoute(route) {
      await kept(async () => ({
        rows: { route, prep: undefined, follow: undefined },
        shown: { pack: await openPack(route, null), prep: null, view: null, follow: startFollowing() },
      }));
    },
    ...preparing(store, kept),
    refresh: () => refreshView(store),
    async useNewPack() {
      await kept(async () => {
        const { prep, pack } = store.get();
        const fresh = pack && (await openPack(pack.base.route.key, null));
        if (!fresh) return null;
        const next = prep && { ...prep, pack: fresh.sha };
        return { rows: next ? { prep: next } : {}, shown: { pack: fresh, prep: next } };
      });
    },
    /** @param {number} index */
    async step(index) {
      const follow = stepByHand(store.get().follow, index);
      store.set({ follow });
      await keepFollow(follow);
      tellOtherWindows();
    },
    /** @returns {Draft} the draft in hand, one that was begun and left, or a new one for here and now */
    draft() {
      const { draft, drafts, marks } = store.get();
      if (draft) return draft;
      const before = fresh ? (drafts.find((one) => one.id === inHandBefore()) ?? drafts.at(-1)) : null;
      fresh = false;
      if (before ?? marks[0]) return takeUp(before ?? marks[0]);
      return newHere();
    },
    /** Where the train stands now; null without a trip. */
    where() {
      const { view, follow } = store.get();
      if (!view) return null;
      const line = followLine(view);
      const stop = line.stops[follow.index];
      const next = stop ? Math.min(line.sign * stop.from, line.sign * stop.to) : null;
      const stations = stationsOf(view.base, view.direction.key);
      return whereIs(follow, { stations, sign: line.sign, geometry: line.geometry, next }, steadyNow());
    },
    /** @param {Draft} draft one that was begun and left, perhaps in another window */
    takeUp,
    /**
     * Look at what is on the disk now.
     * @returns {Promise<boolean>} whether the draft in hand has gone: saved or thrown away in another window
     */
    async refreshDrafts() {
      const before = store.get().draft;
      const kept = await readDrafts();
      const gone = before !== null && before === store.get().draft && wasKept(before.id) && !kept.some((one) => one.id === before.id);
      store.set({ ...sorted(kept), ...(gone ? { draft: null } : {}) });
      return gone;
    },
    /** @param {Draft} draft */
    async saveDraft(draft) {
      store.set({ draft });
      rememberInHand(draft.id);
      await keepDraft({ ...draft, marked: false });
    },
    /** Place and time of a touch on the dark page; what it was about is asked at a stand. */
    async markHere() {
      await keepMark({ ...newHere(), marked: true });
      store.set(sorted(await readDrafts()));
    },
    async dropDraft() {
      const { draft } = store.get();
      store.set({ draft: null });
      rememberInHand(null);
      if (draft) await dropDraft(draft.id);
      store.set(sorted(await readDrafts()));
    },
    /**
     * @param {Draft} draft
     * @returns {Promise<boolean>} true once it is on the tablet's disk; one draft, one report
     */
    async saveReport(draft) {
      if (saving) return false;
      saving = true;
      try {
        await makingRoom(store, () => queueReport(draft, Date.now()));
      } finally {
        saving = false;
      }
      const kept = await readDrafts().catch(() => []);
      rememberInHand(null);
      store.set({ draft: null, ...sorted(kept), ...(await readAll()) });
      uncount(store, draft).catch((error) => console.error("approach still counted", error));
      void network.flush(false);
      return true;
    },
    /**
     * @param {string[]} card as it is shown
     * @param {number} now
     */
    async seal(card, now) {
      const what = sealed(store.get(), card, BUILD, now);
      await makingRoom(store, () => queueSeal(what, now));
      store.set(await readAll());
      void network.flush(false);
    },
    sendNow: async () => void (await Promise.all([network.flush(true), network.sync()])),
    /** @param {string} id */
    async sendAgain(id) {
      await unpark(id);
      store.set(await readAll());
      await network.flush(true);
    },
    /** @param {string} id */
    async putAside(id) {
      await putAside(id, Date.now());
      store.set(await readAll());
    },
    /** @param {string} code */
    async enrol(code) {
      const what = await enrol(store, code);
      if (what === "done") void Promise.all([network.flush(true), network.sync()]);
      return what;
    },
    /** @returns {Promise<string>} */
    installId,
    ...dressing(store),
    ...shell,
  };
}

/**
 * @param {Draft[]} kept
 * @returns {{drafts: Draft[], marks: Draft[]}} reports begun, and marks that nobody has said anything of yet
 */
export function sorted(kept) {
  return { drafts: kept.filter((one) => !one.marked), marks: kept.filter((one) => one.marked) };
}

/**
 * A full tablet loses packs before it loses a report: first those not in use, then all.
 * @param {Store} store
 * @param {() => Promise<unknown>} save
 */
async function makingRoom(store, save) {
  for (const room of [() => makeRoom({ alsoOtherRoutes: true }), dropAllPacks]) {
    try {
      return await save();
    } catch (error) {
      if (!(error instanceof DOMException) || error.name !== "QuotaExceededError") throw error;
      console.error("storage is full", error);
      // The pack in use stays open in memory, even when its files have to go.
      await room();
      store.set({ full: true, packs: pick(store.get().packs, await heldPacks()) });
    }
  }
  return save();
}

/**
 * @template T
 * @param {Record<string, T>} all
 * @param {Record<string, unknown>} wanted
 */
function pick(all, wanted) {
  return Object.fromEntries(Object.entries(all).filter(([key]) => key in wanted));
}

/**
 * @param {import("../core/types.js").Fix[]} recent
 * @returns {Draft["position"]} never an old point
 */
function positionOf(recent) {
  const fix = recent[recent.length - 1];
  if (!fix) return null;
  const age = Math.max(0, Math.round((steadyNow() - fix.at) / 1000));
  if (age > 10) return null;
  return { lat: fix.lat, lon: fix.lon, accuracy_m: Math.round(fix.accuracy), age_s: age };
}
