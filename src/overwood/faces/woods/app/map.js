// The map of a visit: the stand's outline, its plots, one's own track and place.
import { distanceFt } from "./place.js";

const [WIDE, HIGH, ROOM] = [640, 480, 60];
// Farther off than this, one's own place would make the stand a dot.
const FARTHEST_FT = 15000;

// `placed` are the plots with a place, `track` the way gone so far.
export function draw(canvas, { outline, placed, done, here, track }) {
  if (!canvas) return;
  const corners = [...outline.flat(), ...placed.map((point) => [point.lon, point.lat])];
  const isNear = (place) => !corners.length || corners.some(([lon, lat]) => distanceFt(place, { lon, lat }) < FARTHEST_FT);
  const near = here && isNear(here) ? [[here.lon, here.lat]] : [];
  const own = track.filter(isNear).map((fix) => [fix.lon, fix.lat]);
  const all = [...corners, ...near, ...own];
  canvas.hidden = !all.length;
  canvas.dataset.track = own.length;
  canvas.dataset.plots = placed.length;
  if (all.length) onto(canvas.getContext("2d"), scaled(all), { outline, placed, done, near, own });
}

function onto(pen, at, { outline, placed, done, near, own }) {
  const style = getComputedStyle(document.documentElement);
  const [ink, paper, go, faint] = ["--ink", "--paper", "--go", "--line"].map((name) => style.getPropertyValue(name).trim());
  pen.fillStyle = paper;
  pen.fillRect(0, 0, WIDE, HIGH);
  pen.lineWidth = 4;
  for (const ring of outline) stroke(pen, ring.map(at), ink, true);
  stroke(pen, own.map(at), faint, false);
  pen.font = "bold 22px system-ui, sans-serif";
  for (const point of placed) mark(pen, at([point.lon, point.lat]), point.point, { ink, fill: done.has(point.point) ? go : paper });
  for (const place of near) cross(pen, at(place), ink);
}

// From longitude and latitude to the canvas, north up, as large as fits.
function scaled(all) {
  const [lons, lats] = [all.map((place) => place[0]), all.map((place) => place[1])];
  const [west, east, south, north] = [Math.min(...lons), Math.max(...lons), Math.min(...lats), Math.max(...lats)];
  const narrow = Math.cos(((south + north) / 2) * (Math.PI / 180));
  const scale = Math.min((WIDE - ROOM) / Math.max((east - west) * narrow, 1e-6), (HIGH - ROOM) / Math.max(north - south, 1e-6));
  return ([lon, lat]) => [WIDE / 2 + (lon - (west + east) / 2) * narrow * scale, HIGH / 2 - (lat - (south + north) / 2) * scale];
}

function stroke(pen, corners, color, closed) {
  pen.strokeStyle = color;
  pen.beginPath();
  corners.forEach(([x, y], place) => (place ? pen.lineTo(x, y) : pen.moveTo(x, y)));
  if (closed) pen.closePath();
  pen.stroke();
}

function mark(pen, [x, y], label, { ink, fill }) {
  pen.strokeStyle = ink;
  pen.beginPath();
  pen.arc(x, y, 7, 0, 7);
  pen.fillStyle = fill;
  pen.fill();
  pen.stroke();
  pen.fillStyle = ink;
  pen.fillText(label, x + 10, y - 6);
}

function cross(pen, [x, y], color) {
  stroke(pen, [[x - 14, y], [x + 14, y]], color, false);
  stroke(pen, [[x, y - 14], [x, y + 14]], color, false);
}
