// Finding a plot: distance, bearing, and a place from the best of many fixes. Works without a compass.
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

export function watch(onFix, onTrouble) {
  if (!navigator.geolocation) {
    onTrouble("This phone gives no place.");
    return () => {};
  }
  const id = navigator.geolocation.watchPosition(
    ({ coords }) => onFix({ lat: coords.latitude, lon: coords.longitude, accuracy: coords.accuracy }),
    (fault) => onTrouble(fault.code === 1 ? "The place is not allowed for this page. Allow it in the phone's settings; tally goes on without." : "No place yet. Tally goes on without."),
    { enableHighAccuracy: true, maximumAge: 2000, timeout: 30000 },
  );
  return () => navigator.geolocation.clearWatch(id);
}
