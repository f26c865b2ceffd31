// The tally grid: lines grow, plot and species come down from the line above, Enter goes to the next line, and what is
// typed is laid down as a draft. Without this script the form works as a plain form.
const form = document.getElementById("tally");
const body = form.querySelector("table.tally tbody");
const lines = () => (body ? [...body.rows] : []);
const sum = document.getElementById("tally-sum");
const kept = document.getElementById("tally-kept");
const unsent = document.getElementById("unsent");
const carried = form.dataset.carried.split(" ").filter(Boolean);
const kind = form.elements.kind.value;
const place = `overwood tally ${form.dataset.who} ${form.dataset.stand} ${kind}`;
// A form of more fields than this is refused by the server.
const MOST_FIELDS = 3900;
const CONSENTS = ["csrfmiddlewaretoken", "replace", "keep_unknown"];
let stamp = form.dataset.stamp;
let waiting = null;
let saving = false;
let stopped = false;

const cells = (row) => [...row.querySelectorAll("input, select")];
const blank = (row) => cells(row).every((cell) => !cell.value.trim());
const own = (row) => cells(row).some((cell) => !carried.includes(cell.name) && cell.value.trim());

function add() {
  const rows = body.rows;
  if ((rows.length + 1) * cells(rows[0]).length > MOST_FIELDS) { tell("Write these lines down now; more go to the same visit."); return null; }
  const row = rows[rows.length - 1].cloneNode(true);
  row.classList.remove("carried");
  for (const small of row.querySelectorAll(".cell-fault")) small.remove();
  body.append(row);
  for (const cell of cells(row)) {
    cell.value = "";
    cell.removeAttribute("aria-invalid");
    cell.removeAttribute("aria-describedby");
    cell.setAttribute("aria-label", cell.getAttribute("aria-label").replace(/\d+$/, rows.length));
  }
  return row;
}

function below(row, cell) {
  const next = row.nextElementSibling || add();
  if (!next) return;
  if (!blank(next) && !next.classList.contains("carried")) { cells(next)[cells(row).indexOf(cell)].focus(); return; }
  for (const one of cells(next)) {
    if (carried.includes(one.name)) one.value = cells(row).find((above) => above.name === one.name).value;
  }
  next.classList.toggle("carried", !blank(next));
  // The species taken over is selected: typing replaces it, Tab agrees.
  const first = cells(next).find((one) => one.name === carried[carried.length - 1]) || cells(next).find((one) => !one.value) || cells(next)[0];
  first.focus();
  if (first.select) first.select();
  if (!next.nextElementSibling) add();
}

function summary() {
  const rows = lines().filter((row) => !blank(row) && !row.classList.contains("carried"));
  const named = (name) => rows.map((row) => cells(row).find((cell) => cell.name === name)).filter(Boolean).map((cell) => cell.value.trim());
  const plots = new Set([...named("point"), ...(form.elements.plots ? form.elements.plots.value.split(/[\s,]+/) : [])].filter(Boolean));
  const parts = [`${rows.length} ${rows.length === 1 ? "line" : "lines"}`];
  if (form.elements.plots) parts.push(`${plots.size} ${plots.size === 1 ? "plot" : "plots"}`);
  // A blank count of stems stands for one stem.
  const stems = named("stems").map((text) => (text === "" ? 1 : Number(text)));
  if (stems.length) parts.push(stems.some(Number.isNaN) ? "stems: a cell is no number" : `${stems.reduce((total, one) => total + one, 0)} stems`);
  sum.textContent = parts.join(", ");
}

function content() {
  const given = new URLSearchParams();
  const idle = new Set(lines().filter((row) => row.classList.contains("carried") || blank(row)).flatMap(cells));
  for (const cell of form.elements) {
    if (cell.name && !idle.has(cell) && !CONSENTS.includes(cell.name)) given.append(cell.name, cell.value);
  }
  return given;
}

function tell(text) { if (kept.textContent !== text) kept.textContent = text; }

