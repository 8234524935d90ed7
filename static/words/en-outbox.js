/** The words of the Outbox; part of `words` in en.js. */

export const outbox = {
  title: "Outbox",
  allSent: "Every report on this tablet has reached the depot.",
  none: "No report on this tablet yet.",
  /** R11: fixed */
  waiting: (/** @type {number} */ n) =>
    `${n} ${n === 1 ? "report" : "reports"} not sent. Keep this app open where there is signal.`,
  parkedCount: (/** @type {number} */ n) =>
    `${n} ${n === 1 ? "report needs" : "reports need"} attention.`,
  sendNow: "Send now",
  trying: "Trying to reach the depot.",
  notTried: "On this tablet, not tried yet",
  tried: "On this tablet. The depot has not confirmed it.",
  reached: "Reached the depot",
  serverNo: (/** @type {number} */ n) => `no. ${n}`,
  /** The depot's answer to a report. */
  warned: (/** @type {number} */ n) => `Depot: warned ${n} ${n === 1 ? "train" : "trains"}.`,
  reviewed: "Depot: reviewed.",
  attention: "Needs attention",
  aside: "Put aside. The depot does not have it",
  export: "Keep a copy",
  exportAll: "All not sent, as a file",
  share: "All not sent, as text",
  copied: "Copied. Paste it into a message to the depot.",
  notCopied: "This tablet does not let text be copied. Keep a copy instead.",
  again: "Send again",
  correct: "Correct it",
  change: "Change it",
  putAside: "Put aside",
  draftInHand: "A report is begun. Save it, or start it afresh, before you correct another.",
  lost: "A report that this tablet's storage does not give back",
  kindWords: /** @type {Record<string, string>} */ ({
    counts: "Counts of approaches",
    receipt: "Word that a warning was seen",
  }),
  otherKind: "A message of the app",
  superseded: "Corrected by a later report.",
  corrects: "Corrects an earlier report.",
  textHead: (/** @type {number} */ n) =>
    `${n} ${n === 1 ? "grip report" : "grip reports"} that did not reach the depot:`,
  contact: {
    unknown: "Depot not asked yet.",
    online: "The depot answers.",
    offline: "No contact with the depot.",
    portal: "This network answers in place of the depot. Log in to it, or use another.",
    slow: "The depot did not answer in time.",
    enrol: "This tablet must be enrolled again. Reports stay here until then.",
    fault: "The depot answered with a fault. It will be asked again.",
    storage: "This tablet's storage did not answer. It will be asked again.",
  },
  reasons: /** @type {Record<string, string>} */ ({
    id_reused: "The depot holds another report under this number.",
    too_large: "The depot found it too large.",
    unreadable: "Make the report again; tell the depot.",
    unknown_kind: "The depot does not know this kind of message yet.",
    rejected: "The depot did not take it.",
  }),
  notTheSignaller: "A report is not a call. Sending it tells the depot, nobody else.",
};
