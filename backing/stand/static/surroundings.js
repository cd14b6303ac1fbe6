// The screen's light, and that it does not go to sleep while the band plays.

import { remember, remembered, tell } from "./dom.js";

const darkness = matchMedia("(prefers-color-scheme: dark)");

// The theme follows the system until the player turns it here.
export function themes(button) {
  const show = () => {
    const isDark = remembered("theme", darkness.matches ? "dark" : "light") === "dark";
    document.documentElement.dataset.theme = isDark ? "dark" : "light";
    button.textContent = isDark ? "Light" : "Dark";
  };
  button.addEventListener("click", () => { remember("theme", button.textContent.toLowerCase()); show(); });
  darkness.addEventListener("change", show);
  show();
}

export function keepAwake() {
  let wanted = false, lock = null, told = Boolean(navigator.wakeLock);
  const hold = async () => {
    if (!wanted || document.hidden || lock) return;
    try {
      lock = await navigator.wakeLock?.request("screen");
      lock?.addEventListener("release", () => { lock = null; });
    } catch { lock = null; }  // the browser saves power
  };
  document.addEventListener("visibilitychange", hold);
  return (wish) => {
    wanted = wish;
    if (wish && !told) tell("This browser cannot keep the screen on here: let the device itself do it.", 8);
    told ||= wish;
    if (wish) hold(); else lock?.release();
  };
}
