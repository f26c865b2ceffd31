"""Moisture hour by hour, compiled: apart from ``moisture``, so that a formula by hand loads no compiler."""

from __future__ import annotations

import numpy as np

from overwood.science.compiling import kernel


@kernel("fire")
def lagged(equilibrium, moisture, keeps):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    values = np.empty(len(equilibrium))
    for hour in range(len(equilibrium)):
        aim = equilibrium[hour]
        if not np.isnan(aim):
            moisture = aim + (moisture - aim) * keeps
        values[hour] = moisture
    return values


@kernel("fire")
def litter(t, h, w, r, m):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    litter = np.empty(len(t))
    for i in range(len(t)):
        if r[i] > 0:
            before = m
            m = before + 42.5 * r[i] * np.exp(-100 / (251 - before)) * (1 - np.exp(-6.93 / r[i]))
            if before > 150:
                m += 0.0015 * (before - 150) ** 2 * np.sqrt(r[i])
            m = min(m, 250.0)
        if not (np.isnan(t[i]) or np.isnan(h[i]) or np.isnan(w[i])):
            warm = 0.18 * (21.1 - t[i]) * (1 - np.exp(-0.115 * h[i]))
            dry = 0.942 * h[i] ** 0.679 + 11 * np.exp((h[i] - 100) / 10) + warm
            wet = 0.618 * h[i] ** 0.753 + 10 * np.exp((h[i] - 100) / 10) + warm
            if m > dry:
                m = dry + (m - dry) * 10 ** -_rate(h[i], t[i], w[i])
            elif m < wet:
                m = wet + (m - wet) * 10 ** -_rate(100 - h[i], t[i], w[i])
        litter[i] = m
    return litter


@kernel("fire")
def _rate(h, t, w):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    k = 0.424 * (1 - (h / 100) ** 1.7) + 0.0694 * np.sqrt(w) * (1 - (h / 100) ** 8)
    return k * 0.0579 * np.exp(0.0365 * t)
