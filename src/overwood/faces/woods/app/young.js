// Young stems of a plot: one tap is one stem.
import { stemsBefore } from "./before.js";
import { chosen, choice, species, speciesChips } from "./chosen.js";
import { button, grid, heading, line, make, tell } from "./dom.js";
import { stems } from "./fold.js";
import { put, state } from "./kit.js";
import { withPoint } from "./plot.js";
import { t } from "./say.js";
import { heightButton, heightWords } from "./units.js";

const BROWSE = { "": "not looked", 0: "not browsed", 1: "browsed" };

export function seedlings(visit, point, rows, here) {
  const tap = (height) => async () => {
    if (!chosen.species) return tell(t("species first"));
    const browsed = chosen.browse;
    const row = (mark) => ({ visit: visit.visit, point, line: mark, species: chosen.species, height_class: height, stems: "1", ...(browsed ? { browsed } : {}) });
    const words = [t("young", { species: species(chosen.species), height: heightWords(height) }), browsed ? t(BROWSE[browsed]) : ""].filter(Boolean).join(", ");
    const kept = await put(withPoint(visit, point, () => ({ act: "add", table: "seedlings", row })), `${words}.`);
    // Left standing, it would make every later stem a bitten one.
    if (kept && browsed === "1") chosen.browse = "0";
    return here();
  };
  const counted = (height) => {
    const made = button(heightButton(height), tap(height));
    const was = chosen.species ? stemsBefore(visit, point, chosen.species, height) : null;
    const now = make("b", {}, String(stems(rows, { species: chosen.species, height_class: height })));
    made.append(make("div", {}, now, was === null ? "" : ` ${t("was", { n: was })}`));
    return made;
  };
  const body = [
    ...speciesChips(visit, here),
    heading(t("one tap")),
    grid(state.walk.height_classes.map(counted)),
    heading(t("tips")),
    choice(["", "0", "1"], chosen.browse, (value) => t(BROWSE[value]), (value) => { chosen.browse = value; return here(); }),
    chosen.browse === "1" ? line(t("tips once")) : null,
  ];
  return { body };
}
