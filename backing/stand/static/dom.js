// Elements, notices and what the browser remembers. Scripts make no markup from text: what holds a
// reader's words comes from the server's templates, which escape it, or is put in as text.

/** @typedef {import("./elements.js").Elements} Elements */

/**
 * The element of the page with an id.
 * @template {keyof Elements} Id
 * @param {Id} id
 * @returns {Elements[Id]}
 */
export const $ = (id) => /** @type {any} */ (document.getElementById(id));

/**
 * @param {string} selector
 * @param {ParentNode} [place]
 * @returns {HTMLElement[]}
 */
export const all = (selector, place = document) => (
  /** @type {HTMLElement[]} */ ([...place.querySelectorAll(selector)]));

/** @param {string} selector of inputs, or of choices, which have a value too */
export const inputs = (selector) => /** @type {HTMLInputElement[]} */ (all(selector));

/**
 * The element around the target of an event that fits a selector.
 * @param {Event} event
 * @param {string} selector
 * @returns {HTMLElement | null}
 */
export const around = ({ target }, selector) => (target instanceof Element ? target.closest(selector) : null);

/**
 * Show the choices of a select; keep what is chosen when it is still there.
 * @param {HTMLSelectElement} select
 * @param {string} options markup
 * @param {string} [chosen]
 */
export function fill(select, options, chosen = select.value) {
  if (select.dataset.options !== options) select.innerHTML = options;
  select.dataset.options = options;
  if (select !== document.activeElement) select.value = chosen;
  if (select.selectedIndex < 0) select.selectedIndex = 0;
}

let fading = 0;
/**
 * Show what the player should know for some seconds; screen readers say it politely.
 * @param {string} text
 * @param {number} [seconds]
 */
export function tell(text, seconds = 5) {
  $("news").textContent = text;
  clearTimeout(fading);
  fading = setTimeout(() => { $("news").textContent = ""; }, seconds * 1000);
}

/**
 * @param {string} name
 * @param {string} value
 */
export function remember(name, value) {
  try { localStorage.setItem(`stand.${name}`, value); } catch { /* a private window keeps nothing */ }
}

/**
 * @param {string} name
 * @param {string} [otherwise]
 */
export function remembered(name, otherwise = "") {
  try { return localStorage.getItem(`stand.${name}`) ?? otherwise; } catch { return otherwise; }
}
