// Where there is no connection, a page says so. No page and no answer of the
// shop is kept: a verdict that was true yesterday is not shown today.
"use strict";
const kept = "pawl-offline";
const load = async () => {
  const cache = await caches.open(kept);
  const page = await fetch("/offline", { cache: "no-store" });
  const style = (await page.clone().text()).match(/href="(\/static\/pawl\.css[^"]*)"/);
  if (style) await cache.add(style[1]);
  await cache.put("/offline", page);
};
addEventListener("install", (e) => e.waitUntil(load().then(() => skipWaiting())));
addEventListener("activate", (e) => e.waitUntil(clients.claim()));
addEventListener("fetch", (e) => {
  if (e.request.mode === "navigate" && e.request.method === "GET") e.respondWith(fetch(e.request).catch(() => caches.match("/offline")));
  else if (new URL(e.request.url).pathname === "/static/pawl.css") e.respondWith(fetch(e.request).catch(() => caches.match(e.request)));
});
