// Passkeys: what only the browser can do about them. The server says what to ask
// the device, and its answer goes with the form like any other field. Without this
// file the forms stay hidden, and the password signs in.
(() => {
  "use strict";
  const bytes = (text) => Uint8Array.from(atob(text.replace(/-/g, "+").replace(/_/g, "/")), (c) => c.charCodeAt(0));
  const text = (buffer) => btoa(String.fromCharCode(...new Uint8Array(buffer))).replace(/\+/g, "-").replace(/\//g, "_").replace(/=+$/, "");
  const can = window.isSecureContext && window.PublicKeyCredential && navigator.credentials;

  const make = (o) => {
    o.challenge = bytes(o.challenge);
    o.user.id = bytes(o.user.id);
    for (const k of o.excludeCredentials || []) k.id = bytes(k.id);
    return navigator.credentials.create({ publicKey: o });
  };
  const get = (o) => {
    o.challenge = bytes(o.challenge);
    return navigator.credentials.get({ publicKey: o });
  };
  const answer = (c) => {
    const response = {};
    for (const part of ["clientDataJSON", "attestationObject", "authenticatorData", "signature", "userHandle"]) if (c.response[part]) response[part] = text(c.response[part]);
    return JSON.stringify({ id: c.id, rawId: text(c.rawId), type: c.type, response, clientExtensionResults: {} });
  };
  const why = (e, making) => ({
    InvalidStateError: "This device keeps a passkey for your account already.",
    NotSupportedError: "This device makes no passkeys of the kind that is wanted.",
    SecurityError: "The browser does not let this address use passkeys: open the pages under the workshop's name.",
    NotAllowedError: (making ? "No passkey was made" : "Nobody was signed in") + ": it was broken off, took too long, or the browser does not trust the workshop's certificate.",
  }[e.name] || "There is no connection to the server: try again.");

  for (const form of document.querySelectorAll("form[data-passkey]")) {
    const making = form.dataset.passkey === "make", button = form.querySelector("button");
    if (!can) {
      const no = document.querySelector("[data-no-passkey]");
      if (no) no.hidden = false;
      continue;
    }
    form.hidden = false;
    const say = (words) => {
      let p = form.querySelector(".needs");
      if (!p) { p = document.createElement("p"); p.className = "wrong needs"; p.setAttribute("role", "alert"); form.append(p); }
      p.textContent = words;
      p.hidden = words === "";
    };
    form.addEventListener("submit", async (e) => {
      e.preventDefault();
      say("");
      button.disabled = true;
      try {
        const r = await fetch(form.action + "/ask", { method: "POST", headers: { Accept: "application/json" }, body: new URLSearchParams(new FormData(form)) });
        const o = await r.json();
        if (!r.ok) { say(o.say.join(" ")); return; }
        form.elements.answer.value = answer(await (making ? make(o) : get(o)));
        for (const i of form.querySelectorAll("input[type=password]")) i.value = ""; // it has done its work
        form.submit();
      } catch (x) { say(why(x, making)); } finally { button.disabled = false; }
    });
  }
})();
