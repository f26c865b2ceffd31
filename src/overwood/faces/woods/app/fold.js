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

// Basal area of each point of a prism check, in the order they were taken: factor times trees left. The point that is
// being tallied is left out, because half a point would judge the marking wrongly.
export function pointBasalAreas(taps, visit, factor, underWay) {
  const taken = ofVisit(taps, visit).filter((tap) => tap.table === "points" && tap.row.point !== underWay).sort((a, b) => a.seq - b.seq);
  return taken.map((tap) => factor * ofPoint(taps, visit, tap.row.point).filter((tree) => tree.table === "trees").length);
}
