// Passkeys: sign a form with one instead of the password, and register one.
//
// A form whose password field has data-passkey and is left empty waits for the passkey when it is sent: the server
// gives a challenge for exactly this form, the device signs it, and the answer goes along in the field "passkey".
(() => {
  "use strict";
  const ANSWER = "passkey";
  const ready = new WeakSet(); // forms that carry a fresh answer

  const bytesOf = (text) => Uint8Array.from(atob(text.replace(/-/g, "+").replace(/_/g, "/")), (sign) => sign.charCodeAt(0));
  const textOf = (buffer) => btoa(String.fromCharCode(...new Uint8Array(buffer))).replace(/\+/g, "-").replace(/\//g, "_").replace(/=+$/, "");

  // What browsers do not do themselves yet: options from JSON, and the answer as JSON.
  const known = (list) => (list || []).map((one) => ({ ...one, id: bytesOf(one.id) }));
  const forCreating = (options) => {
    if (PublicKeyCredential.parseCreationOptionsFromJSON) return PublicKeyCredential.parseCreationOptionsFromJSON(options);
    return { ...options, challenge: bytesOf(options.challenge), user: { ...options.user, id: bytesOf(options.user.id) }, excludeCredentials: known(options.excludeCredentials) };
  };
  const forSigning = (options) => {
    if (PublicKeyCredential.parseRequestOptionsFromJSON) return PublicKeyCredential.parseRequestOptionsFromJSON(options);
    return { ...options, challenge: bytesOf(options.challenge), allowCredentials: known(options.allowCredentials) };
  };
  const asJson = (credential) => {
    if (credential.toJSON) return credential.toJSON();
    const response = {};
    for (const name of ["clientDataJSON", "attestationObject", "authenticatorData", "signature", "userHandle"]) {
      if (credential.response[name]) response[name] = textOf(credential.response[name]);
    }
    return { id: credential.id, rawId: textOf(credential.rawId), type: credential.type, response };
  };

  const csrfToken = () => {
    const part = document.cookie.split("; ").find((one) => one.startsWith("csrftoken="));
    return part ? part.slice("csrftoken=".length) : "";
  };
  const optionsFor = async (form, submitter, address, kind) => {
    const sent = new FormData(form, submitter);
    sent.delete(ANSWER);
    sent.delete("password");
    sent.append("passkey_kind", kind);
    sent.append("passkey_for", new URL(form.getAttribute("action") || location.href, location.href).pathname);
    const answer = await fetch(address, { method: "POST", body: sent, headers: { "X-CSRFToken": csrfToken() }, credentials: "same-origin", cache: "no-store" });
    if (!answer.ok || !(answer.headers.get("Content-Type") || "").startsWith("application/json")) throw new Error("no options");
    return answer.json();
  };

  const WHY = {
    NotAllowedError: "The passkey was not used: it was cancelled, or it took too long. Try again, or enter your password.",
    InvalidStateError: "This device already holds a passkey of yours. Use another device.",
    SecurityError: "Passkeys do not work at this address of Bobbin. Enter your password.",
    NotSupportedError: "This device cannot hold a passkey that Bobbin accepts.",
  };
  const say = (form, text) => {
    const place = form.querySelector("[data-passkey-says]");
    place.textContent = text;
    place.hidden = text === "";
  };
  const carry = (form, answer) => {
    const field = form.querySelector("input[type=hidden][name=" + ANSWER + "]") || form.appendChild(Object.assign(document.createElement("input"), { type: "hidden", name: ANSWER }));
    field.value = answer;
  };

  const ask = async (form, submitter, address, kind) => {
    say(form, "");
    try {
      const options = await optionsFor(form, submitter, address, kind);
      const credential = kind === "create"
        ? await navigator.credentials.create({ publicKey: forCreating(options) })
        : await navigator.credentials.get({ publicKey: forSigning(options) });
      carry(form, JSON.stringify(asJson(credential)));
    } catch (error) {
      say(form, WHY[error.name] || "The passkey could not be used. Check the connection and try again" + (kind === "create" ? "." : ", or enter your password."));
      return;
    }
    ready.add(form);
    form.requestSubmit(submitter);
  };

  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (event.defaultPrevented || ready.delete(form)) return;
    const field = form.querySelector("input[data-passkey]");
    const wants = form.dataset.passkeyCreate ? "create" : field && field.value === "" ? "get" : "";
    if (!wants || !window.PublicKeyCredential) return;
    event.preventDefault();
    ask(form, event.submitter, form.dataset.passkeyCreate || field.dataset.passkey, wants);
  });

  // Beside the password field: a button where the form can be sent in one way only, and a place for what went wrong.
  const prepare = (field) => {
    const form = field.form;
    const says = Object.assign(document.createElement("p"), { role: "alert", hidden: true, className: "errors" });
    says.setAttribute("data-passkey-says", "");
    field.after(says);
    const ways = form.querySelectorAll("button:not([type=button]), input[type=submit]");
    if (ways.length !== 1) return;
    const button = Object.assign(document.createElement("button"), { type: "button", className: "button", textContent: "Use a passkey" });
    button.addEventListener("click", () => {
      field.value = "";
      form.requestSubmit(ways[0]);
    });
    field.after(button);
  };
  if (window.PublicKeyCredential) document.querySelectorAll("input[data-passkey]").forEach(prepare);

  // An answer is good once: on the way back to the page it must not be sent again.
  addEventListener("pageshow", () => document.querySelectorAll("input[type=hidden][name=" + ANSWER + "]").forEach((field) => field.remove()));
})();
