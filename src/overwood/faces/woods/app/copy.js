// A second copy of walk, taps and the photos that the desk does not hold yet, beside the store, where the platform has a file room of its own.
import * as store from "./store.js";

const [COPY, PHOTO] = [".copy.json", ".photo.jpg"];
// Where the context is not secure there is none: that is a refusal like any other.
const room = async () => navigator.storage.getDirectory();
const photoName = ({ walk, id }) => `${walk}.${id}${PHOTO}`;

async function ours(files, walk) {
  const names = [];
  for await (const name of files.keys()) if (name.startsWith(`${walk}.`)) names.push(name);
  return names;
}

// A file is there whole or not at all, for it takes its name when it is closed.
async function write(files, name, content) {
  const stream = await (await files.getFileHandle(name, { create: true })).createWritable();
  await stream.write(content);
  await stream.close();
}

// One after another: an older copy never lands on a newer one. True where it was written.
let copying = Promise.resolve();

export function copyBeside(walk) {
  copying = copying.then(() => copied(walk)).catch(() => false);
  return copying;
}

async function copied(walk) {
  if (!(await store.walks()).some((one) => one.walk === walk.walk)) return false;
  const files = await room();
  const photos = await copiedPhotos(files, walk.walk);
  const [device, last, taps] = [await store.device(), await store.lastNumber(walk.walk), await store.taps(walk.walk)];
  await write(files, walk.walk + COPY, JSON.stringify({ device, last, walk, taps, photos: photos.map(({ jpeg, ...photo }) => photo) }));
  const kept = new Set(photos.map(photoName));
  for (const name of await ours(files, walk.walk)) if (name.endsWith(PHOTO) && !kept.has(name)) await files.removeEntry(name);
  return true;
}

// A photo never changes, so it is written once. One that finds no room keeps the taps from no copy.
async function copiedPhotos(files, walk) {
  const there = new Set(await ours(files, walk));
  const photos = [];
  for (const photo of await store.unsentPhotos(walk)) {
    try {
      if (!there.has(photoName(photo))) await write(files, photoName(photo), photo.jpeg);
      photos.push(photo);
    } catch {
      // It stays in the store alone, and among what was not sent.
    }
  }
  return photos;
}

// Takes a walk off the phone with its copy; false where the desk does not hold all of it.
export async function forget(walk) {
  const gone = await store.forget(walk.walk);
  // After the copy that may be under way, which would come back.
  await copying;
  if (gone) await room().then(async (files) => { for (const name of await ours(files, walk.walk)) await files.removeEntry(name); }).catch(() => {});
  return gone;
}

// Chromium goes on writing behind a record that a kill cut short, finds that at the start after the next one and begins an empty store: walks, taps and photos come back from the copies. How many came.
export async function bringBack() {
  const back = { taps: 0, photos: 0 };
  if (!(await store.isNew())) return back;
  try {
    const files = await room();
    const read = async (name) => (await files.getFileHandle(name)).getFile();
    const copies = [];
    for await (const name of files.keys()) if (name.endsWith(COPY)) copies.push(name);
    for (const name of copies) {
      const copy = JSON.parse(await (await read(name)).text());
      const photos = [];
      for (const photo of copy.photos || []) photos.push({ ...photo, jpeg: new Blob([await (await read(photoName(photo))).arrayBuffer()], { type: "image/jpeg" }) });
      await store.restore({ ...copy, photos });
      back.taps += copy.taps.length;
      back.photos += photos.length;
    }
  } catch {
    // No file room, or nothing in it: the store is new.
  }
  return back;
}
