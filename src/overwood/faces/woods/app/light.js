// A reading of light or sky at a plot; a second one takes the place of the first.
import { choices, chosen, keypad, number, reading } from "./chosen.js";
import { button, heading, pairs } from "./dom.js";
import { put } from "./kit.js";
import { withPoint } from "./plot.js";
import { t } from "./say.js";

export function light(visit, point, _rows, here) {
  const store = async () => {
    const pct = number(0, 100, "%");
    if (pct === null) return null;
    const old = (held) => held.filter((tap) => tap.table === "light_readings").map((tap) => ({ act: "take back", of: tap.id }));
    const row = { visit: visit.visit, point, light_pct: pct, device: chosen.device, measures: chosen.device === "sensor" ? "light" : "openness" };
    const kept = await put(withPoint(visit, point, (held) => [...old(held), { act: "add", table: "light_readings", row }]), t("read", { point, pct }));
    if (kept) chosen.digits = "";
    return here();
  };
  const body = [
    heading(t("read with")),
    pairs(choices(["sensor", "densiometer", "photo"], chosen.device, (one) => t(`device ${one}`), (one) => { chosen.device = one; return here(); })),
    reading(t(chosen.device === "sensor" ? "light of sun" : "sky seen")),
    keypad(here),
  ];
  return { body, keeps: [button(t("keep reading"), store, { kind: "go" })] };
}
