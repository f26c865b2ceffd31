// Something seen on the way: an invasive plant, soft ground, a boundary.
import { button, heading, line, make, pairs, show } from "./dom.js";
import { standing } from "./fold.js";
import { head, put, state } from "./kit.js";
import { lastOf, said } from "./plot.js";
import { t } from "./say.js";
import { localTime } from "./store.js";

// `after` is the screen that one goes back to.
export async function sighting(stand, after) {
  const here = () => sighting(stand, after);
  const subject = make("input", { id: "subject" });
  const note = make("textarea", { id: "note", rows: 2 });
  const kept = (kind) => async () => {
    const more = { ...(subject.value ? { subject: subject.value } : {}), ...(note.value ? { note: note.value } : {}) };
    const row = (mark) => ({ sighting: `${stand.stand}-${mark}`, stand: stand.stand, seen_on: localTime().slice(0, 10), kind, ...more });
    if (await put([{ act: "add", table: "sightings", row }], t("kept seen", { kind: t(`sighting ${kind}`) }))) await here();
  };
  const last = lastOf(standing(state.taps).filter((tap) => tap.table === "sightings" && tap.row.stand === stand.stand));
  const back = async () => {
    await put([{ act: "take back", of: last.id }], t("taken back", { what: said(last) }));
    await here();
  };
  show({
    head: head(t("seen"), stand.stand),
    main: [
      last ? line(t("last", { what: said(last) }), "last") : null,
      make("label", { for: "subject" }, t("what species")), subject, make("label", { for: "note" }, t("note")), note,
      heading(t("one tap keeps")), pairs(state.walk.sighting_kinds.map((kind) => button(t(`sighting ${kind}`), kept(kind)))),
    ],
    foot: [last ? button(t("take back"), back) : null, button(t("back"), after)],
  });
}
