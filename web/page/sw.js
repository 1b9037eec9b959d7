// Keeps the whole page, so that it opens without a network. Nothing else is kept, and
// nothing is sent anywhere.
importScripts("keep.js");
const NAME = `sinistra-${MARK}`;

self.addEventListener("install", (event) => {
  event.waitUntil((async () => {
    const kept = await caches.open(NAME);
    await kept.addAll(["./", ...KEPT].map((path) => new Request(path, { cache: "no-cache" })));
    await self.skipWaiting();
  })());
});

self.addEventListener("activate", (event) => {
  event.waitUntil((async () => {
    const old = (await caches.keys()).filter((name) => name.startsWith("sinistra-") && name !== NAME);
    await Promise.all(old.map((name) => caches.delete(name)));
    await self.clients.claim();
  })());
});

self.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== "GET" || url.origin !== location.origin) return;
  event.respondWith((async () => {
    const kept = await caches.open(NAME);
    return (await kept.match(event.request, { ignoreSearch: true })) ?? fetch(event.request);
  })());
});
