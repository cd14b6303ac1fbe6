// Finding and making elements. Scripts make no markup from text: what holds a reader's words comes
// from the server's templates, which escape it, or is put in as text.

export const $ = (id) => document.getElementById(id);
export const all = (selector, place = document) => [...place.querySelectorAll(selector)];

export function el(tag, attributes = {}, ...inside) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  made.append(...inside);
  return made;
}

// Choices of a select; keeps what is chosen when it is still there.
export function fill(select, choices, chosen = select.value) {
  const same = choices.flat().join("\n");
  if (select.dataset.choices !== same) {
    select.dataset.choices = same;
    select.replaceChildren(...choices.map(([value, word]) => el("option", { value }, word)));
  }
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
