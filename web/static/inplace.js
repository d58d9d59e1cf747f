// The answer to a reading comes into the page that stands there: the browser need
// not take down a page and build another. It came with the answer to the reading
// (offline.js says "answer"); what cannot be put in place is gone to instead.
(() => {
  "use strict";
  const root = document.documentElement;
  const where = () => location.pathname + location.search;
  const style = (d) => { const l = d.querySelector("link[rel=stylesheet]"); return l && l.getAttribute("href"); };
  let at = where();

  // show puts a page in place. to: its address, when that is another one.
  const show = (text, to) => {
    const then = new DOMParser().parseFromString(text, "text/html"), now = then.querySelector("main");
    if (!now || style(then) !== style(document)) return false; // another version of the program
    for (const waiting of document.querySelectorAll(".boxes, .looks")) waiting.dispatchEvent(new CustomEvent("htmx:abort")); // a look that is not there yet
    for (const k of ["seq", "live", "follow", "keys"]) root.dataset[k] = then.documentElement.dataset[k] || "";
    delete root.dataset.kept;
    document.title = then.title;
    if (to) { history.pushState(null, "", to); at = where(); }
    for (const part of ["header.head", "main", "footer.foot"]) {
      const old = document.querySelector(part), anew = then.querySelector(part);
      if (old && anew && !old.isEqualNode(anew)) old.replaceWith(anew);
    }
    for (const a of document.querySelectorAll(".live a.btn")) a.setAttribute("href", at);
    for (const id of ["somebody", "sent"]) document.getElementById(id).hidden = true; // the page is from now
    if (window.htmx) htmx.process(now);
    if (to) scrollTo(0, 0);
    document.dispatchEvent(new CustomEvent("shown"));
    soon(now.querySelector("[data-soon]"));
    const first = now.querySelector("[data-focus], [aria-invalid=true], [role=alert][tabindex]");
    if (first) first.focus();
    return true;
  };
  // soon fetches what was still being worked out: what a reading does to the causes,
  // then the next step. The link leads on without it too. What stands stays what it is,
  // so that the focus stays, and what is new is read out.
  const soon = async (link) => {
    for (let n = 0; link && link.isConnected && link.dataset.soon && n < 20; n++) {
      const r = await fetch(link.dataset.soon).catch(() => null);
      if (!r || r.status > 202 || !link.isConnected) return;
      const then = new DOMParser().parseFromString(await r.text(), "text/html"), next = then.querySelector("#next");
      if (!next) continue; // it is held for some seconds until there is one
      for (const id of ["verdict", "says", "read", "did", "next"]) {
        const old = document.getElementById(id), anew = then.getElementById(id);
        if (old && anew && old.innerHTML !== anew.innerHTML) old.replaceChildren(...anew.childNodes);
      }
      link.href = next.getAttribute("href");
      if (next.dataset.soon) link.dataset.soon = next.dataset.soon; else link.removeAttribute("data-soon");
    }
  };
  document.addEventListener("answer", (e) => {
    try { if (show(e.detail.page, e.detail.to)) e.preventDefault(); } catch { /* it is gone to */ }
  });

  // The way back and forth leads to pages as they are now.
  addEventListener("popstate", () => { if (where() !== at) location.reload(); });
})();
