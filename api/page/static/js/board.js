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

  // What this device remembers of the board through a loading: never a badge.
  const remembered = (what) => { try { return JSON.parse(localStorage.getItem("board-" + what + ":" + who)); } catch { return null; } };
  const remember = (what, value) => { try { localStorage.setItem("board-" + what + ":" + who, JSON.stringify(value)); } catch { /* no room: it is known until the page is left */ } };
  // A page that was kept on this device knows nothing of the shop as it is now.
  const shell = say.shell === "yes";

  // The clock of the shop, as it was told last: never ahead of it.
  let told = Number(say.now), toldAt = now();
  const hears = (at) => { told = at; toldAt = now(); remember("clock", at - Date.now()); };
  if (shell) told = Date.now() + (remembered("clock") || 0); else hears(told);
  const shopTime = (at) => new Date(told + at - toldAt).toISOString();

  // What was so when something is scanned.
  let badge = null, job = null, card = null, last = null;
  // Until when a badge may be open of which this page does not know: the shop knows it,
  // or nobody, where the page was loaded anew after a badge that the shop was not told.
  let unknown = 0, lost = false;
  const opens = (b, atShop) => { badge = b; unknown = 0; remember("open", { until: Date.now() + b.until - now(), apart: !atShop }); };
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

  const back = document.getElementById("back"), cautions = document.getElementById("cautions");
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
  const tool = (act) => act.number || act.code.toUpperCase();
  const waiting = () => { try { return JSON.parse(localStorage.getItem(place)) || []; } catch { return []; } };
  const keep = (all) => localStorage.setItem(place, JSON.stringify(all));
  const newKey = () => [...crypto.getRandomValues(new Uint8Array(12))].map((b) => b.toString(16).padStart(2, "0")).join("");
  const old = (act) => Date.now() - act.made > days25;
  // What may be sent now. What was done with a tool later waits for what was done with
  // it before, an undo for what it undoes.
  const ready = () => {
    const held = new Set();
    return waiting().filter((act) => {
      if (act.refused) return false;
      if (!old(act) && !lacking(act) && !held.has(tool(act))) return true;
      held.add(tool(act));
      return false;
    });
  };
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

  // The last act that can be undone: here, with its key, or at the shop, which knows it
  // by the tool and by since when custody is so. It outlasts the page with what waits.
  let done = null;
  const did = (act) => { done = act; remember("last", act); };
  const kept = remembered("last");
  if (kept && (shell || kept.here && waiting().some((w) => w.key === kept.key))) done = kept;
  else if (say.undo) did(JSON.parse(say.undo));
  const undoing = (act) => act.undo ? { "of": act.undo.key, "of-number": act.undo.number || "", "of-since": act.undo.since || "" } : {};

  const send = async (act, fields) => {
    const body = new URLSearchParams({ key: act.key, code: act.code, ...undoing(act), ...fields });
    const r = await fetch("/board", { method: "POST", credentials: "same-origin", headers: { "Pawl-Script": "1", "Pawl-Who": who }, body, signal: AbortSignal.timeout(8 * second) });
    const json = (r.headers.get("Content-Type") || "").startsWith("application/json");
    return { status: r.status, body: json ? await r.json() : null };
  };
  const later = (status) => status >= 500 || status === 429 || status === 401;

  // Where the device itself says that it has no line, nothing is tried.
  const cutOff = () => !navigator.onLine && !/^(localhost|127\..*|\[::1\])$/.test(location.hostname);

  // Sends what waits, in order, until one cannot be sent. From when it is tried it may
  // have been done, whatever is heard of it.
  let chain = Promise.resolve();
  const settle = (act, body, failed, why) => {
    const all = waiting();
    for (const w of all) if (w.undo && w.undo.key === act.key && body.Undo) w.undo = { ...w.undo, ...body.Undo, key: act.key };
    keep(failed ? all.map((w) => w.key === act.key ? { ...w, refused: why } : w) : all.filter((w) => w.key !== act.key));
    if (done && done.here && done.key === act.key) did(failed ? null : body.Undo);
  };
  const flushNow = async () => {
    for (let act; (act = ready()[0]);) {
      if (act.undo && !act.undo.since) { // what it undoes was not done, or is not to be sent
        settle(act, {}, false);
        tell(say.undoNever, "failed");
        show();
        continue;
      }
      if (cutOff()) return false;
      keep(waiting().map((w) => w.key === act.key ? { ...w, tried: 1 } : w));
      let r;
      try { r = await send(act, { happened: act.happened, under: badges.get(act.key) || "", job: act.job, card: act.card }); } catch { return false; }
      if (later(r.status) || !r.body) return false;
      const failed = r.status >= 400 || r.body.Tone === "failed";
      const why = r.status >= 400 ? r.body.Detail : r.body.Said;
      tell(why, failed ? "failed" : r.body.Tone);
      settle(act, r.body, failed, why);
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
  // Who takes is known to nobody here: after a loading, for as long as a badge may be open.
  const unasked = (at) => at < unknown && !badgeOpen(at);
  const alone = (act, at) => {
    const code = act.code.toUpperCase();
    if (/^B\/[0-9A-Z-]+$/.test(code)) {
      if (badgeOpen(at) && badge.code !== code) job = null; // it was of whoever took before
      opens({ code, until: at + open }, false);
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
    if (/^(CARD:)?UNDO$/.test(code)) return undoAlone(act);
    const n = number(act.code).toUpperCase();
    if (!n) return tell(say.unread.replace("{1}", act.code.slice(0, 40)), "failed");
    if (!act.card && unasked(at)) return tell(say.whose, "failed");
    const under = badgeOpen(at), takes = act.card ? act.card === "TAKE" : under !== null;
    if (takes && !under) return tell(say.whose, "failed");
    act.takes = takes;
    act.number = n;
    if (takes) { badges.set(act.key, under.code); act.name = under.name || ""; }
    act.what = (takes ? say.take : say.return).replace("{1}", n);
    if (!store(act, n)) return undefined;
    did({ here: true, key: act.key, number: n });
    return tell(act.what, "kept");
  };
  const store = (act, n) => {
    try { keep([...waiting(), act]); } catch { // no room, or none is given to this page
      badges.delete(act.key);
      tell(say.unkept.replace("{1}", n), "failed");
      return false;
    }
    show();
    return true;
  };

  // Without a connection an undo takes out of what waits what was never tried; what may
  // have been done, or was, is undone after it, by name.
  const undoAlone = (act) => {
    const of = done, n = of && (of.number || "");
    if (!of) return tell(say.undoNothing, "failed");
    const waits = of.here && waiting().find((w) => w.key === of.key);
    if (of.here && (!waits || waits.refused)) { did(null); return tell(say.undoNever, "failed"); }
    if (waits && !waits.tried) {
      keep(waiting().filter((w) => w.key !== of.key));
      did(null);
      show();
      return tell(say.void.replace("{1}", n), "kept");
    }
    if (!store({ ...act, code: "CARD:UNDO", number: n, undo: { key: of.key, number: n, since: of.since || "" }, job: "", card: "", what: say.undone.replace("{1}", n) }, n)) return undefined;
    did(null);
    return tell(say.undone.replace("{1}", n), "kept");
  };

  const answered = (d, act, at) => {
    hears(d.Now);
    did(d.Undo);
    if (/^b\//i.test(act.code)) badge = d.Left > 0 ? { code: act.code.toUpperCase(), until: at + d.Left } : null;
    else if (d.Left === 0) badge = null;
    if (/^b\//i.test(act.code)) unknown = 0;
    if (badge) opens(badge, true); else remember("open", null);
    if (badge && badge.name === undefined && d.Name) {
      badge.name = d.Name;
      for (const w of waiting()) if (lacking(w) && w.name && w.name === d.Name) badges.set(w.key, badge.code);
    }
    const named = /^card:(take|return)$/i.exec(act.code);
    if (named) card = { word: named[1].toUpperCase(), until: at + open };
    if (/^b\//i.test(act.code)) card = null;
    const until = job && job.number === d.Job && !/^job:/i.test(act.code) ? job.until : at + open;
    job = d.Job ? { number: d.Job, until } : null;
    taking.textContent = d.Taking;
    back.hidden = !d.Back;
    if (d.Back) back.firstElementChild.href = d.Back;
    warn(d.Cautions);
    tell(d.Said, d.Tone);
  };
  // What was so here when something was scanned goes with it: the shop may not have been
  // told of a badge, a job or a card. Of a badge that was open when this page was loaded
  // the shop alone knows.
  const so = (at, b, c) => at < unknown && !lost && !b ? {} : {
    told: "yes", under: b ? b.code : "", left: String(b ? Math.max(1, Math.round(b.until - now())) : 0), job: job ? job.number : "", card: c ? c.word : "",
  };
  const one = async (code, at) => {
    const b = badgeOpen(at), c = cardOpen(at);
    const act = { key: newKey(), code, happened: shopTime(at), made: Date.now(), job: b && job ? job.number : "", card: c ? c.word : "", tried: 0 };
    if (lost && !c && unasked(at) && (number(code) || /^[0-9a-z]{3}-?[0-9a-z]{3}$/i.test(code))) return tell(say.whose, "failed");
    const fields = so(at, b, c);
    if (cutOff() || ready().length && !(await flushNow())) return alone(act, at);
    const undo = /^(card:)?undo$/i.test(code);
    if (undo && !done) return tell(say.undoNothing, "failed");
    if (undo && done.here) return undoAlone(act);
    if (undo) act.undo = done;
    let r = null;
    act.tried = 1;
    try { r = await send(act, fields); } catch { /* no connection */ }
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
    if (was && !badgeOpen(now())) { remember("open", null); tell(say.ended.replace("{1}", was.name || "?"), "same"); }
    else if (!was && unknown && now() >= unknown) { taking.textContent = ""; unknown = 0; lost = false; }
  }, 250);
  const before = remembered("open");
  if (before && before.until > Date.now() && (shell || before.apart)) {
    unknown = now() + Math.min(open, before.until - Date.now());
    lost = true;
    taking.textContent = "";
  } else if (Number(say.left) > 0) unknown = now() + Number(say.left);
  if (shell) tell(say.shellSays, "kept");

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
  setInterval(() => { if (ready().length) flush(); }, 5 * second);
  // So that the board works here without a connection, when it is loaded anew too.
  if (!shell && navigator.serviceWorker) navigator.serviceWorker.ready.then((r) => r.active.postMessage("keep the board"));
  show();
  flush();
})();
