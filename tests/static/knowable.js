/**
 * What could be known: the seconds of a track at which a follower that errs in nothing, told the true
 * place with each fix that the track has, could show the right stop as sure. By the rules of the
 * card: a position older than 10 s is none, a frozen card may only say less, a stop that was not
 * seen to be made is asked about at the next stand. The rest is beyond any follower.
 */

const AGE_S = 10;
/** A stand seen for so long is a stop; a driver who is asked has answered after so long. */
const STOOD_S = 6;
const ANSWERED_S = 9;
/** Opened in mid-line on the move: so many fixes until it is known which way the train runs. */
const MOVING_S = 12;
const FREEZE_S = 30;

/**
 * @param {{fixes: number[][], right: [number, number][], s: number[], speed: number[]}} track
 * @param {import("../../static/core/follow.js").FollowLine} line
 * @returns {boolean[]} for each second
 */
export function knowable(track, line) {
  const world = { seenAt: -Infinity, seenAtM: 0, begun: false, wait: 0, lost: false, stands: stands(), frozen: null };
  return track.fixes.map((fix, second) => {
    const [low, high] = track.right[second];
    const now = { second, low, high, s: track.s[second], speed: track.speed[second], seen: fix.length > 0 };
    look(world, now);
    stand(world, now);
    freeze(world, now, line.stops[high] ?? null, line);
    const fresh = isFresh(world, second);
    return low >= 0 && world.begun && world.wait === 0 && !world.lost && (world.frozen ?? fresh);
  });
}

const stands = () => ({ call: null, seen: 0, all: 0 });
const isFresh = (world, second) => second - world.seenAt <= AGE_S;

/** Where it was seen last, and the first fixes that tell which way it runs. */
function look(world, { second, low, high, s, speed, seen }) {
  if (seen) Object.assign(world, { seenAt: second, seenAtM: s });
  if (seen && !world.begun) {
    const starts = low === 0 || high === 0;
    Object.assign(world, { begun: true, wait: starts ? 0 : speed === 0 ? ANSWERED_S : MOVING_S });
  }
  if (world.wait > 0 && isFresh(world, second)) world.wait -= 1;
}

/** Whether the stop was seen to be made, or asked about. */
function stand(world, { second, low, high, speed }) {
  if (low === -1) world.lost = true;
  if (low >= 0 && high > low && speed === 0) {
    if (world.stands.call !== low) world.stands = { ...stands(), call: low };
    world.stands.all += 1;
    if (isFresh(world, second)) world.stands.seen += 1;
    if (world.stands.seen >= STOOD_S) world.frozen = null;
    if (world.stands.all > ANSWERED_S) world.lost = false;
  } else if (low >= 0 && high === low && speed > 0 && world.stands.call !== null) {
    if (world.stands.seen < STOOD_S) world.lost = true;
    world.stands = stands();
  }
}

/** From 30 s before the earlier mark nothing becomes known; unseen, what may have been passed is lost. */
function freeze(world, { second, low, high, s, speed }, stop, line) {
  if (low !== high || low < 0 || stop === null || stop.earlier === null) return;
  const near = line.sign * stop.earlier - s <= FREEZE_S * speed;
  if (near && world.frozen === null) world.frozen = isFresh(world, second) && !world.lost;
  const ahead = Math.min(line.sign * stop.from, line.sign * stop.to) - world.seenAtM;
  if (world.frozen && !isFresh(world, second) && second - world.seenAt > ahead / line.top + AGE_S) world.frozen = false;
}
