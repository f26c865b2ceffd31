// The marking table: the floor's light with the crowns over it. The server keeps the light; this page draws it and asks.
const root = document.getElementById("marking");
const trees = document.getElementById("trees");
const scale = document.getElementById("scale");
const slider = document.getElementById("basal-area");
const wipe = document.getElementById("wipe");
const crowns = document.getElementById("crowns");
const tip = document.getElementById("tip");
const said = document.getElementById("said");
const chosen = document.getElementById("tree");
const undo = document.getElementById("undo");
const redo = document.getElementById("redo");
const form = root.querySelector("input[name=csrfmiddlewaretoken]").value;
const PIXELS = 450;
const past = []; const ahead = [];
const picked = new Set();
let line = null;
let beside = null;
let state = null;
let waiting = null;
let busy = false;
let pictures = {};

// Dark to light in one hue that every eye tells apart: light below, inside and above the band.
function shade(percent, band) {
  if (percent < band[0]) { const t = percent / band[0]; return [20 + 60 * t, 30 + 60 * t, 70 + 80 * t]; }
  if (percent <= band[1]) { const t = (percent - band[0]) / (band[1] - band[0]); return [120 + 70 * t, 190 + 30 * t, 130 + 20 * t]; }
  const t = Math.min(1, (percent - band[1]) / (100 - band[1]));
  return [245, 215 - 25 * t, 110 + 120 * t];
}

function cellsOf(text) { return Uint8Array.from(atob(text), (c) => c.charCodeAt(0)); }

// The light between the middles of cells, for the eye; what a cell holds is read with the pointer.
function between(cells, x, y) {
  const { rows, columns } = state;
  const c = Math.min(Math.max(x * columns - 0.5, 0), columns - 1); const r = Math.min(Math.max(y * rows - 0.5, 0), rows - 1);
  const c0 = Math.floor(c); const r0 = Math.floor(r); const c1 = Math.min(c0 + 1, columns - 1); const r1 = Math.min(r0 + 1, rows - 1);
  const at = (row, column) => cells[row * columns + column] / 2;
  const south = at(r0, c0) * (1 - c + c0) + at(r0, c1) * (c - c0); const north = at(r1, c0) * (1 - c + c0) + at(r1, c1) * (c - c0);
  return south * (1 - r + r0) + north * (r - r0);
}

function painted(text) {
  const cells = cellsOf(text); const canvas = document.createElement("canvas");
  canvas.width = PIXELS; canvas.height = Math.round(PIXELS * state.height_ft / state.width_ft);
  const context = canvas.getContext("2d"); const image = context.createImageData(canvas.width, canvas.height);
  for (let y = 0; y < canvas.height; y += 1) {
    for (let x = 0; x < canvas.width; x += 1) {
      const [r, g, b] = shade(between(cells, (x + 0.5) / canvas.width, 1 - (y + 0.5) / canvas.height), state.band);
      const at = 4 * (y * canvas.width + x);
      image.data[at] = r; image.data[at + 1] = g; image.data[at + 2] = b; image.data[at + 3] = 255;
    }
  }
  context.putImageData(image, 0, 0);
  return canvas;
}

function drawScale() {
  const context = scale.getContext("2d"); const ink = getComputedStyle(scale).color;
  context.clearRect(0, 0, scale.width, scale.height);
  for (let x = 0; x < scale.width; x += 1) { context.fillStyle = `rgb(${shade(100 * x / scale.width, state.band)})`; context.fillRect(x, 0, 1, 20); }
  context.fillStyle = ink; context.font = "22px 'Source Sans 3', sans-serif";
  for (const value of [0, ...state.band, 75, 100]) {
    const x = value / 100 * scale.width;
    context.fillRect(Math.min(x, scale.width - 2), 0, 2, 26);
    context.textAlign = value === 0 ? "left" : value === 100 ? "right" : "center"; context.fillText(value === 100 ? "100% of full sun" : `${value}`, x, 46);
  }
}

