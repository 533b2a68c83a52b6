// Brings the numbers of a count up to date every two seconds, while somebody looks:
// others may scan at the same time. Without it the numbers are those of when the page
// was loaded.
"use strict";
(() => {
  const box = document.getElementById("numbers");
  if (!box || box.dataset.stage === "closed") return;
  let tag = "";
  const look = async () => {
    if (!document.hidden) {
      try {
        const r = await fetch(box.dataset.api, { credentials: "same-origin", headers: tag ? { "If-None-Match": tag } : {} });
        if (r.status === 200) {
          tag = r.headers.get("ETag") || "";
          const c = await r.json();
          if (c.state !== box.dataset.stage) { location.reload(); return; }
          const n = c.numbers;
          n.unseen = n.not_seen + n.out + n.away;
          for (const at of box.querySelectorAll("[data-n]")) at.textContent = n[at.dataset.n];
        }
      } catch { /* no connection: the next look may have one */ }
    }
    setTimeout(look, 2000);
  };
  setTimeout(look, 2000);
})();
