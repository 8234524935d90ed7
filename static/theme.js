// Runs before the first paint, so that a dark cab never sees a white flash.
document.documentElement.dataset.theme = localStorage.getItem("sih-theme") ?? "auto";
