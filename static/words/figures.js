/** Words beside figures: ages, distances, gradients; units stay as they are posted on the line. */

export const en = {
  /** Between the whole and its tenths. */
  point: ".",
  justNow: "just now",
  /** @param {number} n */
  minutesOld: (n) => `${n} min old`,
  /** @param {number} hours @param {number} minutes */
  hoursOld: (hours, minutes) => `${hours} h ${minutes} min old`,
  /** @param {number} n */
  daysOld: (n) => `${n} days old`,
  /** @param {number} n */
  days: (n) => `${n} days`,
  /** @param {number} n */
  yards: (n) => `${n} yards`,
  level: "level",
  /** @param {number} n */
  gradient: (n) => `1 in ${n}`,
};

/** @type {typeof en} */
export const de = {
  point: ",",
  justNow: "eben erst",
  minutesOld: (n) => `${n} min alt`,
  hoursOld: (hours, minutes) => `${hours} h ${minutes} min alt`,
  daysOld: (n) => `${n} Tage alt`,
  days: (n) => `${n} Tage`,
  yards: (n) => `${n} Yards`,
  level: "eben",
  gradient: (n) => `1 zu ${n}`,
};