// A browser may refuse to keep anything: then only the draft in the book stands.
function mirror(given) { try { localStorage.setItem(place, given.toString()); } catch { /* nothing is kept here */ } }
function mirrored() { try { return new URLSearchParams(localStorage.getItem(place) || ""); } catch { return new URLSearchParams(); } }
function forget() { try { localStorage.removeItem(place); } catch { /* nothing was kept here */ } }

async function save() {
  if (saving || stopped) return;
  saving = true;
  waiting = null;
  const given = content();
  const sent = new URLSearchParams(given);
  sent.append("stamp", stamp);
  try {
    const answer = await fetch(form.dataset.draft, { method: "POST", headers: { "X-CSRFToken": form.elements.csrfmiddlewaretoken.value }, body: sent });
    const plain = (answer.headers.get("Content-Type") || "").startsWith("application/json");
    if (plain && answer.ok) {
      stamp = (await answer.json()).stamp;
      if (mirrored().toString() === given.toString()) forget();
      tell("Kept as a draft.");
    } else if (answer.status === 409) {
      stopped = true;
      tell("This tally was changed, written down or discarded in another tab. What you type here is kept in this browser only; load the page again to see the other.");
    } else tell("You are logged out. What you type is kept in this browser; log in again in another tab and go on here.");
  } catch { tell("The app does not answer. What you type is kept in this browser and offered when you open this tally again."); }
  saving = false;
  if (waiting === "again") later();
}

function later() {
  if (saving) { waiting = "again"; return; }
  clearTimeout(waiting);
  waiting = setTimeout(save, 400);
}

function changed() { mirror(content()); summary(); later(); }

function take(given) {
  if (!body) return;
  const names = cells(body.rows[0]).map((cell) => cell.name);
  for (const [name, value] of given) if (!names.includes(name) && form.elements[name] && name !== "kind") form.elements[name].value = value;
  const count = Math.max(0, ...names.map((name) => given.getAll(name).length));
  while (body.rows.length <= count && add()) { /* a line for each, and one more */ }
  lines().forEach((row, at) => {
    row.classList.remove("carried");
    for (const cell of cells(row)) cell.value = given.getAll(cell.name)[at] || "";
  });
  changed();
}

function offer() {
  const given = mirrored();
  if (!given.get("form")) return;
  // What this page shows, or wrote down just now, needs no second offer.
  if (given.get("form") === form.dataset.posted || given.toString() === content().toString()) { forget(); return; }
  const count = Math.max(0, ...carried.concat("stems").map((name) => given.getAll(name).length));
  unsent.hidden = false;
  unsent.querySelector("p").textContent = `${count} ${count === 1 ? "line" : "lines"} typed in this browser did not reach the book.`;
  unsent.addEventListener("click", (event) => {
    const what = event.target.dataset.do;
    if (!what) return;
    // Numbers go back into a form of the units they were typed in.
    if (what === "take" && given.get("units") && given.get("units") !== form.elements.units.value) { location.assign(`/units/${given.get("units")}/?next=${encodeURIComponent(location.pathname + location.search)}`); return; }
    if (what === "take") take(given); else forget();
    unsent.hidden = true;
  });
}

form.addEventListener("keydown", (event) => {
  if (event.key !== "Enter" || event.isComposing || event.ctrlKey || event.metaKey) return;
  if (event.target.matches("button, textarea")) return;
  event.preventDefault();
  const row = event.target.closest("table.tally tbody tr");
  if (row && own(row)) below(row, event.target);
  else if (!row && body && body.rows.length) cells(body.rows[0])[0].focus();
});

form.addEventListener("input", (event) => {
  const row = event.target.closest("table.tally tbody tr");
  if (row) {
    if (own(row)) row.classList.remove("carried");
    event.target.removeAttribute("aria-invalid");
    if (!row.nextElementSibling) add();
  }
  changed();
});

form.addEventListener("submit", () => {
  stopped = true;
  mirror(content());
  for (const row of lines()) if (row.classList.contains("carried")) for (const cell of cells(row)) cell.disabled = true;
});

if (body) {
  offer();
  summary();
  const bad = body.querySelector("[aria-invalid]");
  if (bad) bad.focus();
}
form.dataset.ready = "yes";
