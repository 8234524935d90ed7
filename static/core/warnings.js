/**
 * Warnings as they are held here: what the feed says, which ones count now, and whose
 * advice they change. What is missing in one makes it wider and worse, never milder.
 *
 * @import {Answer, Base, HeldWarnings, Target, TripWarning, Warning} from "./types.js"
 * @typedef {{feedNo: number, mark: string, epoch: string, restored: boolean, at: number, items: Warning[]}} FeedPage
 *   feedNo, mark, epoch: the state of the depot; restored: what was held when it was asked is not
 *   of its history, or an older depot does not say
 * @typedef {{now: number, offset: number | null, kept: number | null, heard: number | null}} Reading
 *   the tablet's clock; how far it is behind the depot, as asked since the start and as
 *   known from before; the depot's time when it was last heard
 */

import { CLOCK_WRONG_MS } from "./clock.js";
import { whenWords } from "./age.js";
import { jsonOf } from "./sync.js";
import { signOf } from "./table.js";

const MINUTE = 60_000;

/**
 * @param {Answer} answer
 * @returns {FeedPage | null} null: not the depot's words, whatever it is
 */
export function feedPage(answer) {
  const body = answer.status === 200 && answer.ours ? jsonOf(answer) : null;
  const at = Date.parse(body?.server_time ?? "");
  if (!body || !Number.isInteger(body.feed_no) || !Array.isArray(body.items) || Number.isNaN(at)) return null;
  if (!body.items.every((/** @type {any} */ one) => typeof one?.id === "string")) return null;
  return {
    feedNo: body.feed_no, mark: String(body.mark ?? ""), epoch: String(body.epoch ?? ""), at,
    items: body.items, restored: body.restored !== false,
  };
}

/**
 * What the whole changes in what is held; null: it is older than what is held, so it is refused.
 * Only the depot's own word takes a warning away. After a restore the depot may have forgotten
 * one, or what was changed in it: that stays as it is held, marked, until a person there ends it
 * or tells it again.
 * @param {Warning[]} rows
 * @param {{feedNo: number}} from what is held
 * @param {FeedPage} page
 * @returns {{put: Warning[], drop: string[]} | null}
 */
export function changes(rows, from, page) {
  const { items, restored } = page;
  if (!restored && page.feedNo < from.feedNo) return null;
  const named = new Map(items.map((one) => [one.id, one]));
  const missing = rows.filter(({ id }) => !named.has(id));
  const newerHere = rows.filter((one) => (restored || one.heldBefore) && isOlder(named.get(one.id), one));
  const put = items.filter((one) => one.status !== "ended" && !newerHere.some(({ id }) => id === one.id));
  const drop = items.filter((one) => one.status === "ended").map(({ id }) => id);
  if (restored) return { put: [...put, ...[...missing, ...newerHere].map((one) => ({ ...one, heldBefore: true }))], drop };
  return { put, drop: [...drop, ...missing.filter((one) => !one.heldBefore).map(({ id }) => id)] };
}

/**
 * Whether what the depot says of a living warning is of before what is held here.
 * @param {Warning | undefined} told
 * @param {Warning} held
 */
function isOlder(told, held) {
  return told !== undefined && told.status !== "ended" && Number(told.rev) < Number(held.rev);
}

/**
 * @param {{clockOffset: number | null, warnings: HeldWarnings}} state
 * @param {number} now the tablet's clock
 * @returns {Reading}
 */
export function readingOf({ clockOffset, warnings }, now) {
  return { now, offset: clockOffset, kept: warnings.kept, heard: warnings.at };
}

/**
 * The depot's time, as well as it is known here. Without an answer since the start it is
 * the later of the readings: a warning that has begun by either of them counts.
 * @param {Reading} reading
 */
export function depotTime({ now, offset, kept, heard }) {
  return offset === null ? Math.max(now, now + (kept ?? 0), heard ?? 0) : now + offset;
}

/**
 * Whether a warning counts now. Nothing ends one but the depot's word.
 * @param {Warning} warning
 * @param {Reading} reading
 */
