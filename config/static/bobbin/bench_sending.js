// The bench page: sends each reading by itself, shows whether it is saved, and sends it again if not. Goes on to another
// page only when everything is acknowledged. Without scripts the forms of the page save the readings.
(() => {
  const bench = document.querySelector("[data-bench]");
  if (!bench) return;
  bench.classList.add("scripted");

  const RETRY_MS = 5000;
  const LOOK_MS = 30000; // how often to ask who else works on this inspection, while this page is in use
  const IDLE_MS = 300000;
  const MOST_WAIT_MS = 20000; // for what is on its way, before Next says that it is not saved
  const TURN_MS = 25;
  const unsent = new Set(); // places whose last change is not acknowledged, whether sent or not
  const failed = new Set(); // those of them that received no answer
  let leaving = false;

  const placeOf = (node) => node && node.closest && node.closest("[data-place]");
  const keptOf = (place) => document.getElementById("kept-" + place.dataset.place);
  const inputsOf = (place) => [...place.querySelectorAll("input:not([type=hidden])")];
  const say = (text) => (document.getElementById("said").textContent = text);

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
    bench.querySelectorAll("input[aria-invalid]").forEach((input) => input.removeAttribute("aria-invalid"));
    const wrong = [...bench.querySelectorAll("[data-wrong]")].map((told) => told.dataset.wrong);
    const refused = [...bench.querySelectorAll(".saved[data-state=failed]")].map((kept) => kept.id.replace("kept-", ""));
    [...wrong, ...refused].forEach((id) => {
      const input = document.getElementById("f-" + id);
      if (input) input.setAttribute("aria-invalid", "true");
    });
  };

  // A reading is being sent.
  bench.addEventListener("input", (event) => {
    const place = placeOf(event.target);
    if (!place) return;
    unsent.add(place);
    say("");
  });
  bench.addEventListener("focusin", (event) => (event.target.valueBefore = event.target.value));
  bench.addEventListener("focusout", (event) => {
    // A value that was typed and restored is no change, so nothing is sent. The value of an option never changes.
    const place = placeOf(event.target);
    if (place && event.target.matches("input:not([type=radio]), select") && event.target.value === event.target.valueBefore && !failed.has(place)) unsent.delete(place);
  });
  const token = () => {
    // The page may be older than the login: the cookie holds the valid token.
    const found = document.cookie.split("; ").find((part) => part.startsWith("csrftoken="));
    return found ? found.slice("csrftoken=".length) : "";
  };
  document.addEventListener("htmx:configRequest", (event) => {
    if (event.detail.verb !== "post" || !bench.contains(event.detail.elt) || !token()) return;
    event.detail.parameters.csrfmiddlewaretoken = token();
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
  // An answer acknowledges what was sent. What was typed since then, and not sent yet, stays unsent.
  const settle = (place, sent) => {
    failed.delete(place);
    const inputs = inputsOf(place);
    const isAhead = inputs.some((input) => input === document.activeElement && input.type !== "radio" && input.value.trim() !== sent);
    if (!isAhead) unsent.delete(place);
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
    settle(place, sentBy(event.detail.requestConfig));
    event.detail.isError = false;
    if (answer === "waiting") {
      // Stored on this device; it counts as acknowledged, and nothing on the page changes but that word.
      event.detail.shouldSwap = false;
      show(place, "waiting", "on this device, not sent yet");
      return;
    }
    event.detail.shouldSwap = true;
  });
  const sentBy = (config) => {
    const input = config.elt.querySelector("input:not([type=hidden])");
    return String((input && config.parameters[input.name]) || "").trim();
  };
  for (const kind of ["htmx:sendError", "htmx:timeout"]) {
    document.addEventListener(kind, (event) => {
      const place = placeOf(event.detail.elt);
      if (place) fail(place, "not saved, will be sent again");
    });
  }
  document.addEventListener("htmx:afterSettle", markWrong);

  // Readings entered quickly are answered in any order: a result from fewer readings never replaces one from more.
  // What a person has opened in the results stays open.
  document.addEventListener("htmx:oobBeforeSwap", (event) => {
    const { fragment, target } = event.detail;
    const coming = fragment.querySelector("[data-readings]");
    const shown = target.dataset.readings;
    if (coming && shown && Number(coming.dataset.readings) < Number(shown)) event.detail.shouldSwap = false;
    // What is the same stays, so that no button goes away under a finger.
    if (target.matches(".told") && target.isEqualNode(fragment.firstElementChild)) event.detail.shouldSwap = false;
    target.querySelectorAll("details[open] > summary[id]").forEach((summary) => {
      const same = fragment.querySelector("#" + CSS.escape(summary.id));
      if (same) same.parentElement.open = true;
    });
  });

  // Another reading was entered here first: it is the current one, so the place shows it, and the typed one is shown
  // beside it. A text that is being typed stays, and is sent with the reading seen before it.
  const showCurrent = (place, kept) => {
    inputsOf(place).forEach((input) => {
      if (input.type === "radio") input.checked = input.value === kept.dataset.shows;
      else input.value = input.valueBefore = kept.dataset.shows;
    });
    for (const key of ["Unit", "Zero", "Instrument"]) {
      const select = place.querySelector(`[data-setting="${key.toLowerCase()}"]`);
      if (select) select.value = kept.dataset["shows" + key];
    }
  };
  document.addEventListener("htmx:afterSwap", (event) => {
    const config = event.detail.requestConfig;
    const place = config && placeOf(config.elt);
    const kept = place && keptOf(place);
    if (!kept || kept.dataset.shows === undefined) return;
    const [first] = inputsOf(place);
    const sent = sentBy(config);
    if (first.type === "radio") return showCurrent(place, kept);
    if (first.value.trim() !== sent) {
      const seen = kept.querySelector("[data-seen]");
      seen.value = config.parameters[seen.name];
    } else if (first === document.activeElement) {
      first.addEventListener("blur", () => first.value.trim() === sent && showCurrent(place, keptOf(place)), { once: true });
    } else {
      showCurrent(place, kept);
    }
  });

  let lastTouch = Date.now();
  for (const kind of ["input", "focusin"]) bench.addEventListener(kind, () => (lastTouch = Date.now()));
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

  // Going on waits until everything is acknowledged. What could not be saved keeps the page, and gets the focus.
  const waitForAll = async () => {
    if (document.activeElement && placeOf(document.activeElement)) document.activeElement.blur();
    if (failed.size) sendAgain();
    // Only time in which the page runs counts: the answer of a device that slept comes when it is awake again.
    for (let waited = 0; unsent.size && !failed.size && waited < MOST_WAIT_MS; waited += TURN_MS) {
      await new Promise((done) => setTimeout(done, TURN_MS));
    }
    return unsent.size === 0;
  };
  const isRefused = () => bench.querySelector(".saved[data-state=failed]");
  const goOn = async (address, button) => {
    if (leaving) return;
    leaving = true;
    if (button) button.setAttribute("aria-busy", "true");
    const isSaved = await waitForAll();
    if (button) button.removeAttribute("aria-busy");
    const refused = isRefused();
    if (isSaved && !refused) return location.assign(address);
    leaving = false;
    say(isSaved ? "A reading on this page was refused. Correct it or clear it, then go on." : "Not everything is saved yet. It is sent again until it is.");
    const place = isSaved ? document.getElementById("place-" + refused.id.replace("kept-", "")) || placeOf(refused) : [...unsent][0];
    const field = place && inputsOf(place)[0];
    if (field) field.focus();
  };
  document.addEventListener("click", (event) => {
    const link = event.target.closest("a[href], [data-go=next]");
    if (!link || link.target || event.ctrlKey || event.metaKey || event.shiftKey || link.hash) return;
    if (link.matches("[data-go=next]")) {
      event.preventDefault();
      goOn(link.dataset.to || link.href, link);
    } else if (unsent.size) {
      event.preventDefault();
      goOn(link.href, null);
    }
  });
  addEventListener("beforeunload", (event) => {
    if (unsent.size) event.preventDefault();
  });
  addEventListener("pageshow", () => (leaving = false));
  document.addEventListener("bench:stayed", () => (leaving = false));

  // The other forms of the page (not tested, the choice between two readings) are sent by this script as well.
  const send = async (form, button) => {
    const address = form.getAttribute("action") || location.pathname;
    const data = new FormData(form, button);
    if (token()) data.set("csrfmiddlewaretoken", token());
    const answer = await fetch(address, { method: "POST", body: new URLSearchParams(data), headers: { "Bench-Request": "yes" }, redirect: "error" });
    const word = answer.headers.get("Bench-Answer");
    if (word === "kept") return location.assign(answer.headers.get("Bench-Location"));
    if (word === "waiting") return say("On this device, not sent yet.");
    return say(word ? await answer.text() : "Not saved: the server gave no answer to this. Try again.");
  };
  document.addEventListener("submit", async (event) => {
    const form = event.target.closest("form[data-bench-form]");
    if (!form || event.defaultPrevented) return;
    event.preventDefault();
    const button = event.submitter;
    if (button && button.matches("[data-go=next]")) return goOn(button.dataset.to, button);
    if (!(await waitForAll())) return say("Not everything is saved yet. It is sent again until it is.");
    try {
      await send(form, button);
    } catch {
      say("Not saved: the server does not respond. Try again.");
    }
  });

  markWrong();
})();
