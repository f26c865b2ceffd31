// One plot: what is tallied there, kind by kind. A tap is one record; the last can be taken back.
import * as carry from "./carry.js";
import { button, grid, heading, line, make, show, tell } from "./dom.js";
import { judge } from "./check.js";
import { nextTree, ofPoint, ofVisit, pointBasalAreas, standing, stems } from "./fold.js";
import { head, put, state } from "./kit.js";
import { meanOfBest, watch } from "./place.js";
import { before, find, order, points, way } from "./points.js";
import { today } from "./today.js";

// What is chosen and stays chosen from tree to tree.
const chosen = { species: "", digits: "", browse: "", damage: "none", device: "sensor", more: false };
const VERDICTS = {
  inside: "On target: go on marking as you do.",
  below: "Off target: too little stays. Stop, and leave more trees.",
  above: "Off target: too much stays. Stop, and take more trees.",
  undecided: "Undecided after the last look: move towards the middle, and begin a new check.",
};

const name = (code) => state.walk.species.find((one) => one.code === code)?.name || code;
const ringWords = (ring) =>
  [
    ring.layer,
    ring.design === "prism" ? `prism, factor ${ring.baf_ft2_ac}` : ring.plot_area_ac ? plotWords(Number(ring.plot_area_ac)) : `strip ${ring.strip_width_ft} ft wide`,
    ring.low_dbh_in || ring.high_dbh_in ? `dbh ${ring.low_dbh_in || 0} in and more${ring.high_dbh_in ? `, under ${ring.high_dbh_in}` : ""}` : "",
    ring.low_height_ft || ring.high_height_ft ? `height ${ring.low_height_ft || 0} ft and more${ring.high_height_ft ? `, to ${ring.high_height_ft}` : ""}` : "",
    ring.looked_for ? `only ${ring.looked_for}` : "",
  ].filter(Boolean).join(", ");
const short = (ring) => (!ring ? "" : ring.design === "prism" ? `factor ${ring.baf_ft2_ac}` : ring.plot_area_ac ? `1/${Math.round(1 / Number(ring.plot_area_ac))} acre` : "strip");
// Radius of a round plot of so many acres; an acre is 43,560 square feet.
const plotWords = (acres) => `1/${Math.round(1 / acres)} acre, radius ${Math.sqrt((acres * 43560) / Math.PI).toFixed(1)} ft`;

export async function plot(stand, visit, point) {
  const here = () => plot(stand, visit, point);
  // Digits that were tapped belong to the plot where they were tapped.
  if (chosen.at !== `${visit.visit} ${point}`) Object.assign(chosen, { at: `${visit.visit} ${point}`, digits: "" });
  const rows = ofPoint(standing(state.taps), visit.visit, point);
  const screens = { reproduction: seedlings, light: light };
  const { body, keeps = [] } = (screens[visit.kind] || trees)(visit, point, rows, here);
  const after = order(visit, standing(state.taps));
  const next = after.slice(after.indexOf(point) + 1).find((one) => !ofPoint(standing(state.taps), visit.visit, one).length);
  const leave = async () => {
    const kept = await carry.copyBeside(state.walk);
    await (next ? plot(stand, visit, next) : points(stand, visit));
    if (kept) tell("A second copy of the tally is on the phone.");
  };
  const marked = rows.some((tap) => tap.table === "points");
  show({
    head: head(`Plot ${point}`, [stand.stand, visit.kind, short(visit.rings[0])].filter(Boolean).join(", ")),
    main: [
      ...body,
      heading("This plot"),
      ...visit.rings.map((ring) => line(ringWords(ring))),
      before(visit, point) ? line(`Before, ${before(visit, point)}`) : null,
      ...placeAndNote(visit, point, rows, here),
    ],
    // While a number stands on the keypad, the buttons that keep it lie under the thumb.
    foot: chosen.digits ? keeps : [
      marked ? button("All plots", () => points(stand, visit)) : button("Nothing here", async () => {
        await put([pointTap(visit, point)], `Plot ${point}: looked at, nothing there.`);
        await here();
      }),
      marked
        ? button(next ? `Next: plot ${next}` : "Done", leave, { kind: "go", under: next ? way(find(visit, next)) : "" })
        : button("All plots", () => points(stand, visit)),
    ],
  });
}