export function hasBegun(warning, reading) {
  const from = Date.parse(warning.from_at ?? "");
  if (Number.isNaN(from)) return true;
  const { now, offset, kept, heard } = reading;
  // Earlier than the last word of the depot: this clock says nothing about now.
  if (offset === null && heard !== null && Math.max(now, now + (kept ?? 0)) < heard - CLOCK_WRONG_MS) return true;
  return depotTime(reading) >= from - CLOCK_WRONG_MS;
}

/**
 * Warnings for one line and direction, the worst first, with what each is worth here.
 * @param {Base} base
 * @param {string} direction
 * @param {Warning[]} held
 * @param {Reading} reading
 * @returns {TripWarning[]}
 */
export function tripWarnings(base, direction, held, reading) {
  const now = depotTime(reading);
  return held
    .filter((warning) => concerns(base, direction, warning))
    .map((warning) => {
      const known = base.states.findIndex((state) => state.key === warning.state);
      const placed = isPlaced(base, warning);
      const certain = known >= 0 && warning.datum === base.route.datum;
      const from = Date.parse(warning.from_at ?? "");
      const review = Date.parse(warning.review_at ?? "");
      return {
        warning,
        begun: hasBegun(warning, reading),
        rank: certain ? known : base.states.length - 1,
        name: known < 0 ? null : base.states[known].name,
        certain,
        placed,
        from: Number.isNaN(from) ? null : from,
        when: Number.isNaN(from) ? "" : whenWords(from, now),
        review: Number.isNaN(review) || review > now + MINUTE ? null : whenWords(review, now),
      };
    })
    .toSorted((a, b) => b.rank - a.rank || (b.from ?? 0) - (a.from ?? 0));
}

/**
 * @param {Base} base
 * @param {string} direction
 * @param {Warning} warning
 */
function concerns(base, direction, { line, direction: way }) {
  if (typeof line === "string" && line !== base.route.key) return false;
  // A direction this pack does not know may be this one.
  return way === direction || !base.directions.some((one) => one.key === way);
}

/**
 * Whether its two ends can be found on this pack's mileage.
 * @param {Base} base
 * @param {Warning} warning
 */
function isPlaced(base, { datum, from_m, to_m }) {
  return datum === base.route.datum && Number.isFinite(from_m) && Number.isFinite(to_m);
}

/**
 * The worst warning that meets the approach to a target, if it is no milder than the
 * state planned with; the others change nothing there.
 * @param {Base} base
 * @param {Target} target
 * @param {number | null} train
 * @param {number} state
 * @param {TripWarning[]} warnings worst first
 * @returns {TripWarning | null}
 */
export function warningFor(base, target, train, state, warnings) {
  const met = warnings.filter((one) => one.begun && meets(base, target, train, one));
  return met.length > 0 && met[0].rank >= state ? met[0] : null;
}

/**
 * Whether a warning reaches into [stop - reach, limit]. Where the pack does not say how far
 * that is, it does. A train that has no figures here may need the most of all the line's trains.
 * @param {Base} base
 * @param {Target} target
 * @param {number | null} train
 * @param {TripWarning} one
 */
export function meets(base, target, train, { placed, warning }) {
  if (!placed) return true;
  const sign = signOf(base, target.direction);
  const known = (target.mark_m ?? []).flatMap((mark, index) => (isNumber(mark) ? [{ mark, index }] : []));
  const own = known.filter(({ index }) => index === train);
  const spans = (own.length > 0 ? own : known).map(({ mark, index }) => {
    const [limit, reach] = [target.limit_m?.[index], target.reach_m?.[index]];
    const begins = sign * mark - (isNumber(reach) ? reach : Infinity);
    return { begins, ends: isNumber(limit) ? Math.max(sign * mark, sign * limit) : Infinity };
  });
  if (spans.length === 0) return true;
  const begins = Math.min(...spans.map((one) => one.begins));
  const ends = Math.max(...spans.map((one) => one.ends));
  const ways = [sign * Number(warning.from_m), sign * Number(warning.to_m)];
  return Math.max(...ways) >= begins && Math.min(...ways) <= ends;
}

/**
 * @param {unknown} value
 * @returns {value is number}
 */
function isNumber(value) {
  return typeof value === "number" && Number.isFinite(value);
}
