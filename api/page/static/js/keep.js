// Nothing that was typed or done is lost: typed text stays through a reload, a
// form is sent once, and what cannot be sent waits on this phone under the key
// of its form, which makes a second sending harmless. Without this script the
// same forms go the plain way.
"use strict";
(() => {
  const say = document.body.dataset;
  const days25 = 25 * 24 * 3600 * 1000;

  // The acts that wait, with their files, oldest first.
  const open = () => new Promise((resolve, reject) => {
    const r = indexedDB.open("pawl", 1);
    r.onupgradeneeded = () => r.result.createObjectStore("acts", { keyPath: "id", autoIncrement: true });
    r.onsuccess = () => resolve(r.result);
    r.onerror = () => reject(r.error);
  });
  const run = async (mode, ask) => {
    const db = await open();
    try {
      return await new Promise((resolve, reject) => {
        const t = db.transaction("acts", mode);
        const r = ask(t.objectStore("acts"));
        t.oncomplete = () => resolve(r.result);
        t.onerror = t.onabort = () => reject(t.error);
      });
    } finally { db.close(); }
  };
  const waiting = () => run("readonly", (s) => s.getAll());
  const keep = (act) => run("readwrite", (s) => s.add(act));
  const change = (act) => run("readwrite", (s) => s.put(act));
  const drop = (id) => run("readwrite", (s) => s.delete(id));

  const send = async (act, how) => {
    const body = new FormData();
    for (const [name, value] of act.fields) body.append(name, value);
    if (how === "waited" && act.fields.some(([name]) => name === "happened")) body.append("sent", new Date().toISOString()); // by how much this clock differs from the shop's
    const multipart = act.fields.some(([, v]) => typeof v !== "string");
    const r = await fetch(act.to, { method: "POST", credentials: "same-origin", headers: { "Pawl-Script": how, "Pawl-Who": act.who }, body: multipart ? body : new URLSearchParams(body) });
    const told = (r.headers.get("Content-Type") || "").startsWith("application/json");
    return { status: r.status, body: told ? await r.json() : null };
  };
  // A badge is asked for again rather than kept: whoever holds the device would have it.
  const badged = (act) => act.fields.some(([name, value]) => name === "badge" && value !== "");
  const unbadged = (act) => { act.fields = act.fields.filter(([name]) => name !== "badge"); act.badge = true; };
  const later = (status) => status === 503 || status === 429 || status === 502 || status === 504;

  // The banner that tells what waits.
  const banner = document.getElementById("waiting");
  const show = async () => {
    const all = await waiting().catch(() => []);
    const acts = all.filter((a) => a.who === say.who);
    banner.hidden = all.length === 0;
    banner.replaceChildren();
    if (acts.length) banner.append(say.waiting.replace("{1}", acts.length));
    // What somebody else did on this phone is not done in another's name.
    if (all.length > acts.length) banner.append(" " + say.others.replace("{1}", all.length - acts.length));
    for (const act of acts.filter((a) => a.refused || Date.now() - a.made > days25)) {
      const line = document.createElement("p");
      line.append((act.refused ? "" : say.old + " ") + act.what + (act.refused ? ": " + act.refused : ""));
      if (act.badge) {
        const a = document.createElement("a");
        a.className = "button quiet"; a.href = act.to; a.textContent = say.badge;
        line.append(a);
      }
      for (const [key, go] of [["again", async () => { act.refused = ""; act.made = Date.now(); await change(act); await flush(); }], ["drop", async () => { await drop(act.id); await show(); }]]) {
        const b = document.createElement("button");
        b.type = "button"; b.className = "quiet"; b.textContent = banner.dataset[key]; b.onclick = go;
        if (key !== "again" || !act.badge) line.append(b);
      }
      banner.append(line);
    }
  };

  let flushing = false;
  const flush = async () => {
    if (flushing) return;
    flushing = true;
    try {
      for (const act of await waiting()) {
        if (act.who !== say.who || act.refused || Date.now() - act.made > days25) continue;
        const r = await send(act, "waited");
        if (later(r.status) && !(r.status === 429 && badged(act))) break;
        if (r.status < 400) await drop(act.id);
        else {
          if (badged(act)) unbadged(act);
          act.refused = (r.body && r.body.Detail) || String(r.status);
          await change(act);
        }
      }
    } catch { /* still no connection: they go on waiting */ } finally { flushing = false; }
    await show();
  };

  // Typed text, by page and field, until its form was sent.
  const draftOf = (form) => "draft:" + say.who + ":" + location.pathname + ":" + [...document.forms].indexOf(form);
  const texts = (form) => [...form.elements].filter((e) => e.name && e.name !== "key" && e.name !== "badge" && (e.tagName === "TEXTAREA" || e.tagName === "SELECT" || ["text", "search", "date", "datetime-local", "radio", "checkbox"].includes(e.type)));
  const remember = (form, sent) => {
    const kept = texts(form).filter((e) => (e.type !== "radio" && e.type !== "checkbox") || e.checked).map((e) => [e.name, e.value]);
    const key = form.elements.key && form.elements.key.value;
    sessionStorage.setItem(draftOf(form), JSON.stringify({ kept, key, sent }));
  };
  const recall = (form) => {
    const raw = sessionStorage.getItem(draftOf(form));
    if (!raw) return;
    const { kept, key, sent } = JSON.parse(raw);
    for (const e of texts(form)) if (e.type === "checkbox") e.checked = false;
    for (const [name, value] of kept) {
      const box = texts(form).find((e) => e.type === "checkbox" && e.name === name && e.value === value && !e.checked);
      if (box) { box.checked = true; continue; }
      for (const e of texts(form).filter((e) => e.name === name && e.type !== "checkbox")) {
        if (e.type === "radio") e.checked = e.value === value; else if (!e.value) e.value = value;
      }
    }
    if (key && sent) form.elements.key.value = key; // its answer may have been lost
  };
  const forget = (form) => sessionStorage.removeItem(draftOf(form));

  const tell = (form, problem) => {
    document.getElementById("problem")?.remove();
    const box = document.createElement("section");
    box.id = "problem"; box.className = "problem"; box.tabIndex = -1;
    box.setAttribute("role", "alert");
    const head = document.createElement("h2");
    head.id = "problem-title"; head.textContent = say.refused;
    box.setAttribute("aria-labelledby", head.id);
    box.append(head);
    const text = document.createElement("p");
    text.textContent = problem.Detail + (problem.Hint ? ". " + problem.Hint : "");
    box.append(text);
    if (problem.Fields && problem.Fields.length) {
      const list = document.createElement("ul");
      for (const f of problem.Fields) {
        const at = form.elements[f.Name], li = document.createElement("li"), a = document.createElement("a");
        const label = at && at.labels && at.labels[0] ? at.labels[0].firstChild.textContent.trim() + ": " : "";
        a.textContent = label + f.Detail; a.href = at && at.id ? "#" + at.id : "#main";
        li.append(a); list.append(li);
        if (at && at.setAttribute) at.setAttribute("aria-invalid", "true");
      }
      box.append(list);
    }
    if (problem.Tool) {
      const a = document.createElement("a");
      a.className = "button quiet"; a.href = "/t/" + problem.Tool; a.textContent = say.tool.replace("{1}", problem.Tool);
      box.append(a);
    }
    if (problem.Rev && form.elements.rev) form.elements.rev.value = problem.Rev;
    document.getElementById("main").prepend(box);
    box.focus();
  };

  // One loading only: what the act said is told once.
  const leave = (path) => {
    const to = new URL(path, location);
    if (to.pathname + to.search === location.pathname + location.search) location.reload(); else location.assign(to);
  };

  const buttons = (form, off) => { for (const b of form.querySelectorAll("button")) b.disabled = off; };
  const submit = async (form, by) => {
    const body = new FormData(form, by);
    const fields = [...body.entries()].filter(([, v]) => typeof v === "string" || v.size > 0);
    const act = { to: form.getAttribute("action") || location.href, fields, what: form.dataset.what || document.title, who: say.who, made: Date.now() };
    remember(form, true);
    buttons(form, true);
    const status = document.createElement("p");
    status.setAttribute("role", "status"); status.className = "said"; status.textContent = say.sending;
    form.append(status);
    let r = null;
    try { r = await send(act, "1"); } catch { /* no connection */ }
    status.remove();
    buttons(form, false);
    if (r && r.status < 400 && r.body) { forget(form); leave(r.body.to); return; }
    if (r && r.body && (!later(r.status) || (r.status === 429 && badged(act)))) {
      if (form.elements.badge) form.elements.badge.value = ""; // a scanner types into what stands there
      if (form.dataset.scan !== undefined) form.elements.code.value = "";
      tell(form, r.body);
      return;
    }
    if (form.dataset.wait === undefined) { tell(form, { Detail: say.failed.split(":")[0] }); return; }
    if (form.dataset.when !== undefined) act.fields.push(["happened", new Date(act.made).toISOString()]); // it is judged by when it was done
    await keep(act);
    forget(form);
    if (form.dataset.again !== undefined) { // what is sent next from this form is another act
      form.elements.key.value = [...crypto.getRandomValues(new Uint8Array(12))].map((b) => b.toString(16).padStart(2, "0")).join("");
      for (const e of texts(form)) e.value = "";
    }
    await show();
    tell(form, { Detail: say.failed });
  };

  // A form that goes the plain way and takes long says so, and for how long by now.
  for (const form of document.querySelectorAll("form[data-busy]")) {
    form.addEventListener("submit", (e) => {
      if (e.submitter && e.submitter.value === "report") return; // a file is taken along, and the page stays
      const begun = Date.now(), status = document.createElement("p"), count = document.createElement("span");
      status.setAttribute("role", "status"); status.className = "said"; status.hidden = true;
      status.append(form.dataset.busy + " ", count);
      count.setAttribute("aria-hidden", "true"); // the sentence is announced once
      form.append(status);
      setTimeout(() => buttons(form, true)); // the one that was pressed is sent first
      const clock = setInterval(() => { status.hidden = false; count.textContent = Math.round((Date.now() - begun) / 1000); }, 1000);
      addEventListener("pageshow", () => { clearInterval(clock); status.remove(); }, { once: true });
    });
  }

  for (const form of document.forms) {
    if ((form.getAttribute("method") || "").toLowerCase() !== "post" || form.dataset.plain !== undefined) continue;
    recall(form);
    form.addEventListener("input", () => remember(form));
    form.addEventListener("submit", (e) => { e.preventDefault(); submit(form, e.submitter); });
  }
  addEventListener("pageshow", (e) => { if (e.persisted) for (const f of document.forms) buttons(f, false); });
  if ("serviceWorker" in navigator) navigator.serviceWorker.register("/sw.js").catch(() => {}); // plain HTTP has none
  addEventListener("online", flush);
  setInterval(() => { if (!banner.hidden) flush(); }, 15000);
  flush();
})();