function drawTrees() {
  const zoom = 900 / Math.max(state.width_ft, state.height_ft);
  trees.width = state.width_ft * zoom; trees.height = state.height_ft * zoom;
  const context = trees.getContext("2d"); const edge = trees.width * wipe.value / 100;
  context.imageSmoothingQuality = "high";
  context.drawImage(pictures.after, 0, 0, trees.width, trees.height);
  if (edge > 0) {
    context.save(); context.beginPath(); context.rect(0, 0, edge, trees.height); context.clip();
    context.drawImage(beside ? pictures.beside : pictures.before, 0, 0, trees.width, trees.height); context.restore();
    context.fillStyle = "#fff"; context.fillRect(edge - 1.5, 0, 3, trees.height);
  }
  if (crowns.checked) for (const tree of state.stems) drawTree(context, tree, zoom, edge);
  if (line) {
    context.beginPath(); for (const at of line) context.lineTo(at.east * zoom, trees.height - at.north * zoom);
    context.strokeStyle = look("pencil"); context.lineWidth = 3; context.setLineDash([8, 5]); context.stroke(); context.setLineDash([]);
  }
}
// Inks that are the same in light and dark, for the light lies below them in its own shades.
const inks = getComputedStyle(document.documentElement); function look(name) { return inks.getPropertyValue(`--${name}`).trim(); }
function staysAt(tree, x, edge) { return x < edge ? !beside || beside.leave.has(tree.stem) : state.leave[tree.stem]; }

function drawTree(context, tree, zoom, edge) {
  const x = tree.east_ft * zoom; const y = trees.height - tree.north_ft * zoom; const stays = staysAt(tree, x, edge);
  if (picked.has(tree.stem)) { context.beginPath(); context.arc(x, y, Math.max(7, tree.crown_ft * zoom + 4), 0, 2 * Math.PI); context.strokeStyle = look("rival"); context.lineWidth = 4; context.stroke(); }
  context.beginPath(); context.arc(x, y, Math.max(3, tree.crown_ft * zoom), 0, 2 * Math.PI);
  if (!tree.marked) { context.globalAlpha = 0.45; context.strokeStyle = look("pencil"); context.setLineDash([2, 3]); context.lineWidth = 1; context.stroke(); context.setLineDash([]); context.globalAlpha = 1; return; }
  if (stays) { context.globalAlpha = 0.5; context.fillStyle = look(tree.oak ? "oak" : "pencil"); context.fill(); context.globalAlpha = 1; }
  const ink = look(stays ? "pencil" : "need"); context.strokeStyle = ink; context.lineWidth = tree.stem === chosen.value ? 5 : 1.3; context.setLineDash(stays ? [] : [6, 4]); context.stroke(); context.setLineDash([]);
  context.beginPath(); context.arc(x, y, Math.max(1.5, tree.dbh_in * zoom / 8), 0, 2 * Math.PI);
  context.fillStyle = ink; context.fill();
  if (!stays) { context.lineWidth = 2; context.beginPath(); context.moveTo(x - 6, y - 6); context.lineTo(x + 6, y + 6); context.moveTo(x + 6, y - 6); context.lineTo(x - 6, y + 6); context.stroke(); }
}

// A value in the units that the reader asked for; how each turns comes with the table.
function turned(value, unit, places) { const turn = state.units[unit]; return (value * turn.factor).toFixed(Math.max(0, places + turn.more)); }
function amount(value, unit, places) { return `${turned(value, unit, places)} ${state.units[unit].word}`; }
function anArea(value) { return value === null || value === undefined ? value : value * state.units["/ac"].factor; }

function whole(number) { return number === null || number === undefined ? "–" : Math.round(number).toLocaleString("en"); }

