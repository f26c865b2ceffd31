// Finding a plot: distance, bearing, and a place from the best of many fixes. Works without a compass.
import { t } from "./say.js";

const EARTH_FT = 20902231; // mean radius 6,371.0088 km (IUGG), in feet
const RAD = Math.PI / 180;

export function distanceFt(from, to) {
  const up = (to.lat - from.lat) * RAD;
  const along = (to.lon - from.lon) * RAD;
  const a = Math.sin(up / 2) ** 2 + Math.cos(from.lat * RAD) * Math.cos(to.lat * RAD) * Math.sin(along / 2) ** 2;
  return 2 * EARTH_FT * Math.asin(Math.sqrt(a));
}

// Degrees from true north, 0 to 360.
export function bearing(from, to) {
  const along = (to.lon - from.lon) * RAD;
  const east = Math.sin(along) * Math.cos(to.lat * RAD);
  const north = Math.cos(from.lat * RAD) * Math.sin(to.lat * RAD) - Math.sin(from.lat * RAD) * Math.cos(to.lat * RAD) * Math.cos(along);
  return (Math.atan2(east, north) / RAD + 360) % 360;
}

// What a compass needle shows where it points `declination` degrees east of true north.
export const magnetic = (trueBearing, declination) => (((trueBearing - declination) % 360) + 360) % 360;

// The mean of the best ten fixes, the nearer the truth each says it is the heavier it counts.
export function meanOfBest(fixes, most = 10) {
  const best = [...fixes].sort((a, b) => a.accuracy - b.accuracy).slice(0, most);
  if (!best.length) return null;
  const weights = best.map((fix) => 1 / Math.max(fix.accuracy, 1) ** 2);
  const whole = weights.reduce((sum, weight) => sum + weight, 0);
  const mean = (name) => best.reduce((sum, fix, place) => sum + fix[name] * weights[place], 0) / whole;
  // Fixes of one minute err alike: the mean is not said to be better than the best of them.
  return { lat: mean("lat"), lon: mean("lon"), accuracy: best[0].accuracy, fixes: best.length };
}

// The course over the ground from the last fixes: the way from the newest that is at least `least` feet back; null where one stands still.
export function course(track, least = 20) {
  const now = track.at(-1);
  const back = now && [...track].reverse().find((fix) => distanceFt(fix, now) >= Math.max(least, 1.5 * 3.28084 * Math.min(now.accuracy, 20)));
  return back ? bearing(back, now) : null;
}

// Which way to turn, -180 to 180 degrees, right being positive.
export const turn = (from, to) => ((((to - from + 180) % 360) + 360) % 360) - 180;

export function watch(onFix, onTrouble) {
  if (!navigator.geolocation) {
    onTrouble(t("no place"));
    return () => {};
  }
  const id = navigator.geolocation.watchPosition(
    ({ coords }) => onFix({ lat: coords.latitude, lon: coords.longitude, accuracy: coords.accuracy }),
    (fault) => onTrouble(t(fault.code === 1 ? "place refused" : "no place yet")),
    { enableHighAccuracy: true, maximumAge: 2000, timeout: 30000 },
  );
  return () => navigator.geolocation.clearWatch(id);
}
