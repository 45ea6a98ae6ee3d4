// Network first; the copy is for when there is no network. The name of the cache is the theme's version.
"use strict";
const NAME = "passport-2543e3d03d41";
const ROOT = new URL("./", self.location).pathname;

self.addEventListener("install", (event) => {
  event.waitUntil(
    caches.open(NAME).then((cache) => cache.addAll(["style.css", "icon.svg", "offline.js"].map((f) => ROOT + f)))
      .then(() => self.skipWaiting())
  );
});

self.addEventListener("activate", (event) => {
  event.waitUntil(
    caches.keys()
      .then((names) => Promise.all(names.filter((n) => n.startsWith("passport-") && n !== NAME).map((n) => caches.delete(n))))
      .then(() => self.clients.claim())
  );
});

self.addEventListener("message", (event) => {
  const keep = (event.data && event.data.keep) || [];
  event.waitUntil(caches.open(NAME).then((cache) => cache.addAll(keep.map(plain))));
});

// One page has three addresses: with a slash, without, and with the name of its file.
function plain(path) {
  return path.replace(/index\.html$/, "").replace(/(\/[^/.]+)$/, "$1/");
}

self.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== "GET" || url.origin !== self.location.origin) return;
  const key = plain(url.pathname);
  event.respondWith(
    fetch(event.request).then((answer) => {
      if (answer.ok && answer.type === "basic" && !answer.redirected) {
        const copy = answer.clone();
        event.waitUntil(caches.open(NAME).then((cache) => cache.put(key, copy)));
      }
      return answer;
    }).catch(() => caches.match(key).then((kept) => kept || Response.error()))
  );
});
