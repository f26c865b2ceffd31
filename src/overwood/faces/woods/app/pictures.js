// Small pictures in lines, for what is told in words beside them.
const SPACE = "http://www.w3.org/2000/svg";
const PHONE = "M22 6h20a4 4 0 0 1 4 4v44a4 4 0 0 1-4 4H22a4 4 0 0 1-4-4V10a4 4 0 0 1 4-4Z M29 52h6";
const LINES = {
  // A lock; a phone without waves; a store of three layers; a pin on the ground.
  safe: "M14 28h36v28H14Z M22 28v-8a10 10 0 0 1 20 0v8 M32 38v8",
  offline: `${PHONE} M26 30l12-12 M26 18l12 12`,
  lasting: "M12 16a20 7 0 0 0 40 0a20 7 0 0 0-40 0v32a20 7 0 0 0 40 0V16 M12 32a20 7 0 0 0 40 0",
  place: "M32 50C22 38 18 31 18 24a14 14 0 0 1 28 0c0 7-4 14-14 26Z M32 20a4 4 0 1 1 0 8a4 4 0 1 1 0-8 M16 58h32",
};
const ANSWER = { true: "M44 50l6 6l10-14", false: "M46 44l14 14 M60 44l-14 14" };

// The picture is an ornament to screen readers: the words say the same.
export function picture(key, holds) {
  const made = document.createElementNS(SPACE, "svg");
  for (const [name, value] of Object.entries({ viewBox: "0 0 64 64", width: 72, height: 72, "aria-hidden": "true", class: holds ? "" : "stop" })) made.setAttribute(name, value);
  for (const drawn of [LINES[key], ANSWER[holds]]) {
    const line = document.createElementNS(SPACE, "path");
    line.setAttribute("d", drawn);
    made.append(line);
  }
  return made;
}
