// The theme, and a screen that stays on while the band plays.

import { $, remember, remembered, notify } from "./dom.js";

const darkness = matchMedia("(prefers-color-scheme: dark)");

// The theme follows the system until the player chooses one; returns the function that switches it.
export function themes() {
  const theme = () => remembered("theme", darkness.matches ? "dark" : "light");
  const show = () => {
    document.documentElement.dataset.theme = theme();
    $("theme").textContent = theme() === "dark" ? "Light" : "Dark";
  };
  darkness.addEventListener("change", show);
  show();
  return () => { remember("theme", theme() === "dark" ? "light" : "dark"); show(); };
}

// Returns a function that sets whether the screen stays on.
export function keepAwake() {
  let wanted = false, told = Boolean(navigator.wakeLock);
  /** @type {WakeLockSentinel | null} */
  let lock = null;
  const hold = async () => {
    if (!wanted || document.hidden || lock) return;
    try {
      lock = await navigator.wakeLock?.request("screen") ?? null;
      lock?.addEventListener("release", () => { lock = null; });
    } catch { lock = null; }  // the browser refuses, as when saving power
  };
  document.addEventListener("visibilitychange", hold);
  return (/** @type {boolean} */ isWanted) => {
    wanted = isWanted;
    if (wanted && !told) notify("This browser cannot keep the screen on: change it in the settings of the device.", 8);
    told ||= wanted;
    if (wanted) hold(); else lock?.release();
  };
}
