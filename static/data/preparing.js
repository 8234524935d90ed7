/**
 * What a screen may do about the trip, the train and the rail: each answer is on the
 * tablet's disk before the next is asked. Nothing here works while the train moves.
 *
 * @import {Store} from "./store.js"
 * @import {Prep, Trip} from "../core/types.js"
 * @import {CallChange} from "../core/pattern.js"
 * @import {Duty, Part} from "../core/duty.js"
 */

import { asksAgain, atTrip, newDuty, nextTrip, withPart, withoutPart } from "../core/duty.js";
import { startFollowing, stepByHand } from "../core/follow.js";
import { sameStop } from "../core/pattern.js";
import { cardIndex } from "../core/platforms.js";
import { askedAgain } from "../core/prepare.js";
import { seenNow } from "../core/since.js";
import { noteSeen } from "./holding.js";
import { keep, keepFollow, recall, recallFollow } from "./keep.js";

/**
 * @param {Store} store
 * @param {(prep: Prep) => Promise<void>} setPrep
 */
export function preparing(store, setPrep) {
  /** @param {(prep: Prep) => Prep} change */
  async function change(change) {
    const { prep, follow } = store.get();
    if (prep && follow.motion !== "moving") await setPrep(change(prep));
  }

  /** @param {Trip} trip @param {Part[]} [between] */
  async function chooseTrip(trip, between = []) {
    const { pack, duty } = store.get();
    if (!pack) return;
    store.set({ follow: startFollowing() });
    await keep("follow", undefined);
    if (duty) await setDuty(store, atTrip(duty, trip.key));
    const route = pack.base.route.key;
    const since = (await recall(`seen ${route}`)) ?? null;
    // Read after the waits: another answer may have come meanwhile.
    const prep = store.get().prep;
    const again = asksAgain(pack.base, prep, trip, between);
    const known = again || !prep ? { isolated: null, wsp: null, sand: null, brakeTest: null } : prep;
    await setPrep({
      route, pack: pack.sha, trip: trip.key, formation: trip.formation,
      isolated: known.isolated, wsp: known.wsp ?? null, sand: known.sand ?? null, brakeTest: known.brakeTest ?? null,
      state: prep?.state ?? null, stateAt: prep?.stateAt ?? 0, signs: prep?.signs ?? [],
      trainChanged: prep !== null && prep.state !== null && (again || prep.trainChanged),
      off: null, calls: {}, extra: [], since,
    });
  }

  return {
    /** @param {Trip} trip */
    chooseTrip: (trip) => chooseTrip(trip),
    /** @param {Partial<Pick<Prep, "formation" | "isolated">>} change */
    async chooseTrain(change) {
      const prep = store.get().prep;
      if (!prep) return;
      const before = [prep.formation, prep.isolated];
      const next = { ...prep, ...change };
      const changed = before[1] !== null && (before[0] !== next.formation || before[1] !== next.isolated);
      await setPrep({ ...next, trainChanged: prep.trainChanged || (changed && prep.state !== null) });
    },
    /** @param {string} state */
    async chooseState(state) {
      // An app left open overnight: the rail state is chosen for the trip's next run.
      if (!(await recallFollow())) store.set({ follow: startFollowing() });
      // Read after the wait: another answer may have come meanwhile.
      const prep = store.get().prep;
      if (prep) await setPrep({ ...prep, state, stateAt: Date.now(), trainChanged: false });
    },
    /** @param {Partial<Pick<Prep, "wsp" | "sand" | "brakeTest" | "off">>} answer */
    answer: (answer) => change((prep) => ({ ...prep, ...answer })),
    /** Attached, detached, turned round or another unit. */
    trainChanged: () => change(askedAgain),
    /** @param {string} sign @param {boolean} on */
    sign: (sign, on) => change((prep) => {
      const others = (prep.signs ?? []).filter((one) => one !== sign);
      return { ...prep, signs: on ? [...others, sign] : others };
    }),
    /** @param {string} target @param {CallChange | null} how */
    changeCall: (target, how) => setPattern(store, (prep) => {
      const { [target]: _, ...others } = prep.calls ?? {};
      return { calls: how ? { ...others, [target]: how } : others };
    }),
    /** @param {string} target @param {boolean} on */
    extraCall: (target, on) => setPattern(store, (prep) => {
      const others = (prep.extra ?? []).filter((one) => one !== target);
      return { extra: on ? [...others, target] : others };
    }),
    ...ordering(store, chooseTrip),
    /** What this Brief shows is what the next one is compared with. */
    async briefShown() {
      const { pack, warnings, view } = store.get();
      if (view) await noteSeen(view.warnings.map((one) => one.warning));
      if (pack) await keep(`seen ${pack.base.route.key}`, seenNow(pack.base, pack.sha, warnings.rows));
    },
  };
}

/**
 * @param {Store} store
 * @param {(trip: Trip, between?: Part[]) => Promise<void>} chooseTrip
 */
function ordering(store, chooseTrip) {
  return {
    /** @param {Part} part */
    async addPart(part) {
      const { pack, duty, prep } = store.get();
      if (!pack) return;
      const route = pack.base.route.key;
      const before = duty?.route === route ? duty : newDuty(route, Date.now());
      const first = before.parts.length === 0 && prep && !(part.kind === "trip" && part.trip === prep.trip);
      const begun = first ? withPart(before, { kind: "trip", trip: prep.trip }) : before;
      await setDuty(store, withPart(begun, part));
    },
    /** @param {number} index */
    async removePart(index) {
      const { duty } = store.get();
      if (duty) await setDuty(store, withoutPart(duty, index));
    },
    async endDuty() {
      await setDuty(store, null);
    },
    async nextTrip() {
      const { duty, pack, follow } = store.get();
      const next = pack && nextTrip(duty, pack.base);
      if (!next || !duty || follow.motion === "moving") return;
      await setDuty(store, { ...duty, at: next.at });
      await chooseTrip(next.trip, next.between);
    },
  };
}

/**
 * @param {Store} store
 * @param {Duty | null} duty
 */
async function setDuty(store, duty) {
  store.set({ duty });
  await keep("duty", duty ?? undefined);
}

/**
 * Calls come and go; the stop on the card stays the same one.
 * @param {Store} store
 * @param {(prep: Prep) => Partial<Prep>} change
 */
async function setPattern(store, change) {
  const { prep, view, follow } = store.get();
  if (!prep || follow.motion === "moving") return;
  const next = { ...prep, ...change(prep) };
  const before = view?.calls.map((row) => row.target.key) ?? [];
  const at = cardIndex(follow);
  store.set({ prep: next });
  store.act.refresh();
  const after = store.get().view?.calls.map((row) => row.target.key) ?? [];
  const index = sameStop(before, after, at);
  if (index !== at) store.set({ follow: stepByHand(follow, index) });
  await keep("prep", next);
  if (index !== at) await keepFollow(store.get().follow);
}
