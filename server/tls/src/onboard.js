// Asks the app's own address for one small file. It comes only if this device trusts the shop's certificate.
"use strict";
const root = document.documentElement;
const show = (trust) => { root.dataset.trust = trust; };
async function ask() {
  try {
    const answer = await fetch(root.dataset.probe, { mode: "cors", credentials: "omit", cache: "no-store" });
    show(answer.ok ? "yes" : "no");
  } catch {
    show("no");
  }
}
document.getElementById("again").addEventListener("click", () => {
  show("asking");
  scrollTo(0, 0);
  ask();
});
document.getElementById("show").addEventListener("click", () => { root.dataset.steps = ""; });
// Back from the settings of the phone.
document.addEventListener("visibilitychange", () => { if (!document.hidden) ask(); });
const agent = navigator.userAgent;
// An iPad says that it is a Mac; a Mac has no touch screen.
const apple = /iPhone|iPad/.test(agent) || (/Macintosh/.test(agent) && navigator.maxTouchPoints > 1);
const system = apple ? "iphone" : /Android/.test(agent) ? "android" : /Windows/.test(agent) ? "windows" : /Macintosh/.test(agent) ? "mac" : "linux";
const own = document.querySelector(`[data-system="${system}"]`);
own.open = true;
own.parentElement.insertBefore(own, own.parentElement.querySelector("details"));
ask();
