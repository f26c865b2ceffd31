// The map of the property: stands by kind of work over own maps, drawn, changed, split and merged. The server knows areas and geometry; this draws.
import "ol/ol.css";
import Map from "ol/Map.js";
import View from "ol/View.js";
import GeoJSON from "ol/format/GeoJSON.js";
import MVT from "ol/format/MVT.js";
import { defaults, Draw, Modify, Snap } from "ol/interaction.js";
import { ScaleLine, Zoom, Attribution } from "ol/control.js";
import TileLayer from "ol/layer/Tile.js";
import VectorLayer from "ol/layer/Vector.js";
import VectorTileLayer from "ol/layer/VectorTile.js";
import { transformExtent } from "ol/proj.js";
import VectorSource from "ol/source/Vector.js";
import VectorTileSource from "ol/source/VectorTile.js";
import XYZ from "ol/source/XYZ.js";
import { createXYZ } from "ol/tilegrid.js";
import { Circle, Fill, Stroke, Style, Text } from "ol/style.js";

const GEO = new GeoJSON({ dataProjection: "EPSG:4326", featureProjection: "EPSG:3857" });
const HOW = {
  look: "Click a stand to open its page.",
  draw: "Click each corner; click the first one again, or double-click, to close. It snaps to its neighbours. Escape takes the last corner back.",
  change: "Click a stand, then drag its corners or edges; hold Alt and click a corner to take it out.",
  split: "Click the stand to split, then draw a line across it from outside to outside; double-click ends it.",
  merge: "Click the stand that stays, then the one to merge into it.",
};
const WORDS = { look: "look", treat: "treat", cut: "cut", wait: "wait", unknown: "?" };
// The eastern United States, where nothing is drawn yet and no own map says more.
const NOWHERE = [-95, 31, -70, 46];
const POLL_MS = 2000;

let room, said, form, map, behind, stands, sketch, told = {}, act = "look", chosen = null, waiting = null, tools = [];

export async function open(section) {
  room = section;
  said = room.querySelector("#mapping-said");
  form = room.querySelector("#mapping-form");
  if (!map) build();
  await load();
  whole();
  take("look");
  room.dataset.ready = "yes";
}

function colour(kind) {
  return getComputedStyle(document.documentElement).getPropertyValue(`--${kind}`).trim() || "#ffffff";
}

function look(feature, picked = false) {
  const { kind, stand } = feature.getProperties();
  const fill = kind === "unknown" ? "#ffffffcc" : `${colour(kind)}cc`;
  return new Style({
    fill: new Fill({ color: fill }),
    stroke: new Stroke({ color: picked ? colour("bad") : "#333", width: picked ? 4 : 2, lineDash: kind === "unknown" ? [6, 6] : undefined }),
    text: new Text({ text: `${stand}\n${WORDS[kind] ?? ""}`, font: "bold 15px 'Source Sans 3', sans-serif", fill: new Fill({ color: "#222" }), stroke: new Stroke({ color: "#fff", width: 3 }), overflow: true }),
  });
}

const drawn = new Style({
  fill: new Fill({ color: "#ffffff66" }), stroke: new Stroke({ color: "#a83e00", width: 3, lineDash: [8, 6] }),
  image: new Circle({ radius: 6, fill: new Fill({ color: "#a83e00" }) }),
});

function build() {
  stands = new VectorSource();
  sketch = new VectorSource();
  map = new Map({
    target: room.querySelector("#mapping-map"),
    // A double click ends a drawing; it must not zoom as well.
    interactions: defaults({ doubleClickZoom: false }),
    controls: [new Zoom(), new ScaleLine({ units: document.documentElement.dataset.units ?? "us" }), new Attribution({ collapsible: true })],
    layers: [new VectorLayer({ source: stands, style: (feature) => look(feature) }), new VectorLayer({ source: sketch, style: drawn, zIndex: 9 })],
    view: new View({ center: [0, 0], zoom: 4, maxZoom: 22 }),
  });
  map.on("click", (event) => picked(stands.getFeaturesAtCoordinate(event.coordinate)[0]));
  room.querySelector(".tools").addEventListener("click", (event) => {
    const what = event.target.dataset?.act;
    if (what === "whole") whole();
    else if (what === "close") close();
    else if (what) take(what);
  });
  form.querySelector("[data-act=drop]").addEventListener("click", () => take(act));
  form.addEventListener("submit", (event) => { event.preventDefault(); keep(); });
  for (const name of ["stand", "other", "property"]) form.elements[name].addEventListener("change", () => waiting && check());
  room.addEventListener("keydown", (event) => { if (event.key === "Escape") tools.forEach((tool) => tool.removeLastPoint?.()); });
}