function pointTap(visit, point, changes = {}) {
  const row = { visit: visit.visit, point, ...find(visit, point)?.row };
  return { act: "add", table: "points", row: { ...row, ...changes } };
}

// The first tap at a plot says that somebody was there.
function withPoint(visit, point, rows, thing) {
  return rows.some((tap) => tap.table === "points") ? [thing] : [pointTap(visit, point), thing];
}

// Another text on the plot itself: the row as it was is taken back, and comes again with the change.
async function changePoint(visit, point, rows, changes, words) {
  const old = rows.find((tap) => tap.table === "points");
  const things = old ? [{ act: "take back", of: old.id }] : [];
  await put([...things, pointTap(visit, point, { ...(old?.row || {}), ...changes })], words);
}

const SAID = {
  trees: (row) => `${name(row.species)}, ${row.dbh_in} in${row.status === "dead" ? ", dead" : ""}${row.damage ? `, damage ${row.damage}` : ""}`,
  taken: (row) => `${name(row.species)}, ${row.dbh_in} in, taken`,
  seedlings: (row) => `${name(row.species)}, ${row.height_class} ft${row.browsed === "1" ? ", browsed" : ""}`,
  light_readings: (row) => `${row.light_pct} %`,
  acorn_trees: (row) => `tree ${row.tree}, ${row.acorns} acorns`,
  points: () => "looked at, nothing there",
  sightings: (row) => row.kind,
};

function lastOf(rows, here) {
  const last = [...rows].sort((a, b) => b.seq - a.seq).find((tap) => tap.table !== "points") || rows.find((tap) => tap.table === "points");
  if (!last) return null;
  const back = async () => {
    await put([{ act: "take back", of: last.id }], `Taken back: ${SAID[last.table](last.row)}.`);
    await here();
  };
  return make("div", { class: "last" }, make("span", {}, `Last: ${SAID[last.table](last.row)}`), button("Take back", back));
}

// The stand's first five, and always the one that is chosen.
function shown(codes) {
  if (chosen.more || codes.length < 6) return codes;
  const first = codes.slice(0, 5);
  return !chosen.species || first.includes(chosen.species) ? first : [...first.slice(0, 4), chosen.species];
}

function speciesChips(visit, here) {
  const stand = state.walk.stands.find((one) => one.visits.includes(visit));
  const codes = [...new Set([...(stand?.species || []), chosen.species].filter(Boolean))];
  const chips = shown(codes).map((code) => button(name(code), () => { chosen.species = code; return here(); }, { pressed: chosen.species === code }));
  if (chosen.more) {
    const list = make("select", { id: "species", "aria-label": "Another species" }, make("option", { value: "" }, "another species"), ...state.walk.species.map((one) => make("option", { value: one.code }, one.name)));
    list.addEventListener("change", () => { Object.assign(chosen, { species: list.value, more: false }); here(); });
    return [grid(chips), list];
  }
  chips.push(button("more …", () => { chosen.more = true; return here(); }));
  return [grid(chips)];
}

function keypad(here, most = 4) {
  const press = (key) => () => {
    if (key === "⌫") chosen.digits = chosen.digits.slice(0, -1);
    else if (chosen.digits.length < most && !(key === "." && chosen.digits.includes("."))) chosen.digits += key;
    return here();
  };
  return make("div", { class: "keys" }, ["1", "2", "3", "4", "5", "6", "7", "8", "9", "0", ".", "⌫"].map((key) => button(key, press(key))));
}

