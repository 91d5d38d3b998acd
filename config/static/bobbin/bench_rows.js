// The bench page: a table has an empty row at its end at once, and only the fields of the chosen options are shown.
(() => {
  const bench = document.querySelector("[data-bench]");
  if (!bench) return;
  const MOST_ROWS = 60;

  // A new row is made in the browser from the table's blank one; the server learns of it by its first reading.
  const rowsOf = (table) => [...table.querySelectorAll("tbody > tr[data-row]")];
  const isEmpty = (row) => [...row.querySelectorAll("input:not([type=hidden])")].every((input) => input.value.trim() === "");
  const addRow = (table) => {
    const template = table.querySelector("template[data-blank-row]");
    const rows = rowsOf(table);
    const number = Number(rows[rows.length - 1].dataset.row) + 1;
    if (!template || number >= MOST_ROWS) return;
    const row = template.content.firstElementChild.cloneNode(true);
    const [key, blank] = [table.dataset.table, template.dataset.blankRow];
    for (const element of [row, ...row.querySelectorAll("*")]) {
      for (const { name, value } of [...element.attributes]) {
        const own = value
          .replaceAll(`${key}.${blank}.`, `${key}.${number}.`)
          .replaceAll(`${key}-${blank}-`, `${key}-${number}-`)
          .replaceAll(`row ${Number(blank) + 1}`, `row ${number + 1}`);
        if (own !== value) element.setAttribute(name, own);
      }
    }
    row.dataset.row = number;
    row.querySelector("th").textContent = number + 1;
    rows[rows.length - 1].after(row);
    htmx.process(row);
  };
  const keepEmptyRow = (table) => {
    const rows = rowsOf(table);
    if (!isEmpty(rows[rows.length - 1])) addRow(table);
  };
  bench.addEventListener("input", (event) => {
    const table = event.target.closest("[data-table]");
    if (table && event.target.closest("tr[data-row]")) keepEmptyRow(table);
  });
  bench.addEventListener("bench:row-wanted", (event) => addRow(event.target));
  bench.querySelectorAll("[data-table]").forEach(keepEmptyRow);

  // A field is shown with the options that its test reads it with, and always once it has a reading. What the procedure
  // chose is not on the page to be chosen: the form names it.
  const form = bench.querySelector("[data-fixed]");
  const fixed = (form ? form.dataset.fixed.split(",") : []).map((pair) => pair.split("=")).filter((pair) => pair[0]);
  const chosen = () => {
    const found = Object.fromEntries(fixed);
    bench.querySelectorAll("[data-choice] input:checked").forEach((input) => (found[input.name] = input.value));
    return found;
  };
  const isWanted = (words, options) => words.split(";").some((together) => together.split(",").every((pair) => {
    const [choice, option] = pair.split("=");
    return options[choice] === undefined || options[choice] === option;
  }));
  const hasReading = (element) => [...element.querySelectorAll("[data-seen]")].some((seen) => seen.value) ||
    [...element.querySelectorAll("input:not([type=hidden], [type=radio])")].some((input) => input.value.trim());
  const showWanted = () => {
    const options = chosen();
    bench.querySelectorAll("[data-wanted]").forEach((element) => {
      element.hidden = !isWanted(element.dataset.wanted, options) && !hasReading(element);
      const folded = element.parentElement.closest("details.optional-table");
      if (folded) folded.hidden = element.hidden;
    });
  };
  bench.addEventListener("change", (event) => {
    if (event.target.closest("[data-choice]")) showWanted();
  });
  showWanted();
})();
