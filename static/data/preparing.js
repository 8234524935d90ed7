/**
 * What a screen may do about the trip, the train and the rail: each answer is on the
 * tablet's disk before the next is asked. Nothing here works while the train moves.
 *
 * @import {Store} from "./store.js"
 * @import {Prep, Trip} from "../core/types.js"
 * @import {CallChange} from "../core/pattern.js"
 * @import {Duty, Part} from "../core/duty.js"
 * @typedef {ReturnType<typeof import("./answering.js").answering>} Keeper
 */

import { asksAgain, atTrip, newDuty, nextTrip, withPart, withoutPart } from "../core/duty.js";
import { scopeOf, shownOf, withShown } from "../core/changed.js";
import { startFollowing, stepByHand } from "../core/follow.js";
import { changedCalls, sameStop } from "../core/pattern.js";
import { cardIndex } from "../core/platforms.js";
import { askedAgain, trainKnown, withTrain } from "../core/prepare.js";
import { askedBefore, timeOf, withAnswer } from "../core/proposal.js";
import { seenNow } from "../core/since.js";
import { noteSeen } from "./holding.js";
import { followRow, keep, recall, recallFollow } from "./keep.js";

/**
 * @param {Store} store
 * @param {Keeper} kept
 */
export function preparing(store, kept) {
  /** @param {(prep: Prep) => Prep} make */
  const answered = (make) => kept(() => {
    const { prep } = store.get();
    return prep && answerOf(make(prep));
  });
  /** Not while the train moves. @param {(prep: Prep) => Prep} make */
  const change = (make) => kept(() => {
    const { prep, follow } = store.get();
    return prep && follow.motion !== "moving" ? { ...answerOf(make(prep)), anyway: true } : null;
  });

  return {
    /** @param {Trip} trip */
    chooseTrip: (trip) => kept(() => tripChosen(store, trip, null, store.get().duty)),
    /** @param {Partial<Pick<Prep, "formation" | "isolated">>} change */
    chooseTrain: (change) => answered((prep) => withTrain(prep, change)),
    /** @param {string} state */
    chooseState: (state) => kept(async () => {
      // An app left open overnight: the rail state is chosen for the trip's next run.
      const fresh = (await recallFollow()) ? {} : { follow: startFollowing() };
      const { prep } = store.get();
      if (!prep) return null;
      // What was said for a better state was said for that one.
      const asked = prep.asked && state !== prep.state ? { ...prep.asked, reason: null } : (prep.asked ?? null);
      const next = { ...prep, asked, state, stateAt: Date.now(), answeredAt: Date.now(), trainChanged: false };
      return { rows: { prep: next }, shown: { prep: next, ...fresh } };
    }),
    /** @param {Partial<Pick<Prep, "wsp" | "sand" | "brakeTest" | "off">>} answer */
    answer: (answer) => change((prep) => ({ ...prep, ...answer })),
    /** Attached, detached, turned round or another unit. */
    trainChanged: () => change(askedAgain),
    /** @param {string} sign @param {boolean} on */
    sign: (sign, on) => change((prep) => {
      const others = (prep.signs ?? []).filter((one) => one !== sign);
      return { ...prep, signs: on ? [...others, sign] : others };
    }),
    /** What the driver sees of the weather. @param {string} key @param {string} answer */
    look: (key, answer) => change((prep) => {
      const { pack, clockOffset } = store.get();
      const now = Date.now();
      return pack ? withAnswer(pack.base, prep, { key, answer, when: timeOf(now, clockOffset, pack.fetchedAt), now }) : prep;
    }),
    /** Why a better state than proposed. @param {string} reason */
    better: (reason) => change((prep) => (prep.asked ? { ...prep, asked: { ...prep.asked, reason } } : prep)),
    /** @param {string} target @param {CallChange | null} how */
    changeCall: (target, how) => kept(() => patternChanged(store, (prep) => {
      const { [target]: _, ...others } = prep.calls ?? {};
      return { calls: how ? { ...others, [target]: how } : others };
    })),
    /** @param {string} target @param {boolean} on */
    extraCall: (target, on) => kept(() => patternChanged(store, (prep) => {
      const others = (prep.extra ?? []).filter((one) => one !== target);
      return { extra: on ? [...others, target] : others };
    })),
    ...ordering(store, kept),
    /** What a card says at a stand is what it is compared with later. */
    cardShown(/** @type {import("../core/types.js").Row} */ row, /** @type {boolean} */ moved) {
      const { view, prep, shownCards } = store.get();
      if (!view || !prep) return;
      const what = { scope: scopeOf(prep), key: row.target.key, shown: shownOf(view, row), now: Date.now(), moved };
      const next = withShown(shownCards, what);
      if (next === shownCards) return;
      store.set({ shownCards: next });
      keep("shownCards", next).catch((error) => console.error("what a card said was not kept", error));
    },
    /** What this Brief shows is what the next one is compared with. */
    async briefShown() {
      const { pack, warnings, view } = store.get();
      if (view) await noteSeen(view.warnings.map((one) => one.warning));
      if (pack) await keep(`seen ${pack.base.route.key}`, seenNow(pack.base, pack.sha, warnings.rows));
    },
  };
}

