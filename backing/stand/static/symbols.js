// Chord symbols as players read them: a large root, real signs, the quality raised behind it.

import { el } from "./dom.js";

const LETTER = /^([A-G])([#b]*)(.*)$/;
const NUMBER = /^([#b]*)([1-7])(.*)$/;
const ROMAN = /^([#b]*)(VII|VI|IV|V|III|II|I|vii|vi|iv|v|iii|ii|i)(.*)$/;

const signs = (text) => text.replaceAll("#", "♯").replaceAll("b", "♭");
const spokenSigns = (text) => text.replaceAll("#", " sharp").replaceAll("b", " flat");

// A chord's text in pieces: root, accidental (before the root in numbers), quality, bass.
function pieces(text) {
  const slash = text.search(/\/(?!9)/);
  const chord = slash < 0 ? text : text.slice(0, slash);
  const bass = slash < 0 ? "" : text.slice(slash + 1);
  const letter = chord.match(LETTER);
  if (letter) return { before: "", root: letter[1], after: letter[2], quality: letter[3], bass };
  const number = chord.match(NUMBER) ?? chord.match(ROMAN);
  if (number) return { before: number[1], root: number[2], after: "", quality: number[3], bass };
  return null;
}

function quality(text) {
  const minor = text.match(/^(m|-)(?!aj)/) ? "m" : "";
  const rest = (minor ? text.slice(1) : text).replace(/^dim/, "°");
  return [minor && el("span", { class: "minor" }, minor), rest && el("sup", {}, signs(rest))];
}

// The symbol of a chord for the eye; what is none, such as N.C., stays as it is.
export function symbol(text) {
  const parts = pieces(text);
  if (!parts) return el("span", { class: "symbol plain" }, text);
  const { before, root, after, bass } = parts;
  return el("span", { class: "symbol" },
    before && el("span", { class: "sign" }, signs(before)), root,
    after && el("span", { class: "sign" }, signs(after)),
    ...quality(parts.quality),
    bass && el("span", { class: "bass" }, `/${signs(bass)}`));
}

// The same for the ear.
export function spoken(text) {
  const parts = pieces(text);
  if (!parts) return text === "N.C." ? "no chord" : text;
  const { before, root, after, bass } = parts;
  const words = parts.quality
    .replace(/^m(?!aj)/, " minor ").replace(/maj/, " major ").replace(/dim/, " diminished ")
    .replace(/sus/, " suspended ").replace(/#/g, " sharp ").replace(/b(?=\d)/g, " flat ");
  return `${spokenSigns(before)} ${root}${spokenSigns(after)} ${words}${bass ? ` over ${spokenSigns(bass)}` : ""}`
    .replace(/\s+/g, " ").trim();
}

export { signs };
