// Elements of a screen, made without any text being read as markup.
export function make(tag, more = {}, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(more)) {
    if (name === "on") made.addEventListener("click", value);
    else if (value === true) made.setAttribute(name, "");
    else if (value !== false && value !== null && value !== undefined) made.setAttribute(name, String(value));
  }
  made.append(...children.flat().filter((child) => child !== null && child !== undefined && child !== false));
  return made;
}

// A glove that bounces must not hit what has come to stand under the thumb: another button at the same place is deaf for so long. Our own choice.
const [BOUNCE_MS, BOUNCE_PX] = [350, 40];
let hit = { at: -BOUNCE_MS, x: 0, y: 0, label: "" };

function bounced(event, label) {
  const last = hit;
  // A key has no place.
  if (!event.clientX && !event.clientY) return false;
  hit = { at: event.timeStamp, x: event.clientX, y: event.clientY, label };
  return label !== last.label && hit.at - last.at < BOUNCE_MS && Math.hypot(hit.x - last.x, hit.y - last.y) < BOUNCE_PX;
}

// A button that is deaf while it works, so that a second tap in a glove does not count twice. `under` is a second, larger line.
export function button(label, act, { under, pressed, kind = "", disabled } = {}) {
  const made = make("button", { type: "button", class: `big ${kind}`, "aria-pressed": pressed === undefined ? null : String(pressed), disabled }, label);
  if (under !== undefined && under !== "") made.append(make("small", {}, String(under)));
  let busy = false;
  made.addEventListener("click", async (event) => {
    if (bounced(event, label) || busy) return;
    busy = true;
    try {
      await act();
    } finally {
      busy = false;
    }
  });
  return made;
}

export const grid = (...children) => make("div", { class: "grid" }, ...children);
// Of words too long for three columns.
export const pairs = (...children) => make("div", { class: "grid two" }, ...children);
export const heading = (text) => make("h2", {}, text);
export const line = (text, kind = "") => make("p", { class: kind }, text);

// A button that chooses a file: the browser's own is small, and speaks its own language.
export const picker = (label, more) => {
  const input = make("input", { type: "file", ...more });
  return { input, shown: make("label", { for: more.id, class: "big wide picker" }, label, input) };
};

// `steady`: the line of what was told keeps its place while it is empty, so that no button moves under the thumb.
export function show({ head, main, foot = [], steady = false }) {
  document.body.classList.toggle("steady", steady);
  // What was told belongs to the screen where it happened.
  const before = document.querySelector("#head h1")?.textContent;
  document.getElementById("head").replaceChildren(...head);
  if (before !== document.querySelector("#head h1")?.textContent) tell("");
  document.getElementById("main").replaceChildren(...main.filter(Boolean));
  document.getElementById("foot").replaceChildren(...foot.filter(Boolean));
}

// Says what happened in a line that is read out too.
export function tell(text) {
  document.getElementById("told").textContent = text;
}
