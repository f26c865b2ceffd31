// A tally as a series of codes on the screen, for the desk's camera or a scanner: packed, cut into parts, each with its place in the series.
import { encode } from "./qr.js";
import * as carry from "./carry.js";
import * as store from "./store.js";

// Bytes of a code: 1,200 letters of RFC 9285, which a telephone's camera reads from a screen at arm's length. Our own choice.
const PART = 800;
const LETTERS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:";

// Bytes as letters of a code's own alphabet: two bytes are three letters, a last one is two (RFC 9285).
export function letters(bytes) {
  let text = "";
  for (let at = 0; at < bytes.length; at += 2) {
    const pair = at + 1 < bytes.length;
    let value = pair ? bytes[at] * 256 + bytes[at + 1] : bytes[at];
    for (let place = 0; place < (pair ? 3 : 2); place += 1) {
      text += LETTERS[value % 45];
      value = Math.floor(value / 45);
    }
  }
  return text;
}

async function packed(bytes) {
  if (!("CompressionStream" in globalThis)) return bytes;
  const stream = new Blob([bytes]).stream().pipeThrough(new CompressionStream("gzip"));
  return new Uint8Array(await new Response(stream).arrayBuffer());
}

// The texts of the series of a walk: WOODS1/mark/place/count/letters, the mark being the digest's first eight letters.
export async function series(walk) {
  const whole = await carry.tally(walk, await store.taps(walk.walk));
  const bytes = await packed(new TextEncoder().encode(JSON.stringify(whole)));
  const digest = new Uint8Array(await crypto.subtle.digest("SHA-256", bytes));
  const mark = [...digest.slice(0, 4)].map((byte) => byte.toString(16).padStart(2, "0")).join("").toUpperCase();
  const count = Math.max(1, Math.ceil(bytes.length / PART));
  return Array.from({ length: count }, (_, at) => `WOODS1/${mark}/${at + 1}/${count}/${letters(bytes.slice(at * PART, (at + 1) * PART))}`);
}

// One code drawn on a canvas, as wide as the screen allows, four modules of quiet around it (ISO/IEC 18004).
export function drawn(text, widest) {
  const code = encode(text, { ecc: "L", border: 4 });
  const scale = Math.max(2, Math.floor(widest / code.size));
  const canvas = document.createElement("canvas");
  canvas.width = canvas.height = code.size * scale;
  const pen = canvas.getContext("2d");
  pen.fillStyle = "#ffffff";
  pen.fillRect(0, 0, canvas.width, canvas.height);
  pen.fillStyle = "#000000";
  code.data.forEach((row, y) => row.forEach((dark, x) => dark && pen.fillRect(x * scale, y * scale, scale, scale)));
  return canvas;
}