// A number that was tapped, within what it may be; else it is said, and nothing is stored.
function number(low, high, unit) {
  const value = Number(chosen.digits);
  if (chosen.digits !== "" && Number.isFinite(value) && value >= low && value <= high) return String(value);
  tell(`Tap a number from ${low} to ${high} ${unit} first.`);
  return null;
}

function trees(visit, point, rows, here) {
  const store = (table, more, words) => async () => {
    if (!chosen.species) return tell("Tap the species first.");
    const dbh = number(0.5, 100, "in");
    if (dbh === null) return null;
    const tree = nextTree(rows);
    const thing = { act: "add", table, row: { visit: visit.visit, point, tree, species: chosen.species, dbh_in: dbh, ...more() } };
    const said = await put(withPoint(visit, point, rows, thing), `${words}: ${name(chosen.species)}, ${dbh} in.`);
    if (said) chosen.digits = "";
    return here();
  };
  const ways = {
    "marking check": [["Left", "trees", () => ({ status: "live" })], ["Taken", "taken", () => ({})]],
    "residual check": [["Tree", "trees", () => ({ status: "live", damage: chosen.damage })]],
  };
  const buttons = (ways[visit.kind] || [["Live tree", "trees", () => ({ status: "live" })], ["Dead tree", "trees", () => ({ status: "dead" })]]).map(
    ([label, table, more]) => button(label, store(table, more, label), { kind: table === "trees" ? "go" : "" }),
  );
  const damages = visit.kind !== "residual check" ? [] : [
    heading("Damage by the logging"),
    grid(state.walk.damages.map((damage) => button(damage, () => { chosen.damage = damage; return here(); }, { pressed: chosen.damage === damage }))),
  ];
  const count = rows.filter((tap) => tap.table === "trees").length;
  const gone = rows.filter((tap) => tap.table === "taken").length;
  const body = [
    ...(visit.check ? marking(visit, point) : []),
    ...speciesChips(visit, here),
    ...damages,
    reading("Dbh, in"),
    keypad(here),
    line(`${count} ${count === 1 ? "tree" : "trees"} here${gone ? `, ${gone} taken` : ""}`),
    lastOf(rows, here),
  ];
  return { body, keeps: buttons };
}

// What stands on the keypad, with its name and unit.
const reading = (label) => make("div", { class: "reading" }, make("h2", {}, label), make("div", { class: "number", id: "digits" }, chosen.digits || " "));

function marking(visit, point) {
  const prism = visit.rings.find((ring) => ring.design === "prism");
  if (!prism) return [line("The verdict needs a prism; this check has none.")];
  const areas = pointBasalAreas(standing(state.taps), visit.visit, Number(prism.baf_ft2_ac), point);
  if (!areas.length) return [line(`Wanted: ${visit.check.low} to ${visit.check.high} ft²/ac stay.`)];
  const mean = areas.reduce((sum, area) => sum + area, 0) / areas.length;
  const looked = judge(areas, visit.check);
  const words = VERDICTS[looked.verdict] || `Take ${looked.nextLook - areas.length} more plots, then look again.`;
  return [line(`${mean.toFixed(0)} ft²/ac stay on the ${areas.length} plots before this one; ${visit.check.low} to ${visit.check.high} are wanted.`), line(words, ["below", "above"].includes(looked.verdict) ? "stop" : "")];
}

function seedlings(visit, point, rows, here) {
  const tap = (height) => async () => {
    if (!chosen.species) return tell("Tap the species first.");
    const row = (mark) => ({ visit: visit.visit, point, line: mark, species: chosen.species, height_class: height, stems: "1", ...(chosen.browse ? { browsed: chosen.browse } : {}) });
    await put(withPoint(visit, point, rows, { act: "add", table: "seedlings", row }), `${name(chosen.species)}, ${height} ft.`);
    return here();
  };
  const words = { "<0.5": "under ½ ft", "0.5-1": "½ to 1 ft", "1-3": "1 to 3 ft", "3-4.5": "3 to 4.5", "4.5-10": "4.5 to 10", "10+": "over 10" };
  const browse = [["", "not looked"], ["0", "not browsed"], ["1", "browsed"]];
  const body = [
    ...speciesChips(visit, here),
    heading(`One tap, one stem${chosen.species ? `: ${name(chosen.species)} by height` : ""}`),
    grid(state.walk.height_classes.map((height) => button(words[height] || height, tap(height), { under: stems(rows, { species: chosen.species, height_class: height }) }))),
    heading("Tips bitten?"),
    grid(browse.map(([value, label]) => button(label, () => { chosen.browse = value; return here(); }, { pressed: chosen.browse === value }))),
    lastOf(rows, here),
  ];
  return { body };
}

