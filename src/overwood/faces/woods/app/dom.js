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

// A button that is deaf while it works, so that a second tap in a glove does not count twice. `under` is a second, larger line.
export function button(label, act, { under, pressed, kind = "", disabled } = {}) {
  const made = make("button", { type: "button", class: `big ${kind}`, "aria-pressed": pressed === undefined ? null : String(pressed), disabled }, label);
  if (under !== undefined && under !== "") made.append(make("small", {}, String(under)));
  let busy = false;
  made.addEventListener("click", async () => {
    if (busy) return;
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

export function show({ head, main, foot = [] }) {
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
