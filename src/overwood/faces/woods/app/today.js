// The first screen, walks down, taps up.
import * as carry from "./carry.js";
import * as codes from "./codes.js";
import { copyBeside, forget } from "./copy.js";
import * as store from "./store.js";
import { button, heading, line, make, picker, show, tell } from "./dom.js";
import { head, refresh, state } from "./kit.js";
import { pointsDone, standing } from "./fold.js";
import { points } from "./points.js";
import { phone } from "./phone.js";
import { t } from "./say.js";
import { sighting } from "./seen.js";

export async function today() {
  state.walk = null;
  await refresh();
  const cards = [];
  for (const walk of state.walks) cards.push(...(await walkCards(walk)));
  show({
    head: head(t("today"), t("this is phone", { device: state.device })),
    main: [
      t("reviewed") ? line(t("reviewed")) : null,
      state.old ? line(t("unsent a day", { n: state.old }), "stop") : null,
      ...(cards.length ? cards : [line(t("no walk"))]),
    ],
    foot: [button(t("load"), load), button(t("send or save"), sendOrSave, { kind: "go" }), button(t("this phone"), phone)],
  });
}

const stands = (walk) => walk.stands.map((stand) => stand.stand).join(", ");

async function walkCards(walk) {
  const taps = standing(await store.taps(walk.walk));
  const cards = [];
  if (carry.isOver(walk)) cards.push(line(t("walk over", { made: walk.made_on, ended: walk.expires_on }), "stop"));
  // Such a clock would put what is tapped on a day before the walk was made.
  if (carry.isBefore(walk)) cards.push(line(t("clock before", { made: walk.made_on, day: store.localTime().slice(0, 10) }), "stop"));
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
      return button(t(`kind ${visit.kind}`), () => open(() => points(stand, visit)), { kind: "wide", under: t("of done", { done, all: Math.max(all, done) }) });
    });
    rows.push(button(t("seen on the way"), () => open(() => sighting(stand, today)), { kind: "wide" }));
    cards.push(make("div", { class: "rows" }, rows));
  }
  return cards;
}

const places = (visit) => (visit.acorn_trees.length ? visit.acorn_trees : visit.points);

const faultWords = (fault) => (fault instanceof carry.Trouble ? fault.message : t("nothing lost", { fault: fault?.message || fault }));

async function trouble(act) {
  try {
    return await act();
  } catch (fault) {
    tell(faultWords(fault));
    return null;
  }
}

async function keep({ held, digest, ...walk }) {
  await store.keepWalk(walk);
  // A walk written anew says what the desk holds: the receipt of a phone that hands over files only.
  if (held) await store.takeReceipt(walk.walk, held);
  await copyBeside(walk);
  await today();
  tell(t(carry.isOver(walk) ? "walk loaded over" : "walk loaded", { stands: stands(walk), until: walk.expires_on }));
}

async function load() {
  const { input: file, shown } = picker(t("from file"), { id: "walk-file", accept: ".json,application/json" });
  file.addEventListener("change", () => trouble(async () => file.files[0] && keep(await carry.readWalk(await file.files[0].text()))));
  const list = make("div", { class: "rows", id: "desk-walks" });
  const ask = async () => {
    const answer = await trouble(carry.door);
    if (!answer) return;
    const lines = answer.walks.map((walk) =>
      button(walk.stands.join(", "), () => trouble(async () => keep(await carry.fetchWalk(walk.walk))), { kind: "wide", under: `${walk.walk.slice(0, 8)}, ${t("until", { until: walk.expires_on })}` }),
    );
    const clock = carry.clockWords(answer.now);
    list.replaceChildren(...(clock ? [line(clock, "stop")] : []), ...(lines.length ? lines : [line(t("desk has none"))]));
  };
  show({
    head: head(t("load")),
    main: [button(t("from desk"), ask, { kind: "wide" }), list, shown],
    foot: [button(t("back"), today)],
  });
}

