// The points of a visit: which are done, where they are, how to get there.
import { button, line, make, show, tell } from "./dom.js";
import { head, state } from "./kit.js";
import { pointsDone, standing } from "./fold.js";
import { acornTrees } from "./acorns.js";
import { countsBefore } from "./before.js";
import { draw } from "./map.js";
import { bearing, course, distanceFt, magnetic, turn, watch } from "./place.js";
import { plot } from "./plot.js";
import { t } from "./say.js";
import { today } from "./today.js";
import { keepTrack, trackOf } from "./store.js";
import { verdict } from "./trees.js";
import { amount, onFoot } from "./units.js";

// A day's own track is long: it keeps a fix where one has gone on so far, and the oldest go first.
const [MOST_FIXES, STEP_FT] = [3000, 30];
let stop = null;
let here = null;
// The way gone on a walk, found again after the kit was closed; and the fixes since one looks for the way, which tell the course.
let track = { walk: "", way: [] };
let fixes = [];

export const order = (visit, taps) => {
  const planned = visit.points.map((point) => point.point);
  return [...planned, ...[...pointsDone(taps, visit.visit)].filter((point) => !planned.includes(point))];
};

// "52 yd, 84° by compass, turn right 30°" from where the phone is; "" where it or the point has no place. No compass is needed: one's own
// course over the ground says how far to turn.
export function way(point) {
  if (!here || point?.lat === null || point?.lat === undefined) return "";
  const toward = bearing(here, point);
  const declination = state.walk.declination_deg;
  const deg = declination === null ? t("true", { deg: Math.round(toward) % 360 }) : t("by compass", { deg: Math.round(magnetic(toward, declination)) % 360 });
  return [t("way", { far: onFoot(distanceFt(here, point)), deg }), turning(course(fixes), toward)].filter(Boolean).join(", ");
}

function turning(going, toward) {
  if (going === null) return "";
  const by = turn(going, toward);
  if (Math.abs(by) < 10) return t("way straight");
  if (Math.abs(by) > 150) return t("way back");
  return t(by > 0 ? "way right" : "way left", { deg: Math.round(Math.abs(by) / 10) * 10 });
}

function follow(stand, visit) {
  tell(t("looking"));
  fixes = [];
  stop = watch((fix) => {
    here = fix;
    fixes = [...fixes, fix].slice(-MOST_FIXES);
    const told = document.getElementById("told");
    if (told.textContent === t("looking")) tell("");
    for (const label of document.querySelectorAll("[data-way]")) label.textContent = way(placeOf(visit, label.dataset.way));
    const place = document.getElementById("here");
    if (place) place.textContent = t("your place", { far: amount(fix.accuracy * 3.28084, "ft") });
    if (walked(fix)) keepTrack(track.walk, track.way).catch(() => {});
    drawn(stand, visit);
  }, tell);
}

// Whether the fix goes on the track: one has gone on since the last.
function walked(fix) {
  const last = track.way.at(-1);
  if (last && distanceFt(last, fix) < STEP_FT) return false;
  track.way = [...track.way, fix].slice(-MOST_FIXES);
  return true;
}

// Where a plot lies: as the phone took its place, else as it was planned.
export function placeOf(visit, point) {
  const row = standing(state.taps).find((tap) => tap.table === "points" && tap.row.visit === visit.visit && tap.row.point === point)?.row;
  if (row?.longitude_deg) return { point, lon: Number(row.longitude_deg), lat: Number(row.latitude_deg) };
  return find(visit, point);
}

function drawn(stand, visit) {
  const taps = standing(state.taps);
  const placed = order(visit, taps).map((point) => placeOf(visit, point)).filter((place) => place && place.lat !== null);
  draw(document.getElementById("map"), { outline: stand.outline, placed, done: pointsDone(taps, visit.visit), here, track: track.way });
}

function unfollow() {
  stop?.();
  stop = null;
}

export async function points(stand, visit) {
  if (visit.kind === "acorn") return acornTrees(stand, visit);
  if (track.walk !== state.walk.walk) track = { walk: state.walk.walk, way: await trackOf(state.walk.walk) };
  const taps = standing(state.taps);
  const done = pointsDone(taps, visit.visit);
  const all = order(visit, taps);
  const next = all.find((point) => !done.has(point));
  const followed = () => {
    if (stop) unfollow();
    else follow(stand, visit);
    return points(stand, visit);
  };
  const rows = all.map((point) => {
    const under = done.has(point) ? t("done under", { what: count(taps, visit, point) }) : countsBefore(visit, point);
    const made = button(t("plot", { point }), () => plot(stand, visit, point), { kind: "wide", under });
    made.append(make("span", { "data-way": point }, way(placeOf(visit, point))));
    return made;
  });
  show({
    head: head(t(`kind ${visit.kind}`), `${stand.stand}, ${t("of done", { done: done.size, all: all.length })}`),
    main: [
      ...(visit.check ? verdict(visit, null) : []),
      make("canvas", { id: "map", width: 640, height: 480, role: "img", "aria-label": t("map of", { stand: stand.stand }) }),
      make("p", { id: "here" }, here ? t("your place", { far: amount(here.accuracy * 3.28084, "ft") }) : ""),
      button(t(stop ? "stop way" : "show way"), followed, { kind: "wide" }),
      make("div", { class: "rows" }, rows),
      button(t("unlisted"), () => plot(stand, visit, unlisted(all)), { kind: "wide" }),
    ],
    foot: [button(t("back"), leave), next ? button(t("next plot", { point: next }), () => plot(stand, visit, next), { kind: "go" }) : null],
  });
  drawn(stand, visit);
}

function leave() {
  unfollow();
  return today();
}

const unlisted = (all) => String(1 + Math.max(0, ...all.map((point) => Number(point) || 0)));
export const find = (visit, point) => visit.points.find((one) => one.point === point);

function count(taps, visit, point) {
  const rows = taps.filter((tap) => tap.row.visit === visit.visit && tap.row.point === point && tap.table !== "points");
  return rows.length ? t("tallied", { n: rows.length }) : t("nothing there");
}
