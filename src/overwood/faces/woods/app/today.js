// The first screen, walks down, taps up, and whether this phone is fit for the woods.
import * as carry from "./carry.js";
import * as codes from "./codes.js";
import * as store from "./store.js";
import { button, grid, heading, line, make, show, tell } from "./dom.js";
import { applyLook, head, refresh, state } from "./kit.js";
import { pointsDone, standing } from "./fold.js";
import { points } from "./points.js";
import { sighting } from "./plot.js";

export async function today() {
  state.walk = null;
  await refresh();
  const cards = [];
  for (const walk of state.walks) cards.push(...(await walkCards(walk)));
  show({
    head: head("Today", `phone ${state.device}`),
    main: cards.length ? cards : [line("No walk is on this phone yet. Load one: from the desk with signal, or from its file.")],
    foot: [button("Load a walk", load), button("Send or save", sendOrSave, { kind: "go", under: `${state.unsent} not sent` }), button("This phone", phone)],
  });
}

async function walkCards(walk) {
  const taps = standing(await store.taps(walk.walk));
  const cards = [];
  if (carry.isOver(walk)) cards.push(line(`The walk of ${walk.made_on} ended on ${walk.expires_on}. Its tally stays; load a new walk before you go on.`, "stop"));
  for (const stand of walk.stands) {
    cards.push(heading(`${stand.stand} ${stand.name === stand.stand ? "" : stand.name}`));
    const open = async (act) => {
      state.walk = walk;
      await refresh();
      await act();
    };
    const rows = stand.visits.map((visit) => {
      const all = places(visit).length;
      const done = visit.kind === "acorn" ? taps.filter((tap) => tap.row.visit === visit.visit).length : pointsDone(taps, visit.visit).size;
      return button(visit.kind, () => open(() => points(stand, visit)), { kind: "wide", under: `${done} of ${all} done` });
    });
    rows.push(button("Something seen on the way", () => open(() => sighting(stand)), { kind: "wide" }));
    cards.push(make("div", { class: "rows" }, rows));
  }
  return cards;
}

const places = (visit) => (visit.acorn_trees.length ? visit.acorn_trees : visit.points);

async function trouble(act) {
  try {
    return await act();
  } catch (fault) {
    tell(fault instanceof carry.Trouble ? fault.message : `Not done: ${fault?.message || fault}. Nothing is lost.`);
    return null;
  }
}

async function keep(walk) {
  await store.keepWalk(walk);
  await today();
  tell(`The walk for ${walk.stands.map((stand) => stand.stand).join(", ")} is on the phone, until ${walk.expires_on}.`);
}

async function load() {
  const file = make("input", { type: "file", id: "walk-file", accept: ".json,application/json" });
  file.addEventListener("change", () => trouble(async () => file.files[0] && keep(carry.readWalk(await file.files[0].text()))));
  const list = make("div", { class: "rows", id: "desk-walks" });
  const ask = async () => {
    const said = await trouble(carry.door);
    if (!said) return;
    const lines = said.walks.map((walk) =>
      button(walk.stands.join(", "), () => trouble(async () => keep(await carry.fetchWalk(walk.walk))), { kind: "wide", under: `until ${walk.expires_on}` }),
    );
    list.replaceChildren(...(lines.length ? lines : [line("The desk has no walk out. Make one there: overwood woods walk STAND.")]));
  };
  show({
    head: head("Load a walk"),
    main: [button("From the desk", ask, { kind: "wide" }), list, make("label", { for: "walk-file" }, "From a file"), file],
    foot: [button("Back", today)],
  });
}

async function sendOrSave() {
  const send = async () => {
    let sent = 0;
    const doubts = [];
    for (const walk of state.walks) {
      const done = await trouble(() => carry.send(walk));
      if (!done) break;
      sent += done.sent;
      doubts.push(...done.doubts);
    }
    await refresh();
    await sendOrSave();
    if (sent || !state.unsent) tell([`${sent} taps went to the desk.`, ...doubts].join(" "));
  };
  const files = state.walks.map((walk) => button(`Save a file: ${walk.stands.map((stand) => stand.stand).join(", ")}`, () => trouble(() => save(walk)), { kind: "wide" }));
  const shown = state.walks.map((walk) => button(`Show as codes: ${walk.stands.map((stand) => stand.stand).join(", ")}`, () => trouble(() => asCodes(walk)), { kind: "wide" }));
  show({
    head: head("Send or save"),
    main: [
      line("Sending needs the desk in reach. A file goes by cable, card or mail. Codes on the screen are photographed one by one and the pictures taken in at the desk, under Walks. All may be done, in any order, again and again."),
      button("Send to the desk", send, { kind: "wide go", under: `${state.unsent} not sent` }),
      ...files,
      ...shown,
    ],
    foot: [button("Back", today)],
  });
}

