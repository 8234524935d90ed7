/**
 * The Brief: read standing, before the trip. Choices first, then the road ahead in order
 * of travel, each stop with what is different about it today.
 *
 * @import {Store, State} from "../data/store.js"
 * @import {TripView} from "../core/types.js"
 */

import { whenWords } from "../core/age.js";
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
import { firstScreen } from "./brief-first.js";
import { brakeTestPart, inferredPart, signalsPart, trainPart } from "./brief-top.js";
import { restrictionsPart } from "./brief-restrictions.js";
import { offNotice, offPart, tripParts } from "./brief-trip.js";
import { warningsPart } from "./brief-warnings.js";

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
  const said = [...withdrawals(state), ...notices(store)];
  // Not in the first screen: the way back stays in sight down to the end of the page.
  const off = offNotice(store);
  if (asking || !state.view) return [h("h1", {}, w.title), ...said, ...off, choices(store, () => change(false)), foot(store)];
  const first = firstScreen(store, state.view, { open: local.open, change: () => change(true) });
  return [...off, h("div", { className: "first-screen" }, ...said, ...first), ...rest(store, state.view, local.open), foot(store)];
}

/**
 * What stands below the first screen, in the order in which a driver needs it.
 * @param {Store} store
 * @param {TripView} view
 * @param {Set<string>} open
 */
function rest(store, view, open) {
  const state = store.get();
  return [
    h("h2", { id: "all-stops" }, w.first.allStops(view.calls.length)),
    stopList(view, open),
    warningsPart(state),
    state.prep && trainPart(view, state.prep),
    brakeTestPart(store, view),
    signalsPart(view),
    restrictionsPart(state),
    h("p", { className: "restricted" }, w.restrictions),
    inferredPart(view),
    h("div", { id: "more-part" }, ...tripParts(store, open)),
    sayPart(state),
    offPart(store, open),
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
