// From taps to what stands: a tap taken back no longer counts.
export function standing(taps) {
  const back = new Set(taps.filter((tap) => tap.act === "take back").map((tap) => tap.of));
  return taps.filter((tap) => tap.act === "add" && !back.has(tap.id));
}

export const ofVisit = (taps, visit) => taps.filter((tap) => tap.row.visit === visit);
export const ofPoint = (taps, visit, point) => taps.filter((tap) => tap.row.visit === visit && tap.row.point === point);

export const pointsDone = (taps, visit) => new Set(ofVisit(taps, visit).filter((tap) => tap.table === "points").map((tap) => tap.row.point));

export const nextTree = (taps) => String(1 + Math.max(0, ...taps.filter((tap) => tap.row.tree).map((tap) => Number(tap.row.tree) || 0)));

export const stems = (taps, match) => taps.filter((tap) => Object.entries(match).every(([name, value]) => tap.row[name] === value)).length;

// The ring that takes a stem of this size in, as the desk reads them; undefined where none does.
export const ringOf = (rings, dbh) =>
  rings.find((ring) => ring.layer !== "reproduction" && dbh >= Number(ring.low_dbh_in || 0) && dbh < Number(ring.high_dbh_in || Infinity));

// Basal area an acre that one stem stands for: the prism's factor, or its own area (ft2, diameter in inches) over that of the plot.
function stemBasalArea(rings, dbh) {
  const ring = ringOf(rings, dbh);
  if (!ring) return 0;
  return ring.design === "prism" ? Number(ring.baf_ft2_ac) : (Math.PI * (dbh / 24) ** 2) / Number(ring.plot_area_ac);
}

// Basal area an acre of the trees left at a point.
export const basalAreaAt = (taps, visit, point) =>
  ofPoint(taps, visit.visit, point)
    .filter((tree) => tree.table === "trees" && tree.row.status !== "dead")
    .reduce((sum, tree) => sum + stemBasalArea(visit.rings, Number(tree.row.dbh_in)), 0);

// Basal area of each point of a check, of the trees left, in the order of the points' identifiers, which is the desk's too. The last point
// is left out while it is being tallied, because half a point would judge the marking wrongly; so is one whose center lies outside the stand.
export const pointBasalAreas = (taps, visit, underWay) => judgedPoints(taps, visit, underWay).map((point) => basalAreaAt(taps, visit, point));

export function judgedPoints(taps, visit, underWay) {
  const inside = (tap) => tap.table === "points" && tap.row.in_stand !== "no";
  const taken = ofVisit(taps, visit.visit).filter(inside).sort((a, b) => (a.id < b.id ? -1 : 1)).map((tap) => tap.row.point);
  if (taken.at(-1) === underWay) taken.pop();
  return taken;
}

// A note in two parts: what a person wrote, and in square brackets what the phone or the desk put there.
export function noteParts(note = "", planned = "") {
  if (note && note === planned) return { own: "", machine: note };
  const opens = note.endsWith("]") ? note.lastIndexOf("[") : -1;
  return opens < 0 ? { own: note, machine: "" } : { own: note.slice(0, opens).trim(), machine: note.slice(opens + 1, -1) };
}

export const noteOf = (own, machine) => [own.trim(), machine ? `[${machine}]` : ""].filter(Boolean).join(" ");
