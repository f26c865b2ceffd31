// Every form of a page: sent once however often its button is pressed, a fault stands at its field with what was typed,
// and what a lost log-in kept from being sent comes back after the log-in. Without this script forms are plain forms.
const PLACE = "overwood sent";
const who = document.body.dataset.who;
const plain = (form) => form.method === "post" && !form.hasAttribute("hx-post") && form.id !== "tally";
const SECRET = new Set(["csrfmiddlewaretoken", "password", "old", "code", "carried"]);

function fill(form, sent) {
  for (const field of form.elements) {
    const values = sent[field.name];
    // A box that was not ticked is not among what was sent.
    if (field.type === "checkbox") { field.checked = Boolean(values?.includes(field.value)); continue; }
    if (!values || SECRET.has(field.name) || field.type === "file" || field.type === "hidden" || field.tagName === "BUTTON") continue;
    if (field.type === "radio") field.checked = values.includes(field.value);
    else if (values.length) field.value = form.elements[field.name].length && field.tagName !== "SELECT" ? values.shift() : values[0];
  }
  for (let fold = form.closest("details"); fold; fold = fold.parentElement.closest("details")) fold.open = true;
}

// The form that was sent: the one that has most of the fields, and the same values in those a person cannot change.
function formOf(sent) {
  const names = Object.keys(sent).filter((name) => !SECRET.has(name));
  const fits = (form) => {
    const fields = [...form.elements].filter((field) => field.name in sent && !SECRET.has(field.name));
    const fixed = fields.filter((field) => field.type === "hidden" || field.tagName === "BUTTON");
    const same = fixed.filter((field) => sent[field.name].includes(field.value));
    return new Set(fields.map((field) => field.name)).size + same.length - 2 * (fixed.length && !same.length);
  };
  const forms = [...document.querySelectorAll("main form")].filter(plain);
  const best = forms.sort((one, other) => fits(other) - fits(one))[0];
  return best && (names.length === 0 || fits(best) > 0) ? best : null;
}

function beside() {
  const fault = document.getElementById("beside");
  if (!fault) return;
  const sent = JSON.parse(document.getElementById("beside-sent").textContent);
  const form = formOf(sent);
  if (form) {
    fill(form, sent);
    const field = fault.dataset.field && form.elements[fault.dataset.field];
    (field ? field.closest("label") ?? field : form.querySelector("button, [type=submit]") ?? form.lastChild).before(fault);
    if (field) { field.setAttribute("aria-invalid", "true"); field.setAttribute("aria-describedby", "beside"); field.focus(); return; }
  }
  fault.focus();
}

