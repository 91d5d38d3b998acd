// What a script may turn into markup. Loaded before htmx; the content security policy (config/security.py) requires it.
//
// A page as the server wrote it passes no policy: there the template escapes, and htmx takes no control without the
// page's own mark (config/controls.py). This policy holds for what a script puts into a page afterwards, which is
// what htmx does with every answer: scripts, handlers, frames, forms' other addresses and controls without the mark
// are taken out, whoever wrote them. There is no policy for scripts or their addresses, so that no script can be
// made from a text at all.
(() => {
  if (!window.trustedTypes) return;
  const TAGS = "script, iframe, frame, frameset, object, embed, applet, base, meta, link, style, math, noscript, noembed, noframes, xmp, plaintext, foreignObject, animate, animateTransform, set, portal";
  const ADDRESSES = ["href", "src", "action", "formaction", "xlink:href", "data", "srcdoc", "poster", "background", "ping"];
  const CONTROLS = /^(data-)?hx-(get|post|put|patch|delete|boost|on|ext|vars|headers)/;
  const mark = document.body ? document.body.dataset.controls : "";
  // Reads a text into a document that runs nothing; never given to anybody else.
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
