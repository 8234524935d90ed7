/** Making a tablet known to the depot. */

export const en = {
  title: "Enrol this tablet",
  unknown: "This tablet is not enrolled: tell the depot. Its reports are not counted, and stay here until it is.",
  ended: "The depot ended this tablet's enrolment: tell the depot. New reports are not counted, and stay here until it is enrolled again.",
  link: "Enrol this tablet",
  ask: "The desk makes a code for this tablet. It works once.",
  code: "Code from the desk",
  enrol: "Enrol",
  busy: "Asking the depot.",
  answers: {
    done: "Enrolled.",
    wrong: "This code is wrong, used or too old. Ask the desk for a new one.",
    other: "This code is not of the depot that answers here. Nothing was sent. Check the code; if it is right, tell the depot.",
    wait: "Too many tries. Wait a minute.",
    silent: "No answer from the depot. Try again where there is signal.",
  },
  known: (/** @type {string} */ label) => `The depot knows this tablet as ${label}.`,
};

/** @type {typeof en} */
export const de = {
  title: "Dieses Gerät anmelden",
  unknown: "Dieses Tablet ist nicht angemeldet: dem Depot Bescheid geben. Seine Meldungen zählen nicht und bleiben bis dahin hier.",
  ended: "Das Depot hat die Anmeldung dieses Tablets beendet: dem Depot Bescheid geben. Neue Meldungen zählen nicht und bleiben hier, bis es neu angemeldet ist.",
  link: "Dieses Gerät anmelden",
  ask: "Der Tisch im Depot macht einen Code für dieses Gerät. Er gilt einmal.",
  code: "Code vom Depot",
  enrol: "Anmelden",
  busy: "Das Depot wird gefragt.",
  answers: {
    done: "Angemeldet.",
    wrong: "Dieser Code ist falsch, verbraucht oder zu alt. Im Depot einen neuen geben lassen.",
    other: "Dieser Code ist nicht von dem Depot, das hier antwortet. Nichts wurde gesendet. Code prüfen; stimmt er, dem Depot Bescheid geben.",
    wait: "Zu viele Versuche. Eine Minute warten.",
    silent: "Keine Antwort vom Depot. Dort noch einmal versuchen, wo Netz ist.",
  },
  known: (label) => `Das Depot kennt dieses Gerät als ${label}.`,
};
