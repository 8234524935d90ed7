/**
 * What changed on a card since it was last shown at a stand. A warning that arrives must not
 * move a mark without a word. Kept by stop, so that it outlives a restart; nothing in it
 * tells where the train is.
 *
 * @import {PlainAdvice, Prep, Row, TripView} from "./types.js"
 * @typedef {{status: number, plain: boolean, mark: number | null, step: number | null,
 *   worse: [number, number | null, number | null] | null, speeds: [string, number][],
 *   warned: string, lowered: string, pack: string, old: boolean}} Shown what a card said; marks in
 *   the direction of travel [m]
 * @typedef {{seen: Shown, at: number, stand: number, was: Shown | null, wasAt: number}} Card seen: what
 *   it said at the last stand, at which time; was: what it said before, if it changed at that stand
 * @typedef {{scope: string, stand: number, cards: Record<string, Card>}} ShownCards scope: what the
 *   driver answered; cards of other answers are not compared
 * @typedef {typeof import("../words/en.js").words.card.changed} ChangedWords
 */

import { timeOfDay } from "./age.js";
import { ownWords } from "./names.js";
import { FLAG_NOTHING_ADDED, NO_STOP, OK } from "./table.js";

/** The time is written again after this long, and no oftener. */
const FRESH_MS = 60_000;

/**
 * What a card says of a stop.
 * @param {TripView} view
 * @param {Row} row
 * @returns {Shown}
 */
export function shownOf({ base, direction, pack, w9 }, { advice, warned, lowered = [] }) {
  const at = (/** @type {PlainAdvice} */ { mark }) => (mark ? direction.sign * base.landmarks[mark.index].at_m : null);
  const { worse } = advice;
  return {
    status: advice.status,
    plain: Boolean(advice.flags & FLAG_NOTHING_ADDED),
    mark: at(advice),
    step: advice.step,
    worse: worse && [worse.status, at(worse), worse.step],
    speeds: advice.speeds.map(({ words, speed }) => [ownWords(base, words), speed]),
    warned: warned ? `${warned.warning.id} ${warned.warning.rev ?? ""}` : "",
    lowered: lowered.join(" "),
    pack: pack.sha,
    old: w9 !== null,
  };
}

/**
 * The driver's own answers: what follows from them is no news to him.
 * @param {Prep} prep
 */
export function scopeOf({ route, trip, formation, isolated, wsp, brakeTest, state, stateAt, signs, off, calls, extra }) {
  return JSON.stringify([route, trip, formation, isolated, wsp, brakeTest, state, stateAt, signs, off, calls, extra]);
}

/**
 * A card is shown at a stand.
 * @param {ShownCards | null} kept
 * @param {{scope: string, key: string, shown: Shown, now: number, moved: boolean}} what moved: the
 *   train ran since it last stood
 * @returns {ShownCards} the same object if there is nothing to keep
 */
export function withShown(kept, { scope, key, shown, now, moved }) {
  const same = kept?.scope === scope ? kept : { scope, stand: kept?.stand ?? 0, cards: {} };
  const stand = same.stand + (moved ? 1 : 0);
  const card = same.cards[key];
  const unchanged = card !== undefined && equal(card.seen, shown);
  if (kept === same && !moved && unchanged && now - card.at < FRESH_MS) return same;
  const before = { stand, was: null, wasAt: 0 };
  const next = unchanged ? { ...card, at: now } : { seen: shown, at: now, ...(card ? { stand, was: card.seen, wasAt: card.at } : before) };
  return { scope, stand, cards: { ...same.cards, [key]: next } };
}

/**
 * What is to be said beside a card; null: nothing changed, or it was never shown.
 * @param {ShownCards | null} kept
 * @param {{scope: string, key: string, shown: Shown}} what
 * @param {ChangedWords} w
 * @returns {{since: string, what: string} | null}
 */
export function changeOf(kept, { scope, key, shown }, w) {
  const card = kept?.scope === scope ? kept.cards[key] : undefined;
  if (!kept || !card) return null;
  const held = card.was !== null && card.stand === kept.stand;
  const [was, at] = equal(card.seen, shown) && held ? [card.was, card.wasAt] : [card.seen, card.at];
  const what = was && changeWords(was, shown, w);
  return what ? { since: timeOfDay(at), what } : null;
}

/**
 * @param {Shown} was
 * @param {Shown} is
 * @param {ChangedWords} w
 */
function changeWords(was, is, w) {
  const what = changes(was, is).slice(0, 2).map((one) => w.whatWords[one]).join(", ");
  const why = cause(was, is);
  if (what && why) return `${what} (${w.whyWords[why]})`;
  return what || (why === "warned" || why === "over" ? w.whyWords[why] : "");
}

/**
 * What is different, in the order of its weight.
 * @param {Shown} was
 * @param {Shown} is
 * @returns {(keyof ChangedWords["whatWords"])[]}
 */
function changes(was, is) {
  if (is.status !== was.status) return [is.status === OK ? "advice" : is.status === NO_STOP ? "slippery" : "none"];
  if (is.status !== OK) return [];
  // Without a mark of its own a stop begins as usual, later than any.
  const [before, now] = [was, is].map(({ plain, mark }) => (plain ? Infinity : mark ?? Infinity));
  const lower = is.speeds.some(([words, speed]) => was.speeds.some(([other, higher]) => other === words && speed < higher));
  return [
    ...(now < before ? [/** @type {const} */ ("earlier")] : now > before ? [/** @type {const} */ ("later")] : []),
    ...(!is.plain && !was.plain && is.step !== was.step ? [Number(is.step) < Number(was.step) ? /** @type {const} */ ("lighter") : /** @type {const} */ ("heavier")] : []),
    ...(equal(is.worse, was.worse) ? [] : [/** @type {const} */ ("worse")]),
    ...(equal(is.speeds, was.speeds) ? [] : [lower ? /** @type {const} */ ("lower") : /** @type {const} */ ("speeds")]),
  ];
}

/**
 * @param {Shown} was
 * @param {Shown} is
 * @returns {keyof ChangedWords["whyWords"] | null}
 */
function cause(was, is) {
  if (is.warned !== was.warned) return is.warned ? "warned" : "over";
  if (is.lowered !== was.lowered) return "notice";
  if (is.pack !== was.pack) return "pack";
  return is.old && !was.old ? "old" : null;
}

/**
 * @param {unknown} one
 * @param {unknown} other
 */
function equal(one, other) {
  return JSON.stringify(one) === JSON.stringify(other);
}
