/**
 * The Brief: read standing, before the trip. Choices first, then the road ahead in order
 * of travel, each stop with what is different about it today.
 *
 * @import {Store, State} from "../data/store.js"
 * @import {TripView} from "../core/types.js"
 */

import { withoutStateInHand } from "../core/road.js";
import { allowance, countsOf } from "../core/trip.js";
import { whenWords } from "../core/age.js";
import { durationWords } from "../core/format.js";
import { withdrawal } from "../core/index-text.js";
import { clockState } from "../core/clock.js";
import { packSaid } from "../core/pack-said.js";
import { ageBadge } from "../elements/age-badge.js";
import { button, h, redraw } from "../elements/dom.js";
import { untouched } from "../elements/touch.js";
import { words } from "../words/chosen.js";
import { choices } from "./brief-choices.js";
import { stopList } from "./brief-rows.js";
import { sayPart } from "./brief-say.js";
import { brakeTestPart, changesPart, inferredPart, signalsPart, sincePart, worstPart } from "./brief-top.js";
import { restrictionsPart } from "./brief-restrictions.js";
import { offNotice, offPart, tripParts } from "./brief-trip.js";
import { warningsPart } from "./brief-warnings.js";
import { nextTripButton } from "./next-trip.js";
import { railWords, trainWords } from "./rail-words.js";

const w = words.brief;
/** Parts of the state this page shows. */
const SHOWN = /** @type {const} */ ([
  "packs", "pack", "prep", "view", "duty", "rows", "receipts", "warnings", "restrictions", "asking", "fetching", "progress", "contact", "updateReady", "updateHeld", "shellOff", "canInstall",
  "clockOffset", "trouble", "unkept", "unkeptInUse",
  "refused", "withdrawn", "roomShort",
]);

/**
 * @param {HTMLElement} root
 * @param {Store} store
 * @returns {() => void}
 */
export function mount(root, store) {
  /** @type {{changing: boolean, open: Set<string>}} */
  const local = { changing: false, open: new Set() };
  const page = h("section", { className: "brief", "aria-label": w.title });
  root.replaceChildren(page);
  const draw = () => {
    redraw(page, () => contents(store, local, draw));
    if (!local.changing) store.act.briefShown().catch((error) => console.error("what was shown is not kept", error));
  };
  draw();
  return store.subscribe((state, before) => {
    if (SHOWN.some((key) => state[key] !== before[key])) untouched(page, draw);
  });
}

/**
 * @param {Store} store
 * @param {{changing: boolean, open: Set<string>}} local
 * @param {() => void} draw
 */
function contents(store, local, draw) {
  const state = store.get();
  const change = (/** @type {boolean} */ on) => {
    local.changing = on;
    draw();
    scrollTo(0, 0);
  };
  // Once it asks, it goes on asking until the driver says that he is done.
  if (!state.view) local.changing = true;
  const asking = local.changing;
  return [
    asking ? h("h1", {}, w.title) : null,
    ...withdrawals(state),
    ...notices(store),
    ...offNotice(store),
    asking ? null : sincePart(state),
    asking ? null : changesPart(state),
    asking ? null : warningsPart(state),
    asking ? choices(store, () => change(false)) : chosen(state, () => change(true)),
    asking ? null : offPart(store),
    ...(asking || !state.view ? [] : road(store, state.view, local.open)),
    ...(asking ? [] : tripParts(store, local.open)),
    asking ? null : sayPart(state),
    foot(store),
  ];
}

/**
 * @param {Store} store
 * @param {TripView} view
 * @param {Set<string>} open
 */
function road(store, view, open) {
  return [
    overview(store.get()),
    nextTripButton(store),
    worstPart(view),
    brakeTestPart(store, view),
    h("h2", {}, words.prepare.road),
    stopList(view, open),
    restrictionsPart(store.get()),
    signalsPart(view),
    inferredPart(view),
  ];
}

/**
 * What the depot took back: of the line chosen, or of every line while there is no pack.
 * @param {State} state
 */
function withdrawals({ pack, withdrawn }) {
  const mine = pack ? [withdrawal(withdrawn, pack.sha)].filter((one) => one !== null) : withdrawn;
  return mine.map(({ name, at, reason }) => h(
    "div",
    { className: "notice strong", role: "status" },
    h("p", {}, words.card.w6),
    h("p", {}, words.depot.withdrawn(name, whenWords(Date.parse(at), Date.now()), reason)),
  ));
}

