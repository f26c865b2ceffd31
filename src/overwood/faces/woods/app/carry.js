// Carrying walks down and taps up: one JSON, by request or by file; photos go last.
import { t } from "./say.js";
import * as store from "./store.js";

const PAGE = 200;
const DIGEST = ', "digest": "';

export class Trouble extends Error {}

// A walk from the text of its file; a letter that slipped on the way shows by the digest at its end.
export async function readWalk(text) {
  const end = text.lastIndexOf(DIGEST);
  if (end > 0 && (await hex(text.slice(0, end))) !== text.slice(end + DIGEST.length).split('"')[0]) throw new Trouble(t("file damaged"));
  let walk;
  try {
    walk = JSON.parse(text);
  } catch {
    throw new Trouble(t("file damaged"));
  }
  if (walk?.overwood !== "walk" || !Array.isArray(walk.stands) || !walk.seal) throw new Trouble(t("file no walk"));
  if (walk.version !== 1) throw new Trouble(t("other version"));
  return walk;
}

export function isOver(walk, today = store.localTime().slice(0, 10)) {
  return today > walk.expires_on;
}

const bare = ({ id, seq, at, act, table, row, of }) => ({ id, seq, at, act, table, row, of });

const digest = (records) => hex(JSON.stringify(records));

async function hex(text) {
  const bytes = await crypto.subtle.digest("SHA-256", new TextEncoder().encode(text));
  return [...new Uint8Array(bytes)].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

async function message(kind, walk, records) {
  return {
    overwood: kind, version: 1, walk: walk.walk, seal: walk.seal, device: await store.device(),
    last: await store.lastNumber(walk.walk), now: new Date().toISOString().replace("Z", "+00:00"), digest: await digest(records), records,
  };
}

// The tally of some taps, as the desk takes it by every way.
export const tally = (walk, taps) => message("tally", walk, taps.map(bare));

export async function file(walk) {
  const all = await tally(walk, await store.taps(walk.walk));
  return new File([JSON.stringify(all)], `${walk.walk.slice(0, 8)}-${all.device}.tally.json`, { type: "application/json" });
}

function parsed(text) {
  try {
    return JSON.parse(text);
  } catch {
    return null;
  }
}

async function answered(response) {
  const text = await response.text();
  const said = parsed(text);
  if (response.ok && said) return { said, text };
  if (response.status === 401 || response.status === 403) throw new Trouble(t("desk strange"));
  throw new Trouble(said?.what ? `${said.what} ${said.remedy || ""}` : t("desk answered", { status: response.status }));
}

const ask = async (address, more) => (await asked(address, more)).said;

async function asked(address, more) {
  let response;
  try {
    response = await fetch(address, { redirect: "manual", ...more });
  } catch {
    throw new Trouble(t("no way to desk"));
  }
  if (response.type === "opaqueredirect") throw new Trouble(t("desk strange"));
  return answered(response);
}

export const door = () => ask("door.json");
export const fetchWalk = async (number) => readWalk((await asked(`walk/${number}.json`)).text);

// Sends what was not sent, page by page; the desk's answer says what it holds. Returns how many went, and the desk's doubts.
export async function send(walk) {
  const { token } = await door();
  const waiting = await store.unsent(walk.walk);
  const doubts = new Set();
  for (let start = 0; start < waiting.length; start += PAGE) {
    const body = JSON.stringify(await tally(walk, waiting.slice(start, start + PAGE)));
    const said = await ask("up", { method: "POST", body, headers: { "Content-Type": "application/json", "X-CSRFToken": token } });
    await store.markHeld(said.held);
    said.doubts.forEach((doubt) => doubts.add(doubt));
  }
  return { sent: waiting.length, photos: await sendPhotos(walk, token), doubts: [...doubts] };
}

// One at a time, because they are large; each is sent until the desk says that it holds it.
async function sendPhotos(walk, token) {
  const waiting = await store.unsentPhotos(walk.walk);
  for (const photo of waiting) {
    const said = await ask("up", { method: "POST", body: await photos(walk, [photo]), headers: { "Content-Type": "application/json", "X-CSRFToken": token } });
    await store.markHeld(said.held, "photos");
  }
  return waiting.length;
}

// Photos as the desk takes them by request and by file.
async function photos(walk, some) {
  const whole = await Promise.all(some.map(async ({ id, at, visit, point, jpeg }) => ({ id, at, visit, point, jpeg: await base64(jpeg) })));
  return JSON.stringify(await message("photos", walk, whole));
}

async function base64(blob) {
  const bytes = new Uint8Array(await blob.arrayBuffer());
  let text = "";
  for (let at = 0; at < bytes.length; at += 8192) text += String.fromCharCode(...bytes.subarray(at, at + 8192));
  return btoa(text);
}

export async function photoFile(walk) {
  const name = `${walk.walk.slice(0, 8)}-${await store.device()}.photos.json`;
  return new File([await photos(walk, await store.photos(walk.walk))], name, { type: "application/json" });
}

// A second copy beside the records, where the platform has a file room of its own; true where it was written.
export async function copyBeside(walk) {
  try {
    const room = await navigator.storage.getDirectory();
    const place = await room.getFileHandle(`${walk.walk}.tally.json`, { create: true });
    const stream = await place.createWritable();
    await stream.write(await file(walk));
    await stream.close();
    return true;
  } catch {
    return false;
  }
}
