// Carrying walks down and taps up: one JSON, by request or by file; photos go last.
import { t } from "./say.js";
import * as store from "./store.js";

const PAGE = 200;
const DIGEST = ', "digest": "';

// Bytes of photos in one file: mail and the desk's door refuse what is much larger. Our own choice.
const FILE_BYTES = 12e6;
// A clock this far off would put a visit on a wrong day.
const CLOCK_HOURS = 6;

// What a person can act on; `refused` where the desk understood and said no, so that asking again does not help.
export class Trouble extends Error {
  constructor(words, refused = false) {
    super(words);
    this.refused = refused;
  }
}

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

// Whether the phone's clock stands before the day that the walk was made on.
export const isBefore = (walk, today = store.localTime().slice(0, 10)) => today < walk.made_on;

const bare = ({ id, seq, at, act, table, row, of }) => ({ id, seq, at, act, table, row, of });

const digest = (records) => hex(JSON.stringify(records));

async function hex(text) {
  const bytes = await crypto.subtle.digest("SHA-256", new TextEncoder().encode(text));
  return [...new Uint8Array(bytes)].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

async function message(kind, walk, records) {
  return {
    overwood: kind, version: 1, walk: walk.walk, seal: walk.seal, device: await store.device(),
    last: await store.lastNumber(walk.walk), pictures: await store.photosHere(walk.walk), now: new Date().toISOString().replace("Z", "+00:00"), digest: await digest(records), records,
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
  throw new Trouble(said?.what ? `${said.what} ${said.remedy || ""}` : t("desk answered", { status: response.status }), response.status === 400);
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

// What is said of the phone's clock beside the desk's; "" where they agree, or the desk does not say its time.
export function clockWords(now, mine = Date.now()) {
  const hours = (mine - Date.parse(now)) / 3600000;
  return Math.abs(hours) >= CLOCK_HOURS ? t("clock off", { hours: Math.round(hours) }) : "";
}

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
  const pictures = await sendPhotos(walk, token);
  return { sent: waiting.length, photos: pictures.sent, doubts: [...doubts, ...pictures.doubts] };
}

// One at a time, because they are large; each is sent until the desk says that it holds it. One that the desk refuses keeps none back.
async function sendPhotos(walk, token) {
  const went = { sent: 0, doubts: [] };
  for (const photo of await store.unsentPhotos(walk.walk)) {
    try {
      const said = await ask("up", { method: "POST", body: await photos(walk, [photo]), headers: { "Content-Type": "application/json", "X-CSRFToken": token } });
      await store.markHeld(said.held, "photos");
      went.sent += 1;
    } catch (fault) {
      if (!fault.refused) throw fault;
      went.doubts.push(fault.message);
    }
  }
  return went;
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

// Every photo of the walk, in as many files as keep each small enough to be handed on.
export async function photoFiles(walk) {
  const parts = [[]];
  let bytes = 0;
  for (const photo of await store.photos(walk.walk)) {
    bytes += photo.jpeg.size;
    if (bytes > FILE_BYTES && parts.at(-1).length) {
      parts.push([]);
      bytes = photo.jpeg.size;
    }
    parts.at(-1).push(photo);
  }
  const own = await store.device();
  const name = (at) => `${walk.walk.slice(0, 8)}-${own}${parts.length > 1 ? `-${at + 1}of${parts.length}` : ""}.photos.json`;
  return Promise.all(parts.map(async (some, at) => new File([await photos(walk, some)], name(at), { type: "application/json" })));
}
