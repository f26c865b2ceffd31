// One plot: its frame, what can be taken back, its place, note and photos. What is tallied there has a file for each kind.
import { before } from "./before.js";
import { copyBeside } from "./copy.js";
import { button, heading, line, make, show, tell } from "./dom.js";
import { noteOf, noteParts, ofPoint, standing } from "./fold.js";
import { chosen, species } from "./chosen.js";
import { head, put, state } from "./kit.js";
import { light } from "./light.js";
import { photos } from "./photos.js";
import { meanOfBest, watch } from "./place.js";
import { find, order, placeOf, points, way } from "./points.js";
import { t } from "./say.js";
import { sighting } from "./seen.js";
import { trees } from "./trees.js";
import { amount, heightWords, isTurned, plotSize } from "./units.js";
import { seedlings } from "./young.js";

// Radius of a round plot of so many acres; an acre is 43,560 square feet.
const radius = (acres) => amount(Math.sqrt((acres * 43560) / Math.PI), "ft", 1);
const span = (key, unit, low, high) => (Number(low) || high ? t(high ? `${key} to` : key, { low: amount(low || "0", unit, 2), high: high ? amount(high, unit, 2) : "" }) : "");
const factor = (baf) => (isTurned("ft2/ac") ? amount(baf, "ft2/ac", 1) : baf);

function ringWords(ring) {
  const layer = t(`layer ${ring.layer}`);
  const area = Number(ring.plot_area_ac);
  const round = () => (area ? t("ring plot", { layer, size: plotSize(area), radius: radius(area) }) : t("ring strip", { layer, wide: amount(ring.strip_width_ft, "ft", 1) }));
  const laid = ring.design === "prism" ? t("ring prism", { layer, baf: factor(ring.baf_ft2_ac) }) : round();
  const sizes = [span("ring dbh", "in", ring.low_dbh_in, ring.high_dbh_in), span("ring height", "ft", ring.low_height_ft, ring.high_height_ft)];
  return [laid, ...sizes, ring.looked_for ? t("ring only", { what: ring.looked_for }) : ""].filter(Boolean).join(", ");
}

function short(ring) {
  if (!ring) return "";
  if (ring.design === "prism") return t("short prism", { baf: factor(ring.baf_ft2_ac) });
  return ring.plot_area_ac ? plotSize(Number(ring.plot_area_ac)) : t("short strip");
}

export async function plot(stand, visit, point) {
  const here = () => plot(stand, visit, point);
  arrive(visit, point);
  const rows = ofPoint(standing(state.taps), visit.visit, point);
  const screens = { reproduction: seedlings, light: light };
  const { body, keeps = [], soFar = "" } = (screens[visit.kind] || trees)(visit, point, rows, here);
  const last = lastOf(rows);
  show({
    head: head(t("plot", { point }), [stand.stand, ...(soFar ? [soFar] : [t(`kind ${visit.kind}`), short(visit.rings[0])])].filter(Boolean).join(", ")),
    steady: true,
    main: [
      ...body,
      last ? line(t("last", { what: said(last) }), "last") : null,
      before(visit, point) ? line(t("before", { what: before(visit, point) })) : null,
      heading(t("this plot")),
      ...visit.rings.map((ring) => line(ringWords(ring))),
      ...placeAndNote(visit, point, rows, here),
      ...photos(visit, point, here),
      button(t("seen on the way"), () => sighting(stand, here), { kind: "wide" }),
    ],
    // While a number stands on the keypad, the buttons that keep it lie under the thumb.
    foot: chosen.digits ? [...keeps, ...takeBack(last, here)] : feet(stand, visit, point, rows, here),
  });
}

// The last record of the plot is taken back by one tap, also while a number stands on the keypad.
function takeBack(last, here) {
  if (!last) return [];
  const back = async () => {
    await put([{ act: "take back", of: last.id }], t("taken back", { what: said(last) }));
    await here();
  };
  return [button(t("take back"), back)];
}

const mark = (visit, point) => `${visit.visit} ${point}`;

// Digits and the marks of one tree belong to the plot where they were tapped; the species to its visit.
function arrive(visit, point) {
  if (chosen.at === mark(visit, point)) return;
  if (chosen.visit !== visit.visit) Object.assign(chosen, { visit: visit.visit, species: "", browse: "" });
  Object.assign(chosen, { at: mark(visit, point), digits: "", damage: "none", crown: "" });
  if (chosen.browse === "1") chosen.browse = "0";
}

function feet(stand, visit, point, rows, here) {
  const every = button(t("all plots"), async () => {
    await copyBeside(state.walk);
    await points(stand, visit);
  });
  const empty = async () => {
    await put(withPoint(visit, point, () => []), t("plot empty", { point }));
    await here();
  };
  if (!rows.some((tap) => tap.table === "points")) return [button(t("nothing here"), empty), every];
  const after = order(visit, standing(state.taps));
  const next = after.slice(after.indexOf(point) + 1).find((one) => !ofPoint(standing(state.taps), visit.visit, one).length);
  const leave = async () => {
    const kept = await copyBeside(state.walk);
    await (next ? plot(stand, visit, next) : points(stand, visit));
    if (kept) tell(t("copied"));
  };
  return [
    ...takeBack(lastOf(rows), here),
    every,
    button(next ? t("next plot", { point: next }) : t("done"), leave, { kind: "go", under: next ? way(placeOf(visit, next)) : "" }),
  ];
}

