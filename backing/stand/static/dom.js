// Making and finding elements. No markup is ever made from text.

export const $ = (id) => document.getElementById(id);

export function el(tag, attributes = {}, ...inside) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (name.startsWith("on")) made.addEventListener(name.slice(2), value);
    else if (name === "class") made.className = value;
    else if (value === true) made.setAttribute(name, "");
    else if (value !== false && value != null) made.setAttribute(name, value);
  }
  made.append(...inside.filter((each) => each != null));
  return made;
}

// Choices of a select; keeps what is chosen when it is still there.
export function fill(select, choices, chosen = select.value) {
  const same = choices.map(([value, word]) => `${value}\n${word}`).join("\n\n");
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
