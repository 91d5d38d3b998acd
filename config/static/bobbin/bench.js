// The bench page: shows for each reading whether it is saved, sends it again if not, and moves on with Enter.
// Without this script the page still saves readings, by its Save and Next buttons.
(() => {
  const bench = document.querySelector("[data-bench]");
  const form = document.querySelector("[data-step-form]");
  if (!bench || !form) return;

  const current = bench.querySelector(".steps [aria-current]");
  const strip = current && current.closest("ol");
  if (strip) strip.scrollLeft = current.offsetLeft - strip.offsetLeft - (strip.clientWidth - current.offsetWidth) / 2;

  const RETRY_MS = 5000;
  const LOOK_MS = 30000; // how often to ask who else works on this inspection, while this page is in use
  const IDLE_MS = 300000;
  const unsent = new Set(); // places whose last change is not acknowledged, whether sent or not
  const failed = new Set(); // those of them that received no answer
  let leaving = false;

  const placeOf = (node) => node.closest && node.closest("[data-place]");
  const keptOf = (place) => document.getElementById("kept-" + place.dataset.place);
  const inputsOf = (place) => place.querySelectorAll("input:not([type=hidden])");

  const show = (place, state, text) => {
    const kept = keptOf(place);
    if (!kept) return;
    kept.dataset.state = state;
    kept.querySelectorAll("span").forEach((said) => said.remove());
    const said = [...kept.childNodes].find((node) => node.nodeType === Node.TEXT_NODE);
    if (said) said.textContent = text;
    else kept.prepend(text);
  };
  const markWrong = () => {
    form.querySelectorAll("[aria-invalid]").forEach((input) => input.removeAttribute("aria-invalid"));
    const wrong = [...form.querySelectorAll("[data-wrong]")].map((told) => told.dataset.wrong);
    const refused = [...form.querySelectorAll(".saved[data-state=failed]")].map((kept) => kept.id.replace("kept-", ""));
    [...wrong, ...refused].forEach((id) => {
      const input = document.getElementById("f-" + id);
      if (input) input.setAttribute("aria-invalid", "true");
    });
  };

  // A reading is being sent.
  form.addEventListener("input", (event) => {
    const place = placeOf(event.target);
    if (place) unsent.add(place);
  });
  form.addEventListener("focusin", (event) => (event.target.valueBefore = event.target.value));
  form.addEventListener("focusout", (event) => {
    // A value that was typed and restored is no change, so nothing is sent.
    const place = placeOf(event.target);
    if (place && event.target.value === event.target.valueBefore && !failed.has(place)) unsent.delete(place);
  });
  document.addEventListener("htmx:configRequest", (event) => {
    // A reading is sent with the CSRF token of the form around it. The page may be older than the login: the cookie
    // holds the valid token.
    if (event.detail.verb !== "post" || event.detail.elt.closest("form") !== form) return;
    const token = document.cookie.split("; ").find((part) => part.startsWith("csrftoken="));
    if (token) event.detail.parameters.csrfmiddlewaretoken = token.slice("csrftoken=".length);
  });
  document.addEventListener("htmx:beforeRequest", (event) => {
    const place = placeOf(event.detail.elt);
    if (!place) return;
    unsent.add(place);
    show(place, "sending", "saving…");
  });

  const fail = (place, text) => {
    unsent.add(place);
    failed.add(place);
    show(place, "failed", text);
    markWrong();
  };
  const settle = (place) => {
    unsent.delete(place);
    failed.delete(place);
  };

  document.addEventListener("htmx:beforeSwap", (event) => {
    const place = placeOf(event.detail.requestConfig.elt);
    const answer = event.detail.xhr.getResponseHeader("Bench-Answer");
    if (!place && !answer && event.detail.requestConfig.elt.id === "others") event.detail.shouldSwap = false;
    if (!place) return;
    if (!answer) {
      // Not an answer of the bench view but a login page or a proxy's error: it must not be shown on the page.
      event.detail.shouldSwap = false;
      const status = event.detail.xhr.status;
      if (status === 401) fail(place, "not saved: you are signed out. Sign in again in another window");
      else if (status === 503) fail(place, "not saved: the server is busy. It will be sent again");
      else fail(place, "not saved, will be sent again");
      return;
    }
    event.detail.shouldSwap = true;
    event.detail.isError = false;
    settle(place);
  });
  document.addEventListener("htmx:sendError", (event) => {
    const place = placeOf(event.detail.elt);
    if (place) fail(place, "not saved, will be sent again");
  });
  document.addEventListener("htmx:timeout", (event) => {
    const place = placeOf(event.detail.elt);
    if (place) fail(place, "not saved, will be sent again");
  });
  document.addEventListener("htmx:afterSettle", markWrong);

  // Readings entered quickly are answered in any order: a result from fewer readings never replaces one from more.
  document.addEventListener("htmx:oobBeforeSwap", (event) => {
    const coming = event.detail.fragment.querySelector("[data-readings]");
    const shown = event.detail.target.dataset.readings;
    if (coming && shown && Number(coming.dataset.readings) < Number(shown)) event.detail.shouldSwap = false;
  });

  // Somebody else entered a reading here first: it is the current reading, so the place shows it, and the typed one is
  // shown beside it. Text typed in the meantime stays and is sent with the reading seen before it.
  document.addEventListener("htmx:afterSwap", (event) => {
    const place = event.detail.requestConfig && placeOf(event.detail.requestConfig.elt);
    const kept = place && keptOf(place);
    if (!kept || kept.dataset.shows === undefined) return;
    const [name, sent] = [event.detail.requestConfig.parameters.slot, event.detail.requestConfig.parameters];
    const inputs = [...inputsOf(place)];
    if (inputs[0].type !== "radio" && inputs[0].value.trim() !== String(sent[name]).trim()) {
      const seen = kept.querySelector("[data-seen]");
      seen.value = sent[seen.name];
      return;
    }
    inputs.forEach((input) => {
      if (input.type === "radio") input.checked = input.value === kept.dataset.shows;
      else input.value = input.valueBefore = kept.dataset.shows;
    });
    for (const key of ["Unit", "Zero", "Instrument"]) {
      const select = place.querySelector(`[data-setting="${key.toLowerCase()}"]`);
      if (select) select.value = kept.dataset["shows" + key];
    }
  });

  let lastTouch = Date.now();
  for (const kind of ["input", "focusin"]) form.addEventListener(kind, () => (lastTouch = Date.now()));
  setInterval(() => {
    if (document.visibilityState === "visible" && Date.now() - lastTouch < IDLE_MS) htmx.trigger("#others", "look");
  }, LOOK_MS);

  const sendAgain = () => {
    failed.forEach((place) => {
      failed.delete(place);
      htmx.trigger(place, "resend");
    });
  };
  setInterval(sendAgain, RETRY_MS);
  addEventListener("online", sendAgain);

  // Leaving the page with unsaved readings asks first.
  addEventListener("beforeunload", (event) => {
    if (unsent.size && !leaving) event.preventDefault();
  });
  form.addEventListener("submit", (event) => {
    if (failed.size || navigator.onLine === false) {
      event.preventDefault();
      sendAgain();
      const first = [...unsent][0];
      if (first) inputsOf(first)[0].focus();
      return;
    }
    leaving = true; // the form itself sends every reading
  });
  document.addEventListener("click", (event) => {
    const link = event.target.closest("a[href]");
    if (!link || link.target || event.ctrlKey || event.metaKey || event.shiftKey || link.hash || !unsent.size) return;
    event.preventDefault();
    const started = Date.now();
    const wait = setInterval(() => {
      if (unsent.size && Date.now() - started < 3000) return;
      clearInterval(wait);
      location.assign(link.href); // the browser asks if a reading is still not saved
    }, 50);
  });

  // Enter moves to the next reading, which saves this one; it never submits the whole form.
  form.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || !event.target.matches("input[inputmode=decimal], input[type=radio]")) return;
    event.preventDefault();
    const stops = [...form.querySelectorAll("input[inputmode=decimal], input[type=radio]:checked, button[name=then]")];
    const following = stops[stops.indexOf(event.target) + 1];
    if (!following) return;
    following.focus();
    if (following.select) following.select();
  });
  markWrong();
})();