async function load() {
  const answer = await fetch("/map/stands.json");
  if (!answer.ok) return say("The map could not be loaded. Load the page again.", true);
  told = await answer.json();
  stands.clear();
  stands.addFeatures(GEO.readFeatures(told.stands));
  room.querySelector("#mapping-without").replaceChildren(...told.without.map((name) => new Option(name, name)));
  form.elements.property.replaceChildren(...told.properties.map((name) => new Option(name, name)));
  if (!behind) lay();
  if (told.left) setTimeout(() => act === "look" && load(), POLL_MS);
}

// Shapes of own maps in gray, or in the color they name, as the outlines of a region do.
const styles = {};
const own = (named) => (styles[named] ??= styled(named));
const styled = (named) => {
  const color = /^#[0-9a-f]{6}$/i.test(named) ? named : "";
  const dot = new Circle({ radius: color ? 5 : 3, fill: new Fill({ color: color || "#666" }) });
  return new Style({ stroke: new Stroke({ color: "#666", width: 1 }), fill: color ? new Fill({ color }) : undefined, image: dot });
};

// Own maps: the one named first lies lowest; each can be hidden.
function lay() {
  behind = told.backgrounds.map((one, number) => {
    const address = `/map/behind/${number}/{z}/{x}/{y}`;
    const extent = transformExtent(one.extent, "EPSG:4326", "EPSG:3857");
    if (one.kind === "vector") {
      return new VectorTileLayer({ extent, source: new VectorTileSource({ format: new MVT(), url: address, maxZoom: one.deepest }), style: (shape) => own(shape.get("color")) });
    }
    return new TileLayer({ extent, source: new XYZ({ url: address, tileGrid: createXYZ({ maxZoom: one.deepest, tileSize: 256 }), attributions: one.name }) });
  });
  behind.forEach((layer, number) => map.getLayers().insertAt(number, layer));
  room.querySelector("#mapping-behind").replaceChildren(...told.backgrounds.map((one, number) => {
    const label = document.createElement("label"), box = document.createElement("input");
    box.type = "checkbox";
    box.checked = true;
    box.addEventListener("change", () => behind[number].setVisible(box.checked));
    label.append(box, ` ${one.name} behind `);
    return label;
  }));
}

function whole() {
  let extent = stands.getFeatures().length ? stands.getExtent() : null;
  if (!extent && told.backgrounds.length) extent = transformExtent(told.backgrounds[0].extent, "EPSG:4326", "EPSG:3857");
  map.updateSize();
  map.getView().fit(extent ?? transformExtent(NOWHERE, "EPSG:4326", "EPSG:3857"), { padding: [40, 40, 40, 40], maxZoom: 18 });
}

function close() {
  take("look");
  room.querySelector("#mapping-room").hidden = true;
  room.querySelector("#mapping-open").hidden = false;
  document.body.classList.remove("mapping");
  room.querySelector("#mapping-open button").focus();
}

function say(text, fault = false) {
  said.className = text ? (fault ? "fault" : "good") : "";
  said.setAttribute("role", fault ? "alert" : "status");
  said.replaceChildren(...(text ? [].concat(text).map((line) => Object.assign(document.createElement("p"), { textContent: line })) : []));
}

// Begin to do one thing anew; what was drawn and not kept is dropped.
function take(what) {
  const dropped = act !== what || waiting;
  act = what;
  chosen = waiting = null;
  tools.forEach((tool) => map.removeInteraction(tool));
  tools = [];
  sketch.clear();
  form.hidden = true;
  if (dropped) say("");
  restyle();
  room.querySelectorAll(".tools [aria-pressed]").forEach((button) => {
    button.setAttribute("aria-pressed", String(button.dataset.act === what));
    button.classList.toggle("quiet", button.dataset.act !== what);
  });
  room.querySelector("#mapping-how").textContent = HOW[what];
  if (what === "draw") draws("Polygon");
}

function use(...found) {
  tools.push(...found);
  found.forEach((tool) => map.addInteraction(tool));
}

function draws(type) {
  const pen = new Draw({ source: sketch, type, style: drawn });
  pen.on("drawend", (event) => {
    pen.setActive(false);
    waiting = { shape: GEO.writeGeometryObject(event.feature.getGeometry(), { decimals: 7 }) };
    ask();
  });
  use(pen, new Snap({ source: stands }));
}

