// What the phone keeps: walks, taps, its own name and numbers. A tap is on the disk before it is answered.
import { openDB } from "./idb.js";

const STRICT = { durability: "strict" };
let opened;

function db() {
  opened ??= openDB("overwood-woods", 2, {
    upgrade(made, from) {
      if (from < 1) {
        made.createObjectStore("walks", { keyPath: "walk" });
        const taps = made.createObjectStore("taps", { keyPath: "id" });
        taps.createIndex("walk", "walk");
        taps.createIndex("unsent", ["walk", "unsent"]);
        made.createObjectStore("settings");
      }
      const photos = made.createObjectStore("photos", { keyPath: "id" });
      photos.createIndex("walk", "walk");
      photos.createIndex("unsent", ["walk", "unsent"]);
      photos.createIndex("place", ["walk", "visit", "point"]);
    },
    // A newer kit in another page wants to change the stores: this page lets it.
    blocking: (_old, _new, event) => event.target.close(),
  });
  return opened;
}

// An identifier whose first 48 bits are the time (RFC 9562, version 7); randomUUID is refused outside secure contexts.
export function identifier(now = Date.now()) {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  for (let place = 0; place < 6; place++) bytes[place] = Math.floor(now / 2 ** (8 * (5 - place))) % 256;
  bytes[6] = (bytes[6] & 0x0f) | 0x70;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  return [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

// The phone's own time with its distance from UTC, so that the day is the day in the woods.
export function localTime(when = new Date()) {
  const minutes = -when.getTimezoneOffset();
  const two = (number) => String(Math.floor(Math.abs(number))).padStart(2, "0");
  const local = new Date(when.getTime() + minutes * 60000).toISOString().slice(0, 19);
  return `${local}${minutes < 0 ? "-" : "+"}${two(minutes / 60)}:${two(minutes % 60)}`;
}

export async function device() {
  const base = await db();
  const change = base.transaction("settings", "readwrite", STRICT);
  let name = await change.store.get("device");
  if (!name) {
    name = identifier().slice(-6);
    await change.store.put(name, "device");
  }
  await change.done;
  return name;
}

// Whether nothing was ever kept here: the phone gives itself a name at the first start.
export const isNew = async () => !(await setting("device"));

// The last number given stands in a second room too: where an older copy comes back, no number is given twice, which a receipt would take for held.
const numberRoom = (walk) => `overwood-woods last ${walk}`;

function lastElsewhere(walk, given) {
  try {
    if (given) localStorage.setItem(numberRoom(walk), given);
    return Number(localStorage.getItem(numberRoom(walk))) || 0;
  } catch {
    return 0;
  }
}

// Puts a copy of a walk back, all of it or nothing: numbers go on where they stood.
export async function restore({ device: name, last, walk, taps: copied, photos: pictures }) {
  const base = await db();
  const change = base.transaction(["walks", "taps", "photos", "settings"], "readwrite", STRICT);
  const settings = change.objectStore("settings");
  change.objectStore("walks").put(walk);
  for (const tap of copied) change.objectStore("taps").put(tap);
  for (const photo of pictures) change.objectStore("photos").put(photo);
  settings.put(Math.max(last, lastElsewhere(walk.walk)), `last ${walk.walk}`);
  settings.put(name, "device");
  await change.done;
}

export const setting = async (name) => (await db()).get("settings", name);
export const keepSetting = async (name, value) => (await db()).put("settings", value, name);
export const walks = async () => (await db()).getAll("walks");
export const taps = async (walk) => (await (await db()).getAllFromIndex("taps", "walk", walk)).sort((a, b) => a.seq - b.seq);
export const unsent = async (walk) => (await (await db()).getAllFromIndex("taps", "unsent", [walk, 1])).sort((a, b) => a.seq - b.seq);
export const lastNumber = async (walk) => (await setting(`last ${walk}`)) || 0;

export const trackOf = async (walk) => (await setting(`track ${walk}`)) || [];
export const keepTrack = (walk, way) => keepSetting(`track ${walk}`, way);

export async function keepWalk(walk) {
  const base = await db();
  const change = base.transaction("walks", "readwrite", STRICT);
  await change.store.put(walk);
  await change.done;
}

// Adds taps together: all of them are on the disk, or none. `things` are {act, table, row, of, since}.
export async function add(walk, things) {
  const own = await device();
  const base = await db();
  const change = base.transaction(["taps", "settings"], "readwrite", STRICT);
  const settings = change.objectStore("settings");
  let seq = (await settings.get(`last ${walk}`)) || 0;
  const added = [];
  for (const thing of things) {
    seq += 1;
    const row = typeof thing.row === "function" ? thing.row(`${own}-${seq}`) : thing.row;
    // What takes the place of an earlier record keeps its time in the identifier, and so its place among the others.
    const id = identifier(thing.since ? Number.parseInt(thing.since.slice(0, 12), 16) : Date.now());
    const tap = { id, walk, device: own, seq, at: localTime(), unsent: 1, act: thing.act, table: thing.table || "", row: row || {}, of: thing.of || null };
    change.objectStore("taps").add(tap);
    added.push(tap);
  }
  settings.put(seq, `last ${walk}`);
  await change.done;
  lastElsewhere(walk, seq);
  return added;
}

export const photos = async (walk) => (await db()).getAllFromIndex("photos", "walk", walk);
export const unsentPhotos = async (walk) => (await db()).getAllFromIndex("photos", "unsent", [walk, 1]);

// Walk, visit and plot of every photo, without reading the photos.
export async function photoPlaces() {
  const places = [];
  const kept = (await db()).transaction("photos").store.index("place");
  for (let at = await kept.openKeyCursor(); at; at = await at.continue()) places.push(at.key);
  return places;
}

export const photosHere = async (walk) => (await db()).countFromIndex("photos", "walk", walk);
export const photosWaiting = async (walk) => (await db()).countFromIndex("photos", "unsent", [walk, 1]);

export async function addPhoto(walk, visit, point, jpeg) {
  const own = await device();
  const base = await db();
  const change = base.transaction("photos", "readwrite", STRICT);
  change.store.add({ id: identifier(), walk, device: own, at: localTime(), unsent: 1, visit, point, jpeg });
  await change.done;
}

// Takes the last photo of a plot back while it was not sent; false where none waits there.
export async function dropPhoto(walk, visit, point) {
  const base = await db();
  const change = base.transaction("photos", "readwrite", STRICT);
  const last = (await change.store.index("place").getAllKeys([walk, visit, point])).sort().at(-1);
  const waits = last !== undefined && (await change.store.get(last)).unsent === 1;
  if (waits) await change.store.delete(last);
  await change.done;
  return waits;
}

// Takes a walk off the phone, once the desk holds all that was tapped and photographed; false where it does not.
export async function forget(walk) {
  const base = await db();
  const change = base.transaction(["walks", "taps", "photos", "settings"], "readwrite", STRICT);
  const [taps, pictures] = [change.objectStore("taps"), change.objectStore("photos")];
  const waiting = (await taps.index("unsent").count([walk, 1])) + (await pictures.index("unsent").count([walk, 1]));
  if (!waiting) {
    for (const kept of [taps, pictures]) for (const key of await kept.index("walk").getAllKeys(walk)) kept.delete(key);
    change.objectStore("walks").delete(walk);
    change.objectStore("settings").delete(`track ${walk}`);
  }
  await change.done;
  return !waiting;
}

// Marks what the desk says it holds of this phone: spans of numbers of its taps, and identifiers of photos.
export async function takeReceipt(walk, { taps = {}, photos: pictures = [] }) {
  const spans = taps[await device()] || [];
  const held = (await unsent(walk)).filter((tap) => spans.some(([first, last]) => tap.seq >= first && tap.seq <= last));
  await markHeld(held.map((tap) => tap.id));
  await markHeld(pictures, "photos");
}

export async function markHeld(ids, kind = "taps") {
  const base = await db();
  const change = base.transaction(kind, "readwrite", STRICT);
  for (const id of ids) {
    const tap = await change.store.get(id);
    if (tap && tap.unsent) await change.store.put({ ...tap, unsent: 0 });
  }
  await change.done;
}
