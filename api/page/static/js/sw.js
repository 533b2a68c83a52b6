// Where there is no connection, a page says so. No page and no answer of the
// shop is kept: a verdict that was true yesterday is not shown today. The board is
// kept as a page that says nothing of the shop: what is scanned there waits.
"use strict";
const kept = "pawl-offline", board = "/board";
const load = async () => {
  const cache = await caches.open(kept);
  const page = await fetch("/offline", { cache: "no-store" });
  const style = (await page.clone().text()).match(/href="(\/static\/pawl\.css[^"]*)"/);
  if (style) await cache.add(style[1]);
  await cache.put("/offline", page);
};
// The board with all that it loads, which is replaced whole or not at all.
const keepBoard = async () => {
  const page = await fetch(board + "?kept=yes", { cache: "no-store", credentials: "same-origin" });
  if (!page.ok || page.redirected) return;
  const files = [...(await page.clone().text()).matchAll(/(?:href|src|data-lib)="(\/static\/[^"]+)"/g)].map((m) => m[1].replaceAll("&amp;", "&"));
  const cache = await caches.open("pawl-board");
  await cache.addAll(files.filter((f, i) => files.indexOf(f) === i));
  await cache.put(board, page);
  for (const r of await cache.keys()) {
    const at = new URL(r.url);
    if (at.pathname !== board && !files.includes(at.pathname + at.search)) await cache.delete(r);
  }
};
addEventListener("install", (e) => e.waitUntil(load().then(() => skipWaiting())));
addEventListener("activate", (e) => e.waitUntil(clients.claim()));
// The page of the board asks to be kept, for it may have been loaded before this ran.
addEventListener("message", (e) => { if (e.data === "keep the board") e.waitUntil(keepBoard().catch(() => {})); });
addEventListener("fetch", (e) => {
  const at = new URL(e.request.url);
  const instead = async () => (at.pathname === board && await caches.match(board)) || caches.match("/offline");
  if (e.request.mode === "navigate" && e.request.method === "GET") e.respondWith(fetch(e.request).catch(instead));
  else if (at.origin === location.origin && at.pathname.startsWith("/static/")) e.respondWith(fetch(e.request).catch(() => caches.match(e.request)));
});
