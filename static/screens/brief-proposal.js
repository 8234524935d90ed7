/**
 * Four questions that a driver can answer by looking, what they propose, and why he takes a
 * better state. The states stand equal; the proposal is marked.
 *
 * @import {Store} from "../data/store.js"
 * @import {Asked, Base, Prep} from "../core/types.js"
 */

import { whenWords } from "../core/age.js";
import { isAskedOld, proposedIndex, reasonsFor } from "../core/proposal.js";
import { h, radios } from "../elements/dom.js";
import { words } from "../words/chosen.js";

const w = words.weather;

/**
 * @param {Store} store
 * @param {Base} base
 * @param {Prep} prep
 */
export function proposalPart(store, base, prep) {
  const asked = prep.asked ?? null;
  const old = asked !== null && isAskedOld(base, asked, Date.now());
  if (asked?.weather && !old) return h("div", { className: "proposal" }, h("p", { role: "status" }, weatherWords(base, asked, asked.weather)));
  if (!base.proposals) return null;
  return h(
    "div",
    { className: "proposal" },
    h("p", { className: "help" }, w.ask),
    ...base.proposals.questions.map(({ key, answers }) => radios({
      name: `look-${key}`,
      legend: w.questionWords[key] ?? key,
      short: true,
      written: true,
      choices: answers.map((value) => ({ value, words: w.answerWords[`${key}-${value}`] ?? value })),
      value: old ? null : (asked?.answers[key] ?? null),
      pick: (answer) => store.act.look(key, answer),
    })),
    h("p", { className: "help", role: "status" }, proposalWords(base, prep, old)),
  );
}

/**
 * What the weather proposes for this trip, its reasons, from when on, and how old it is.
 * @param {Base} base
 * @param {Asked} asked
 * @param {{given: number, from: number | null}} weather
 */
function weatherWords(base, { state, why }, { given, from }) {
  const name = words.language.within(base.states.find(({ key }) => key === state)?.name ?? "");
  const now = Date.now();
  const reasons = why.map((code) => w.heldWords[code] ?? w.whyWords[code] ?? code).join(", ");
  return [w.byWeather(name, reasons), from === null ? "" : w.fromAbout(whenWords(from, now), name), w.given(whenWords(given, now))].filter(Boolean).join(" ");
}

/**
 * @param {Base} base
 * @param {Prep} prep
 * @param {boolean} old
 */
function proposalWords(base, prep, old) {
  const index = proposedIndex(base, prep);
  if (index < 0) return w.none;
  const why = (prep.asked?.why ?? []).map((code) => w.whyWords[code] ?? w.heldWords[code] ?? code).join(", ");
  const said = w.proposed(words.language.within(base.states[index].name), why);
  return old ? `${said} ${w.old}` : said;
}

/**
 * Asked once, when a better state than proposed is picked.
 * @param {Store} store
 * @param {Base} base
 * @param {Prep} prep
 */
export function betterPart(store, base, prep) {
  const chosen = base.states.findIndex((state) => state.key === prep.state);
  const index = proposedIndex(base, prep);
  if (chosen < 0 || chosen >= index) return null;
  const names = /** @type {const} */ ([words.language.within(base.states[chosen].name), words.language.within(base.states[index].name)]);
  const reasons = reasonsFor(base, chosen);
  const said = reasons.some((one) => one === prep.asked?.reason);
  return h(
    "div",
    {},
    radios({
      name: "better",
      legend: w.better(...names),
      written: true,
      choices: reasons.map((value) => ({ value, words: prep.asked?.weather && value === "changed" ? w.otherHere : w.reasonWords[value](names[0]) })),
      value: said ? (prep.asked?.reason ?? null) : null,
      pick: (reason) => store.act.better(reason),
    }),
    h("p", { className: "help" }, said ? w.betterTaken(...names) : w.betterOpen(names[1])),
  );
}
