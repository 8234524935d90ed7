/** @type {typeof import("./en-weather.js").weather} */
export const weather = {
  ask: "Himmel und Schiene ansehen: Vier Antworten schlagen einen Schienenzustand vor. Sie wählen ihn.",
  questionWords: {
    rain: "Regen jetzt", dry: "Wie lange trocken, vor dem Regen oder bis jetzt", dew: "Nebel, oder Tau zu sehen", frost: "Reif zu sehen",
  },
  answerWords: {
    "rain-none": "keiner", "rain-light": "Niesel oder leicht", "rain-steady": "anhaltend, eine Stunde oder mehr",
    "dry-hours": "unter 3 h", "dry-day": "3 bis 24 h", "dry-days": "einen Tag oder mehr", "dry-unknown": "nicht bekannt",
    "dew-no": "nein", "dew-yes": "ja", "frost-no": "nein", "frost-yes": "ja",
  },
  none: "Vorgeschlagen wird erst, wenn alle vier beantwortet sind.",
  proposed: (state, why) => `Vorschlag: ${state}. Grund: ${why}. Niemand hat die Schiene gemessen.`,
  old: "Diese Antworten sind alt: neu antworten.",
  mark: "Vorschlag",
  whyWords: {
    dry: "nichts Feuchtes gesehen",
    "dew-likely": "keiner gesehen, aber um diese Zeit kann auf der Strecke Tau liegen",
    "first-rain": "erster leichter Regen nach Trockenheit",
    "light-rain": "leichter Regen",
    "steady-rain": "anhaltender Regen",
    drying: "Schiene trocknet nach Regen",
    mist: "Nebel oder Tau",
    "frost-seen": "Reif",
    leaf: "Laubfall und Feuchte",
    "leaf-residue": "Zeit des Laubfalls, Laubreste auf der Schiene",
  },
  better: (chosen, proposed) => `Warum ${chosen}, wenn ${proposed} vorgeschlagen ist?`,
  reasonWords: {
    looked: (chosen) => `Ich habe nachgesehen: ${chosen}`,
    held: () => "Ich habe hier in der letzten Stunde gebremst, und es hielt",
    changed: () => "Das Wetter ist seit meiner Antwort anders geworden",
  },
  betterOpen: (proposed) => `Geplant als ${proposed}, bis Sie sagen, warum.`,
  betterTaken: (chosen, proposed) =>
    `Für diese Fahrt geplant als ${chosen}; Vorschlag: ${proposed}. Gelistete und gewarnte Orte behalten ihren Zustand.`,
  plannedBetter: (planned, proposed) => `${planned}; Vorschlag: ${proposed}`,
};
