/** The version of the app that runs, as its page names it. */
export const BUILD = document.documentElement.dataset.build ?? "unknown";
