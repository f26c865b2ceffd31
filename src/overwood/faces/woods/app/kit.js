// The kit: which screen is shown, what is always in sight, and what happens on each tap.
import { bringBack, copyBeside } from "./copy.js";
import * as store from "./store.js";
import { make, tell } from "./dom.js";
import { speak, t } from "./say.js";
import { today } from "./today.js";

export const state = { walks: [], walk: null, taps: [], photos: [], unsent: 0, old: 0, device: "", sound: true };

export async function refresh() {
  state.walks = await store.walks();
  state.device ||= await store.device();
  if (state.walk) state.taps = await store.taps(state.walk.walk);
  const waiting = [];
  for (const walk of state.walks) waiting.push(...(await store.unsent(walk.walk)), ...(await store.unsentPhotos(walk.walk)));
  state.unsent = waiting.length;
  state.photos = await store.photoPlaces();
  const yesterday = new Date(Date.now() - 24 * 3600000).getTime();
  state.old = waiting.filter((one) => new Date(one.at).getTime() < yesterday).length;
}

// Stores taps, then answers: a shake, a tone, a line, and the screen anew. `things` may be a function that makes them from what stands
// when their turn comes: two buttons tapped at once must not open a plot twice, nor number two trees alike.
let turn = Promise.resolve();

export function put(things, words) {
  // The walk of the moment of the tap, whichever screen is shown when its turn comes.
  const { walk } = state.walk;
  turn = turn.then(() => kept(walk, things, words));
  return turn;
}

// Once nobody has tapped for a moment the second copy follows; no tap waits for it.
const PAUSE_MS = 1000;
let pause;

function copySoon(walk) {
  clearTimeout(pause);
  pause = setTimeout(() => state.walks.filter((one) => one.walk === walk).map(copyBeside), PAUSE_MS);
}

async function kept(walk, given, words) {
  let added;
  try {
    const things = typeof given === "function" ? given() : given;
    if (!things.length) return [];
    added = await store.add(walk, things);
  } catch (fault) {
    const full = fault?.name === "QuotaExceededError";
    tell(full ? t("storage full") : t("not kept", { fault: fault?.message || fault }));
    return null;
  }
  copySoon(walk);
  state.taps.push(...added);
  state.unsent += added.length;
  if (state.sound) answer();
  if (words) tell(words);
  return added;
}

let tones;

function answer() {
  navigator.vibrate?.(30);
  try {
    tones ??= new AudioContext();
    const tone = tones.createOscillator();
    const loud = tones.createGain();
    loud.gain.value = 0.05;
    tone.frequency.value = 880;
    tone.connect(loud).connect(tones.destination);
    tone.start();
    tone.stop(tones.currentTime + 0.05);
  } catch {
    // A phone without tones tallies as well.
  }
}

export function head(title, under) {
  return [make("h1", {}, title), make("div", { id: "unsent" }, t("unsent", { n: state.unsent })), under ? make("div", { class: "under" }, under) : ""];
}

export async function applyLook() {
  document.documentElement.dataset.theme = (await store.setting("theme")) || "sun";
  speak(await store.setting("language"));
  state.sound = (await store.setting("sound")) !== "off";
}

// Two pages of the kit would number trees alike: the second waits until the first is closed.
function alone() {
  if (!navigator.locks) return Promise.resolve();
  return new Promise((granted) => {
    navigator.locks.request("overwood-woods", () => {
      granted();
      return new Promise(() => {});
    });
  });
}

// Another page that goes on, of this version or of an older one, keeps this one waiting: that is said.
const PATIENCE_MS = 3000;
const patience = () => setTimeout(() => document.getElementById("main").replaceChildren(make("p", { class: "stop" }, t("open twice"))), PATIENCE_MS);

async function begin() {
  const late = patience();
  try {
    await applyLook();
    await alone();
    clearTimeout(late);
    const back = await bringBack();
    await today();
    // What a killed page left is read for certain at its first start alone (bringBack says why).
    state.walks.map(copyBeside);
    await navigator.storage?.persist?.();
    if (back.taps + back.photos) tell(t("brought back", back));
  } catch (fault) {
    clearTimeout(late);
    document.getElementById("main").replaceChildren(make("p", { class: "stop" }, t("storage refused", { fault: fault?.message || fault })));
  }
  if ("serviceWorker" in navigator && window.isSecureContext) {
    try {
      await navigator.serviceWorker.register("worker.js", { scope: "./", updateViaCache: "none" });
      await navigator.serviceWorker.ready;
      document.documentElement.dataset.offline = "ready";
    } catch {
      document.documentElement.dataset.offline = "refused";
    }
  }
  document.documentElement.dataset.ready = "yes";
}

begin();
