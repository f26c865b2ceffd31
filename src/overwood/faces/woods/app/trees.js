// Trees of a plot: a cruise with its rings, the marking and its sequential verdict, damage after the cut, treated stems.
import { chosen, choice, diameter, keypad, reading, species, speciesChips } from "./chosen.js";
import { judge } from "./check.js";
import { button, heading, line, tell } from "./dom.js";
import { basalAreaAt, judgedPoints, nextTree, ofPoint, pointBasalAreas, ringOf, standing } from "./fold.js";
import { put, state } from "./kit.js";
import { said, withPoint } from "./plot.js";
import { t } from "./say.js";
import { amount, digits, word } from "./units.js";

const CROWNS = ["dominant", "codominant", "intermediate", "overtopped"];
const WITH_CROWN = ["cruise", "marking check"];
// The buttons of a kind of visit: its words, the table, and what the row says beside species and size.
const WAYS = {
  "marking check": [["left", "trees", () => ({ status: "live", ...crown() })], ["taken", "taken", () => ({})]],
  "residual check": [["a tree", "trees", () => ({ status: "live", damage: chosen.damage })]],
};
const PLAIN = [["live tree", "trees", () => ({ status: "live", ...crown() })], ["dead tree", "trees", () => ({ status: "dead" })]];
const crown = () => (chosen.crown ? { crown_class: chosen.crown } : {});

export function trees(visit, point, rows, here) {
  const store = (label, table, more) => async () => {
    if (!chosen.species) return tell(t("species first"));
    const dbh = diameter(0.5, 100);
    if (dbh === null || !fits(visit, Number(dbh))) return null;
    const seen = { species: chosen.species, dbh_in: dbh, ...more() };
    const row = (held) => ({ visit: visit.visit, point, tree: nextTree(held), ...seen });
    const what = said({ table: "trees", row: seen });
    const kept = await put(withPoint(visit, point, (held) => ({ act: "add", table, row: row(held) })), t("kept tree", { label: t(label), what }));
    if (kept) Object.assign(chosen, { digits: "", damage: "none", crown: "" });
    return here();
  };
  const keeps = (WAYS[visit.kind] || PLAIN).map(([label, table, more]) => button(t(label), store(label, table, more), { kind: table === "trees" ? "go" : "" }));
  const body = [
    ...speciesChips(visit, here),
    ...damages(visit, here),
    reading(t("dbh", { unit: word("in") })),
    keypad(here),
    ...(visit.check ? verdict(visit, point) : []),
    // Below the keypad, because most trees are tallied without it.
    ...crowns(visit, here),
    line(counted(visit, rows)),
  ];
  // In the head, where it runs with each tree and moves no button.
  const soFar = isJudged(visit) ? t("plot so far", { ba: amount(basalAreaAt(standing(state.taps), visit, point), "ft2/ac") }) : "";
  return { body, keeps, soFar };
}

// A stem that no ring takes in would be in no figure: it is said at once.
function fits(visit, dbh) {
  const rings = visit.rings.filter((ring) => ring.layer !== "reproduction");
  if (!rings.length || ringOf(rings, dbh)) return true;
  const limit = (text) => digits(text, "in", 2);
  const sizes = rings.map((ring) => `${limit(ring.low_dbh_in || "0")}${ring.high_dbh_in ? `–${limit(ring.high_dbh_in)}` : "+"} ${word("in")}`).join(", ");
  tell(t("no ring", { dbh: amount(String(dbh), "in", 1), sizes }));
  return false;
}

const pick = (name, here) => (value) => { chosen[name] = chosen[name] === value && name === "crown" ? "" : value; return here(); };

const damages = (visit, here) =>
  visit.kind === "residual check" ? [heading(t("damage by logging")), choice(state.walk.damages, chosen.damage, (one) => t(`damage ${one}`), pick("damage", here))] : [];

const crowns = (visit, here) => (WITH_CROWN.includes(visit.kind) ? [heading(t("crown")), choice(CROWNS, chosen.crown, (one) => t(`crown ${one}`), pick("crown", here))] : []);

// How many stand here, ring by ring where there are several, and how many were taken.
function counted(visit, rows) {
  const here = rows.filter((tap) => tap.table === "trees");
  const gone = rows.filter((tap) => tap.table === "taken").length;
  const rings = visit.rings.filter((ring) => ring.layer !== "reproduction");
  const inRing = (ring) => here.filter((tap) => ringOf(rings, Number(tap.row.dbh_in)) === ring).length;
  const parts = [t("trees here", { n: here.length })];
  if (rings.length > 1) parts.push(...rings.map((ring) => t("by layer", { n: inRing(ring), layer: t(`layer ${ring.layer}`) })));
  if (gone) parts.push(t("and taken", { n: gone }));
  return parts.join(", ");
}

const isJudged = (visit) => visit.check && visit.rings.some((ring) => ring.layer === "overstory" && (ring.design === "prism" || ring.plot_area_ac));

// The verdict so far; a point that is being tallied is left out of it.
export function verdict(visit, underWay) {
  if (!isJudged(visit)) return [line(t("no verdict"))];
  const [low, high] = [visit.check.low, visit.check.high].map((end) => digits(end, "ft2/ac"));
  const taps = standing(state.taps);
  const areas = pointBasalAreas(taps, visit, underWay);
  if (!areas.length) return [line(t("wanted", { low, high, unit: word("ft2/ac") }))];
  const mean = areas.reduce((sum, area) => sum + area, 0) / areas.length;
  const marked = judgedPoints(taps, visit, underWay).flatMap((point) => ofPoint(taps, visit.visit, point)).filter((tap) => ["trees", "taken"].includes(tap.table));
  // Trees left and taken that the plots to come will hold, if they are like those before.
  const toNextLook = (n) => ({ n, trees: Math.round((n * marked.length) / areas.length) });
  const looked = judge(areas, visit.check);
  const words = looked.verdict === "more points" ? t("more points", toNextLook(looked.nextLook - areas.length)) : t(looked.verdict);
  const stay = t("stay", { mean: digits(mean, "ft2/ac"), n: areas.length, low, high, unit: word("ft2/ac") });
  return [line(stay), line(words, ["below", "above"].includes(looked.verdict) ? "stop" : "")];
}