// What could not be sent for want of a log-in waits in this tab, for the same person only.
function again() {
  const kept = JSON.parse(sessionStorage.getItem(PLACE) ?? "null");
  if (!kept || location.pathname.startsWith("/login/") || document.querySelector("[data-coming]")) return;
  if (document.querySelector("[data-unsent]")) { sessionStorage.setItem(PLACE, JSON.stringify({ ...kept, lost: true })); return; }
  if (kept.lost && who === kept.who && location.pathname === kept.page) {
    const form = formOf(kept.sent);
    if (form) {
      // Numbers go back into a form of the units they were typed in.
      const units = kept.sent.units?.[0];
      if (form.elements.units && units && form.elements.units.value !== units) { location.replace(`/units/${units}/?next=${encodeURIComponent(location.pathname + location.search)}`); return; }
      fill(form, kept.sent);
      const said = Object.assign(document.createElement("p"), { className: "good", textContent: "This was not sent, because the log-in had ended. Look at it and send it again." });
      said.setAttribute("role", "status");
      form.before(said);
    }
  }
  if (!kept.lost || location.pathname === kept.page) sessionStorage.removeItem(PLACE);
}

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (!plain(form)) return;
  if (form.dataset.sent) { event.preventDefault(); return; }
  // A form that brings a file down leaves its page standing: it may be sent again after a while.
  if (form.target !== "_blank") { form.dataset.sent = "yes"; setTimeout(() => delete form.dataset.sent, 5000); }
  if (form.action.endsWith("/logout/")) { sessionStorage.removeItem(PLACE); return; }
  const sent = {};
  for (const [name, value] of new FormData(form, event.submitter)) if (!SECRET.has(name) && typeof value === "string") (sent[name] ??= []).push(value);
  try { sessionStorage.setItem(PLACE, JSON.stringify({ page: location.pathname, who, sent })); } catch { /* too large to keep */ }
});
// A page that comes back by the browser's own Back may send again.
window.addEventListener("pageshow", () => { for (const form of document.forms) delete form.dataset.sent; });
// What is shown once can be copied by a button.
for (const secret of document.querySelectorAll("code.secret")) {
  const button = Object.assign(document.createElement("button"), { type: "button", className: "quiet copy", textContent: "Copy" });
  button.addEventListener("click", async () => {
    try { await navigator.clipboard.writeText(secret.textContent); button.textContent = "Copied"; } catch { getSelection().selectAllChildren(secret); button.textContent = "Selected: press Ctrl and C"; }
  });
  secret.after(" ", button);
}
// The map of a plan shows the year of its slider.
document.addEventListener("input", (event) => {
  if (event.target.id !== "plan-year") return;
  const year = Number(event.target.value);
  document.getElementById("plan-year-said").textContent = JSON.parse(document.getElementById("plan-years").textContent)[year];
  for (const stand of document.querySelectorAll("path[data-shades]")) stand.setAttribute("class", `there sure${stand.dataset.shades.split(",")[year]}`);
});
again();
beside();
// Who presses a link while a page is worked out goes where it leads: an answer that would load this page again is let go.
// A link that only fetches a file leaves the page where it is, so that such answers count again after a while.
let leaving = 0;
addEventListener("beforeunload", () => { leaving += 1; setTimeout(() => { leaving -= 1; }, 30_000); });
document.addEventListener("htmx:before:response", (event) => {
  const { refresh, redirect } = event.detail.ctx.hx;
  if (!leaving || !(refresh || redirect)) return;
  event.preventDefault();
  // Who is still here by then left for no other page.
  setTimeout(() => location.reload(), 30_000);
});
// What could not be worked out beside the page is asked for by the page itself, which comes or says why it cannot.
for (const name of ["htmx:error", "htmx:response:error"]) document.addEventListener(name, () => {
  const now = document.querySelector("[data-coming]")?.dataset.coming;
  if (now && !leaving) location.replace(now);
});
// A page that came before its numbers was loaded again: what its address points at is shown all the same.
const pointed = location.hash && document.getElementById(decodeURIComponent(location.hash.slice(1)));
if (pointed && scrollY === 0) {
  for (let fold = pointed.closest("details"); fold; fold = fold.parentElement.closest("details")) fold.open = true;
  pointed.scrollIntoView();
}
// On a phone a table stands as a list of its cells: each says what its column is.
function named() {
  for (const table of document.querySelectorAll("table.stack")) {
    const words = (head) => [...head.childNodes].filter((part) => !part.classList?.contains("help") && part.nodeName !== "svg").map((part) => part.textContent).join("").trim();
    const heads = [...table.querySelectorAll("thead th")].map(words);
    for (const row of table.querySelectorAll("tbody tr")) for (const [place, cell] of [...row.cells].entries()) {
      if (place && heads[place] && cell.colSpan === 1 && cell.textContent.trim() && !cell.dataset.label) cell.dataset.label = `${heads[place]}:`;
    }
  }
}
document.addEventListener("htmx:load", named);
named();

// Property, stand and day stand at the head of every printed sheet; the page's number stands at its foot.
if (document.body.dataset.sheet) {
  const words = document.body.dataset.sheet.replace(/["\\\n]/g, " ");
  const styles = [...document.styleSheets].find((one) => one.href?.endsWith("/static/overwood.css"));
  styles?.insertRule(`@page { @top-left { content: "${words}"; font-size: 8pt; } }`, styles.cssRules.length);
}
