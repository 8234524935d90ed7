/** The words of the Brief, in German. Never on a moving page. */

import { de as figures } from "./figures.js";

/** @type {typeof import("./en-brief.js").brief} */
export const brief = {
  title: "Plan",
  firstStart: "Nicht zum Lernen einer Strecke.",
  defer: "Nur ein Rat. Signale, Regelwerk, örtliche Anweisungen und Ihr eigenes Urteil gehen vor.",
  line: "Strecke",
  trip: "Fahrt",
  chooseTrip: "Fahrt wählen",
  due: "Fährt als nächstes",
  find: "Nach Zeit oder Nummer suchen",
  found: (n) => (n === 0 ? "Keine Fahrt gefunden." : n === 1 ? "1 Fahrt gefunden." : `${n} Fahrten gefunden.`),
  train: "Zug",
  formation: "Zugbildung",
  isolated: "Wagen mit abgesperrter Bremse",
  isolatedNone: "keine Bremse abgesperrt",
  isolatedSome: (n) => `Bremse abgesperrt an ${n}`,
  isolatedMore: "abgesperrte Bremsen: mehr, oder nicht bekannt",
  more: "mehr, oder nicht bekannt",
  none: "keine",
  rail: "Schienenzustand",
  railAsk: "Den Schienenzustand für diese Fahrt wählen. Im Zweifel den schlechteren.",
  change: "Ändern",
  done: "Die Halte zeigen",
  noTrain: "Kein Rat mit diesem Zug.",
  noTrainWords: {
    isolated: "Abgesperrte Bremsen: mehr, als es Werte gibt, oder nicht bekannt. Nach den Bedingungen fahren; örtliche Anweisungen für den Fehler.",
    formation: "Zugbildung: andere, oder nicht bekannt. Nach den Bedingungen fahren.",
    weak: "Bremsprobe in Fahrt schwach: eine Bremsstörung. Örtliche Anweisungen befolgen, dem Fahrdienstleiter sagen.",
    train: "Das Paket hat keine Werte für diesen Zug, wie er ist. Nach den Bedingungen fahren.",
  },
  allowance: "Zeit für diese Fahrt",
  allowanceMore: "Minuten, die dieses Anfahren kostet, trägt das Unternehmen.",
  allowanceNone: "Für diese Fahrt ist keine Zeit angegeben: kein Halt hat einen Wert.",
  allowanceUnknown: (stops, boards) => {
    const named = [some(stops, "Halt", "Halte"), some(boards, "Tafel", "Tafeln")].filter(Boolean).join(" und ");
    return `${named} ohne Wert: nicht mitgezählt.`;
  },
  first: {
    noSpeed: (names) => `Keine Geschwindigkeit reicht: ${names}. Sonderregelung: Fahrdienstleiter fragen.`,
    noAdvice: (names, why) => `Kein Rat: ${names}${why && ` (${why})`}. Nach den Bedingungen fahren.`,
    andMore: (names, n) => `${names} und ${n} weitere`,
    before: (place) => `vor ${place}`,
    never: "Falls schlechter: bei jedem Tempo zu glatt",
    noHand: "Kein Zustand in der Hand",
    everywhere: "Jeder Halt",
    others: (n) => (n === 1 ? "Der andere Halt" : `Die anderen ${n} Halte`),
    earlier: (where, steps) => `${where}: früher bremsen als üblich${steps && `, ${steps}`}.`,
    nothing: (where) => `${where}: nichts zusätzlich.`,
    butNothing: (names) => `Nichts zusätzlich in ${names}.`,
    moreStops: (n) => (n === 1 ? "1 weiterer solcher Halt" : `${n} weitere solche Halte`),
    moreNews: (n) => (n === 1 ? "1 weitere Änderung" : `${n} weitere Änderungen`),
    allStops: (n) => (n === 1 ? "Der Halt" : `Alle ${n} Halte`),
    train: "Zug, Bremse",
    warnings: (n) => (n === 1 ? "1 Warnung" : `${n} Warnungen`),
    more: "Mehr",
  },
  restrictions: "Langsamfahrstellen: Ihre Weisung, nicht hier.",
  platform: (name) => `Gleis ${name}`,
  buffers: "Prellbock",
  runNames: (first, last) => `${first} bis ${last}`,
  runStops: (n) => (n === 1 ? "1 Halt" : `${n} Halte`),
  runBoards: (n) => (n === 1 ? "1 Tafel" : `${n} Tafeln`),
  runMarks: (steps, worse) => `Bremsmarken${worse ? ", geplant und schlechter" : ""}${steps && `; ${steps}`}.`,
  runUsual: (names) => `Nichts zusätzlich: ${names}.`,
  runIfWorse: "Bremsmarken, falls schlechter.",
  runWorse: (n, what) => `Falls schlechter${n === null ? "" : `, an ${n} davon`}: ${what}.`,
  cover: (metres, mu) => `Nach Rechnung: ein Fleck von ${metres} m bei ${mu}. Zwei Flecken, oder schlechter: nicht.`,
  coverToLimit: (mu) => `Nach Rechnung: ein Fleck bis zur Grenze bei ${mu}. Zwei Flecken, oder schlechter: nicht.`,
  coverNone: (mu) => `Nach Rechnung: nicht einmal ein kurzer Fleck bei ${mu}.`,
  coverLess: "Weniger, als das Unternehmen verlangt.",
  noStateInHand: "Kein Zustand in der Hand: ist die Schiene schlechter als gewählt, reicht das vielleicht nicht.",
  noStateInHandAll: "An keinem Halt ein Zustand in der Hand. Ist die Schiene schlechter, reicht das vielleicht nicht.",
  noStateInHandMost: (names) => `An keinem Halt ein Zustand in der Hand außer ${names}. Ist die Schiene schlechter, reicht das vielleicht nicht.`,
  noStepInHand: "Dieser Plan braucht die höchste Betriebsstufe. Keine Stufe in der Hand.",
  wsp: "Gleitschutz wird arbeiten.",
  runIn: (speed, step) => `Einmal lösen. Einlaufen mit nicht über ${speed}; zuletzt ${step}.`,
  ease: (speed, step) => `Ab ${speed} auf ${step} mindern.`,
  aim: (short) => `Die erste Bremsung zielt ${short} vor die Marke.`,
  noPicture: "Kein Bild auf diesem Tablet.",
  pack: (sha) => `Paket ${sha}`,
  fetched: (when) => `geholt ${when}`,
  noPack: "Noch kein Paket auf diesem Tablet.",
  connect: "Einmal mit dem Depot verbinden.",
  damaged: (names) => `Auf diesem Tablet beschädigt, darum kein Rat daraus: das Paket ${names}.`,
  connectAgain: "Das Tablet mit dem Depot verbinden: es wird neu geholt.",
  asking: "Das Depot wird danach gefragt.",
  notGiven: "Das Depot hat es nicht gegeben; es wird wieder gefragt.",
  fetching: (pack) => (pack ? `Das Paket ${pack.name} wird geholt: ${pack.done} von ${pack.of} Dateien.` : "Pakete werden geholt."),
  newerPack: "Ein neueres Paket ist auf diesem Tablet.",
  usePack: "Nehmen",
  update: "Eine neue Fassung der App ist bereit.",
  applyUpdate: "Jetzt nehmen",
  install: "Auf diesem Tablet einrichten",
  slideLink: "Wenn er gleitet",
  trustLink: "Wie weit man diesen Zahlen trauen kann (braucht Netz)",
  guideLink: "Was jede Seite beantwortet (braucht Netz)",
  screenLink: "Bildschirm, Hand und Sprache",
  clockEither: "Oder die des Depots ist falsch: Meldungen behalten beide Zeiten. Dem Depot sagen.",
  clockWrong: (by, slow) => `Die Uhr des Tablets geht ${by} ${slow ? "nach" : "vor"}.`,
};

/** @type {typeof import("./en-brief.js").chart} */
export const chart = {
  figures,
  usual: "üblich",
  beginHere: "geplant: hier beginnen",
  worse: "schlechter",
  planned: "geplant",
  before: "vor der Marke",
  begins: "beginnt",
  ceiling: "Deckung endet",
  mark: "Marke",
  slick: "gelistet",
  falls: "fällt",
  rises: "steigt",
  summary: (name, usual, begin, unit) =>
    `Geschwindigkeit in ${unit} über dem Weg bis zur Marke in ${name}. ${usual} ${begin}`,
  usualFrom: (far) => `Üblich beginnt man ${far} vor der Marke.`,
  advisedFrom: (far) => `Geraten wird, ${far} davor zu beginnen.`,
};

/**
 * @param {number} n
 * @param {string} one
 * @param {string} many
 */
function some(n, one, many) {
  return n === 0 ? "" : `${n} ${n === 1 ? one : many}`;
}
