// The sequential check of a marking: the same looks as the desk's, with Student's t of each look made there.
export function judge(values, { low, high, step, looks, t }) {
  const last = Math.min(Math.floor(values.length / step), looks);
  for (let look = 1; look <= last; look++) {
    const span = interval(values.slice(0, look * step), t[look - 1]);
    const verdict = within(span, low, high);
    if (verdict) return { verdict, n: look * step, ...span, nextLook: null };
  }
  const taken = last ? values.slice(0, last * step) : values;
  const span = interval(taken, last ? t[last - 1] : NaN);
  if (last === looks) return { verdict: "undecided", n: taken.length, ...span, nextLook: null };
  return { verdict: "more points", n: taken.length, ...span, nextLook: (last + 1) * step };
}

function interval(values, t) {
  const n = values.length;
  const mean = n ? values.reduce((sum, value) => sum + value, 0) / n : 0;
  const spread = values.reduce((sum, value) => sum + (value - mean) ** 2, 0) / (n - 1);
  const half = t * Math.sqrt(spread / n);
  return { mean, low: mean - half, high: mean + half };
}

function within(span, low, high) {
  if (span.low >= low && span.high <= high) return "inside";
  if (span.high < low) return "below";
  return span.low > high ? "above" : "";
}
