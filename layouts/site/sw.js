"use strict";
// Keeps a copy of every page. With a connection the newest page is shown, without one the copy.
const FILES = {} /* files */;
const WAIT_MS = 3000;
const key = path => new URL(path + "?" + FILES[path], self.registration.scope).href;
self.addEventListener("install", event => event.waitUntil((async () => {
  const cache = await caches.open("cards");
  for (const path of Object.keys(FILES)) {
    if (await cache.match(key(path))) continue;
    const page = await fetch(path, {cache: "no-cache"});
    if (page.ok) await cache.put(key(path), page);
  }
  await self.skipWaiting();
})()));
self.addEventListener("activate", event => event.waitUntil((async () => {
  const cache = await caches.open("cards"), wanted = new Set(Object.keys(FILES).map(key));
  for (const held of await cache.keys()) if (!wanted.has(held.url)) await cache.delete(held);
  await self.clients.claim();
})()));
self.addEventListener("fetch", event => {
  if (event.request.mode !== "navigate") return;
  let path = event.request.url.split(/[?#]/)[0].slice(self.registration.scope.length);
  if (path === "" || path.endsWith("/")) path += "index.html";
  if (!(path in FILES)) return;
  event.respondWith((async () => {
    const copy = await (await caches.open("cards")).match(key(path));
    if (!copy) return fetch(event.request);
    const late = new Promise(done => setTimeout(() => done(copy.clone()), WAIT_MS));
    return Promise.race([fetch(event.request).then(page => page.ok ? page : copy, () => copy), late]);
  })());
});