function light(visit, point, rows, here) {
  const store = async () => {
    const pct = number(0, 100, "%");
    if (pct === null) return null;
    const old = rows.filter((tap) => tap.table === "light_readings").map((tap) => ({ act: "take back", of: tap.id }));
    const row = { visit: visit.visit, point, light_pct: pct, device: chosen.device, measures: chosen.device === "sensor" ? "light" : "openness" };
    await put([...old, ...withPoint(visit, point, rows, { act: "add", table: "light_readings", row })], `Plot ${point}: ${pct} %.`);
    chosen.digits = "";
    return here();
  };
  const body = [
    heading("Read with"),
    grid(["sensor", "densiometer", "photo"].map((device) => button(device, () => { chosen.device = device; return here(); }, { pressed: chosen.device === device }))),
    reading(chosen.device === "sensor" ? "Light, % of full sun" : "Sky seen, %"),
    keypad(here),
    lastOf(rows, here),
  ];
  return { body, keeps: [button("Keep the reading", store, { kind: "go" })] };
}

function placeAndNote(visit, point, rows, here) {
  const row = rows.find((tap) => tap.table === "points")?.row;
  const note = make("textarea", { id: "note", rows: 2 });
  note.value = row?.note || "";
  const take = () => {
    tell("Keep still for half a minute …");
    const fixes = [];
    const stop = watch((fix) => fixes.push(fix), tell);
    setTimeout(async () => {
      stop();
      const mean = meanOfBest(fixes);
      if (!mean) return tell("No place came. The plot stays as it is.");
      const within = `place by phone, ${mean.fixes} fixes, within ${Math.round(mean.accuracy * 3.28084)} ft`;
      const changes = { longitude_deg: mean.lon.toFixed(6), latitude_deg: mean.lat.toFixed(6), note: within };
      await changePoint(visit, point, ofPoint(standing(state.taps), visit.visit, point), changes, `Plot ${point}: ${within}.`);
      return here();
    }, Number(document.documentElement.dataset.fixMs || 30000));
  };
  const keep = async () => {
    await changePoint(visit, point, rows, { note: note.value }, "The note is kept.");
    await here();
  };
  return [
    button("Take the place of this plot", take, { kind: "wide", under: row?.longitude_deg ? `${row.latitude_deg}, ${row.longitude_deg}` : "" }),
    make("label", { for: "note" }, "Note"),
    note,
    button("Keep the note", keep, { kind: "wide" }),
  ];
}

// The acorn check: numbered trees, a count against 30 seconds each.
let chosenTree = null;
let clock = null;

