// Values as the office says them: what is stored stays in US units; a walk of a metric office brings its factors.
import { state } from "./kit.js";
import { t } from "./say.js";

const turn = (unit) => state.walk?.units?.[unit];
// Figures kept of a size typed in metric: it is read back as it was typed.
const FIGURES = 6;

export const isTurned = (unit) => Boolean(turn(unit));
export const word = (unit) => turn(unit)?.word ?? t(`unit ${unit}`);

// The number alone. A stored text stays as it is in US units; `places` are the decimals of the US value.
export function digits(value, unit, places = 0) {
  const of = turn(unit);
  if (of) return String(Number((Number(value) * of.factor).toFixed(places + of.more)));
  return typeof value === "string" ? value : value.toFixed(places);
}

export const amount = (value, unit, places) => `${digits(value, unit, places)} ${word(unit)}`;

// What was tapped, as the US value that is stored.
export const stored = (text, unit) => String(turn(unit) ? Number((Number(text) / turn(unit).factor).toPrecision(FIGURES)) : Number(text));

// A way on foot: yards, or meters.
export const onFoot = (feet) => (isTurned("ft") ? `${Math.round(feet * turn("ft").factor)} ${word("ft")}` : `${Math.round(feet / 3)} ${t("unit yd")}`);

// A small plot: 1/735 acre, or 5.51 m².
export const plotSize = (acres) => (isTurned("acre") ? `${Number((acres * turn("acre").factor * 10000).toPrecision(3))} m²` : t("part of acre", { part: Math.round(1 / acres) }));

const ends = (label) => label.match(/[\d.]+/g).map((end) => digits(end, "ft", 1));

// A class of height by its code, on a button and in a sentence.
export function heightButton(label) {
  if (!isTurned("ft")) return t(`height ${label}`);
  const [low, high] = ends(label);
  if (label.startsWith("<")) return t("height under", { high: `${low} ${word("ft")}` });
  return high ? t("height span", { low, high: `${high} ${word("ft")}` }) : t("height over", { low: `${low} ${word("ft")}` });
}

export const heightDigits = (label) => (isTurned("ft") ? label.replace(/[\d.]+/g, (end) => digits(end, "ft", 1)) : label);
export const heightWords = (label) => `${heightDigits(label)} ${word("ft")}`;
