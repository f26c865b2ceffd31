// Whether this phone is fit for the woods, with a picture of each thing looked at, and how it looks, sounds and speaks.
import { button, grid, heading, line, make, show } from "./dom.js";
import { applyLook, head, state } from "./kit.js";
import { picture } from "./pictures.js";
import { languages, spoken, t } from "./say.js";
import * as store from "./store.js";
import { today } from "./today.js";

const LANGUAGE = { en: "English", es: "Español" };

// What was looked at, whether it holds, and by which key what to do is said.
async function tests() {
  const place = await navigator.permissions?.query?.({ name: "geolocation" }).catch(() => null);
  return [
    ["safe", window.isSecureContext],
    ["offline", document.documentElement.dataset.offline === "ready"],
    ["lasting", Boolean(await navigator.storage?.persisted?.())],
    ["place", place?.state !== "denied"],
  ];
}

function shown([key, holds]) {
  const says = line(t("test says", { name: t(`test ${key}`), answer: t(holds ? "yes" : "no") }), holds ? "" : "stop");
  return make("div", { class: "test" }, picture(key, holds), make("div", {}, says, holds ? null : line(t(`test ${key} do`))));
}

export async function phone() {
  const room = await navigator.storage?.estimate?.();
  const waiting = (await navigator.serviceWorker?.getRegistration?.())?.waiting;
  const set = (name, value) => async () => {
    await store.keepSetting(name, value);
    await applyLook();
    await phone();
  };
  const dark = document.documentElement.dataset.theme === "dark";
  const newer = () => button(t("new version"), () => letIn(waiting), { kind: "wide", disabled: state.unsent > 0, under: state.unsent ? t("send first") : "" });
  show({
    head: head(t("this phone"), t("this is phone", { device: state.device })),
    main: [
      ...(await tests()).map(shown),
      room ? line(t("room", { mb: Math.round((room.quota - room.usage) / 1e6) })) : null,
      waiting ? newer() : null,
      grid(
        button(t("sun"), set("theme", "sun"), { pressed: !dark }), button(t("dusk"), set("theme", "dark"), { pressed: dark }),
        button(t(state.sound ? "tones on" : "tones off"), set("sound", state.sound ? "off" : "on"), { pressed: state.sound }),
      ),
      heading(t("language")),
      grid(languages.map((code) => button(LANGUAGE[code], set("language", code), { pressed: spoken() === code }))),
    ],
    foot: [button(t("back"), today)],
  });
}

function letIn(waiting) {
  navigator.serviceWorker.addEventListener("controllerchange", () => location.reload(), { once: true });
  waiting.postMessage("let in");
}