export async function acornTrees(stand, visit) {
  const here = () => acornTrees(stand, visit);
  const rows = ofVisit(standing(state.taps), visit.visit);
  const done = new Set(rows.map((tap) => tap.row.tree));
  const pick = (tree) => () => { chosenTree = tree; chosen.digits = ""; return here(); };
  const anew = String(1 + Math.max(0, ...visit.acorn_trees.map((tree) => Number(tree.tree) || 0), ...rows.map((tap) => Number(tap.row.tree) || 0)));
  if (chosenTree) return acornCount(visit, rows, here);
  const list = visit.acorn_trees.map((tree) =>
    button(`Tree ${tree.tree}: ${name(tree.species)}`, pick(tree), { kind: "wide", under: done.has(tree.tree) ? `${rows.find((tap) => tap.row.tree === tree.tree).row.acorns} acorns` : tree.dbh_in ? `${tree.dbh_in} in` : "" }),
  );
  show({
    head: head("acorn", `${stand.stand}, ${done.size} trees done`),
    main: [
      line("Look up into one part of the crown for 30 seconds and count the acorns. A tree without any is a count of 0."),
      make("div", { class: "rows" }, list), ...speciesChips(visit, here),
      button(`A new tree, number ${anew}`, () => (chosen.species ? pick({ tree: anew, species: chosen.species, dbh_in: "", cluster: "" })() : tell("Tap the species first.")), { kind: "wide" }),
      lastOf(rows, here),
    ],
    foot: [button("Back", today)],
  });
  return null;
}

function acornCount(visit, rows, here) {
  const tree = chosenTree;
  const left = make("div", { class: "number", id: "clock" }, "30 s");
  const run = () => {
    clearInterval(clock);
    const ends = Date.now() + 30000;
    clock = setInterval(() => {
      const seconds = Math.max(0, Math.ceil((ends - Date.now()) / 1000));
      left.textContent = seconds ? `${seconds} s` : "Stop counting";
      if (!seconds) {
        clearInterval(clock);
        navigator.vibrate?.([200, 100, 200]);
      }
    }, 200);
  };
  const keep = async () => {
    const acorns = number(0, 100000, "acorns");
    if (acorns === null) return null;
    if (!Number.isInteger(Number(acorns))) return tell("Acorns are counted whole.");
    const old = rows.filter((tap) => tap.row.tree === tree.tree).map((tap) => ({ act: "take back", of: tap.id }));
    const row = { visit: visit.visit, tree: tree.tree, species: tree.species, acorns, bearing: acorns === "0" ? "no" : "yes", method: "timed", seconds: "30" };
    for (const column of ["dbh_in", "cluster"]) if (tree[column]) row[column] = tree[column];
    await put([...old, { act: "add", table: "acorn_trees", row }], `Tree ${tree.tree}: ${acorns} acorns.`);
    return leave();
  };
  const leave = () => {
    clearInterval(clock);
    Object.assign(chosen, { digits: "" });
    chosenTree = null;
    return here();
  };
  const digits = make("div", { class: "number", id: "digits" }, chosen.digits || " ");
  const press = () => { digits.textContent = chosen.digits || " "; };
  show({
    head: head(`Tree ${tree.tree}`, name(tree.species)),
    main: [left, button("Start 30 seconds", run, { kind: "wide" }), heading("Acorns counted"), digits, keypad(press, 5), button("Keep the count", keep, { kind: "go wide" })],
    foot: [button("Back", leave)],
  });
}

// Something seen on the way: an invasive plant, soft ground, a boundary.
export async function sighting(stand) {
  const subject = make("input", { id: "subject" });
  const note = make("textarea", { id: "note", rows: 2 });
  const kept = (kind) => async () => {
    const row = (mark) => ({ sighting: `${stand.stand}-${mark}`, stand: stand.stand, seen_on: new Date(Date.now() - new Date().getTimezoneOffset() * 60000).toISOString().slice(0, 10), kind, ...(subject.value ? { subject: subject.value } : {}), ...(note.value ? { note: note.value } : {}) });
    await put([{ act: "add", table: "sightings", row }], `Kept: ${kind}.`);
    await sighting(stand);
  };
  const rows = standing(state.taps).filter((tap) => tap.table === "sightings" && tap.row.stand === stand.stand);
  show({
    head: head("Seen on the way", stand.stand),
    main: [
      make("label", { for: "subject" }, "What kind or species"), subject, make("label", { for: "note" }, "Note"), note,
      heading("One tap keeps it"), grid(state.walk.sighting_kinds.map((kind) => button(kind, kept(kind)))), lastOf(rows, () => sighting(stand)),
    ],
    foot: [button("Back", today)],
  });
}
