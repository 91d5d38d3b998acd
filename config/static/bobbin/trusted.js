// The policy for text that a script turns into markup. Loaded before htmx; required by the content security policy.
//
// The policy does not apply to a page from the server: there templates escape text, and htmx uses only controls with
// the page's mark (config/controls.py). It applies to what a script inserts into a page afterwards, as htmx does with
// every answer: scripts, handlers, frames, further addresses of forms and controls without the mark are removed.
// There is no policy for scripts or their addresses, so that no text can become a script.
(() => {
  if (!window.trustedTypes) return;
  const TAGS = "script, iframe, frame, frameset, object, embed, applet, base, meta, link, style, math, noscript, noembed, noframes, xmp, plaintext, foreignObject, animate, animateTransform, set, portal";
  const ADDRESSES = ["href", "src", "action", "formaction", "xlink:href", "data", "srcdoc", "poster", "background", "ping"];
  const CONTROLS = /^(data-)?hx-(get|post|put|patch|delete|boost|on|ext|vars|headers)/;
  const mark = document.body ? document.body.dataset.controls : "";
  // Parses a text into a document that runs nothing; for use in this file only.
  const reading = trustedTypes.createPolicy("bobbin-reading", { createHTML: (text) => text });

  const isOwnAddress = (address) => {
    try {
      return new URL(address, location.href).origin === location.origin;
    } catch {
      return false;
    }
  };
  const isRefused = (element, { name, value }) => {
    if (name.startsWith("on") || name === "style" || name === "srcdoc") return true;
    if (ADDRESSES.includes(name) && !isOwnAddress(value)) return true;
    return CONTROLS.test(name) && element.dataset.controls !== mark;
  };
  const clean = (root) => {
    root.querySelectorAll(TAGS).forEach((element) => element.remove());
    root.querySelectorAll("*").forEach((element) => {
      [...element.attributes].forEach((attribute) => isRefused(element, attribute) && element.removeAttribute(attribute.name));
      if (element instanceof HTMLTemplateElement) clean(element.content);
    });
  };
  const createHTML = (text) => {
    const isPage = /^\s*<(!doctype|html|head|body)\b/i.test(text);
    const page = new DOMParser().parseFromString(reading.createHTML(isPage ? text : `<template>${text}</template>`), "text/html");
    clean(page);
    return isPage ? page.documentElement.outerHTML : page.querySelector("template").innerHTML;
  };
  trustedTypes.createPolicy("default", { createHTML });
})();