async function send() {
  tell(t("sending"));
  const [went, doubts] = [{ sent: 0, photos: 0 }, []];
  // A walk that the desk refuses keeps no other from being sent.
  for (const walk of state.walks) {
    try {
      const done = await carry.send(walk);
      went.sent += done.sent;
      went.photos += done.photos;
      doubts.push(...done.doubts);
    } catch (fault) {
      const words = faultWords(fault);
      if (!doubts.includes(words)) doubts.push(words);
      if (!fault.refused) break;
    }
  }
  if (went.sent || !doubts.length) doubts.unshift(t("went", { n: went.sent }));
  if (went.photos) doubts.splice(1, 0, t("photos went", { n: went.photos }));
  // What the desk holds needs no copy here.
  state.walks.map(copyBeside);
  await refresh();
  await sendOrSave();
  tell(doubts.join(" "));
}

async function sendOrSave() {
  const each = (key, act, some = state.walks) => some.map((walk) => button(t(key, { stands: stands(walk) }), () => trouble(() => act(walk)), { kind: "wide" }));
  const pictured = state.walks.filter((walk) => state.photos.some((place) => place[0] === walk.walk));
  const tally = async (walk) => {
    await save(await carry.file(walk));
    const beside = await store.photosWaiting(walk.walk);
    if (beside) tell(`${document.getElementById("told").textContent} ${t("photos beside", { n: beside })}`);
  };
  show({
    head: head(t("send or save")),
    main: [
      line(t("ways")),
      button(t("send"), send, { kind: "wide go", under: t("unsent", { n: state.unsent }) }),
      ...each("save file", tally),
      ...each("save photos", async (walk) => save(...(await carry.photoFiles(walk))), pictured),
      ...each("show codes", asCodes),
      ...(await finished()),
    ],
    foot: [button(t("back"), today)],
  });
}

// Walks of which the desk holds everything may be taken off the phone, by two taps.
async function finished() {
  const buttons = [];
  for (const walk of state.walks) {
    const waiting = (await store.unsent(walk.walk)).length + (await store.photosWaiting(walk.walk));
    if (waiting) continue;
    let sure = false;
    const off = async () => {
      if (!sure) {
        sure = true;
        made.textContent = t("forget sure", { stands: stands(walk) });
        return;
      }
      const gone = await forget(walk);
      await today();
      if (gone) tell(t("forgot"));
    };
    const made = button(t("forget", { stands: stands(walk) }), off, { kind: "wide" });
    buttons.push(made);
  }
  return buttons;
}

// A tally as codes, one after another: the desk needs all of a series.
async function asCodes(walk) {
  const texts = await codes.series(walk);
  const pictures = await store.photosWaiting(walk.walk);
  const at = (number) => {
    const canvas = codes.drawn(texts[number], Math.min(document.documentElement.clientWidth, 700) - 24);
    const title = t("code of", { n: number + 1, all: texts.length });
    canvas.setAttribute("role", "img");
    canvas.setAttribute("aria-label", title);
    canvas.dataset.text = texts[number];
    show({
      head: head(title),
      main: [make("div", { class: "code" }, canvas), pictures ? line(t("codes no photos", { n: pictures }), "stop") : null, line(t("photograph codes"))],
      foot: [
        button(t("back"), sendOrSave), button(t("code before"), () => at(number - 1), { disabled: number === 0 }),
        button(t("code next"), () => at(number + 1), { kind: "go", disabled: number === texts.length - 1 }),
      ],
    });
  };
  at(0);
}

async function save(...files) {
  if (navigator.canShare?.({ files }) && navigator.maxTouchPoints > 0) {
    try {
      await navigator.share({ files });
      return tell(t("handed on"));
    } catch {
      // Not shared: it is saved instead.
    }
  }
  for (const file of files) {
    const address = URL.createObjectURL(file);
    make("a", { href: address, download: file.name }).click();
    setTimeout(() => URL.revokeObjectURL(address), 60000);
  }
  return tell(t("saved as", { name: files.map((file) => file.name).join(", ") }));
}
