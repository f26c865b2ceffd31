// Photos of a plot: scaled, without the camera's own notes of place and maker, kept beside the taps and sent last.
import { copyBeside } from "./copy.js";
import { button, line, make, picker, tell } from "./dom.js";
import { refresh, state } from "./kit.js";
import { t } from "./say.js";
import * as store from "./store.js";

const [LONGEST_PX, QUALITY] = [1600, 0.7];

async function scaled(file) {
  const picture = await createImageBitmap(file);
  const scale = Math.min(1, LONGEST_PX / Math.max(picture.width, picture.height));
  const canvas = make("canvas", { width: Math.round(picture.width * scale), height: Math.round(picture.height * scale) });
  canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
  return new Promise((done) => canvas.toBlob(done, "image/jpeg", QUALITY));
}

export function photos(visit, point, here) {
  const held = state.photos.filter(([walk, ...place]) => walk === state.walk.walk && place[0] === visit.visit && place[1] === point);
  const { input: take, shown } = picker(t("add photo"), { id: "photo", accept: "image/*", capture: "environment" });
  take.addEventListener("change", async () => {
    const jpeg = await scaled(take.files[0]).catch(() => null);
    if (!jpeg) return tell(t("photo bad"));
    try {
      await store.addPhoto(state.walk.walk, visit.visit, point, jpeg);
    } catch (fault) {
      return tell(fault?.name === "QuotaExceededError" ? t("photo full") : t("not kept", { fault: fault?.message || fault }));
    }
    copyBeside(state.walk);
    await refresh();
    await here();
    return tell(t("photo kept", { n: held.length + 1 }));
  });
  // No picture came back: the person went back, or the camera is not allowed.
  take.addEventListener("cancel", () => tell(t("photo none")));
  const back = async () => {
    const gone = await store.dropPhoto(state.walk.walk, visit.visit, point);
    copyBeside(state.walk);
    await refresh();
    await here();
    tell(t(gone ? "photo back" : "photo sent"));
  };
  const some = held.length ? [line(t("photos here", { n: held.length })), button(t("drop photo"), back, { kind: "wide" })] : [];
  return [shown, ...some];
}
