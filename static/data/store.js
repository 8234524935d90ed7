/**
 * State of the app: get, set, subscribe. Screens draw from it; events only change it.
 *
 * @import {Contact, DepotAnswer, Draft, HeldRestrictions, HeldWarnings, HeldWeather, LostRow, OutboxRow, Pack, Prep, Receipt, Trip, TripView} from "../core/types.js"
 * @import {FollowState} from "../core/follow.js"
 * @import {NewFigures} from "../core/new-figures.js"
 * @import {ShownCards} from "../core/changed.js"
 * @import {Why, Withdrawn} from "../core/index-text.js"
 * @import {Trouble} from "./idb.js"
 * @typedef {{
 *   packs: Record<string, {sha: string, name: string, fetchedAt: number, damaged: boolean} | undefined>,
 *   warnings: HeldWarnings, restrictions: HeldRestrictions, weather: HeldWeather, asking: boolean, fetching: boolean, progress: import("../core/pack-said.js").Progress | null,
 *   refused: Why | null, withdrawn: Withdrawn[], confirmed: number | null, confirmedBy: number | null, lapsed: number | null,
 *   roomShort: {freeMb: number, packMb: number} | null, prep: Prep | null, pack: Pack | null, view: TripView | null,
 *   duty: import("../core/duty.js").Duty | null, follow: FollowState, position: "off" | "asked" | "on",
 *   draft: Draft | null, drafts: Draft[], takenUp: string | null, rows: (OutboxRow | LostRow)[], receipts: Receipt[], contact: Contact, sending: boolean,
 *   marks: Draft[], answers: Record<string, DepotAnswer>,
 *   clockOffset: number | null, updateReady: boolean, updateHeld: boolean, shellOff: boolean,
 *   tablet: {enrolled: boolean, valid: boolean, label: string | null} | null, canInstall: boolean, persisted: boolean | null,
 *   trouble: Trouble | null, full: boolean, emptied: {unsent: number} | null,
 *   unkept: number, unkeptInUse: boolean, shownCards: ShownCards | null, newFigures: Record<string, NewFigures>, touched: boolean, theme: "auto" | "bright" | "day" | "dusk" | "night",
 * }} State draft: the one in hand in this window; drafts: all that are begun, marks: touches on the move of
 *   which nothing is said yet; takenUp: a draft that was in hand here until another window took it up
 * @typedef {{
 *   chooseRoute: (route: string) => Promise<void>, chooseTrip: (trip: Trip) => Promise<boolean>,
 *   chooseTrain: (change: Partial<Pick<Prep, "formation" | "isolated">>) => Promise<boolean>,
 *   chooseState: (state: string) => Promise<boolean>, refresh: () => void,
 *   answer: (answer: Partial<Pick<Prep, "wsp" | "sand" | "brakeTest" | "off">>) => Promise<boolean>,
 *   look: (key: string, answer: string) => Promise<boolean>, better: (reason: string) => Promise<boolean>,
 *   trainChanged: () => Promise<boolean>, sign: (sign: string, on: boolean) => Promise<boolean>,
 *   changeCall: (target: string, how: import("../core/pattern.js").CallChange | null) => Promise<boolean>,
 *   extraCall: (target: string, on: boolean) => Promise<boolean>, briefShown: () => Promise<void>, cardShown: (row: import("../core/types.js").Row, moved: boolean) => void,
 *   addPart: (part: import("../core/duty.js").Part) => Promise<boolean>, removePart: (index: number) => Promise<boolean>,
 *   endDuty: () => Promise<boolean>, nextTrip: () => Promise<boolean>, useNewPack: () => Promise<void>,
 *   step: (index: number) => Promise<void>, draft: () => Draft,
 *   where: () => import("../core/where.js").Where | null, takeUp: (draft: Draft) => Draft, refreshDrafts: () => Promise<boolean>,
 *   saveDraft: (draft: Draft) => Promise<void>, markHere: () => Promise<void>, dropDraft: () => Promise<void>,
 *   saveReport: (draft: Draft) => Promise<boolean>, sendNow: () => Promise<void>,
 *   seal: (card: string[], now: number) => Promise<void>,
 *   sendAgain: (id: string) => Promise<void>, putAside: (id: string) => Promise<void>,
 *   installId: () => Promise<string>, dress: (change: import("./dress.js").Dress) => void,
 *   enrol: (code: string) => Promise<"done" | "wrong" | "other" | "wait" | "silent">,
 *   applyUpdate: () => void, installApp: () => void, emptiedTold: () => void,
 * }} Actions what screens may ask for
 * @typedef {(state: State, before: State) => void} Listener
 * @typedef {{get: () => State, set: (change: Partial<State>) => void,
 *   subscribe: (listener: Listener) => () => void, act: Actions}} Store
 */

import { startFollowing } from "../core/follow.js";
import { noRestrictions } from "../core/restrictions.js";
import { noWeather } from "../core/weather.js";

/** @returns {State} before anything is read from the disk */
export function firstState() {
  return {
    packs: {}, warnings: { rows: [], at: null, kept: null, broken: false }, restrictions: noRestrictions(), weather: noWeather(),
    asking: false, fetching: false, progress: null, refused: null, withdrawn: [], confirmed: null, confirmedBy: null, lapsed: null, tablet: null, roomShort: null,
    prep: null, duty: null, pack: null, view: null,
    follow: startFollowing(), position: "off",
    draft: null, drafts: [], takenUp: null, marks: [], answers: {}, rows: [], receipts: [], contact: "unknown", sending: false,
    clockOffset: null, updateReady: false, updateHeld: false, shellOff: false, canInstall: false, persisted: null,
    trouble: null, full: false, emptied: null, unkept: 0, unkeptInUse: false, shownCards: null, newFigures: {}, touched: false,
    theme: /** @type {State["theme"]} */ (document.documentElement.dataset.theme ?? "auto"),
  };
}

/**
 * @param {State} first
 * @returns {Store} its actions are filled in by app.js
 */
export function createStore(first) {
  let state = first;
  /** @type {Set<Listener>} */
  const listeners = new Set();
  return {
    get: () => state,
    set(change) {
      const before = state;
      state = { ...state, ...change };
      // A listener may leave while it is called: walk over a copy.
      for (const listener of Array.from(listeners)) listener(state, before);
    },
    subscribe(listener) {
      listeners.add(listener);
      return () => listeners.delete(listener);
    },
    act: /** @type {Actions} */ ({}),
  };
}