function restyle() {
  stands.getFeatures().forEach((feature) => feature.setStyle(chosen && feature.getId() === chosen ? look(feature, true) : null));
}

function picked(feature) {
  if (!feature) return;
  const name = feature.getId();
  if (act === "look") location.assign(`/stand/${encodeURIComponent(name)}/`);
  else if (act === "change" && !chosen) change(feature);
  else if (act === "split" && !chosen) { choose(name); draws("LineString"); }
  else if (act === "merge" && !chosen) choose(name);
  else if (act === "merge" && name !== chosen) { waiting = { other: name }; ask(); }
}

function choose(name) {
  chosen = name;
  restyle();
  say(`${name} is chosen.`);
}

function change(feature) {
  choose(feature.getId());
  const copy = feature.clone();
  sketch.addFeature(copy);
  feature.setStyle(new Style({}));
  const hand = new Modify({ source: sketch });
  hand.on("modifyend", () => { waiting = { shape: GEO.writeGeometryObject(copy.getGeometry(), { decimals: 7 }) }; ask(); });
  use(hand, new Snap({ source: stands }));
}

function ask() {
  form.hidden = false;
  const shows = { stand: act === "draw", property: act === "draw" && told.properties.length > 1, other: act === "split", area: act === "draw" || act === "change" || act === "merge" };
  for (const [name, shown] of Object.entries(shows)) room.querySelector(`#mapping-${name}`).hidden = !shown;
  if (act === "draw" || act === "split") form.elements[act === "draw" ? "stand" : "other"].focus();
  check();
}

function drawing() {
  return {
    act, ...waiting, stand: act === "draw" ? form.elements.stand.value : chosen, other: act === "split" ? form.elements.other.value : waiting.other,
    property: form.elements.property.value, take_area: form.elements.take_area.checked,
  };
}

async function send(address, body) {
  const token = room.querySelector("[name=csrfmiddlewaretoken]").value;
  const answer = await fetch(address, { method: "POST", headers: { "Content-Type": "application/json", "X-CSRFToken": token }, body: JSON.stringify(body) });
  const plain = answer.headers.get("Content-Type")?.includes("json") ? await answer.json() : { what: "The server did not take it.", remedy: "Load the page again." };
  return { ok: answer.ok, plain };
}

const sentence = (text) => text.charAt(0).toUpperCase() + text.slice(1);

async function check() {
  const asked = drawing();
  // A name that is still to be typed is not a fault yet: the area is shown under a stand-in.
  if (act === "draw" && !asked.stand) asked.stand = "the new stand";
  if (act === "split" && !asked.other) asked.other = "the new part";
  const { ok, plain } = await send("/map/check/", asked);
  if (!ok || plain.what) return say(`${sentence(plain.what)} ${plain.remedy}`, true);
  const areas = plain.outlines.map((one) => `${sentence(one.stand)}: ${one.area}${one.noted ? `, noted ${one.noted}` : ""}.`);
  say([...areas, ...plain.notes.map(sentence)]);
  if (act === "split" || act === "merge") {
    sketch.clear();
    plain.outlines.forEach((one) => sketch.addFeature(GEO.readFeature({ type: "Feature", geometry: one.geometry, properties: {} })));
  }
}

async function keep() {
  if (!waiting) return;
  const { ok, plain } = await send("/map/keep/", drawing());
  if (!ok) return say(`${sentence(plain.what)} ${plain.remedy}`, true);
  form.elements.stand.value = form.elements.other.value = "";
  const done = act;
  await load();
  take(done);
  if (plain.same) return say("It was like that already; nothing was written.");
  say(`Kept as entry ${plain.entry}.`);
  undoes(plain.entry);
  refresh();
}

// What the rest of the page says of the stands changes with them.
async function refresh() {
  const answer = await fetch(location.href);
  if (!answer.ok) return;
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  for (const id of ["counts", "standing", "stands", "sums"]) {
    const fresh = page.getElementById(id);
    if (!fresh) continue;
    document.getElementById(id)?.replaceWith(fresh);
    window.htmx?.process(fresh);
  }
}

function undoes(entry) {
  const button = Object.assign(document.createElement("button"), { type: "button", className: "quiet", textContent: "Undo it" });
  button.addEventListener("click", async () => {
    const token = room.querySelector("[name=csrfmiddlewaretoken]").value;
    const answer = await fetch(`/import/entry/${entry}/`, { method: "POST", headers: { "X-CSRFToken": token } });
    await load();
    refresh();
    say(answer.ok ? `Entry ${entry} is undone.` : "It could not be undone here; see Import.", !answer.ok);
  });
  said.append(button);
}
