/**
 * What tablet and depot must agree on; what each means stands in webapp/plain/agreed.py.
 * Written by `python tests/golden/make_agreed.py`.
 */
export const MARK = "X-Step-In-Hand";
export const PROTOCOL = "1";
export const MOST_ITEMS = 50;
export const MOST_TEXT = 2000;
export const MOST_ANSWER = 120;
export const MOST_SAID = 500;
export const MOST_BEFORE = 100;
export const MOST_CELLS = 500;
export const MOST_SEALED = 500;
export const LONGEST_LINE = 500;
export const FASTEST_RESTRICTION = 250;
export const RESTRICTION_NEAR_M = 25;
export const CLOCK_WRONG_S = 120;
export const FAR_APART_S = 86400;
export const TABLET_DAYS = 35;
export const SPOKEN = ["route.name", "directions.name", "places.name", "states.name", "listed.name", "targets.name", "targets.words", "targets.note", "landmarks.words", "listed.reason", "trains.type_name", "trains.name", "trains.steps", "trains.slide_words", "trips.name", "trips.calls.note", "signals.words", "signals.stop_before", "signals.note", "brake_tests.words", "brake_tests.note", "settings.trip_allowance_words"];
export const LETTERS = "ABCDEFGHJKMNPQRSTUVWXYZ23456789";
export const SECRET_LETTERS = 8;
export const KEY_LETTERS = 8;
export const KEY_DIGITS = 16;