/** @param {Store} store */
function notices(store) {
  const state = store.get();
  const clock = clockState(state.clockOffset, words.figures);
  const newest = state.pack ? state.packs[state.pack.base.route.key] : undefined;
  const newer = state.pack && newest && newest.sha !== state.pack.sha;
  const missing = packSaid(state, w);
  const notice = (/** @type {string} */ text, /** @type {HTMLElement | null} */ control = null) =>
    h("div", { className: "notice", role: "status" }, h("p", {}, text), control);
  return [
    state.refused ? notice(`${words.depot.refusedWords[state.refused]} ${words.depot.refusedMore}`) : null,
    state.roomShort ? notice(words.depot.roomShort(state.roomShort)) : null,
    clock.wrong ? notice([w.clockWrong(clock.by, clock.slow), clock.either ? w.clockEither : ""].join(" ").trim()) : null,
    newer ? notice(w.newerPack, button(w.usePack, () => store.act.useNewPack())) : null,
    state.updateReady
      ? notice(state.updateHeld ? words.strip.updateHeld : w.update, button(w.applyUpdate, () => store.act.applyUpdate()))
      : null,
    state.shellOff ? notice(words.strip.shellOff) : null,
    missing === null || state.trouble ? null : notice(missing),
  ];
}

/**
 * @param {State} state
 * @param {() => void} change
 */
function chosen({ view, prep }, change) {
  if (!view || !prep) return null;
  return h(
    "div",
    { className: "chosen" },
    h("h1", {}, view.trip.name),
    h(
      "div",
      {},
      h("p", {}, view.base.route.name),
      h("p", {}, trainWords(view, prep)),
      h("p", {}, h("strong", {}, railWords(view)), view.w9 === null ? h("span", { className: "note" }, ", ", ageBadge(prep.stateAt, words.figures)) : null),
      h("p", {}, `${words.prepare.sand}: ${words.prepare.sandHelpWords[prep.sand ?? "none"]}`),
    ),
    button(w.change, change, "quiet"),
  );
}

/** @param {State} state */
function overview({ view }) {
  if (!view || view.withdrawn) return null;
  const more = view.bar && w.noTrainWords[view.bar.why];
  return h(
    "div",
    { className: "overview" },
    more ? h("div", { className: "notice strong" }, h("p", {}, w.noTrain), h("p", {}, more)) : null,
    h("p", { className: "count" }, summary(countsOf(view.rows))),
    h("p", {}, ...timeWords(view)),
    handWords(view),
    h("p", {}, w.restrictions),
  );
}

/**
 * Said once for all stops; the row of each says it again when it is opened.
 * @param {TripView} view
 */
function handWords(view) {
  const { names, all, most, others } = withoutStateInHand(view);
  if (names.length === 0) return null;
  const some = most ? w.noStateInHandMost(others.join(", ")) : w.noStateInHandAt(names.join(", "));
  return h("p", { className: "hand" }, all ? w.noStateInHandAll : some);
}

/** @param {import("../core/trip.js").Counts} counts */
function summary({ stops, ...kinds }) {
  const parts = /** @type {const} */ (["changed", "usual", "noSpeed", "none"]).filter((kind) => kinds[kind] > 0);
  const [only] = parts;
  if (parts.length === 1) return w.summaryAll(stops, w.summaryWords[only]);
  return `${w.runStops(stops)}: ${parts.map((kind) => `${kinds[kind]} ${w.summaryWords[kind]}`).join(", ")}.`;
}

/** @param {TripView} view */
function timeWords({ base, rows }) {
  const { seconds, unknown } = allowance(rows);
  if (unknown === rows.length) return [w.allowanceNone];
  const given = allowanceWords(base.settings.trip_allowance_words, seconds);
  const { untold } = countsOf(rows);
  return unknown > 0 ? [...given, ` ${w.allowanceUnknown(untold.stops, untold.boards)}`] : given;
}

/**
 * The company's own sentence about time with its figure put in; else the figure and ours.
 * @param {string} template
 * @param {number} seconds
 * @returns {string[]}
 */
function allowanceWords(template, seconds) {
  if (template.includes("{minutes}")) return [template.replaceAll("{minutes}", String(Math.ceil(seconds / 60)))];
  return [`${w.allowance}: ${durationWords(seconds)}. `, template || w.allowanceMore];
}

/** @param {Store} store */
function foot(store) {
  const { pack, canInstall } = store.get();
  return h(
    "footer",
    { className: "brief-foot" },
    h("p", {}, w.firstStart),
    h("p", {}, w.defer),
    pack
      ? h("p", { className: "pack" }, `${w.pack(pack.sha.slice(0, 8))}, `, w.fetched(""), ageBadge(pack.fetchedAt, words.figures))
      : null,
    h("p", {}, h("a", { href: "#slide", className: "control" }, w.slideLink)),
    h("p", {}, h("a", { href: "/checks", className: "control" }, w.trustLink)),
    h("p", {}, h("a", { href: "/guide", className: "control" }, w.guideLink)),
    h("p", {}, h("a", { href: "#screen", className: "control" }, w.screenLink)),
    words.language.unsigned ? h("p", {}, words.language.unsigned) : null,
    canInstall ? button(w.install, () => store.act.installApp()) : null,
  );
}
