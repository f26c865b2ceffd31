// The points of a visit: which are done, where they are, how to get there.
import { button, line, make, show, tell } from "./dom.js";
import { head, state } from "./kit.js";
import { pointsDone, standing } from "./fold.js";
import { bearing, distanceFt, magnetic, watch } from "./place.js";
import { acornTrees, plot } from "./plot.js";
import { today } from "./today.js";

let stop = () => {};
let here = null;

export function leaveWatch() {
  stop();
  stop = () => {};
}

export const order = (visit, taps) => {
  const planned = visit.points.map((point) => point.point);
  return [...planned, ...[...pointsDone(taps, visit.visit)].filter((point) => !planned.includes(point))];
};

// "52 yd, bearing 84°" from where the phone is; "" where it or the point has no place.
export function way(point) {
  if (!here || point?.lat === null || point?.lat === undefined) return "";
  const turn = bearing(here, point);
  const declination = state.walk.declination_deg;
  const needle = declination === null ? `${Math.round(turn) % 360}° true` : `${Math.round(magnetic(turn, declination)) % 360}° by compass`;
  return `${Math.round(distanceFt(here, point) / 3)} yd, ${needle}`;
}

export async function points(stand, visit) {
  if (visit.kind === "acorn") return acornTrees(stand, visit);
  const taps = standing(state.taps);
  const done = pointsDone(taps, visit.visit);
  const all = order(visit, taps);
  const next = all.find((point) => !done.has(point));
  const follow = () => {
    leaveWatch();
    stop = watch(
      (fix) => {
        here = fix;
        for (const label of document.querySelectorAll("[data-way]")) label.textContent = way(find(visit, label.dataset.way));
        draw(stand, visit, done);
      },
      tell,
    );
    tell("Looking for the place …");
  };
  const rows = all.map((point) => {
    const made = button(`Plot ${point}`, () => open(stand, visit, point), { kind: "wide", under: done.has(point) ? `done, ${count(taps, visit, point)}` : before(visit, point) });
    made.append(make("span", { "data-way": point }, way(find(visit, point))));
    return made;
  });
  show({
    head: head(visit.kind, `${stand.stand}, ${done.size} of ${all.length} done`),
    main: [
      visit.points.some((point) => point.lat !== null) ? make("canvas", { id: "map", width: 640, height: 480, role: "img", "aria-label": `Map of ${stand.stand} with its plots` }) : null,
      here ? line(`Your place, within ${Math.round(here.accuracy * 3.28084)} ft.`) : null,
      button("Show the way from here", follow, { kind: "wide" }),
      make("div", { class: "rows" }, rows),
      button("A plot that is not listed", () => open(stand, visit, unlisted(all)), { kind: "wide" }),
    ],
    foot: [button("Back", leave), next ? button(`Next: plot ${next}`, () => open(stand, visit, next), { kind: "go" }) : null],
  });
  draw(stand, visit, done);
}

function leave() {
  leaveWatch();
  return today();
}

const open = (stand, visit, point) => plot(stand, visit, point);
const unlisted = (all) => String(1 + Math.max(0, ...all.map((point) => Number(point) || 0)));
export const find = (visit, point) => visit.points.find((one) => one.point === point);

function count(taps, visit, point) {
  const rows = taps.filter((tap) => tap.row.visit === visit.visit && tap.row.point === point && tap.table !== "points");
  return rows.length ? `${rows.length} tallied` : "nothing there";
}

export function before(visit, point) {
  const old = visit.before[point];
  if (!old) return "";
  const said = Object.entries(old).map(([name, stems]) => `${stems} ${name}`);
  return `${visit.before_on}: ${said.length ? said.join(", ") : "nothing there"}`;
}

function draw(stand, visit, done) {
  const canvas = document.getElementById("map");
  if (!canvas) return;
  const style = getComputedStyle(document.documentElement);
  const [ink, paper, go] = ["--ink", "--paper", "--go"].map((name) => style.getPropertyValue(name).trim());
  const placed = visit.points.filter((point) => point.lat !== null);
  const near = here && placed.some((point) => distanceFt(here, point) < 15000) ? [[here.lon, here.lat]] : [];
  const all = [...stand.outline.flat(), ...placed.map((point) => [point.lon, point.lat]), ...near];
  const [west, east, south, north] = [Math.min(...all.map((p) => p[0])), Math.max(...all.map((p) => p[0])), Math.min(...all.map((p) => p[1])), Math.max(...all.map((p) => p[1]))];
  const narrow = Math.cos(((south + north) / 2) * (Math.PI / 180));
  const scale = Math.min(580 / Math.max((east - west) * narrow, 1e-6), 420 / Math.max(north - south, 1e-6));
  const at = ([lon, lat]) => [320 + (lon - (west + east) / 2) * narrow * scale, 240 - (lat - (south + north) / 2) * scale];
  const pen = canvas.getContext("2d");
  pen.fillStyle = paper;
  pen.fillRect(0, 0, 640, 480);
  pen.lineWidth = 4;
  pen.strokeStyle = ink;
  for (const ring of stand.outline) {
    pen.beginPath();
    ring.forEach((corner, place) => (place ? pen.lineTo(...at(corner)) : pen.moveTo(...at(corner))));
    pen.closePath();
    pen.stroke();
  }
  pen.font = "bold 22px system-ui, sans-serif";
  for (const point of placed) {
    const [x, y] = at([point.lon, point.lat]);
    pen.beginPath();
    pen.arc(x, y, 7, 0, 7);
    pen.fillStyle = done.has(point.point) ? go : paper;
    pen.fill();
    pen.stroke();
    pen.fillStyle = ink;
    pen.fillText(point.point, x + 10, y - 6);
  }
  if (near.length) {
    const [x, y] = at(near[0]);
    pen.beginPath();
    pen.moveTo(x - 14, y);
    pen.lineTo(x + 14, y);
    pen.moveTo(x, y - 14);
    pen.lineTo(x, y + 14);
    pen.stroke();
  }
}
