// What stood at a plot, or was read there, at the visit before: said beside what is tallied now.
import { species } from "./chosen.js";
import { t } from "./say.js";
import { digits, heightDigits, word } from "./units.js";

const rowsAt = (visit, point) => visit.old?.[point] || [];
const count = (rows) => rows.reduce((sum, row) => sum + Number(row.stems || 1), 0);

// Stems of a species and class at the visit before; null where the plot was not seen then.
export function stemsBefore(visit, point, code, label) {
  if (!visit.old || !visit.before[point]) return null;
  return count(rowsAt(visit, point).filter((row) => row.species === code && row.height_class === label));
}

// How many stood there then, species by species: short, for a list of plots.
export function countsBefore(visit, point) {
  const seen = visit.before[point];
  return seen ? dated(visit, Object.entries(seen).map(([name, stems]) => `${stems} ${name}`)) : before(visit, point);
}

// Trees by their sizes, young stems by their classes, a reading by its number; "" where the plot was not seen.
export function before(visit, point) {
  const rows = rowsAt(visit, point);
  if (!visit.before[point] && !rows.length) return "";
  if (!visit.old) return countsBefore(visit, point);
  const kinds = [...new Set(rows.filter((row) => row.species).map((row) => row.species))];
  const readings = rows.filter((row) => row.light_pct).map((row) => t("pct", { pct: row.light_pct }));
  return dated(visit, [...kinds.map((code) => ofSpecies(rows.filter((row) => row.species === code), code)), ...readings]);
}

const dated = (visit, said) => t("before on", { on: visit.before_on, what: said.length ? said.join("; ") : t("nothing there") });

// "white oak 14.2, 9 dead, 2 × 6 in": the unit once.
function ofSpecies(rows, code) {
  const sizes = [...new Set(rows.map(size))].map((one) => {
    const stems = count(rows.filter((row) => size(row) === one));
    return stems > 1 || !one ? [stems, one].filter(Boolean).join(" × ") : one;
  });
  const unit = rows[0].dbh_in ? word("in") : rows[0].height_class ? word("ft") : "";
  return [`${species(code)} ${sizes.join(", ")}`, unit].filter(Boolean).join(" ");
}

function size(row) {
  const what = row.dbh_in ? digits(row.dbh_in, "in", 1) : row.height_class ? heightDigits(row.height_class) : "";
  return [what, row.status === "dead" ? t("tree dead") : ""].filter(Boolean).join(" ");
}
