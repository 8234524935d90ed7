/**
 * Thresholds of following the train. Own numbers unless a source stands beside them; the
 * table in FOLLOWING.md says which of them a company may want to set.
 */

/** OFFLINE.md R36: what is older or vaguer is no position. */
export const FIX_AGE_MS = 10_000;
export const ACCURACY_M = 200;

/**
 * Bound of a fix in accuracies. The W3C Geolocation text asks for a 95 % radius, many
 * receivers give a 68 % one: twice that is at least 95 % of a normal error.
 */
export const BOUND_PER_ACCURACY = 2;
/** No fix is better than this along the line: posts and drawn geometry have errors too. */
export const LEAST_BOUND_M = 25;
/** An error across the line can be seen; along it, it is expected this much larger. */
export const BOUND_PER_OFF = 1.5;
/** Further beside the line than its uncertainty and this, a fix is not on it. */
export const BESIDE_M = 50;
/** Fixes that contradict what is known must agree with each other so long to win: a jump is shorter. */
export const STRANGE_MS = 20_000;
export const STRANGE_FIXES = 3;
/** ... after so long nothing is known for sure, ... */
export const SHAKING_MS = 5_000;
/** ... nor for so long afterwards: false places last about a minute. */
export const SHAKEN_MS = 120_000;
/** Places of the last seconds count for the freeze, whichever of them was right. */
export const REACH_MS = 10_000;
/** Places a fix may belong to that are carried on together (crossing lines, loops). */
export const MOST_PLACES = 6;

/** Error of a speed the receiver gives (m/s); one worked out from places has its own besides. */
export const SPEED_ERROR_MPS = 1;
/** No electric multiple unit gains or loses speed faster in service (m/s²). */
export const GAIN_MPS2 = 1;
export const LOSE_MPS2 = 1.2;
/** Drivers exceed a limit by a little and speed tables are rounded. */
export const TOP_SHARE = 1.05;
/** One slow fix may be a jump of the receiver; two in a row are a stand. So are fast ones. */
export const SLOW_FIXES = 2;
export const FAST_FIXES = 2;
/** A train that creeps to its mark has not stood yet: slow this long, and this slow (m/s). */
export const STILL_MS = 6_000;
/** ... and longer when slowness is only worked out from places, which a vague receiver spoils. */
export const STILL_MUTE_MS = 13_000;
export const STILL_MPS = 0.5;
/** A stand this long in the next platform: it runs this trip, whatever was doubtful before. */
export const CALLED_MS = 20_000;
/** A receiver usually speaks every second; with longer gaps than this a stand needs longer. */
export const SELDOM_MS = 1_500;
/** Not surely running for so long, it may have stood, whatever a wandering speed says. */
export const LINGER_MS = 10_000;

/** Surely this far past a platform without a stand in it: run through, or overrun. */
export const PASSED_M = 50;
/** Perhaps further past it than this, the stop behind is not sure to be next. */
export const BEYOND_M = 40;
/** A stand beyond it no further than this is an overrun; a train that runs on further ran through. */
export const OVERRUN_M = 250;
/** Faster than this beyond it (m/s) it did not brake for it: 0.5 m/s² from there take 256 m. */
export const OVERRUN_MPS = 16;
/** A receiver that was blind may be wrong by so much at first, for as long as a jump lasts. */
export const JUMP_M = 450;
/** Surely this far back from where it was: another direction. Setting back is shorter. */
export const TURNED_M = 100;
/** So far back it may have run since its last stand, unless the fixes say otherwise: not known. */
export const BACKWARD_M = 120;
/** ... for so long: a jump of the receiver is mostly shorter. */
export const BACKWARD_MS = 7_000;

/** OPERATIONS.md 1.12: the card freezes this long before the earlier mark. */
export const FREEZE_S = 30;
/** ... and so much sooner, since receivers smooth what they say: place and speed are this old. */
export const LAG_S = 2;
/** Blind, a train that ran on would be at the platform: so much later "estimated" is said ... */
export const BLIND_WORD_MS = 10_000;
/** ... so much later it may have called and left: 10 s of braking and 20 s of doors ... */
export const BLIND_DOUBT_MS = 30_000;
/** ... and so much later a braking one has stood too: 60 mph at 3 %g take 91 s. */
export const BLIND_LOST_MS = 90_000;
/** A train that vanished into a tunnel while moving counts as moving for this long. */
export const HOLD_MOVING_MS = 20 * 60_000;
