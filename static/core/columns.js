/**
 * The columns of a table file, [season][target][state][train] and, unless plain, [knot].
 * Written by `python tests/golden/make_columns.py` from calc/result.py and
 * webapp/lines/columns.py.
 */
export const COLUMNS = [
  // 0 ok, 1 no stop possible, 2 not computed
  { name: "status", between: "worst", answered: false, required: true },
  // brake point before the mark [m]
  { name: "brake", between: "line", answered: true, required: true },
  // time lost against the usual approach [s]
  { name: "seconds", between: "most", answered: true, required: true },
  // length of one slick covered wherever it begins; inf: all the way to the limit [m]
  { name: "cover", between: "least", answered: true, required: true },
  // brake point of the usual approach: dry rail, usual step [m]
  { name: "usual", between: "line", answered: false, required: true },
  // first step [index of the train's steps]
  { name: "step", between: "plain", answered: true, required: true },
  // step of the last application [index of the train's steps]
  { name: "last_step", between: "plain", answered: false, required: true },
  // speed at which the first step is released to run in; 0: no run-in [posted units]
  { name: "run_in", between: "plain", answered: true, required: true },
  // speed at which the first step is eased to the last; 0: no easing [posted units]
  { name: "ease_at", between: "plain", answered: true, required: true },
  // how far short of the mark the first application aims [m]
  { name: "aim_short", between: "plain", answered: true, required: true },
  // bit 1: the lightest step asks for more than the rail gives;
  // bit 2: the advice is the usual approach;
  // bit 4: less cover than asked for;
  // bit 8: the advice fails a driver who guessed the rail one state too good;
  // bit 16: the advice leaves no room for a weak brake or a late hand, where others do
  { name: "flags", between: "plain", answered: true, required: true },
  // up to 3 ceilings for the card, [landmark index, posted units], in order of travel
  { name: "speeds", between: "plain", answered: true, required: true },
  // adhesion of the slick that the cover is for
  { name: "slick", between: "plain", answered: true, required: true },
  // how fast a train comes here on this rail, posted units, up; no slower on a worse one
  { name: "approach", between: "plain", answered: false, required: false },
];

/** Bits of the column `flags`. */
export const FLAGS = { expect_wsp: 1, nothing_added: 2, less_cover: 4, no_state_in_hand: 8, no_room: 16 };

/** Kept where a cover reaches all the way to the limit. */
export const ALL_THE_WAY = -1;
