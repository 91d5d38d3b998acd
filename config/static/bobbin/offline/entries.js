// What a change on the device is, in words: for the bench and for the page of what waits.
const bobbinEntries = (() => {
  const KINDS = { reading: "Reading", "not-tested": "Not tested", remark: "Remark", photograph: "Photograph", photographs: "Photograph", question: "Answer" };
  const TECHNICAL = /^(slot|csrfmiddlewaretoken|then|next)$|:(kept|zero|instrument)$|\.\*\.|^next-/;
  const kindOf = (entry) => {
    const last = entry.path.split("/").filter(Boolean).pop();
    return KINDS[last] || (/^\d+$/.test(last) ? "Step" : last.charAt(0).toUpperCase() + last.slice(1).replaceAll("-", " "));
  };
  // What was typed, for a person to read and to copy.
  const valueOf = (entry) => {
    const place = bobbinStore.placeOf(entry);
    if (place) {
      const text = bobbinStore.fieldOf(entry, bobbinStore.nameOf(entry));
      const star = place.replace(/\.\d+\./, ".*.");
      const unit = bobbinStore.fieldOf(entry, place + ":unit") || bobbinStore.fieldOf(entry, star + ":unit") || "";
      return text ? (text + " " + unit).trim() : "deleted";
    }
    const typed = entry.fields.filter(([name]) => !TECHNICAL.test(name));
    return typed.map(([name, value]) => (typeof value === "string" ? value : value.name || name)).filter(Boolean).join("; ");
  };
  const inWords = (entry) => [kindOf(entry), entry.label, valueOf(entry)].filter(Boolean).join(": ");
  const two = (number) => String(number).padStart(2, "0");
  const moment = (entry) => {
    const at = new Date(entry.typedAt);
    return `${at.getFullYear()}-${two(at.getMonth() + 1)}-${two(at.getDate())} ${two(at.getHours())}:${two(at.getMinutes())}`;
  };
  // Why the server refused it: the sentence in its answer.
  const reasonOf = (entry) => {
    const text = entry.answer || "";
    if (entry.word === "error") return "The server reports an error each time. Tell your Bobbin administrator, then send it again.";
    if (entry.status === 413) return "It is larger than the server accepts.";
    if (!text.trim().startsWith("<")) return text.trim() || "The server refused it (" + entry.status + ").";
    return sentenceIn(text) || "The server refused it (" + entry.status + ").";
  };
  // The first sentence in the markup of an answer that says why, as text: it is only ever shown as text.
  const ENTITIES = { "&lt;": "<", "&gt;": ">", "&quot;": '"', "&#x27;": "'", "&#39;": "'", "&nbsp;": " ", "&amp;": "&" };
  const sentenceIn = (markup) => {
    const found = /<p class="errors"[^>]*>([\s\S]*?)<\/p>/.exec(markup) || /class="notice bad"[\s\S]*?<p>([\s\S]*?)<\/p>/.exec(markup) || /<p class="lead">([\s\S]*?)<\/p>/.exec(markup);
    const text = found ? found[1].replace(/<[^>]*>/g, "") : "";
    return Object.entries(ENTITIES).reduce((done, [entity, sign]) => done.replaceAll(entity, sign), text).trim().replace(/\s+/g, " ");
  };
  return { inWords, kindOf, moment, reasonOf, valueOf };
})();
