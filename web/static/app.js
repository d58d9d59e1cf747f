// What the pages do beyond plain forms: single keys, the keypad, the preview
// while typing, news from other devices. Without it every form still posts.
(() => {
  "use strict";
  const root = document.documentElement;
  root.classList.add("js");
  const $ = (q, from) => (from || document).querySelector(q);

  const boxes = () => [...document.querySelectorAll(".box input[type=text]")];

  // After an answer the focus goes to the sentence that says it.
  const settle = () => {
    const v = $("[data-focus]");
    if (v) v.focus({ preventScroll: false });
    // The page's own keypad is out on touch screens: the device's would cover it.
    if (matchMedia("(pointer: coarse)").matches && $(".pad")) for (const b of boxes()) b.inputMode = "none";
  };
  settle();
  document.addEventListener("shown", settle);
  document.addEventListener("htmx:after:swap", (e) => {
    if (e.target && (e.target.id === "preview" || e.target.id === "read")) return; // somebody is typing
    settle();
    const line = $(".steps .cur input"); // the hand goes on with the next line
    if (line && document.activeElement === document.body) line.focus({ preventScroll: true });
  });

  // A ticked line is sent at once, with every line before it.
  document.addEventListener("change", (e) => {
    if (e.target.matches(".steps input[type=checkbox]")) e.target.form.requestSubmit();
    if (e.target.matches("[data-submit]")) e.target.form.requestSubmit();
  });

  // typed is what a box holds after a key. "over" and "under" stand before the
  // number whenever they are pressed, "to" between two; "back" takes a whole word.
  const typed = (text, k) => {
    const bare = text.replace(/^(over|under|again)\s*/, "");
    switch (k) {
      case "back": return text.replace(/(over ?|under ?|again| to ?|.)$/, "");
      case "clear": return "";
      case "again": return "again";
      case "over": case "under": return k + " " + bare.split(" to ")[0];
      case "to": return bare === "" || / to /.test(bare) ? text : bare + " to ";
    }
    return (text === "again" ? "" : text) + k;
  };

  // The keypad types into the box that was used last.
  let box = null;
  document.addEventListener("focusin", (e) => { if (e.target.matches(".box input[type=text]")) { box = e.target; const p = $(".pad"); if (p) p.classList.add("on"); } });
  document.addEventListener("click", (e) => {
    const key = e.target.closest("[data-key]");
    if (!key) return;
    box = box && box.isConnected ? box : boxes()[0];
    if (!box) return;
    const k = key.dataset.key;
    if (k === "next") { const all = boxes(); box = all[(all.indexOf(box) + 1) % all.length]; box.focus(); }
    else box.value = typed(box.value, k);
    box.dispatchEvent(new Event("input", { bubbles: true }));
  });

  // Single keys, outside boxes only; they can be turned off below every page.
  const keys = {
    n: "#step", r: "#entry input:not([type=hidden])", x: "[data-k=x]", o: "[data-k=o]", d: "#whole", s: "#causes", l: "[data-k=l]", "?": "[data-k=keys]", u: "#entry .seg:not(.nojs) input:not(:checked)", " ": ".steps input",
  };
  // Esc folds what was unfolded last around the focus, else the last that stands open.
  document.addEventListener("keydown", (e) => {
    if (e.key !== "Escape" || root.dataset.keys !== "on" || e.target.closest("input, select, textarea")) return;
    const open = e.target.closest("details[open]") || [...document.querySelectorAll("main details[open]")].pop();
    if (!open) return;
    open.open = false;
    $("summary", open).focus();
  });
  document.addEventListener("keydown", (e) => {
    if (root.dataset.keys !== "on" || e.ctrlKey || e.metaKey || e.altKey || e.target.closest("input, select, textarea, button, a, summary")) return;
    const to = keys[e.key] && $(keys[e.key]);
    if (!to) return;
    e.preventDefault();
    if (to.matches("a")) to.click();
    else if (e.key === "u" || e.key === " ") to.click();
    else { if (to.tagName === "DETAILS") to.open = true; to.scrollIntoView({ block: "center" }); to.focus(); }
  });

  // A page that somebody is leaving is not loaded again: that would take back what was
  // pressed. Some addresses are answered with a file, and the page stays.
  let left = -Infinity;
  addEventListener("beforeunload", () => { left = performance.now(); });
  const again = () => { if (performance.now() - left > 10000) location.reload(); };
  document.addEventListener("again", again);

  // News from other devices: shown at once where nobody is typing or has to decide
  // about them. While this page sends something itself, its own event is no news.
  const live = root.dataset.live;
  let latest = 0, sending = root.dataset.sending === "on";
  const news = () => {
    if (sending || latest <= Number(root.dataset.seq || 0)) return;
    const busy = $("#waiting .decide") || [...document.querySelectorAll("form input[type=text]")].some((i) => i.value !== i.defaultValue);
    if (!busy && root.dataset.follow === "on") again();
    else { const n = $("#somebody"); if (n) n.hidden = false; }
  };
  document.addEventListener("submit", (e) => { if (!e.defaultPrevented) sending = true; });
  document.addEventListener("sending", (e) => { sending = e.detail; if (!sending) news(); });
  const own = (e) => !(e.target && e.target.closest && e.target.closest(".boxes, .looks"));
  document.addEventListener("htmx:before:request", (e) => { if (own(e)) sending = true; });
  document.addEventListener("htmx:finally:request", (e) => {
    if (!own(e)) return;
    const job = $("#job");
    if (job) root.dataset.seq = job.dataset.seq;
    for (const tick of document.querySelectorAll(".steps input:checked")) tick.checked = false; // one that did not arrive can be ticked again
    sending = false;
    news();
  });
  // A stream that broke off comes again by itself; one that was refused does not.
  const listen = () => {
    const from = new EventSource(live);
    const connected = (is) => document.dispatchEvent(new CustomEvent("connection", { detail: is }));
    from.addEventListener("moved", (e) => { latest = Math.max(latest, Number(e.data)); news(); });
    from.onerror = () => {
      if (!sending) connected(false);
      if (from.readyState === 2) setTimeout(listen, 15000);
    };
    from.onopen = () => connected(true);
    addEventListener("pagehide", () => from.close());
  };
  if (live && window.EventSource) {
    listen();
    addEventListener("pageshow", (e) => { if (e.persisted) location.reload(); });
  }
})();
