/** The words of reports, seals and what is said to the signaller, in German. */

/** @type {typeof import("./en-report.js").report} */
export const report = {
  title: "Meldung",
  call: "Zuerst der Fahrdienstleiter",
  tell: "Dem Fahrdienstleiter melden.",
  decide: "Ihre Entscheidung; im Zweifel melden.",
  told: "Ich habe es dem Fahrdienstleiter gemeldet",
  toldAt: (time) => `Fahrdienstleiter gemeldet ${time}`,
  found: "Was haben Sie angetroffen?",
  foundWords: { good: "Gut", expected: "Erwartet", reportable: "Meldepflichtig" },
  foundHelp: {
    good: "griffig wie auf guter Schiene",
    expected: "schlecht, wie hier vorhergesehen",
    reportable: "schlechter, als hier vorhergesehen",
  },
  happened: "Was ist geschehen?",
  happenedWords: {
    slide: "Gleiten",
    "slip at start": "Schleudern beim Anfahren",
    overrun: "Durchgerutscht",
    "stopped short": "Zu kurz gehalten",
    leaves: "Laub",
    "dull railhead": "Matter Schienenkopf",
    mist: "Nebel",
    "first rain": "Erster Regen",
  },
  place: "Wo?",
  placeText: "oder in Worten",
  placeOnly: "In Worten",
  direction: "Welche Richtung?",
  time: "Wann?",
  step: "Bremsstufe",
  stepWords: { 1: "Stufe 1", 2: "Stufe 2", 3: "Stufe 3", emergency: "Schnellbremsung" },
  weather: "Wetter",
  weatherWords: { dry: "Trocken", drizzle: "Nieselregen", rain: "Regen", mist: "Nebel", frost: "Frost", snow: "Schnee" },
  sand: "Gesandet?",
  yes: "Ja",
  no: "Nein",
  rest: "Mehr, wenn Zeit ist",
  flats: "Starkes Gleiten, Flachstellen vermutet",
  notSeen: "Fahrdienstleiter sieht den Zug nicht",
  text: "In eigenen Worten",
  name: "Ihr Name, nur wenn Sie ihn hier wollen",
  save: "Meldung speichern",
  saving: "Wird gespeichert",
  needFound: "Wählen, was Sie angetroffen haben, dann speichern.",
  draftFrom: (time) => `Begonnen ${time}, noch nicht gespeichert.`,
  afresh: "Neu beginnen",
  alsoBegun: (time, found) => `Eine andere Meldung wurde ${time} begonnen${found && ` (${found})`} und ist nicht gespeichert.`,
  openIt: "Öffnen",
  takenUp: "Diese Meldung ist jetzt in einem anderen Fenster geöffnet.",
  takeBack: "Hier weitermachen",
  goneWords: {
    saved: "Diese Meldung wurde schon in einem anderen Fenster gespeichert. Was hier geändert wurde, steht nicht darin.",
    dropped: "Diese Meldung wurde in einem anderen Fenster gespeichert oder verworfen. Was hier steht, ist nicht gespeichert.",
  },
  goneOnWords: { saved: "Als Berichtigung fortsetzen", dropped: "Als neue Meldung fortsetzen" },
  w7: "Auf diesem Tablet gespeichert. Der Fahrdienstleiter weiß nichts. Jetzt anrufen.",
  savedTold: (time) =>
    `Auf diesem Tablet gespeichert. Sie haben es dem Fahrdienstleiter um ${time} gemeldet; von selbst sagt diese Meldung es sonst niemandem.`,
  notSaved: "Diese Meldung ließ sich nicht auf dem Tablet speichern. Aufschreiben. Jetzt anrufen.",
  sayThis: "Worte zum Sagen",
  another: "Noch eine Meldung",
  w10: "Türen nicht freigeben. Nicht fahren. Fahrdienstleiter.",
  w10short: "Türen zu. Örtliche Anweisungen.",
  unknownPlace: "Ort nicht angegeben",
  anotherPlace: "Anderer Ort",
  whichStop: "An einem anderen Halt",
  aStop: "An einem Halt",
  chooseStop: "Wählen",
  asked: "Wo war es?",
  notSure: "Der Ort lässt sich hier nicht sicher bestimmen. Ein Tippen speichert die Meldung.",
  noTrip: "Keine Fahrt gewählt, daher ist der Ort nicht bekannt. Die Meldung wird mit dem angegebenen Ort gespeichert.",
  thisPlace: "Mit diesem Ort speichern",
  placeUnknown: "Ich weiß es nicht: ohne Ort speichern",
  backToForm: "Zurück zur Meldung",
  correction: "Dies berichtigt eine frühere Meldung.",
  editing: "Dies ändert eine Meldung, die noch nicht gesendet ist.",
};

/** @type {typeof import("./en-report.js").seal} */
export const seal = {
  title: "Nach einem Vorfall",
  open: "Nach einem Vorfall: versiegeln, was dieses Tablet zeigt",
  callFirst: "Erst den Fahrdienstleiter anrufen. Ein Siegel sagt niemandem etwas.",
  what: "Versiegelt werden Karte, Vorbereitung, Paket, Warnungen und Uhr, wie sie jetzt hier stehen. Kein Name, keine freien Worte.",
  seal: "Jetzt versiegeln",
  not: "Nicht jetzt",
  done: (time) => `Auf diesem Tablet versiegelt um ${time}. Es bleibt im Ausgang, bis das Depot es hat. Der Fahrdienstleiter weiß nichts davon.`,
  notDone: "Das Tablet konnte es nicht versiegeln. Aufschreiben, was es zeigt.",
};

/** @type {typeof import("./en-report.js").mark} */
export const mark = {
  here: "Hier merken",
  marked: "Gemerkt",
  notMarked: "Nicht gemerkt",
  waits: (time) => `Gemerkt ${time}. Wartet unter Melden.`,
};

/** @type {typeof import("./en-report.js").say} */
export const say = {
  driver: "Triebfahrzeugführer von",
  low: "Schiene schlechter als erwartet",
  expected: "Schiene schlecht, wie erwartet",
  good: "Schiene gut",
  on: "auf",
  at: "in",
  step: (step) => `in ${step}`,
  sand: "gesandet",
  noSand: "nicht gesandet",
  notSeen: "Zug nicht gesehen",
  where: "(Ort sagen)",
};

/** @type {typeof import("./en-report.js").where} */
export const where = {
  between: (behind, ahead, far) => `zwischen ${behind} und ${ahead}${far && `, ${far} vor dem Bahnsteig ${ahead}`}`,
  beyond: (name, far) => `${far && `${far} `}hinter dem Bahnsteig ${name}`,
};