// A tally as codes, one after another: the desk needs all of a series.
async function asCodes(walk) {
  const texts = await codes.series(walk);
  const at = (number) => {
    const canvas = codes.drawn(texts[number], Math.min(document.documentElement.clientWidth, 700) - 24);
    canvas.setAttribute("role", "img");
    canvas.setAttribute("aria-label", `Code ${number + 1} of ${texts.length}`);
    canvas.dataset.text = texts[number];
    show({
      head: head(`Code ${number + 1} of ${texts.length}`),
      main: [make("div", { class: "code" }, canvas), line("Photograph every code of the series, then take the pictures in at the desk, under Walks. Half a series is refused there, and nothing is lost here.")],
      foot: [
        button("Back", sendOrSave), button("Code before", () => at(number - 1), { disabled: number === 0 }),
        button("Next code", () => at(number + 1), { kind: "go", disabled: number === texts.length - 1 }),
      ],
    });
  };
  at(0);
}

async function save(walk) {
  const file = await carry.file(walk);
  if (navigator.canShare?.({ files: [file] }) && navigator.maxTouchPoints > 0) {
    try {
      await navigator.share({ files: [file] });
      return tell("The file was handed on. The taps stay on the phone until the desk has them.");
    } catch {
      // Not shared: it is saved instead.
    }
  }
  const address = URL.createObjectURL(file);
  make("a", { href: address, download: file.name }).click();
  setTimeout(() => URL.revokeObjectURL(address), 60000);
  return tell(`Saved as ${file.name}. The taps stay on the phone until the desk has them.`);
}

// What this phone can do here, and what to do where it cannot.
async function phone() {
  const offline = document.documentElement.dataset.offline === "ready";
  const lasting = await navigator.storage?.persisted?.();
  const room = await navigator.storage?.estimate?.();
  const place = await navigator.permissions?.query?.({ name: "geolocation" }).catch(() => null);
  const waiting = (await navigator.serviceWorker?.getRegistration?.())?.waiting;
  const tests = [
    ["Safe address", window.isSecureContext, "Open the kit by https with the office's authority trusted on this phone, or by cable as localhost. Never by plain http."],
    ["Starts without signal", offline, "Open the kit once more with the desk in reach, by a safe address, and wait until this says yes."],
    ["Storage made lasting", lasting, "Put the kit on the home screen and use it from there; send or save every day. The browser may clear it otherwise."],
    ["Place by satellites", place?.state !== "denied", "Allow the place for this page in the phone's settings. The tally works without it."],
  ];
  const set = (name, value) => async () => {
    await store.keepSetting(name, value);
    await applyLook();
    await phone();
  };
  const dark = document.documentElement.dataset.theme === "dark";
  show({
    head: head("This phone", `phone ${state.device}`),
    main: [
      ...tests.map(([name, ok, todo]) => make("div", {}, line(`${name}: ${ok ? "yes" : "no"}`, ok ? "" : "stop"), ok ? null : line(todo))),
      room ? line(`Room left: ${Math.round((room.quota - room.usage) / 1e6)} MB`) : null,
      waiting
        ? button("Take the new version of the kit", () => letIn(waiting), { kind: "wide", disabled: state.unsent > 0, under: state.unsent ? "send first" : "" })
        : null,
      grid(
        button("Sun", set("theme", "sun"), { pressed: !dark }), button("Dusk", set("theme", "dark"), { pressed: dark }),
        button(state.sound ? "Tone and shake are on" : "Tone and shake are off", set("sound", state.sound ? "off" : "on"), { pressed: state.sound }),
      ),
    ],
    foot: [button("Back", today)],
  });
}

function letIn(waiting) {
  navigator.serviceWorker.addEventListener("controllerchange", () => location.reload(), { once: true });
  waiting.postMessage("let in");
}