function drawSums() {
  const s = state.sums;
  const shown = {
    "sum-light": `${s.mean_light_pct.toFixed(1)}%`, "sum-band": `${Math.round(100 * s.in_band_share)}%`,
    "sum-ba": amount(s.residual_ba_ft2_ac, "ft2/ac", 1), "sum-trees": turned(s.leave_trees_ac, "/ac", 1),
    "sum-stocking": `${Math.round(s.stocking_pct)}%`, "sum-cover": `${Math.round(100 * s.seed_cover_share)}%`,
    "sum-sale": `${whole(anArea(s.sale_bf_ac))} bd ft`, "sum-value": s.sale_usd_ac === null ? "no prices" : `US$ ${whole(anArea(s.sale_usd_ac))}`,
  };
  for (const [id, text] of Object.entries(shown)) document.getElementById(id).textContent = text;
  undo.disabled = past.length === 0; redo.disabled = ahead.length === 0;
}

function draw() { pictures = { ...pictures, before: pictures.before ?? painted(state.light_before), after: painted(state.light) }; drawTrees(); drawSums(); }

function left() { return Object.keys(state.leave).filter((stem) => state.leave[stem]); }

// A move of the slider is one change to undo, however many places it passed.
function remember(what) {
  if (what.basal_area !== undefined && past.at(-1)?.kind === "slider" && past.at(-1).open) return;
  past.push({ leave: left(), kind: what.basal_area === undefined ? "tree" : "slider", open: true }); ahead.length = 0;
}

async function ask(what) {
  if (busy) { waiting = what; return; }
  busy = true;
  const began = performance.now();
  if (what.leave === undefined) remember(what);
  try {
    const answer = await fetch(root.dataset.change, {
      method: "POST", headers: { "Content-Type": "application/json", "X-CSRFToken": form }, body: JSON.stringify({ ...what, stamp: state.stamp }),
    });
    if (answer.status === 409) {
      Object.assign(state, await answer.json()); past.length = 0; ahead.length = 0;
      draw();
      said.textContent = "This marking was changed elsewhere, in another tab or by the search. It is shown as it lies now; make your change again.";
      return;
    }
    if (!answer.ok) { said.textContent = "The change was not taken; load the page again."; return; }
    Object.assign(state, await answer.json());
    if (what.leave !== undefined) slideTo(state.sums.residual_ba_ft2_ac);
    draw();
    root.dataset.milliseconds = (performance.now() - began).toFixed(0);
    said.textContent = `Light on the floor ${state.sums.mean_light_pct.toFixed(1)} percent, basal area ${amount(state.sums.residual_ba_ft2_ac, "square feet an acre", 0)}.`;
  } finally {
    busy = false;
    if (waiting !== null) { const next = waiting; waiting = null; ask(next); }
  }
}

function step(from, to) {
  if (busy || from.length === 0) return;
  to.push({ leave: left(), kind: "step", open: false });
  ask({ leave: from.pop().leave });
}

function slideTo(basalArea) {
  slider.value = Math.round(basalArea);
  document.getElementById("basal-area-said").textContent = amount(Number(slider.value), "ft2/ac", 0);
}

async function load() {
  // A change asked for meanwhile waits, so that it is made to the marking that lies there.
  busy = true;
  if (state !== null) past.push({ leave: left(), kind: "laid", open: false });
  state = await (await fetch(root.dataset.table)).json(); pictures = {};
  busy = false;
  slider.max = Math.ceil(state.whole_ba);
  slideTo(state.sums.residual_ba_ft2_ac);
  chosen.replaceChildren(...state.stems.filter((tree) => tree.marked).map((tree) => {
    const option = document.createElement("option");
    option.value = tree.stem; option.textContent = `${tree.stem}: ${tree.species}, ${tree.dbh_in} in., score ${tree.score}`;
    return option;
  }));
  const kinds = document.getElementById("kind");
  for (const species of [...new Set(state.stems.filter((tree) => tree.marked).map((tree) => tree.species))].sort()) {
    if (![...kinds.options].some((option) => option.value === species)) kinds.add(new Option(species, species));
  }
  if (beside) pictures.beside = painted(beside.light);
  draw(); drawScale();
  if (state.carried_over) said.textContent = "The stem map has other stems since this marking was made. Trees that are new are marked to be taken: look at them before anyone cuts.";
  root.dataset.ready = "yes";
  if (waiting !== null) { const next = waiting; waiting = null; ask(next); }
}

