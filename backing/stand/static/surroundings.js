// The screen's light, and that it does not go to sleep while the band plays.

import { $, remember, remembered, tell } from "./dom.js";

const darkness = matchMedia("(prefers-color-scheme: dark)");

// The theme follows the system until the player turns it here; returns what turns it.
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

// Returns what is told whether the screen is to stay on.
export function keepAwake() {
  let wanted = false, told = Boolean(navigator.wakeLock);
  /** @type {WakeLockSentinel | null} */
  let lock = null;
  const hold = async () => {
    if (!wanted || document.hidden || lock) return;
    try {
      lock = await navigator.wakeLock?.request("screen") ?? null;
      lock?.addEventListener("release", () => { lock = null; });
    } catch { lock = null; }  // the browser saves power
  };
  document.addEventListener("visibilitychange", hold);
  return (/** @type {boolean} */ isWanted) => {
    wanted = isWanted;
    if (wanted && !told) tell("This browser cannot keep the screen on here: let the device itself do it.", 8);
    told ||= wanted;
    if (wanted) hold(); else lock?.release();
  };
}
