// What is chosen on a tally's screen, and the parts that several kinds of it share: species, keypad, numbers.
import { button, grid, make, tell } from "./dom.js";
import { state } from "./kit.js";
import { t } from "./say.js";
import { digits, stored, word } from "./units.js";

// Species and way of reading stay from tree to tree; damage, crown and a bitten tip are of one stem.
export const chosen = { at: "", visit: "", species: "", digits: "", browse: "", damage: "none", crown: "", device: "sensor", more: false };

export const species = (code) => state.walk.species.find((one) => one.code === code)?.name || code;

// The stand's first five, and always the one that is chosen.
function shown(codes) {
  if (chosen.more || codes.length < 6) return codes;
  const first = codes.slice(0, 5);
  return !chosen.species || first.includes(chosen.species) ? first : [...first.slice(0, 4), chosen.species];
}

export function speciesChips(visit, here) {
  const stand = state.walk.stands.find((one) => one.visits.includes(visit));
  const codes = [...new Set([...(stand?.species || []), chosen.species].filter(Boolean))];
  const chips = shown(codes).map((code) => button(species(code), () => { chosen.species = code; return here(); }, { pressed: chosen.species === code }));
  if (!chosen.more) return [grid([...chips, button(t("more"), () => { chosen.more = true; return here(); })])];
  const options = state.walk.species.map((one) => make("option", { value: one.code }, one.name));
  const list = make("select", { id: "species", "aria-label": t("another species") }, make("option", { value: "" }, t("another species")), ...options);
  list.addEventListener("change", () => { Object.assign(chosen, { species: list.value, more: false }); here(); });
  return [grid(chips), list];
}

// One of several, each a button.
export const choices = (names, now, label, pick) => names.map((one) => button(label(one), () => pick(one), { pressed: now === one }));
export const choice = (...asked) => grid(choices(...asked));

export function keypad(here, most = 4) {
  const press = (key) => () => {
    if (key === "⌫") chosen.digits = chosen.digits.slice(0, -1);
    else if (chosen.digits.length < most && !(key === "." && chosen.digits.includes("."))) chosen.digits += key;
    return here();
  };
  return make("div", { class: "keys" }, ["1", "2", "3", "4", "5", "6", "7", "8", "9", "0", ".", "⌫"].map((key) => button(key, press(key))));
}

// What stands on the keypad, with its name and unit.
export const reading = (label) => make("div", { class: "reading" }, make("h2", {}, label), make("div", { class: "number", id: "digits" }, chosen.digits || " "));

// A number that was tapped, within what it may be; else it is said, and nothing is stored.
export function number(low, high, unit) {
  const value = Number(chosen.digits);
  if (chosen.digits !== "" && Number.isFinite(value) && value >= low && value <= high) return String(value);
  tell(t("number first", { low, high, unit }));
  return null;
}

// A diameter that was tapped, in inches.
export function diameter(low, high) {
  const value = Number(stored(chosen.digits, "in"));
  if (chosen.digits !== "" && Number.isFinite(value) && value >= low && value <= high) return String(value);
  tell(t("number first", { low: digits(String(low), "in", 2), high: digits(String(high), "in", 2), unit: word("in") }));
  return null;
}