export function pointTap(visit, point, changes = {}) {
  const row = { visit: visit.visit, point, ...find(visit, point)?.row };
  return { act: "add", table: "points", row: { ...row, ...changes } };
}

// The first tap at a plot says that somebody was there. `make` makes the record from the rows that stand there when its turn comes.
export const withPoint = (visit, point, make) => () => {
  const rows = ofPoint(standing(state.taps), visit.visit, point);
  const things = [make(rows)].flat();
  return rows.some((tap) => tap.table === "points") ? things : [pointTap(visit, point), ...things];
};

// Another text on the plot itself: the row as it was is taken back, and comes again with the change.
async function changePoint(visit, point, changes, words) {
  const old = ofPoint(standing(state.taps), visit.visit, point).find((tap) => tap.table === "points");
  const things = old ? [{ act: "take back", of: old.id }] : [];
  return put([...things, { ...pointTap(visit, point, { ...(old?.row || {}), ...changes }), since: old?.id }], words);
}

const treeWords = (row) => t("tree", { species: species(row.species), dbh: amount(row.dbh_in, "in", 1) });
const SAID = {
  trees: (row) => [treeWords(row), row.status === "dead" ? t("tree dead") : "", row.damage ? t("tree damage", { damage: t(`damage ${row.damage}`) }) : "", row.crown_class ? t(`crown ${row.crown_class}`) : ""].filter(Boolean).join(", "),
  taken: (row) => `${treeWords(row)}, ${t("tree taken")}`,
  seedlings: (row) => [t("young", { species: species(row.species), height: heightWords(row.height_class) }), row.browsed === "1" ? t("browsed") : row.browsed === "0" ? t("not browsed") : ""].filter(Boolean).join(", "),
  light_readings: (row) => t("pct", { pct: row.light_pct }),
  acorn_trees: (row) => (row.acorns ? t("acorn tree", row) : t(row.bearing === "yes" ? "acorn tree bears" : "acorn tree none", row)),
  points: () => t("nothing there"),
  sightings: (row) => t(`sighting ${row.kind}`),
};
export const said = (tap) => SAID[tap.table](tap.row);

export const lastOf = (rows) => [...rows].sort((a, b) => b.seq - a.seq).find((tap) => tap.table !== "points") || rows.find((tap) => tap.table === "points");

// Fixes that are being gathered for a plot; leaving the plot ends it, so that no place is taken on the way to the next one.
let placing = null;

function takePlace(visit, point, here) {
  placing?.stop();
  clearTimeout(placing?.timer);
  tell(t("keep still"));
  const fixes = [];
  const stop = watch((fix) => fixes.push(fix), tell);
  const end = async () => {
    stop();
    placing = null;
    if (chosen.at !== mark(visit, point) || document.querySelector("#head h1").textContent !== t("plot", { point })) return tell(t("place left", { point }));
    const mean = meanOfBest(fixes);
    if (!mean) return tell(t("no fix"));
    const feet = mean.accuracy * 3.28084;
    // What is stored is said in US units by every office.
    const within = t("place within", { fixes: mean.fixes, far: `${Math.round(feet)} ${t("unit ft")}` });
    const { own } = noteParts(ofPoint(standing(state.taps), visit.visit, point).find((tap) => tap.table === "points")?.row.note, find(visit, point)?.row.note);
    const place = { longitude_deg: mean.lon.toFixed(6), latitude_deg: mean.lat.toFixed(6), note: noteOf(own, within) };
    await changePoint(visit, point, place, t("plot place", { point, within: t("place within", { fixes: mean.fixes, far: amount(feet, "ft") }) }));
    return here();
  };
  placing = { stop, timer: setTimeout(end, Number(document.documentElement.dataset.fixMs || 30000)) };
}

function placeAndNote(visit, point, rows, here) {
  const row = rows.find((tap) => tap.table === "points")?.row;
  const { own, machine } = noteParts(row?.note ?? find(visit, point)?.row.note, find(visit, point)?.row.note);
  const note = make("textarea", { id: "note", rows: 2 });
  note.value = own;
  const keep = async () => {
    await changePoint(visit, point, { note: noteOf(note.value, machine) }, t("note kept"));
    await here();
  };
  return [
    button(t("take place"), () => takePlace(visit, point, here), { kind: "wide", under: row?.longitude_deg ? `${row.latitude_deg}, ${row.longitude_deg}` : "" }),
    make("label", { for: "note" }, t("note")),
    note,
    button(t("keep note"), keep, { kind: "wide" }),
  ];
}
