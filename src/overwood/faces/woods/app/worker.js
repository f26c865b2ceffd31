// Keeps the kit's files on the phone. A new version waits until the page lets it in, so that no tally is cut short.
const CACHE = "woods-@VERSION@";
const FILES = ["./", "@FILES@"];

self.addEventListener("install", (event) => {
  event.waitUntil(caches.open(CACHE).then((cache) => cache.addAll(FILES.map((name) => new Request(name, { cache: "reload" })))));
});

self.addEventListener("activate", (event) => {
  const others = (names) => names.filter((name) => name.startsWith("woods-") && name !== CACHE);
  event.waitUntil(
    caches.keys().then((names) => Promise.all(others(names).map((name) => caches.delete(name)))).then(() => self.clients.claim()),
  );
});

self.addEventListener("message", (event) => {
  if (event.data === "let in") self.skipWaiting();
});

self.addEventListener("fetch", (event) => {
  if (event.request.method !== "GET") return;
  event.respondWith(
    caches.open(CACHE).then((cache) => cache.match(event.request, { ignoreSearch: true })).then((kept) => kept || fetch(event.request)),
  );
});
