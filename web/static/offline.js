// Readings that were entered wait here until the server has said that they are
// recorded: stored on the device, then sent, in order, one at a time, each with an
// id of its own, so that sending again records nothing twice. What the server does
// not take stays until somebody decides. Without this file the forms post as they
// stand.
(() => {
  "use strict";
  const root = document.documentElement, me = root.dataset.who || "";
  const $ = (q, from) => (from || document).querySelector(q);
  const clock = (t) => { const d = new Date(t), two = (x) => String(x).padStart(2, "0"); return two(d.getHours()) + ":" + two(d.getMinutes()); };
  const readings = (n) => n + (n === 1 ? " reading" : " readings");
  if (!window.indexedDB) return;

  // The store. What was entered is on the device's disk when it has said yes to it;
  // what became of it since may be lost in a power cut, and is found out by asking.
  let opened;
  const db = () => opened ||= new Promise((yes, no) => {
    const q = indexedDB.open("chargewright", 1);
    q.onupgradeneeded = () => {
      q.result.createObjectStore("waiting", { keyPath: "n", autoIncrement: true });
      q.result.createObjectStore("known", { keyPath: "job" });
    };
    q.onsuccess = () => yes(q.result);
    q.onerror = () => no(q.error);
  });
  const stored = async (mode, act, durability = "relaxed") => {
    const tx = (await db()).transaction(["waiting", "known"], mode, { durability });
    const out = act(tx.objectStore("waiting"), tx.objectStore("known"));
    return new Promise((yes, no) => {
      tx.oncomplete = () => yes(out && out.result);
      tx.onerror = tx.onabort = () => no(tx.error);
    });
  };
  const all = () => stored("readonly", (w) => w.getAll());
  // keep puts an entry by. placed: it has its place among the others, and what the
  // device knows of its job is in it; true when others of the job go first. safe: it
  // is on the disk. What goes first is on the disk first: transactions keep order.
  const keep = (item) => {
    let safe;
    const placed = db().then((d) => new Promise((yes, no) => {
      const tx = d.transaction(["waiting", "known"], "readwrite", { durability: "strict" }), w = tx.objectStore("waiting");
      let known;
      safe = new Promise((done, not) => { tx.oncomplete = done; tx.onerror = tx.onabort = () => not(tx.error); });
      safe.catch(no);
      tx.objectStore("known").get(item.job).onsuccess = (e) => { known = e.target.result; };
      w.getAll().onsuccess = (e) => {
        if (known && known.from <= item.seen && item.seen < known.seq) item.seen = item.taken = known.seq; // by this device's own readings
        const waits = e.target.result.some((x) => x.job === item.job && x.who === me);
        item.tries = waits || lost ? 0 : 1; // sent at once, it may have arrived
        try { w.add(item).onsuccess = (a) => { item.n = a.target.result; }; } catch (why) { return no(why); }
        yes(waits);
      };
    }));
    return { placed, safe: () => safe };
  };
  const put = (item) => stored("readwrite", (w) => w.put(item));
  const drop = (n) => stored("readwrite", (w) => w.delete(n));

  // An id that sorts by its time: UUID of version 7 (RFC 9562, 5.7).
  const newID = () => {
    const b = crypto.getRandomValues(new Uint8Array(16));
    let t = Date.now();
    for (let i = 5; i >= 0; i--) { b[i] = t % 256; t = Math.floor(t / 256); }
    b[6] = b[6] & 15 | 112; b[8] = b[8] & 63 | 128;
    const hex = [...b].map((x) => x.toString(16).padStart(2, "0")).join("");
    return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
  };
  // The time with the device's own offset (RFC 3339).
  const now = () => {
    const d = new Date(), o = -d.getTimezoneOffset(), two = (x) => String(Math.floor(Math.abs(x))).padStart(2, "0");
    return new Date(d.getTime() + o * 60000).toISOString().slice(0, 19) + (o < 0 ? "-" : "+") + two(o / 60) + ":" + two(o % 60);
  };

  // Whether there is a connection, and since when not.
  let lost = null, ended = false;
  const say = (text) => { const p = $("#told"); if (p) p.textContent = text; };
  const goneNow = () => {
    if (lost) return;
    lost = root.dataset.kept ? new Date(root.dataset.kept) : new Date();
    root.classList.add("lost");
    const n = $("#lost");
    if (n) { $("#since").textContent = clock(lost); n.hidden = false; }
  };
  const answers = () => {
    lost = null;
    root.classList.remove("lost");
    const n = $("#lost");
    if (n) n.hidden = true;
  };
  const backNow = async () => {
    if (!lost) return;
    answers();
    await send();
    if (root.dataset.kept && !lost && !typing()) anew();
  };
  const anew = () => document.dispatchEvent(new Event("again")); // app.js loads the page anew unless it is being left
  const typing = () => [...document.querySelectorAll("form input[type=text]")].some((i) => i.value !== i.defaultValue);
  document.addEventListener("connection", (e) => (e.detail ? backNow : goneNow)());
  addEventListener("offline", () => fetch("/healthz").catch(goneNow)); // a server on this machine is there without a network
  addEventListener("online", () => send());
  document.addEventListener("visibilitychange", () => { if (!document.hidden) send(); });

  // Sending. Of each job the first goes first; one that waits for a decision holds
  // up those after it on the same job and no others.
  let running = null, again = 0;
  const send = (first) => running ||= alone(() => run(first)).catch(() => {}).finally(() => { running = null; draw(); });
  const alone = (act) => navigator.locks ? navigator.locks.request("chargewright-waiting", act) : act();
  async function run(first) {
    clearTimeout(again);
    sending(true);
    try {
      for (let good = !first || await sendOne(first.item, first); good;) {
        const held = new Set();
        const next = (await all()).find((x) => { if (x.who !== me || held.has(x.job)) return false; held.add(x.job); return !x.answer; });
        if (!next || ended) return;
        if (good = await sendOne(next)) draw();
      }
    } finally { sending(false); }
    goneNow();
    again = setTimeout(send, 4000 + 4000 * Math.random());
  }
  // What this device's own readings bring about is no news while it sends: the page
  // is loaded anew once, when all are sent, and not after each.
  let sends = 0;
  const sending = (is) => {
    sends += is ? 1 : -1;
    root.dataset.sending = sends > 0 ? "on" : "off"; // for who comes later to listen
    if (sends === (is ? 1 : 0)) document.dispatchEvent(new CustomEvent("sending", { detail: is }));
  };
  const last = new Map(); // what became of an entry, for the page that made it
  // first: it was just entered, and its page shows what is answered before the books
  // are kept.
  async function sendOne(item, first) {
    const unplugged = navigator.onLine === false;
    if (!first) { item.tries++; await put(item); } // from here on it may have arrived
    const body = new URLSearchParams(item.form);
    if (first) body.set("show", "page");
    for (const k of ["event", "seen", "taken", "at"]) body.set(k, item[k]);
    let code, data;
    try {
      const limit = new AbortController(), end = setTimeout(() => limit.abort(), 60000);
      const r = await fetch(item.job + "/waiting", { method: "POST", body, headers: { Accept: "application/json" }, redirect: "error", signal: limit.signal });
      code = r.status;
      data = await r.json().catch(() => ({}));
      clearTimeout(end);
    } catch {
      if (first) await first.safe();
      if (unplugged) { item.tries--; await put(item); } // it never left
      return false;
    }
    if (code >= 500 || code === 429 || code === 408 || code === 200 && !data.to) return false; // something on the way, or a server that ends
    answers();
    last.set(item.event, { code, data });
    const shown = first && first.answered(code, data);
    if (first) await first.safe().catch(() => {});
    if (code === 200) { await arrived(item, data.seq, shown); return true; }
    if (shown) { await drop(item.n); return true; } // its form holds what was typed
    if (code === 401) { ended = true; item.tries--; await put(item); say("The session has ended: sign in again. What waits here is sent then."); return true; }
    item.answer = { code, ...data };
    await put(item);
    if (data.lines || !fresh(item)) say("A reading was not recorded yet and wants a look.");
    return true;
  }
  const fresh = (item) => item.event === entering;

  // A reading that is recorded is known to those after it on the same job.
  async function arrived(item, seq, shown) {
    await stored("readwrite", (w, k) => {
      w.delete(item.n);
      w.getAll().onsuccess = (e) => {
        for (const x of e.target.result) {
          if (x.job !== item.job || x.n <= item.n || x.seen >= seq) continue;
          w.put({ ...x, seen: seq, taken: Math.max(x.taken, item.taken) });
        }
      };
      k.get(item.job).onsuccess = (e) => {
        const was = e.target.result;
        k.put({ job: item.job, from: was && (was.seq === item.seen || was.seq === seq) ? was.from : item.seen, seq });
      };
    });
    if (location.pathname.split("/").slice(0, 3).join("/") !== item.job || shown || fresh(item) || Number(root.dataset.seq) >= seq) return; // this page is from after it
    sentHere = true;
    if (Number(root.dataset.seq) === item.seen) root.dataset.seq = seq; // no news from somebody else
  }
  let sentHere = false;

  // Entering.
  let entering = "", plain = false;
  document.addEventListener("submit", (e) => {
    const form = e.target, by = e.submitter;
    if (plain || form.method !== "post") return;
    if (form.id === "reading" && !(by && by.hasAttribute("formaction"))) {
      if (!holds(form) && !lost) return; // the server says what is missing
      hold(e);
      enter(form, by);
    } else if (lost && !/\/sign-in(\/passkey)?$/.test(form.action)) {
      hold(e);
      needs(form, "There is no connection: this cannot be sent now. What you wrote stays in the form.");
    } else if (/\/(sign|proof)$/.test(form.action) && waitsHere > 0) {
      hold(e);
      needs(form, readings(waitsHere) + " of this job wait on this device and are not in it yet. Send or remove them first.");
    }
  }, true);
  const hold = (e) => { e.preventDefault(); e.stopPropagation(); };
  const needs = (form, text) => {
    let p = $(".needs", form);
    if (!p) { p = document.createElement("p"); p.className = "wrong needs"; p.setAttribute("role", "alert"); form.append(p); }
    p.textContent = text;
  };
  const holds = (form) => [...form.elements].some((i) => i.type === "text" && i.value.trim() || i.type === "radio" && /^v\d$/.test(i.name) && i.checked);

  // shown is what was entered, as the log shows it.
  const shown = (fields) => {
    const get = (k) => { const f = fields.find((x) => x[0] === k); return f ? f[1] : ""; };
    const out = [];
    for (const [k, v] of fields) {
      const m = /^v(\d)$/.exec(k);
      if (m && v.trim()) out.push((get("is" + m[1]) || v.trim() + (/[0-9]$/.test(v.trim()) && get("u" + m[1]) ? " " + get("u" + m[1]) : "")));
    }
    return out.join(", ");
  };

  async function enter(form, by) {
    if (entering) return;
    if (!holds(form)) { needs(form, "Write what the meter shows first."); return; }
    const old = $(".needs", form);
    if (old) old.remove();
    const fields = [...new FormData(form)].filter(([k]) => !["event", "seen", "reading"].includes(k));
    if (by && by.name) fields.push([by.name, by.value]);
    const job = new URL(form.action).pathname.replace(/\/readings$/, "");
    const boxes = [...form.querySelectorAll(".box")].map((b) => [$("input[type=text]", b).name, $("label b", b).textContent]);
    const seen = Number(form.elements.seen.value);
    const item = { job, event: newID(), at: now(), who: me, person: root.dataset.person || "", name: ($("h1") || form).textContent.trim(), form: fields, boxes, shown: shown(fields), seen, taken: seen, tries: 0, answer: null };
    entering = item.event;
    const kept = keep(item);
    try {
      const waits = await kept.placed;
      if (!lost && !waits && await atOnce(form, by, item, kept)) return;
      await kept.safe();
    } catch { // the device keeps nothing
      entering = "";
      form.elements.event.value = item.event; // should it have arrived, it is not recorded twice
      if (lost) needs(form, "This device keeps nothing, so the reading cannot wait here. Write it down.");
      else asForm(form, by);
      return;
    }
    entering = "";
    if (navigator.storage && navigator.storage.persist) navigator.storage.persist().catch(() => {});
    for (const i of form.elements) { if (i.type === "text") i.value = ""; else if (i.type === "radio" && /^v\d$/.test(i.name)) i.checked = false; }
    const p = $("#preview");
    if (p) p.textContent = "";
    await draw();
    if (!last.has(item.event)) say("Kept on this device: " + item.shown + ". Not yet sent.");
    const next = $("#waiting .decide h3") || $(".box input[type=text]", form) || $("input[type=radio]", form);
    if (next) next.focus();
    if (!lost) send();
  }

  // atOnce sends a reading while its page waits, and puts what is answered in the
  // place of that page; true when another page stands there or comes.
  async function atOnce(form, by, item, kept) {
    const go = $("#entry .go .act") || by;
    if (go) go.setAttribute("aria-busy", "true");
    sending(true);
    const sign = setTimeout(() => { const p = $("#preview"); if (p) p.textContent = "Working it out"; }, 300);
    const shown = await new Promise((yes) => {
      const answered = (code, data) => {
        if (!fresh(item) || code !== 200 && code !== 422) return false;
        if (inPlace(data)) entering = "";
        else if (code === 422) return false;
        else location.href = data.to;
        yes(true);
        return true;
      };
      const tried = async () => { while (running) await running; await send({ item, safe: kept.safe, answered }); }; // one at a time
      tried().then(() => yes(false));
      setTimeout(() => yes(false), 8000); // a network that has gone often says nothing
    });
    clearTimeout(sign);
    if (go) go.removeAttribute("aria-busy");
    if (shown && entering) return true; // the page goes
    sending(false);
    if (shown) return true;
    const got = last.get(item.event);
    if (!got || got.code !== 422) return false;
    await drop(item.n);
    asForm(form, by); // with the server's words at each box
    return true;
  }
  const inPlace = (data) => !!data.page && !document.dispatchEvent(new CustomEvent("answer", { detail: data, cancelable: true }));
  const asForm = (form, by) => { plain = true; form.requestSubmit(by && by.form === form ? by : undefined); };

  // Ticks are marks on the page while nothing can be recorded.
  document.addEventListener("change", (e) => {
    if (!lost || !e.target.matches(".steps input[type=checkbox]")) return;
    e.stopImmediatePropagation();
    const lines = [...document.querySelectorAll(".steps input[type=checkbox]")];
    if (e.target.checked) for (const i of lines.slice(0, lines.indexOf(e.target))) i.checked = true;
    say("Ticked on this page only: hook-up lines are recorded when there is a connection.");
  }, true);
  document.addEventListener("htmx:error", (e) => {
    if (!(e.target && e.target.closest && e.target.closest(".boxes, .looks"))) return;
    const p = $("#preview");
    if (p) p.textContent = "No connection: what it would do is not worked out now. The reading is understood when it is sent.";
  });

  // What waits, on every page; on the log among its lines.
  let waitsHere = 0;
  const el = (tag, cls, text) => { const x = document.createElement(tag); if (cls) x.className = cls; if (text) x.textContent = text; return x; };
  const button = (text, act, cls) => { const b = el("button", cls, text); b.type = "button"; b.addEventListener("click", async () => { await act(); await draw(); send(); }); return b; };
  const news = window.BroadcastChannel ? new BroadcastChannel("chargewright-waiting") : null;
  if (news) news.onmessage = () => draw(true);

  let drawn = "";
  async function draw(heard) {
    const list = await all().catch(() => []);
    const here = location.pathname.split("/").slice(0, 3).join("/");
    waitsHere = list.filter((x) => x.job === here && x.who === me).length;
    const state = JSON.stringify([list, ended]), box = $("#waiting");
    if (state === drawn || !box || [...box.querySelectorAll("input")].some((i) => i.value !== i.defaultValue)) return; // somebody mends one
    drawn = state;
    if (news && !heard) news.postMessage(0);
    const open = !!$("details.all[open]", box);
    const held = box.contains(document.activeElement);
    box.hidden = list.length === 0;
    box.replaceChildren();
    inLog(list.filter((x) => x.job === here && location.pathname === here + "/log"));
    if (list.length > 0) section(box, list, open);
    if (held) { const h = $("h2, h3", box); if (h && !box.hidden) h.focus(); }
    if (list.length === 0 && sentHere) {
      sentHere = false;
      say("All readings are sent.");
      if (!typing() && root.dataset.follow === "on") anew();
      else { const n = $("#sent"); if (n) n.hidden = false; }
    }
  }

  function section(box, list, open) {
    const h = el("h2", "", "Not yet sent: " + readings(list.length));
    h.id = "waiting-head"; h.tabIndex = -1;
    box.append(h);
    if (ended) {
      const p = el("p", "wrong", "The session has ended. "), a = el("a", "btn act", "Sign in again");
      a.href = "/sign-in?to=" + encodeURIComponent(location.pathname + location.search);
      p.append(a, el("span", "", " What waits here is sent then."));
      box.append(p);
    }
    const quiet = list.filter((x) => !x.answer && x.who === me), ask = list.filter((x) => x.answer || x.who !== me);
    for (const x of ask) box.append(x.who !== me ? foreign(x) : decision(x));
    if (quiet.length === 0) return;
    const d = el("details", "all"), s = el("summary", "pick"), ol = el("ol", "quiet");
    s.append(el("span", "flag", "not yet sent"), el("span", "", quiet.length === 1 ? line(quiet[0]) : readings(quiet.length) + ", the first taken at " + clock(quiet[0].at)));
    for (const x of quiet) ol.append(oneQuiet(x));
    d.append(s, ol);
    d.open = open;
    box.append(d);
  }
  const line = (x) => clock(x.at) + " " + x.name + ": " + x.shown;

  function oneQuiet(x) {
    const li = el("li"), p = el("p");
    const a = el("a", "", x.name);
    a.href = x.job;
    p.append(el("span", "flag", "not yet sent"), " " + clock(x.at) + " ", a, ": ", el("b", "", x.shown));
    li.append(p);
    if (x.tries > 0) li.append(el("p", "note", "It may have arrived without an answer: it is sent again, and counts once."));
    else li.append(mend(x, "Change it"), away(x));
    return li;
  }

  // decision is what the server did not take, with both sides and what can be done.
  function decision(x) {
    const d = el("div", "decide wrong"), a = x.answer, btns = el("div", "btns tight");
    const h = el("h3", "", a.head || (a.code === 422 ? "The server does not understand this reading" : a.code === 403 ? "You may not enter this" : "The server does not take this reading"));
    h.tabIndex = -1;
    d.append(h);
    for (const t of [].concat(a.say || [])) d.append(el("p", "", t));
    if (a.lines && a.lines.length > 0) {
      const ul = el("ul");
      for (const l of a.lines) { const li = el("li"); li.append(el("b", "", l.what), " " + (l.value || "") + " ", el("span", "note", [l.time, l.why, l.back ? "taken back" : ""].filter(Boolean).join(" · "))); ul.append(li); }
      d.append(ul);
    }
    const p = el("p", "", "Yours, ");
    p.append(el("span", "flag", "not yet sent"), " taken at " + clock(x.at) + ": " + x.name + " ", el("b", "strong", x.shown));
    d.append(p);
    const on = (after) => () => put({ ...x, event: a.fresh ? newID() : x.event, seen: a.seen, taken: after ? a.seen : x.taken, answer: null });
    const before = a.before || (a.repair ? "the repair" : ""); // the latter: kept here since an older program answered
    if (a.lines && before) btns.append(button("It was taken before " + before, on(false), "act"), button("It was taken after " + before, on(true)));
    else if (a.lines) btns.append(button(a.fresh ? "Enter it all the same" : "Enter mine on top", on(true), "act"));
    else if (a.code !== 422) btns.append(button("Try again", () => put({ ...x, answer: null }), "act"));
    for (const i of a.instead || []) btns.append(button(i.text, () => put({ ...x, form: [...x.form, [i.name, i.value]], shown: shown([...x.form, [i.name, i.value]]), answer: null })));
    const show = el("a", "btn", "Show the job");
    show.href = x.job;
    btns.append(show);
    d.append(btns);
    if (a.code === 422) { const m = mend(x, "Mend it"); m.open = true; d.append(m); }
    d.append(away(x));
    return d;
  }

  // foreign was entered by somebody else on this device.
  function foreign(x) {
    const d = el("div", "decide wrong"), btns = el("div", "btns tight"), h = el("h3", "", "Entered by " + (x.person || "somebody else"));
    h.tabIndex = -1;
    const p = el("p");
    p.append(el("span", "flag", "not yet sent"), " " + line(x) + ". It is sent when " + (x.person || "whoever entered it") + " signs in here.");
    if (me) btns.append(button("Send it under my name", () => put({ ...x, who: me, person: root.dataset.person || "", answer: null })));
    d.append(h, p, btns, away(x));
    return d;
  }

  // mend lets what was written be written anew.
  function mend(x, head) {
    const d = el("details"), s = el("summary", "pick", head), f = el("form");
    d.append(s, f);
    const boxes = x.form.filter(([k]) => x.boxes.some((b) => b[0] === k));
    for (const [k, v] of boxes) {
      const label = el("label", "note", x.boxes.find((b) => b[0] === k)[1]), i = el("input");
      i.type = "text"; i.inputMode = "decimal"; i.name = k; i.value = i.defaultValue = v; i.autocomplete = "off"; i.id = "mend-" + x.n + k;
      label.htmlFor = i.id;
      f.append(label, i);
    }
    if (boxes.length === 0) { d.hidden = true; return d; }
    f.append(el("button", "", "Send it so"));
    f.addEventListener("submit", async (e) => {
      e.preventDefault();
      e.stopPropagation();
      for (const i of f.elements) i.defaultValue = i.value;
      const form = x.form.filter(([k]) => !/^(is\d|sure)$/.test(k)).map(([k, v]) => [k, f.elements[k] ? f.elements[k].value : v]);
      await put({ ...x, form, shown: shown(form), answer: null });
      await draw();
      send();
    });
    return d;
  }

  // away takes a reading off the device, after a second look.
  function away(x) {
    const d = el("details");
    d.append(el("summary", "pick", "Do not send it"), el("p", "", "It is then nowhere: neither on this device nor in the journal."), button("Take " + x.shown + " off this device", () => drop(x.n)));
    return d;
  }

  // inLog puts what waits where it will stand in the log.
  function inLog(list) {
    const body = $("#log");
    if (!body) return;
    for (const r of body.querySelectorAll(".waits")) r.remove();
    for (const x of list) {
      const r = el("tr", "waits"), flag = el("td");
      flag.append(el("span", "flag", "not yet sent"));
      r.append(el("td", "nowrap", clock(x.at)), el("td", "", x.name), el("td", "n strong", x.shown), flag, el("td", "none"), el("td", "none"));
      body.prepend(r);
    }
  }

  // So that a page can be loaded again without a connection.
  if ("serviceWorker" in navigator) {
    const first = !navigator.serviceWorker.controller;
    navigator.serviceWorker.register("/worker.js").then(() => navigator.serviceWorker.ready).then((r) => { if (first && r.active) r.active.postMessage({ keep: location.href }); }).catch(() => {});
  }
  if (root.dataset.kept) goneNow();
  sending(true); // what was recorded while the page came
  draw().then(send).finally(() => sending(false));
})();
