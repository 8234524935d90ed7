/**
 * Weather of the lines as the depot gave it: the state that it proposes for a trip. Worked out
 * by the depot hour by hour (webapp/records/weather/outlook.py); here the worst hour of the trip
 * is looked up. It proposes nothing where an hour of the trip is missing, where it is too old,
 * or where nobody knows the time.
 *
 * @import {Answer, Base, HeldWeather, LineWeather, Prep, Trip, TripWeather} from "./types.js"
 */

import { FAR_APART_MS, minutesOf } from "./clock.js";
import { isAskedOld } from "./proposal.js";
import { jsonOf } from "./sync.js";

const MINUTE = 60_000;
const HOUR = 60 * MINUTE;
const DAY = 24 * HOUR;
/** What lies on the rail a quarter of an hour before the trip, and what comes an hour after. */
const BEFORE = 15 * 60_000;
const AFTER = 60 * 60_000;
/** A trip so long over is meant for the next day. */
const OVER = 60 * 60_000;

/** @returns {HeldWeather} of a tablet that has not asked yet */
export function noWeather() {
  return { rows: [], at: null, etag: null, refused: false };
}

/**
 * What was kept on the disk. Half of it is not taken for the whole.
 * @param {any} kept
 * @returns {HeldWeather}
 */
export function weatherKept(kept) {
  if (!areLines(kept?.rows) || !Number.isFinite(kept.at)) return noWeather();
  return { rows: kept.rows, at: kept.at, etag: typeof kept.etag === "string" ? kept.etag : null, refused: kept.refused === true };
}

/**
 * What is held after an answer of the depot: whole each time. One that cannot be read takes away
 * what was held, since nobody knows what it said; one that is not the depot's changes nothing.
 * @param {HeldWeather} held
 * @param {Answer & {etag: string | null}} answer
 * @param {number} now by the depot's clock
 * @returns {HeldWeather}
 */
export function weatherAfter(held, answer, now) {
  if (!answer.ours) return held;
  if (answer.status === 304 && held.etag !== null) return { ...held, at: now };
  // A depot of before knows no weather: what is held ends by itself.
  if (answer.status !== 200) return held;
  const body = jsonOf(answer);
  const at = Date.parse(body?.server_time ?? "");
  if (Number.isNaN(at) || !areLines(body.items)) return { rows: [], at: now, etag: null, refused: true };
  return { rows: body.items, at, etag: answer.etag, refused: false };
}

/**
 * @param {unknown} rows
 * @returns {rows is LineWeather[]}
 */
function areLines(rows) {
  return Array.isArray(rows) && rows.every(isLine) && new Set(rows.map(({ line }) => line)).size === rows.length;
}

/** @param {any} one */
function isLine(one) {
  const times = [one?.given_at, one?.ends_at].every(isTime);
  return times && typeof one.line === "string" && Array.isArray(one.hours) && one.hours.every(isHour);
}

/** @param {any} one */
function isHour(one) {
  return isTime(one?.at) && (one.state === null || typeof one.state === "string") && Array.isArray(one.why) && one.why.every((/** @type {unknown} */ code) => typeof code === "string");
}

/** @param {unknown} text */
function isTime(text) {
  return typeof text === "string" && !Number.isNaN(Date.parse(text));
}

/**
 * The state that the weather proposes for a trip: the worst of all its hours, with the reasons of
 * that one, and from when on it is so.
 * @param {Base} base
 * @param {Trip} trip
 * @param {LineWeather[]} held
 * @param {number} now by the depot's clock
 * @returns {TripWeather | null} null: nothing is proposed
 */
