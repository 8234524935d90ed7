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
import { answering } from "./answering.js";
import { BUILD } from "./build.js";
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
import { tellOtherWindows } from "./windows.js";

/** On no trip has anybody this many places to tell of. */
const MOST_MARKS = 20;

/**
 * @param {Store} store
 * @param {Network} network
 * @param {Pick<Actions, "applyUpdate" | "installApp" | "emptiedTold">} shell
 * @returns {Actions}
 */
export function createActions(store, network, shell) {
  let saving = false;
  const kept = answering(store, () => refreshView(store));

  /** @param {Draft} draft */
  async function saveDraft(draft) {
    store.set({ draft });
    await keep("draft", draft);
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
    /** @returns {Draft} the draft in hand, or a new one for here and now */
    draft() {
      const state = store.get();
      if (state.draft) return state.draft;
      if (state.marks.length > 0) return state.marks[0];
      const base = state.pack?.base;
      const draft = newDraft(
        {
          view: state.view,
          index: state.follow.stood || state.follow.index === 0 ? state.follow.index : state.follow.index - 1,
          at: state.follow.at === null ? null : Math.round(state.follow.at),
          position: positionOf(state.follow.recent),
          route: base?.route.key ?? "unknown",
        },
        Date.now(),
      );
      return { ...draft, direction: draft.direction || (base?.directions[0].key ?? "unknown") };
    },
    saveDraft,
    /** Place and time of a touch on the dark page; what it was about is asked at a stand. */
    async markHere() {
      const { view, follow: { at, recent }, marks, pack } = store.get();
      const here = { view, index: 0, at: at === null ? null : Math.round(at), position: positionOf(recent), route: pack?.base.route.key ?? "unknown" };
      const next = [...marks, { ...newDraft(here, Date.now()), target: null }].slice(-MOST_MARKS);
      await keep("marks", next);
      store.set({ marks: next });
    },
    async dropDraft() {
      const { draft, marks } = store.get();
      await dropMark(store, (draft ?? marks[0])?.openedAt);
      store.set({ draft: null });
      await keep("draft", undefined);
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
      const marks = store.get().marks.filter((one) => one.openedAt !== draft.openedAt);
      store.set({ draft: null, marks, ...(await readAll()) });
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
 * A mark that the driver takes back.
 * @param {Store} store
 * @param {number | undefined} openedAt
 */
async function dropMark(store, openedAt) {
  const marks = store.get().marks.filter((one) => one.openedAt !== openedAt);
  if (marks.length === store.get().marks.length) return;
  store.set({ marks });
  await keep("marks", marks);
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
