// The marking table: trees on the left, the floor's light on the right. The server keeps the light; this page draws it and asks.
const root = document.getElementById("marking");
const trees = document.getElementById("trees");
const floor = document.getElementById("floor");
const slider = document.getElementById("basal-area");
const said = document.getElementById("said");
const chosen = document.getElementById("tree");
const form = root.querySelector("input[name=csrfmiddlewaretoken]").value;
let state = null;
let waiting = null;
let busy = false;

// Dark to light in one hue that every eye tells apart: light below, inside and above the band.
function shade(percent, band) {
  if (percent < band[0]) { const t = percent / band[0]; return [20 + 60 * t, 30 + 60 * t, 70 + 80 * t]; }
  if (percent <= band[1]) { const t = (percent - band[0]) / (band[1] - band[0]); return [120 + 70 * t, 190 + 30 * t, 130 + 20 * t]; }
  const t = Math.min(1, (percent - band[1]) / (100 - band[1]));
  return [245, 215 - 25 * t, 110 + 120 * t];
}

function drawFloor() {
  const cells = Uint8Array.from(atob(state.light), (c) => c.charCodeAt(0));
  const { rows, columns, band } = state;
  floor.width = columns; floor.height = rows;
  const context = floor.getContext("2d");
  const image = context.createImageData(columns, rows);
  for (let row = 0; row < rows; row += 1) {
    for (let column = 0; column < columns; column += 1) {
      const [r, g, b] = shade(cells[row * columns + column] / 2, band);
      const at = 4 * ((rows - 1 - row) * columns + column);
      image.data[at] = r; image.data[at + 1] = g; image.data[at + 2] = b; image.data[at + 3] = 255;
    }
  }
  context.putImageData(image, 0, 0);
}

function drawTrees() {
  const scale = 900 / Math.max(state.width_ft, state.height_ft);
  trees.width = state.width_ft * scale; trees.height = state.height_ft * scale;
  const context = trees.getContext("2d");
  context.fillStyle = "#fdfcf9"; context.fillRect(0, 0, trees.width, trees.height);
  for (const tree of state.stems) {
    const x = tree.east_ft * scale; const y = trees.height - tree.north_ft * scale;
    const stays = state.leave[tree.stem];
    context.beginPath();
    context.arc(x, y, Math.max(3, tree.crown_ft * scale), 0, 2 * Math.PI);
    if (!tree.marked) { context.strokeStyle = "#b9b6aa"; context.setLineDash([2, 3]); context.lineWidth = 1; context.stroke(); context.setLineDash([]); continue; }
    context.fillStyle = stays ? (tree.oak ? "rgba(0,114,178,.55)" : "rgba(120,120,120,.55)") : "rgba(255,255,255,.2)";
    context.fill();
    context.strokeStyle = stays ? "#222" : "#a83e00"; context.lineWidth = tree.stem === chosen.value ? 4 : 1.2;
    context.stroke();
    context.beginPath(); context.arc(x, y, Math.max(1.5, tree.dbh_in * scale / 8), 0, 2 * Math.PI);
    context.fillStyle = stays ? "#222" : "#a83e00"; context.fill();
    if (!stays) { context.beginPath(); context.moveTo(x - 5, y - 5); context.lineTo(x + 5, y + 5); context.moveTo(x + 5, y - 5); context.lineTo(x - 5, y + 5); context.stroke(); }
  }
}

function whole(number) { return number === null || number === undefined ? "–" : Math.round(number).toLocaleString("en"); }

function drawSums() {
  const s = state.sums;
  const shown = {
    "sum-light": `${s.mean_light_pct.toFixed(1)} %`, "sum-band": `${Math.round(100 * s.in_band_share)} %`,
    "sum-ba": `${s.residual_ba_ft2_ac.toFixed(1)} ft²/ac`, "sum-trees": `${s.leave_trees_ac.toFixed(1)}`,
    "sum-stocking": `${Math.round(s.stocking_pct)} %`, "sum-cover": `${Math.round(100 * s.seed_cover_share)} %`,
    "sum-sale": `${whole(s.sale_bf_ac)} bd ft`, "sum-value": s.sale_usd_ac === null ? "no prices" : `US$ ${whole(s.sale_usd_ac)}`,
  };
  for (const [id, text] of Object.entries(shown)) document.getElementById(id).textContent = text;
}

function draw() { drawFloor(); drawTrees(); drawSums(); }

async function ask(what) {
  if (busy) { waiting = what; return; }
  busy = true;
  const began = performance.now();
  try {
    const answer = await fetch(root.dataset.change, {
      method: "POST", headers: { "Content-Type": "application/json", "X-CSRFToken": form }, body: JSON.stringify({ ...what, stamp: state.stamp }),
    });
    if (answer.status === 409) {
      Object.assign(state, await answer.json());
      draw();
      said.textContent = "This marking was changed elsewhere, in another tab or by the search. It is shown as it lies now; make your change again.";
      return;
    }
    if (!answer.ok) { said.textContent = "The change was not taken; load the page again."; return; }
    Object.assign(state, await answer.json());
    draw();
    root.dataset.milliseconds = (performance.now() - began).toFixed(0);
    said.textContent = `Light on the floor ${state.sums.mean_light_pct.toFixed(1)} percent, basal area ${state.sums.residual_ba_ft2_ac.toFixed(0)} square feet an acre.`;
  } finally {
    busy = false;
    if (waiting !== null) { const next = waiting; waiting = null; ask(next); }
  }
}

async function load() {
  // A change asked for meanwhile waits, so that it is made to the marking that lies there.
  busy = true;
  state = await (await fetch(root.dataset.table)).json();
  busy = false;
  slider.max = Math.ceil(state.whole_ba);
  slider.value = Math.round(state.sums.residual_ba_ft2_ac);
  document.getElementById("basal-area-said").textContent = `${slider.value} ft²/ac`;
  chosen.replaceChildren(...state.stems.filter((tree) => tree.marked).map((tree) => {
    const option = document.createElement("option");
    option.value = tree.stem; option.textContent = `${tree.stem}: ${tree.species}, ${tree.dbh_in} in., score ${tree.score}`;
    return option;
  }));
  draw();
  if (state.carried_over) said.textContent = "The stem map has other stems since this marking was made. Trees that are new are marked to be taken: look at them before anyone cuts.";
  root.dataset.ready = "yes";
  if (waiting !== null) { const next = waiting; waiting = null; ask(next); }
}

slider.addEventListener("input", () => {
  document.getElementById("basal-area-said").textContent = `${slider.value} ft²/ac`;
  ask({ basal_area: Number(slider.value) });
});
trees.addEventListener("click", (event) => {
  const box = trees.getBoundingClientRect();
  const east = (event.clientX - box.left) / box.width * state.width_ft;
  const north = (1 - (event.clientY - box.top) / box.height) * state.height_ft;
  let best = null; let away = Infinity;
  for (const tree of state.stems) {
    if (!tree.marked) continue;
    const distance = Math.hypot(tree.east_ft - east, tree.north_ft - north);
    if (distance < away) { away = distance; best = tree; }
  }
  if (best !== null && away < 25) { chosen.value = best.stem; ask({ flip: best.stem }); }
});
document.getElementById("flip").addEventListener("click", () => ask({ flip: chosen.value }));
chosen.addEventListener("change", drawTrees);
// The search lays its marking on the table: draw it once its words are there.
new MutationObserver(() => { if (document.querySelector("#search .good")) load(); }).observe(document.getElementById("search"), { childList: true, subtree: true });
new MutationObserver(load).observe(document.getElementById("aside"), { childList: true });
load();
