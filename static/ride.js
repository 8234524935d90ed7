/** Starts the ride along. Only a demo's server has this file, its page and what it imports. */

import { startRidePage } from "./ride/page.js";

const root = /** @type {HTMLElement} */ (document.getElementById("ride"));
const page = /** @type {HTMLElement} */ (document.getElementById("page"));
void startRidePage({ root, page, now: () => performance.now() });
