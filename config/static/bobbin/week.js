/* Drags a booking of the week picture to another technician and day. The server decides: it books, or asks what speaks
   against the day. Without this script each booking has a link Move, and each day then a button. */
"use strict";
(() => {
  const table = document.querySelector("[data-week]");
  const form = document.getElementById("week-move");
  if (!table || !form) return;
  let dragged = null;

  const cellOf = (event) => event.target.closest("td[data-day]");
  const leave = () => table.querySelectorAll(".drop-here").forEach((cell) => cell.classList.remove("drop-here"));

  table.addEventListener("dragstart", (event) => {
    dragged = event.target.closest("[data-move]");
    if (!dragged) return;
    event.dataTransfer.effectAllowed = "move";
    event.dataTransfer.setData("text/plain", dragged.dataset.move);
  });
  table.addEventListener("dragover", (event) => {
    const cell = cellOf(event);
    if (!dragged || !cell) return;
    event.preventDefault();
    leave();
    cell.classList.add("drop-here");
  });
  table.addEventListener("dragend", () => { dragged = null; leave(); });
  table.addEventListener("drop", (event) => {
    const cell = cellOf(event);
    if (!dragged || !cell) return;
    event.preventDefault();
    leave();
    if (cell.contains(dragged)) return;
    form.action = dragged.dataset.move;
    form.elements.technician.value = cell.dataset.technician;
    form.elements.booked_on.value = cell.dataset.day;
    form.elements.seen.value = dragged.dataset.seen;
    form.requestSubmit();
  });
})();
