/** What is said of packs that are missing or damaged: never "connect" while one is being fetched. */
import assert from "node:assert/strict";
import { packSaid } from "../../static/core/pack-said.js";
import { words as de } from "../../static/words/de.js";
import { words } from "../../static/words/en.js";

const kettle = { name: "Kettle Bay to Great Tarrow", damaged: false };
const orrin = { name: "Orrin suburban line", damaged: false };
const said = (more = {}, w = words) => packSaid({
  packs: {}, pack: null, contact: "offline", asking: false, fetching: false, progress: null, ...more,
}, w.brief);

Deno.test("no pack: what is being done about it, and what the driver can do only when nothing is", () => {
  assert.equal(said(), "No pack on this tablet yet. Connect it to the depot once.");
  assert.equal(said({ contact: "unknown" }), "No pack on this tablet yet. Asking the depot for it.");
  assert.equal(said({ contact: "online", asking: true }), "No pack on this tablet yet. Asking the depot for it.");
  assert.equal(said({ contact: "online", fetching: true }), "Fetching the packs.");
  const progress = { name: kettle.name, done: 3, of: 14 };
  assert.equal(said({ contact: "online", fetching: true, progress }), "Fetching the pack Kettle Bay to Great Tarrow: 3 of 14 files.");
  assert.match(said({ contact: "online" }), /The depot did not give it/);
  for (const contact of ["offline", "portal", "slow", "enrol", "fault", "storage"]) assert.match(said({ contact }), /Connect it/, contact);
});

Deno.test("damaged packs are called damaged, by name, and are not called missing", () => {
  const packs = { "kettle-bay": kettle, orrin };
  const all = said({ packs });
  assert.equal(all, "Damaged on this tablet, so no advice from it: the pack Kettle Bay to Great Tarrow, Orrin suburban line. "
    + "Connect the tablet to the depot: it is fetched again.");
  assert.doesNotMatch(all, /No pack/);
  const one = { packs: { "kettle-bay": { ...kettle, damaged: true }, orrin }, pack: { sha: "x" } };
  assert.match(said(one), /the pack Kettle Bay to Great Tarrow\. Connect/);
  assert.match(said({ ...one, fetching: true, progress: { name: kettle.name, done: 1, of: 14 } }), /Fetching the pack Kettle Bay .*: 1 of 14 files\.$/);
  assert.match(said({ packs, contact: "unknown" }), /Asking the depot/);
});

Deno.test("nothing is said where a whole pack is in use", () => {
  assert.equal(said({ packs: { orrin }, pack: { sha: "x" } }), null);
  assert.equal(said({ packs: { orrin }, pack: { sha: "x" } }, de), null);
});
