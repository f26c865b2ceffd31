// Bundles the map, and the woods kit's libraries, into the package; the digest of what it was made from is written at its head, and a test compares it.
import { build } from "esbuild";
import { createHash } from "node:crypto";
import { readFileSync } from "node:fs";

const room = "../src/overwood/faces/pages/static/";
const made = createHash("sha256");
for (const name of ["map.js", "package-lock.json"]) made.update(readFileSync(name));
await build({
  entryPoints: ["map.js"], outdir: room, bundle: true, format: "esm", minify: true, target: "es2022", legalComments: "none",
  banner: { js: `/* made from ${made.digest("hex")}; carries OpenLayers and what it needs, see THIRD-PARTY.md */` },
});
for (const [source, target, part] of [["woods.js", "idb.js", "idb"], ["codes.js", "qr.js", "uqr"]]) {
  const kit = createHash("sha256");
  for (const name of [source, "package-lock.json"]) kit.update(readFileSync(name));
  await build({
    entryPoints: [source], outfile: `../src/overwood/faces/woods/app/${target}`, bundle: true, format: "esm", minify: true, target: "es2022",
    legalComments: "none", banner: { js: `/* made from ${kit.digest("hex")}; carries ${part}, see THIRD-PARTY.md */` },
  });
}
