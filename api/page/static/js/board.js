// The board on a tablet: the field keeps the focus, a scan is answered without
// loading the page, and what cannot be sent waits here under its key, with what was
// so when it was scanned. What a scan means is decided by the shop; without a
// connection only a clear label of a tool is kept, nothing else is acted on.
"use strict";
(() => {
  const form = document.getElementById("board"), say = form.dataset, who = document.body.dataset.who;
  const field = document.getElementById("f-code"), loud = document.getElementById("loud"), taking = document.getElementById("taking");
  const late = document.getElementById("late"), list = late.querySelector("ul"), sounding = document.getElementById("sounding"), sound = document.getElementById("sound");
  const second = 1000, open = 30 * second, double = 2 * second, days25 = 25 * 24 * 3600 * second;
  const now = () => performance.now(); // never goes back

  // The clock of the shop, as it was told last: never ahead of it.
  let told = Number(say.now), toldAt = now();
  const shopTime = (at) => new Date(told + at - toldAt).toISOString();

  // What was so when something is scanned.
  let badge = null, job = null, card = null, last = null;
  // What has lasted its time ends, as it does at the shop: a job with the badge under
  // which it was named, or by itself where none was open.
  const lapse = (at) => {
    if (badge && at >= badge.until) { badge = null; job = null; taking.textContent = ""; }
    if (card && at >= card.until) card = null;
    if (!badge && job && at >= job.until) job = null;
  };
  const badgeOpen = (at) => { lapse(at); return badge; };
  const cardOpen = (at) => { lapse(at); return card; };

  let ctx = null;
  const beep = (good) => {
    if (!sound.checked || !window.AudioContext) return;
    ctx = ctx || new AudioContext();
    const tone = ctx.createOscillator(), volume = ctx.createGain();
    tone.frequency.value = good ? 880 : 220;
    volume.gain.value = 0.2;
    tone.connect(volume).connect(ctx.destination);
    tone.start(); tone.stop(ctx.currentTime + (good ? 0.12 : 0.6));
  };
  sounding.hidden = false;
  sound.checked = localStorage.getItem("board-sound") === "yes";
  sound.addEventListener("change", () => localStorage.setItem("board-sound", sound.checked ? "yes" : "no"));

  const tell = (text, tone) => {
    loud.textContent = text;
    loud.className = "loud " + tone;
    loud.scrollIntoView({ block: "nearest" });
    beep(tone !== "failed");
    if (tone === "failed" && navigator.vibrate) navigator.vibrate([200, 100, 200]);
  };

  const cautions = document.getElementById("cautions");
  const warn = (texts) => {
    cautions.hidden = !texts || texts.length === 0;
    cautions.replaceChildren(...(texts || []).map((text) => { const p = document.createElement("p"); p.textContent = text; return p; }));
  };

  // What waits, oldest first; no key is used twice. A badge is remembered by the open
  // page alone, never kept: whoever holds the device would have it. After the page was
  // loaded anew, what was taken under one waits for it to be scanned once more.
  const badges = new Map();
  const lacking = (act) => act.takes && !badges.has(act.key);
  const place = "board:" + who;
  const waiting = () => { try { return JSON.parse(localStorage.getItem(place)) || []; } catch { return []; } };
  const keep = (all) => localStorage.setItem(place, JSON.stringify(all));
  const newKey = () => [...crypto.getRandomValues(new Uint8Array(12))].map((b) => b.toString(16).padStart(2, "0")).join("");
  const old = (act) => Date.now() - act.made > days25;
  const sendable = (act) => !act.refused && !old(act) && !lacking(act);
  const show = () => {
    const all = waiting();
    late.hidden = all.length === 0;
    list.replaceChildren(...all.map((act) => {
      const li = document.createElement("li");
      li.append((act.refused ? "" : old(act) ? say.old + " " : "") + act.what + (act.refused ? " " + act.refused : lacking(act) ? " " + say.lacking.replace("{1}", act.name || "?") : ""));
      if (act.refused || old(act) || lacking(act)) {
        const button = (text, go) => { const b = document.createElement("button"); b.type = "button"; b.className = "button quiet"; b.textContent = text; b.onclick = go; li.append(b); };
        if (!act.refused && old(act)) button(say.again, () => { keep(waiting().map((w) => w.key === act.key ? { ...w, made: Date.now() } : w)); flush(); });
        button(say.drop, () => { keep(waiting().filter((w) => w.key !== act.key)); show(); });
      }
      return li;
    }));
  };

  const send = async (act, fields) => {
    const body = new URLSearchParams({ key: act.key, code: act.code, ...fields });
    const r = await fetch("/board", { method: "POST", credentials: "same-origin", headers: { "Pawl-Script": "1", "Pawl-Who": who }, body, signal: AbortSignal.timeout(8 * second) });
    const json = (r.headers.get("Content-Type") || "").startsWith("application/json");
    return { status: r.status, body: json ? await r.json() : null };
  };
  const later = (status) => status >= 500 || status === 429 || status === 401;

  // Sends what waits, in order, until one cannot be sent.
  let chain = Promise.resolve();
  const flushNow = async () => {
    for (const act of waiting()) {
      if (act.refused || old(act) || lacking(act)) continue;
      let r;
      try { r = await send(act, { happened: act.happened, under: badges.get(act.key) || "", job: act.job, card: act.card }); } catch { return false; }
      if (later(r.status) || !r.body) return false;
      const failed = r.status >= 400 || r.body.Tone === "failed";
      const why = r.status >= 400 ? r.body.Detail : r.body.Said;
      tell(why, failed ? "failed" : r.body.Tone);
      keep(failed ? waiting().map((w) => w.key === act.key ? { ...w, refused: why } : w) : waiting().filter((w) => w.key !== act.key));
      show();
    }
    return true;
  };
  const flush = () => { chain = chain.then(flushNow).catch(() => {}).then(show); return chain; };

  // Without a connection: a badge, a job and a card are noted here, a tool is kept.
  const number = (code) => {
    const bare = /^t\/([0-9a-z]{3})-?([0-9a-z]{3})$/i.exec(code);
    if (bare) return bare[1] + "-" + bare[2];
    const link = /^https?:\/\/([^\/\s]+)\/t\/([0-9a-z]{3})-?([0-9a-z]{3})\/?(?:[?#].*)?$/i.exec(code);
    return link && say.hosts.split(" ").includes(link[1].toLowerCase()) ? link[2] + "-" + link[3] : "";
  };
  const shows = () => { taking.textContent = say.open + (job ? " " + say.for.replace("{1}", job.number) : ""); };
  const alone = (act, at) => {
    const code = act.code.toUpperCase();
    if (/^B\/[0-9A-Z-]+$/.test(code)) {
      if (badgeOpen(at) && badge.code !== code) job = null; // it was of whoever took before
      badge = { code, until: at + open };
      card = null;
      shows();
      return tell(say.unasked, "kept");
    }
    if (/^JOB:/.test(code)) {
      job = { number: code.slice(4), until: at + open };
      if (badgeOpen(at)) shows();
      return tell((badge ? say.job : say.jobBadge).replace("{1}", job.number), "kept");
    }
    if (/^CARD:(TAKE|RETURN)$/.test(code)) { card = { word: code.slice(5), until: at + open }; return tell(card.word === "TAKE" ? say.cardTake : say.cardReturn, "kept"); }
    if (/^(CARD:)?UNDO$/.test(code)) return tell(say.cannot, "failed");
    const n = number(act.code).toUpperCase();
    if (!n) return tell(say.unread.replace("{1}", act.code.slice(0, 40)), "failed");
    // A badge that was open when the page was loaded is known to the shop alone.
    if (!act.card && !badgeOpen(at) && taking.dataset.until && at < Number(taking.dataset.until)) return tell(say.whose, "failed");
    const under = badgeOpen(at), takes = act.card ? act.card === "TAKE" : under !== null;
    if (takes && !under) return tell(say.whose, "failed");
    act.takes = takes;
    if (takes) { badges.set(act.key, under.code); act.name = under.name || ""; }
    act.what = (takes ? say.take : say.return).replace("{1}", n);
    try { keep([...waiting(), act]); } catch { // no room, or none is given to this page
      badges.delete(act.key);
      return tell(say.unkept.replace("{1}", n), "failed");
    }
    show();
    return tell(act.what, "kept");
  };

  const answered = (d, act, at) => {
    told = d.Now; toldAt = now();
    if (/^b\//i.test(act.code)) badge = d.Left > 0 ? { code: act.code.toUpperCase(), until: at + d.Left } : null;
    else if (d.Left === 0) badge = null;
    if (badge && badge.name === undefined) {
      badge.name = d.Name;
      for (const w of waiting()) if (lacking(w) && w.name && w.name === d.Name) badges.set(w.key, badge.code);
    }
    const named = /^card:(take|return)$/i.exec(act.code);
    if (named) card = { word: named[1].toUpperCase(), until: at + open };
    if (/^b\//i.test(act.code)) card = null;
    const until = job && job.number === d.Job && !/^job:/i.test(act.code) ? job.until : at + open;
    job = d.Job ? { number: d.Job, until } : null;
    taking.textContent = d.Taking;
    warn(d.Cautions);
    tell(d.Said, d.Tone);
  };
  const one = async (code, at) => {
    const b = badgeOpen(at), c = cardOpen(at);
    const act = { key: newKey(), code, happened: shopTime(at), made: Date.now(), job: b && job ? job.number : "", card: c ? c.word : "" };
    const behind = waiting().some(sendable);
    if (behind && !(await flushNow())) return alone(act, at);
    let r = null;
    try { r = await send(act, {}); } catch { /* no connection */ }
    if (r && r.status === 429 && r.body) return tell(r.body.Detail, "failed");
    if (!r || later(r.status) || !r.body) return alone(act, at);
    if (r.status >= 400) return tell(r.body.Detail, "failed");
    answered(r.body, act, at);
  };
  const scan = (raw) => {
    const code = raw.trim(), at = now();
    if (!code) return;
    if (last && last.code === code.toUpperCase() && at - last.at < double) { last.at = at; tell(say.same, "same"); return; }
    last = { code: code.toUpperCase(), at };
    chain = chain.then(() => one(code, at)).catch(() => tell(say.unkept.replace("{1}", /^b\//i.test(code) ? "B/…" : code.slice(0, 40)), "failed"));
  };

  // The end of taking is said aloud.
  setInterval(() => {
    const was = badge;
    if (was && !badgeOpen(now())) { tell(say.ended.replace("{1}", was.name || "?"), "same"); }
    else if (!was && taking.dataset.until && now() >= Number(taking.dataset.until)) { taking.textContent = ""; delete taking.dataset.until; }
  }, 250);
  if (Number(say.left) > 0) taking.dataset.until = String(now() + Number(say.left));

  form.addEventListener("submit", (e) => {
    e.preventDefault();
    scan(e.submitter && e.submitter.name === "undo" ? "CARD:UNDO" : field.value);
    field.value = "";
    field.focus();
  });
  form.addEventListener("scanned", (e) => scan(e.detail));
  // A scanner types wherever the focus is: it goes back to the field.
  addEventListener("keydown", (e) => {
    if (document.activeElement !== field && e.key.length === 1 && !e.ctrlKey && !e.metaKey && !e.altKey && document.activeElement.tagName !== "INPUT") field.focus();
  });
  field.focus();
  addEventListener("online", flush);
  setInterval(() => { if (waiting().some(sendable)) flush(); }, 5 * second);
  show();
  flush();
})();
