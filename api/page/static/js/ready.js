// An answer is one of the minute in which it was computed. When that is over, or
// there is no connection, its page says so in its place; what is recorded is asked
// again anyhow.
"use strict";
(() => {
  const answer = document.getElementById("answer"), begun = Date.now();
  const again = answer.querySelector(".computed a").href;
  const instead = (text) => {
    const p = document.createElement("p"), a = document.createElement("a");
    p.className = "verdict old"; p.textContent = text;
    a.className = "button"; a.href = again; a.textContent = answer.dataset.again;
    answer.replaceChildren(p, a);
    for (const e of document.querySelectorAll(".figures, .drawing, .why, .instead")) e.hidden = true;
  };
  const look = () => {
    if (!navigator.onLine) instead(answer.dataset.offline);
    else if (Date.now() - begun > 60000) instead(answer.dataset.old);
  };
  setInterval(look, 5000);
  addEventListener("offline", look);
  document.addEventListener("visibilitychange", look);
  addEventListener("pageshow", (e) => { if (e.persisted) location.replace(again); });
})();
