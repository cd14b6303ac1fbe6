// Elements, notices and stored settings. Scripts make no markup from users' texts: these come as markup
// from the server's templates, which escape them, or are inserted as text.

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

/** @param {string} selector of inputs or selects */
export const inputs = (selector) => /** @type {HTMLInputElement[]} */ (all(selector));

/**
 * The nearest element around an event's target that matches a selector.
 * @param {Event} event
 * @param {string} selector
 * @returns {HTMLElement | null}
 */
export const around = ({ target }, selector) => (target instanceof Element ? target.closest(selector) : null);

/**
 * Set the choices of a select; keep the chosen one if it is still there.
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
 * Show a notice for some seconds; screen readers announce it politely.
 * @param {string} text
 * @param {number} [seconds]
 */
export function notify(text, seconds = 5) {
  $("news").textContent = text;
  clearTimeout(fading);
  fading = setTimeout(() => { $("news").textContent = ""; }, seconds * 1000);
}

/**
 * @param {string} name
 * @param {string} value
 */
export function remember(name, value) {
  try { localStorage.setItem(`stand.${name}`, value); } catch { /* private windows cannot store */ }
}

/**
 * @param {string} name
 * @param {string} [otherwise]
 */
export function remembered(name, otherwise = "") {
  try { return localStorage.getItem(`stand.${name}`) ?? otherwise; } catch { return otherwise; }
}
