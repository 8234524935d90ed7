/** Whether the app runs from the home screen, where the system empties its storage least. */
export function installed() {
  return matchMedia("(display-mode: standalone), (display-mode: fullscreen)").matches ||
    /** @type {any} */ (navigator).standalone === true;
}

/**
 * On an iPad a page in the browser loses what it keeps after days without use, and has other
 * storage than the installed app: there the driver is asked to install it.
 */
export function mustBeInstalled() {
  return /** @type {any} */ (navigator).standalone === false;
}