/** @param {Prep} prep */
function answerOf(prep) {
  const next = { ...prep, answeredAt: Date.now() };
  return { rows: { prep: next }, shown: { prep: next } };
}

/**
 * Another trip: what is known of the train goes along unless it may be another one.
 * @param {Store} store
 * @param {Trip} trip
 * @param {Part[] | null} between parts of the duty before it; null: chosen by hand
 * @param {Duty | null} duty
 */
async function tripChosen(store, trip, between, duty) {
  const { pack } = store.get();
  if (!pack) return null;
  const route = pack.base.route.key;
  const since = (await recall(`seen ${route}`)) ?? null;
  const { prep } = store.get();
  // The same trip chosen again is no other train.
  const same = between === null && prep?.trip === trip.key;
  const again = !same && asksAgain(pack.base, prep, trip, between ?? []);
  const next = {
    route, pack: pack.sha, trip: trip.key, ...trainKnown(prep, again),
    state: prep?.state ?? null, stateAt: prep?.stateAt ?? 0, signs: prep?.signs ?? [],
    trainChanged: prep !== null && prep.state !== null && (again || prep.trainChanged),
    off: null, calls: {}, extra: [], since, asked: same ? (prep?.asked ?? null) : askedBefore(prep), answeredAt: Date.now(),
  };
  const at = duty && atTrip(duty, trip.key);
  return {
    rows: { prep: next, follow: undefined, ...(at ? { duty: at } : {}) },
    shown: { prep: next, follow: startFollowing(), ...(at ? { duty: at } : {}) },
  };
}

/**
 * @param {Store} store
 * @param {Keeper} kept
 */
function ordering(store, kept) {
  /** @param {(duty: Duty | null) => Duty | null | undefined} make undefined: nothing changes */
  const ordered = (make) => kept(() => {
    const duty = make(store.get().duty);
    return duty === undefined ? null : { rows: { duty: duty ?? undefined }, shown: { duty } };
  });
  return {
    /** @param {Part} part */
    addPart: (part) => ordered((duty) => {
      const { pack, prep } = store.get();
      if (!pack) return undefined;
      const route = pack.base.route.key;
      const before = duty?.route === route ? duty : newDuty(route, Date.now());
      const first = before.parts.length === 0 && prep && !(part.kind === "trip" && part.trip === prep.trip);
      const begun = first ? withPart(before, { kind: "trip", trip: prep.trip }) : before;
      return withPart(begun, part);
    }),
    /** @param {number} index */
    removePart: (index) => ordered((duty) => duty ? withoutPart(duty, index) : undefined),
    endDuty: () => ordered(() => null),
    nextTrip: () => kept(() => {
      const { duty, pack, follow } = store.get();
      const next = pack && nextTrip(duty, pack.base);
      if (!next || !duty || follow.motion === "moving") return null;
      return tripChosen(store, next.trip, next.between, { ...duty, at: next.at });
    }),
  };
}

/**
 * Calls come and go; the stop on the card stays the same one.
 * @param {Store} store
 * @param {(prep: Prep) => Partial<Prep>} change
 */
function patternChanged(store, change) {
  const { prep, view, follow } = store.get();
  if (!prep || !view || follow.motion === "moving") return null;
  const next = { ...prep, ...change(prep), answeredAt: Date.now() };
  const trip = view.base.trips.find((one) => one.key === prep.trip) ?? view.trip;
  const before = view.calls.map((row) => row.target.key);
  const listed = (/** @type {string} */ key) => view.base.targets.some((one) => one.key === key);
  const after = changedCalls(view.base, trip, next).map((call) => call.target).filter(listed);
  const at = cardIndex(follow);
  const index = sameStop(before, after, at);
  if (index === at) return answerOf(next);
  return {
    rows: { prep: next, follow: followRow(stepByHand(follow, index)) },
    shown: () => ({ prep: next, follow: stepByHand(store.get().follow, index) }),
  };
}
