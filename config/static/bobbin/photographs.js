// The remark and the photographs of a step: sends each photograph by itself, one after the other, shows how far it is,
// and sends again what received no answer. Without this script both are saved by their buttons.
(() => {
  const RETRY_MS = 5000;
  const GO_ON_MS = 100;
  const queue = []; // photographs that are not acknowledged: {form, file, caption, line}
  let running = null; // the first of them, while it is being sent
  let leaving = false;

  const told = (form) => document.getElementById(form.dataset.told);
  const isOurs = (event) => running && event.detail.elt === running.form;
  const count = (form) => {
    const left = queue.filter((one) => one.form === form).length;
    if (left) form.dataset.unsent = left;
    else delete form.dataset.unsent;
  };
  const line = (form, text, className) => {
    const said = document.createElement("p");
    said.textContent = text;
    said.className = className;
    told(form).append(said);
    return said;
  };
  const drop = (one) => {
    queue.splice(queue.indexOf(one), 1);
    count(one.form);
  };
  const refuse = (one, sentence) => {
    if (one.line) one.line.remove();
    line(one.form, sentence, "errors");
  };

  const sendNext = () => {
    if (running || !queue.length) return;
    running = queue[0];
    const { form, file, caption, words } = running;
    words.textContent = `Sending “${file.name}”…`;
    htmx.ajax("POST", form.getAttribute("hx-post"), { source: form, values: { photograph: file, caption } }).catch(() => {});
  };
  const later = (text) => {
    running.words.textContent = `“${running.file.name}”: ${text}`;
    running.progress.hidden = true;
    running = null;
    setTimeout(sendNext, RETRY_MS);
  };
  const done = () => {
    const one = running;
    running = null;
    drop(one);
    sendNext();
  };

  document.addEventListener("change", (event) => {
    const form = event.target.matches("input[type=file]") && event.target.closest("[data-photographs]");
    if (!form) return;
    const most = Number(form.dataset.most);
    const caption = form.querySelector("[name=caption]");
    told(form).replaceChildren(...[...told(form).children].filter((one) => !one.classList.contains("errors")));
    [...event.target.files].forEach((file) => {
      if (file.size > most) {
        const size = (file.size / 1e6).toFixed(1);
        refuse({ form }, `“${file.name}” has ${size} MB, which is too much. ${form.dataset.accepted}`);
        return;
      }
      const one = { form, file, caption: caption.value };
      one.line = line(form, "", "saved");
      one.line.dataset.state = "sending";
      one.words = document.createElement("span");
      one.words.textContent = `“${file.name}” waits`;
      one.progress = document.createElement("progress");
      one.progress.hidden = true;
      one.line.append(one.words, one.progress);
      queue.push(one);
    });
    event.target.value = "";
    caption.value = "";
    count(form);
    sendNext();
  });

  document.addEventListener("htmx:xhr:progress", (event) => {
    if (!isOurs(event) || !event.detail.lengthComputable || !running.progress) return;
    running.progress.hidden = false;
    running.progress.max = Math.max(event.detail.total, 1);
    running.progress.value = event.detail.loaded;
  });
  document.addEventListener("htmx:beforeSwap", (event) => {
    if (!running || event.detail.requestConfig.elt !== running.form) return;
    const { xhr } = event.detail;
    const answer = xhr.getResponseHeader("Bench-Answer");
    event.detail.shouldSwap = Boolean(answer) && answer !== "waiting" && xhr.status !== 413;
    event.detail.isError = false;
  });
  document.addEventListener("htmx:afterRequest", (event) => {
    if (!isOurs(event)) return;
    const { xhr } = event.detail;
    const answer = xhr.getResponseHeader("Bench-Answer");
    const one = running;
    if (xhr.status === 413) refuse(one, `“${one.file.name}” is too large. ${one.form.dataset.accepted}`);
    else if (answer === "waiting") {
      one.progress.remove();
      one.line.dataset.state = "waiting";
      one.words.textContent = `“${one.file.name}”: on this device, not sent yet`;
    } else if (answer) one.line.remove();
    else if (xhr.status === 401) return later("not saved: you are signed out. Sign in again in another window");
    else if (xhr.status === 403 || xhr.status === 404) refuse(one, `“${one.file.name}” was not saved. Reload the page.`);
    else return later(xhr.status === 503 ? "the server is busy. It will be sent again" : "not saved, will be sent again");
    return done();
  });

  // A remark says whether it is saved, as a reading does.
  const remarkOf = (event) => event.detail.elt && event.detail.elt.closest("[data-remark]");
  const state = (form, word, text) => {
    const kept = form.querySelector(".saved");
    if (!kept) return;
    kept.dataset.state = word;
    kept.textContent = text;
  };
  const failed = new Set();
  const fail = (form, text) => {
    failed.add(form);
    form.dataset.unsent = 1;
    state(form, "failed", text);
  };
  document.addEventListener("input", (event) => {
    const form = event.target.closest("[data-remark]");
    if (form) form.dataset.unsent = 1;
  });
  document.addEventListener("htmx:beforeRequest", (event) => {
    const form = remarkOf(event);
    if (form) state(form, "sending", "saving…");
  });
  document.addEventListener("htmx:beforeSwap", (event) => {
    const form = event.detail.requestConfig.elt.closest("[data-remark]");
    if (!form) return;
    const { xhr } = event.detail;
    const answer = xhr.getResponseHeader("Bench-Answer");
    event.detail.shouldSwap = Boolean(answer) && answer !== "waiting";
    event.detail.isError = false;
    if (!answer) {
      fail(form, xhr.status === 401 ? "not saved: you are signed out. Sign in again in another window" : "not saved, will be sent again");
      return;
    }
    failed.delete(form);
    // What was typed since it was sent is not acknowledged by this answer.
    if (event.detail.requestConfig.parameters.remark === form.querySelector("textarea").value) delete form.dataset.unsent;
    if (answer === "waiting") state(form, "waiting", "on this device, not sent yet");
  });
  for (const kind of ["htmx:sendError", "htmx:timeout"]) {
    document.addEventListener(kind, (event) => {
      const form = remarkOf(event);
      if (form) fail(form, "not saved, will be sent again");
    });
  }
  const sendAgain = () => {
    failed.forEach((form) => htmx.trigger(form, "resend"));
    failed.clear();
    sendNext();
  };
  setInterval(sendAgain, RETRY_MS);
  addEventListener("online", sendAgain);

  // Leaving waits for what is being sent, and asks if it cannot be.
  const unsent = () => document.querySelectorAll("[data-photographs][data-unsent], [data-remark][data-unsent]").length;
  addEventListener("beforeunload", (event) => {
    if (unsent() && !leaving) event.preventDefault();
  });
  const afterAll = (event, go) => {
    if (!unsent() || leaving) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    document.querySelectorAll("[data-remark][data-unsent]").forEach((form) => htmx.trigger(form, "resend"));
    const wait = setInterval(() => {
      if (unsent()) return;
      clearInterval(wait);
      go();
    }, GO_ON_MS);
  };
  document.addEventListener("click", (event) => {
    const link = event.target.closest("a[href]");
    if (!link || link.target || event.ctrlKey || event.metaKey || event.shiftKey || link.hash) return;
    afterAll(event, () => location.assign(link.href));
  }, true);
  document.addEventListener("submit", (event) => {
    if (event.target.closest("[data-notes]")) return;
    afterAll(event, () => event.target.requestSubmit(event.submitter));
  }, true);
})();