function sayPicked() {
  const count = picked.size;
  document.getElementById("chosen-said").textContent = count ? `${count} tree${count === 1 ? "" : "s"} chosen.` : "None chosen.";
  for (const id of ["none", "leave-chosen", "take-chosen"]) document.getElementById(id).disabled = count === 0;
  drawTrees();
}
function pick(fits) { for (const tree of state.stems) if (tree.marked && fits(tree)) picked.add(tree.stem); sayPicked(); }
function byRule() {
  const kind = document.getElementById("kind").value; const inches = (id) => Number(document.getElementById(id).value || (id === "to" ? Infinity : 0)) / state.units["in."].factor; const low = inches("from"); const high = inches("to");
  const ofKind = (tree) => kind === "all" || (kind === "oak" && tree.oak) || (kind === "must" && tree.must === "leave") || tree.species === kind;
  picked.clear();
  pick((tree) => ofKind(tree) && tree.dbh_in >= low && tree.dbh_in <= high);
}
// Even-odd: a ray to the east crosses the line an odd number of times from within.
function within(tree, points) {
  let inside = false;
  for (let at = 0, before = points.length - 1; at < points.length; before = at, at += 1) {
    const a = points[at]; const b = points[before];
    if ((a.north > tree.north_ft) !== (b.north > tree.north_ft) && tree.east_ft < (b.east - a.east) * (tree.north_ft - a.north) / (b.north - a.north) + a.east) inside = !inside;
  }
  return inside;
}
// What the records say must stay or go is not changed by many at once, only by its own click.
function markPicked(stays) {
  const held = state.stems.filter((tree) => picked.has(tree.stem) && tree.must === (stays ? "cut" : "leave"));
  const leave = new Set(left());
  for (const stem of picked) if (!held.some((tree) => tree.stem === stem)) { if (stays) leave.add(stem); else leave.delete(stem); }
  past.push({ leave: left(), kind: "many", open: false }); ahead.length = 0;
  picked.clear();
  ask({ leave: [...leave] }).then(() => { sayPicked(); if (held.length) said.textContent = `${said.textContent} ${held.length} that the records say must ${stays ? "go" : "stay"} were not changed.`; });
}
async function showBeside(title) {
  const answer = await fetch(`${root.dataset.aside}?title=${encodeURIComponent(title)}`);
  if (!answer.ok) { said.textContent = "That marking is not there any more; load the page again."; return; }
  const found = await answer.json();
  beside = { title, leave: new Set(found.leave), light: found.light };
  pictures.beside = painted(found.light);
  document.getElementById("left-of-line").textContent = `the marking ${title} is cut`;
  if (Number(wipe.value) === 0) wipe.value = 50;
  drawTrees();
  said.textContent = `Left of the line: ${title}. Right of it: the marking on the table.`;
}
function place(event) {
  const box = trees.getBoundingClientRect();
  return { east: (event.clientX - box.left) / box.width * state.width_ft, north: (1 - (event.clientY - box.top) / box.height) * state.height_ft };
}

function nearest({ east, north }, most, any) {
  let best = null; let away = most;
  for (const tree of state.stems) {
    const distance = Math.hypot(tree.east_ft - east, tree.north_ft - north);
    if ((tree.marked || any) && distance < away) { away = distance; best = tree; }
  }
  return best;
}

