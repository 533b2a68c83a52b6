// Reads labels with the page's own camera: the browser's reader where it has
// one, else a reader that is loaded when it is first needed.
"use strict";
(() => {
  const box = document.getElementById("camera");
  const fine = matchMedia("(pointer: fine)").matches;
  // At the shop's own device a scanner types, and the field waits for it.
  if (fine || box.dataset.scanner) document.getElementById("f-code")?.focus({ preventScroll: true });
  if (box.dataset.scanner) addEventListener("keydown", (e) => {
    if (document.activeElement.tagName !== "INPUT" && e.key.length === 1 && !e.ctrlKey && !e.metaKey && !e.altKey) document.getElementById("f-code").focus();
  });
  if (!navigator.mediaDevices || !navigator.mediaDevices.getUserMedia) return;
  box.hidden = false;
  const said = document.getElementById("camera-said"), video = document.getElementById("video");
  // A board takes badges and cards too, and goes on looking.
  const board = document.getElementById("board");
  const ours = board || box.dataset.scanner ? /^(?:https?:\/\/[^\/\s]+\/t\/|[tbp]\/|job:|card:)/i : /^(?:https?:\/\/[^\/\s]+\/t\/|t\/|p\/|job:)/i;

  const load = (src) => new Promise((resolve, reject) => {
    const s = document.createElement("script");
    s.src = src; s.onload = resolve; s.onerror = reject;
    document.head.append(s);
  });
  const reader = async () => {
    if ("BarcodeDetector" in window && (await BarcodeDetector.getSupportedFormats()).includes("qr_code")) {
      const d = new BarcodeDetector({ formats: ["qr_code"] });
      return async () => (await d.detect(video)).map((c) => c.rawValue);
    }
    await load(box.dataset.lib);
    const canvas = document.createElement("canvas"), at = canvas.getContext("2d", { willReadFrequently: true });
    return async () => {
      canvas.width = video.videoWidth; canvas.height = video.videoHeight;
      at.drawImage(video, 0, 0);
      const found = jsQR(at.getImageData(0, 0, canvas.width, canvas.height).data, canvas.width, canvas.height);
      return found ? [found.data] : [];
    };
  };
  // On a page that takes one label after the other, the form is sent, and the camera
  // goes on where the page is loaded again; what is still in view is not sent twice.
  const form = document.getElementById(box.dataset.form || ""), on = "camera:" + location.pathname, last = on + ":last";
  const again = (text) => {
    const [was, at] = JSON.parse(sessionStorage.getItem(last) || '["",0]');
    if (was === text && Date.now() - at < 4000) return false;
    sessionStorage.setItem(last, JSON.stringify([text, Date.now()]));
    return true;
  };
  const found = (text, stream) => {
    if (form && (form.querySelector("button[disabled]") || !again(text))) return false;
    if (navigator.vibrate) navigator.vibrate(80);
    if (form) { form.elements.code.value = text; form.requestSubmit(); return false; }
    stream.getTracks().forEach((t) => t.stop());
    location.assign("/scan?by=camera&code=" + encodeURIComponent(text));
    return true;
  };
  const start = document.getElementById("camera-start");
  start.addEventListener("click", async () => {
    start.disabled = true;
    try {
      const [stream, read] = await Promise.all([navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } }), reader()]);
      addEventListener("pagehide", () => stream.getTracks().forEach((t) => t.stop()));
      document.getElementById("scanner").hidden = false;
      video.srcObject = stream;
      await video.play();
      said.textContent = box.dataset.looking;
      if (form) sessionStorage.setItem(on, "on");
      const look = async () => {
        if (video.readyState >= 2) {
          for (const text of await read()) {
            if (board && ours.test(text.trim())) {
              board.dispatchEvent(new CustomEvent("scanned", { detail: text }));
              continue;
            }
            if (ours.test(text.trim())) { if (found(text, stream)) return; } else said.textContent = box.dataset.foreign;
          }
        }
        setTimeout(look, 120);
      };
      look();
    } catch {
      said.textContent = box.dataset.denied;
      start.disabled = false;
      sessionStorage.removeItem(on);
    }
  });
  if (form && sessionStorage.getItem(on)) start.click();
})();