export function tripWeather(base, trip, held, now) {
  const line = held.find((one) => one.line === base.route.key);
  const times = tripTimes(trip, now);
  if (!line || !times || !isOfNow(line, now)) return null;
  const hours = hoursOf(line, times.begins - BEFORE, times.ends + AFTER);
  if (hours === null) return null;
  const ranks = hours.map((one) => base.states.findIndex((state) => state.key === one.state && state.pickable));
  // An hour of which nothing is known, or in a state of another chain, may be the worst.
  if (ranks.includes(-1)) return null;
  const worst = Math.max(...ranks);
  const first = ranks.indexOf(worst);
  const why = ranks.flatMap((rank, i) => (rank === worst ? hours[i].why : []));
  return {
    state: base.states[worst].key,
    why: [...new Set(why)],
    given: Date.parse(line.given_at),
    // An hour stands at its end, and began an hour before.
    from: first > 0 ? Math.max(Date.parse(hours[first].at) - HOUR, times.begins - BEFORE) : null,
  };
}

/**
 * @param {LineWeather} line
 * @param {number} now
 */
function isOfNow(line, now) {
  return now >= Date.parse(line.given_at) - 2 * MINUTE && now <= Date.parse(line.ends_at);
}

/**
 * The hours that touch a time, in order; null where one of them is missing.
 * @param {LineWeather} line
 * @param {number} from
 * @param {number} to
 */
function hoursOf(line, from, to) {
  const by = new Map(line.hours.map((one) => [Date.parse(one.at), one]));
  const found = [];
  // What the sky did up to the first minute lies there still.
  for (let at = Math.floor(from / HOUR) * HOUR; at < to + HOUR; at += HOUR) {
    const hour = by.get(at);
    if (!hour) return null;
    found.push(hour);
  }
  return found;
}

/**
 * When the trip is due to begin and to end: the run that comes next, or what is left of the one
 * under way. A late train ends later than booked.
 * @param {Trip} trip
 * @param {number} now
 * @returns {{begins: number, ends: number} | null} null: its times are not known
 */
function tripTimes(trip, now) {
  const clocks = [trip.starts.depart, ...trip.calls.flatMap(({ arrive, depart }) => [arrive, depart])];
  const minutes = clocks.filter((one) => one !== null).map(minutesOf);
  if (minutes.length === 0 || !minutes.every((one) => one !== null)) return null;
  const [first, last] = [Math.min(...minutes), Math.max(...minutes)];
  for (const days of [-1, 0, 1]) {
    const day = new Date(now + days * DAY);
    const [begins, ends] = [first, last].map((m) => new Date(day.getFullYear(), day.getMonth(), day.getDate(), 0, m).getTime());
    if (ends + OVER >= now) return begins <= now ? { begins: now, ends: Math.max(ends, now) } : { begins, ends };
  }
  return null;
}

/**
 * The trip with what the weather proposes for it in place of the four questions. It is taken
 * when nothing is proposed yet or for this trip's first time; after that only what is worse.
 * What the driver has answered by looking is only ever made worse by it.
 * @param {Base} base
 * @param {Prep} prep
 * @param {HeldWeather} held
 * @param {{now: number, offset: number | null}} clock of the tablet, and how far it is behind the depot
 * @returns {Prep}
 */
export function withWeather(base, prep, held, { now, offset }) {
  const trip = base.trips.find((one) => one.key === prep.trip);
  // Two clocks a day apart: nobody knows which hour it is. One set back is before the last word.
  if (!trip || Math.abs(offset ?? 0) >= FAR_APART_MS) return prep;
  if (offset === null && held.at !== null && now < held.at - 2 * MINUTE) return prep;
  const found = tripWeather(base, trip, held.rows, now + (offset ?? 0));
  if (!found) return prep;
  const before = prep.asked ?? null;
  const rank = (/** @type {string | null | undefined} */ key) => base.states.findIndex((state) => state.key === key);
  const open = before === null || before.state === null || (before.weather && isAskedOld(base, before, now));
  if (!open && rank(found.state) <= rank(before?.state)) return prep;
  const { state, why, given, from } = found;
  const reason = state === before?.state ? (before?.reason ?? null) : null;
  return { ...prep, asked: { answers: {}, at: now, state, why, reason, weather: { given, from } } };
}