// What the pointer rests on: the tree, what changes when it is flipped, and the light of the cell.
function read(event) {
  if (state === null) return;
  const at = place(event); const tree = nearest(at, 12, true);
  const row = Math.min(state.rows - 1, Math.max(0, Math.floor(at.north / state.height_ft * state.rows)));
  const column = Math.min(state.columns - 1, Math.max(0, Math.floor(at.east / state.width_ft * state.columns)));
  const cells = cellsOf(at.east / state.width_ft < wipe.value / 100 ? (beside ? beside.light : state.light_before) : state.light);
  const lines = [`Light here ${(cells[row * state.columns + column] / 2).toFixed(0)}%`];
  if (tree) {
    const ba = tree.ba_ft2_ac; const stays = state.leave[tree.stem];
    lines.unshift(`${tree.stem}: ${tree.species}, ${turned(tree.dbh_in, "in.", 1)} ${state.units["in."].word}`, `crown ${amount(2 * tree.crown_ft, "ft", 0)} wide, score ${tree.score}`);
    lines.splice(2, 0, tree.marked ? `${stays ? "stays; taking it" : "taken; leaving it"}: ${stays ? "−" : "+"}${amount(ba, "ft2/ac", 2)}` : "midstory: injected, not marked");
  }
  tip.textContent = lines.join("\n"); tip.hidden = false;
  const box = trees.getBoundingClientRect(); const x = event.clientX - box.left; const y = event.clientY - box.top;
  tip.style.left = `${x > box.width / 2 ? x - tip.offsetWidth - 14 : x + 14}px`; tip.style.top = `${Math.min(y + 14, box.height - tip.offsetHeight)}px`;
}

slider.addEventListener("input", () => {
  document.getElementById("basal-area-said").textContent = amount(Number(slider.value), "ft2/ac", 0);
  ask({ basal_area: Number(slider.value) });
});
slider.addEventListener("change", () => { if (past.length) past.at(-1).open = false; });
trees.addEventListener("click", (event) => {
  if (drawing()) return;
  const best = nearest(place(event), 25, false);
  if (best !== null) { chosen.value = best.stem; ask({ flip: best.stem }); }
});
const lasso = document.getElementById("lasso");
function drawing() { return lasso.getAttribute("aria-pressed") === "true"; }
lasso.addEventListener("click", () => { lasso.setAttribute("aria-pressed", String(!drawing())); trees.style.touchAction = drawing() ? "none" : ""; trees.style.cursor = drawing() ? "crosshair" : ""; });
trees.addEventListener("pointerdown", (event) => { if (drawing() && state) { line = [place(event)]; trees.setPointerCapture(event.pointerId); } });
// A busy machine hands several moves over as one: the corners between them are part of the line too.
function moves(event) { const several = event.getCoalescedEvents?.() ?? []; return several.length ? several : [event]; }
trees.addEventListener("pointermove", (event) => { if (line) { line.push(...moves(event).map(place)); drawTrees(); } });
trees.addEventListener("pointerup", () => { if (!line) return; const points = line; line = null; pick((tree) => within(tree, points)); });
document.getElementById("choose").addEventListener("click", byRule);
document.getElementById("none").addEventListener("click", () => { picked.clear(); sayPicked(); });
document.getElementById("leave-chosen").addEventListener("click", () => markPicked(true));
document.getElementById("take-chosen").addEventListener("click", () => markPicked(false));
document.getElementById("aside").addEventListener("click", (event) => { const title = event.target.dataset?.beside; if (title !== undefined) showBeside(title); });
trees.addEventListener("pointermove", read);
trees.addEventListener("pointerleave", () => { tip.hidden = true; });
wipe.addEventListener("input", drawTrees);
crowns.addEventListener("change", drawTrees);
undo.addEventListener("click", () => step(past, ahead));
redo.addEventListener("click", () => step(ahead, past));
document.addEventListener("keydown", (event) => {
  if (!(event.ctrlKey || event.metaKey) || event.key.toLowerCase() !== "z" || /^(INPUT|TEXTAREA)$/.test(event.target.tagName) && event.target.type !== "range") return;
  event.preventDefault(); if (event.shiftKey) step(ahead, past); else step(past, ahead);
});
document.getElementById("flip").addEventListener("click", () => ask({ flip: chosen.value }));
chosen.addEventListener("change", drawTrees);
// The search lays its marking on the table: draw it once its words are there.
new MutationObserver(() => { if (document.querySelector("#search .good")) load(); }).observe(document.getElementById("search"), { childList: true, subtree: true });
new MutationObserver(load).observe(document.getElementById("aside"), { childList: true });
load();
