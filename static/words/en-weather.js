/** The four questions of the Brief and what they propose. Never on a moving page. */

export const weather = {
  ask: "Look at the sky and the rail: four answers propose a rail state. You pick it.",
  questionWords: /** @type {Record<string, string>} */ ({
    rain: "Rain now", dry: "Dry for how long, before rain or until now", dew: "Mist, or dew to be seen", frost: "White frost to be seen",
  }),
  answerWords: /** @type {Record<string, string>} */ ({
    "rain-none": "none", "rain-light": "drizzle or light", "rain-steady": "steady, an hour or more",
    "dry-hours": "under 3 h", "dry-day": "3 to 24 h", "dry-days": "a day or more", "dry-unknown": "not known",
    "dew-no": "no", "dew-yes": "yes", "frost-no": "no", "frost-yes": "yes",
  }),
  none: "Nothing is proposed until all four are answered.",
  proposed: (/** @type {string} */ state, /** @type {string} */ why) => `Proposed: ${state}. Why: ${why}. Nobody has measured the rail.`,
  old: "These answers are old: answer again.",
  mark: "proposed",
  whyWords: /** @type {Record<string, string>} */ ({
    dry: "nothing wet was seen",
    "dew-likely": "none seen, but at this hour dew may lie along the line",
    "first-rain": "first light rain after dry weather",
    "light-rain": "light rain",
    "steady-rain": "steady rain",
    drying: "rail drying after rain",
    mist: "mist or dew",
    "frost-seen": "white frost",
    leaf: "leaf fall and moisture",
    "leaf-residue": "leaf-fall season, leaf residue on the rail",
  }),
  heldWords: /** @type {Record<string, string>} */ ({
    dry: "no rain, and the air far from its dew point",
    "near-dew": "air near its dew point",
    dew: "dew",
    mist: "mist",
    frost: "rail below freezing and moist air",
    "frozen-rain": "rain and frost",
    snow: "snow",
    desk: "the desk knows of something worse",
  }),
  byWeather: (/** @type {string} */ state, /** @type {string} */ why) => `The weather proposes: ${state}. Why: ${why}. Nobody has measured the rail; you pick it.`,
  fromAbout: (/** @type {string} */ time, /** @type {string} */ state) => `From about ${time}: ${state}.`,
  given: (/** @type {string} */ time) => `Weather given to the depot ${time}.`,
  otherHere: "Here it is other than the weather says",
  better: (/** @type {string} */ chosen, /** @type {string} */ proposed) => `Why ${chosen}, when ${proposed} is proposed?`,
  reasonWords: {
    looked: (/** @type {string} */ chosen) => `I looked: ${chosen}`,
    held: () => "I braked on this line in the last hour, and it held",
    changed: () => "The weather has changed since I answered",
  },
  betterOpen: (/** @type {string} */ proposed) => `Planned as ${proposed} until you say why.`,
  betterTaken: (/** @type {string} */ chosen, /** @type {string} */ proposed) =>
    `Planned as ${chosen} for this trip; proposed: ${proposed}. Listed and warned places keep their own state.`,
  plannedBetter: (/** @type {string} */ planned, /** @type {string} */ proposed) => `${planned}; proposed: ${proposed}`,
};
