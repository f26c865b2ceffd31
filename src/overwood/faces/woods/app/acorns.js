// The acorn check: numbered trees, each counted against 30 seconds, or only seen to bear.
import { chosen, keypad, number, species, speciesChips } from "./chosen.js";
import { button, grid, heading, line, make, show, tell } from "./dom.js";
import { ofVisit, standing } from "./fold.js";
import { head, put, state } from "./kit.js";
import { lastOf, said } from "./plot.js";
import { t } from "./say.js";
import { amount } from "./units.js";
import { today } from "./today.js";

const SECONDS = 30;
let tree = null;
let clock = null;
// Whether the 30 seconds were counted to their end, or run: a count is only called timed when they were.
let timed = "";

const under = (row) => (row.acorns ? t("acorns count", { acorns: row.acorns }) : t(row.bearing === "yes" ? "acorns seen" : "none seen"));

// What the tree bore at the check before; an older walk says nothing of it.
const then = (visit, one) => (one.acorns || one.bearing ? t("before on", { on: visit.before_on, what: under(one) }) : "");

export async function acornTrees(stand, visit) {
  const here = () => acornTrees(stand, visit);
  const rows = ofVisit(standing(state.taps), visit.visit);
  if (chosen.visit !== visit.visit) Object.assign(chosen, { visit: visit.visit, species: "", at: "" });
  if (tree && tree.visit === visit.visit) return acornCount(visit, rows, here);
  const pick = (one) => () => { tree = { ...one, visit: visit.visit }; timed = ""; chosen.digits = ""; return here(); };
  const rowOf = (one) => rows.find((tap) => tap.row.tree === one.tree)?.row;
  const anew = String(1 + Math.max(0, ...[...visit.acorn_trees, ...rows.map((tap) => tap.row)].map((one) => Number(one.tree) || 0)));
  const fresh = () => (chosen.species ? pick({ tree: anew, species: chosen.species, dbh_in: "", cluster: "" })() : tell(t("species first")));
  const known = [...visit.acorn_trees, ...rows.map((tap) => tap.row).filter((row) => !visit.acorn_trees.some((one) => one.tree === row.tree))];
  const list = known.map((one) =>
    button(t("tree of", { tree: one.tree, species: species(one.species) }), pick(one), { kind: "wide", under: [rowOf(one) ? under(rowOf(one)) : one.dbh_in ? amount(one.dbh_in, "in", 1) : "", then(visit, one)].filter(Boolean).join("; ") }),
  );
  const last = lastOf(rows);
  const back = async () => {
    await put([{ act: "take back", of: last.id }], t("taken back", { what: said(last) }));
    await here();
  };
  show({
    head: head(t("kind acorn"), `${stand.stand}, ${t("trees done", { n: new Set(rows.map((tap) => tap.row.tree)).size })}`),
    main: [
      last ? line(t("last", { what: said(last) }), "last") : null,
      line(t("look up")),
      make("div", { class: "rows" }, list),
      ...speciesChips(visit, here),
      button(t("new tree", { tree: anew }), fresh, { kind: "wide" }),
    ],
    foot: [last ? button(t("take back"), back) : null, button(t("back"), today)],
  });
  return null;
}

function acornCount(visit, rows, here) {
  const left = make("div", { class: "number", id: "clock" }, t("seconds", { n: SECONDS }));
  const leave = () => {
    clearInterval(clock);
    chosen.digits = "";
    tree = null;
    timed = "";
    return here();
  };
  const store = async (seen, words) => {
    const old = rows.filter((tap) => tap.row.tree === tree.tree).map((tap) => ({ act: "take back", of: tap.id }));
    const row = { visit: visit.visit, tree: tree.tree, species: tree.species, ...seen };
    for (const column of ["dbh_in", "cluster"]) if (tree[column]) row[column] = tree[column];
    if (!(await put([...old, { act: "add", table: "acorn_trees", row }]))) return;
    await leave();
    tell(words);
  };
  const keep = () => {
    const acorns = number(0, 100000, t("acorns"));
    if (acorns === null) return null;
    if (!Number.isInteger(Number(acorns))) return tell(t("whole"));
    if (timed !== "to the end") return tell(t(timed ? "clock runs" : "clock never"));
    const seen = { acorns, bearing: acorns === "0" ? "no" : "yes", method: "timed", seconds: String(SECONDS) };
    return store(seen, t("kept acorns", { tree: tree.tree, acorns }));
  };
  const only = (bearing, words) => () => store({ bearing }, t(words, { tree: tree.tree }));
  const digits = make("div", { class: "number", id: "digits" }, chosen.digits || " ");
  const press = () => { digits.textContent = chosen.digits || " "; };
  show({
    head: head(t("tree number", { tree: tree.tree }), species(tree.species)),
    main: [
      then(visit, tree) ? line(t("before", { what: then(visit, tree) })) : null,
      left,
      button(t("start clock"), () => run(left), { kind: "wide" }),
      heading(t("acorns counted")),
      digits,
      keypad(press, 5),
      button(t("keep count"), keep, { kind: "go wide" }),
      grid(button(t("only seen"), only("yes", "kept bears")), button(t("only none"), only("no", "kept none"))),
    ],
    foot: [button(t("back"), leave)],
  });
}

function run(left) {
  clearInterval(clock);
  timed = "runs";
  const ends = Date.now() + 1000 * Number(document.documentElement.dataset.acornSeconds || SECONDS);
  clock = setInterval(() => {
    const seconds = Math.max(0, Math.ceil((ends - Date.now()) / 1000));
    left.textContent = seconds ? t("seconds", { n: seconds }) : t("stop counting");
    if (seconds) return;
    timed = "to the end";
    clearInterval(clock);
    if (state.sound) navigator.vibrate?.([200, 100, 200]);
  }, 200);
}
