// Finding elements, telling, remembering. Scripts make no markup from text: what holds a reader's words comes
// from the server's templates, which escape it, or is put in as text.

export const $ = (id) => document.getElementById(id);
export const all = (selector, place = document) => [...place.querySelectorAll(selector)];

// Choices of a select, as markup; keeps what is chosen when it is still there.
export function fill(select, options, chosen = select.value) {
  if (select.dataset.options !== options) select.innerHTML = options;
  select.dataset.options = options;
  if (chosen != null && select !== document.activeElement) select.value = chosen;
  if (select.selectedIndex < 0) select.selectedIndex = 0;
}

let fading;
// What the player should know: shown for some seconds, and read out politely.
export function tell(text, seconds = 5) {
  $("news").textContent = text;
  clearTimeout(fading);
  fading = setTimeout(() => { $("news").textContent = ""; }, seconds * 1000);
}

export function remember(name, value) {
  try { localStorage.setItem(`stand.${name}`, value); } catch { /* a private window keeps nothing */ }
}

export function remembered(name, otherwise) {
  try { return localStorage.getItem(`stand.${name}`) ?? otherwise; } catch { return otherwise; }
}
