// Beside each of the browser's date fields, the day as the page writes days; the pattern is that of Django's date filter.
(() => {
  "use strict";
  const months = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];

  function words(iso, pattern) {
    const [year, month, day] = iso.split("-");
    if (!day || year.length !== 4) return "";
    const parts = { Y: year, m: month, d: day, j: String(Number(day)), M: months[Number(month) - 1] };
    return [...pattern].map((sign) => parts[sign] ?? sign).join("");
  }

  document.addEventListener("input", (event) => {
    if (!event.target.matches("input[type=date]")) return;
    const beside = event.target.nextElementSibling;
    if (beside?.matches("[data-day-words]")) beside.textContent = words(event.target.value, beside.dataset.pattern);
  });
})();
