// Pasting into a table of readings: a column, or a block from a spreadsheet, fills the fields below and at the right of
// the one that has the focus. All of it or nothing: what a field does not take is named with its line. Each value is then
// sent as if it had been typed. A single value is pasted by the browser itself.
(() => {
  const form = document.querySelector("[data-rules]");
  if (!form) return;
  const { decimal, rows: MOST_ROWS, units } = JSON.parse(form.dataset.rules);
  const FIELD = "input[inputmode=decimal]";
  const MOST_PROBLEMS = 3;
  const LONGEST = 40;
  const count = (number, one, many) => number + " " + (number === 1 ? one : many);
  const either = (words) => words.join(" or ");

  // From text to lines of cells. A comma parts cells only where it cannot be the decimal sign.
  const WRITTEN = /^[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)$/;
  const GROUPED = /^[+-]?\d{1,3}(?:[.,'’ \u00a0\u202f]\d{3})+(?:[.,]\d*)?$/;
  const ONE_GROUP = /^[+-]?[1-9]\d{0,2}[.,]\d{3}$/;
  const NUMBER = /^[+\-\u2212]?[\d.,](?:[\d.,'’ \u00a0\u202f;]|(?<=[; ])[+\-\u2212](?=[\d.,]))*/;
  const numberOf = (text) => ((NUMBER.exec(text.trim()) || [""])[0]).trim().replace("\u2212", "-");
  const isOneNumber = (line) => {
    const number = numberOf(line);
    return (WRITTEN.test(number) || GROUPED.test(number)) && !line.trim().slice(number.length).includes(",");
  };
  const unquoted = (cell) => cell.trim().replace(/^"(.*)"$/, "$1").replaceAll('""', '"').trim();
  const withoutEmptyEnd = (cells) => {
    while (cells.length > 1 && cells[cells.length - 1] === "") cells.pop();
    return cells;
  };
  // Null for lines that can be read both as numbers with a decimal comma and as two cells.
  const delimiterOf = (lines, isLastColumn) => {
    const has = (sign) => lines.some((line) => line.includes(sign));
    if (has("\t")) return "\t";
    if (has(";")) return ";";
    const withComma = lines.filter((line) => line.includes(","));
    if (!withComma.length) return "";
    if (!withComma.every(isOneNumber)) return ",";
    return decimal === "," || isLastColumn ? "" : null;
  };
  const linesOf = (text) => {
    const lines = text.replace(/\r\n?/g, "\n").split("\n");
    while (lines.length && lines[lines.length - 1].trim() === "") lines.pop();
    return lines;
  };
  const isOneValue = (lines) => lines.length < 2 && (!lines.length || delimiterOf(lines, true) === "");

  // One cell, read as the server reads it (typed_unit.py, place_format/numbers.py), which has the last word.
  const plain = (text) => text.normalize("NFKC").replace(/\s+/g, "");
  const spelt = Object.entries(units).flatMap(([symbol, unit]) => [symbol, ...unit.spellings].map((word) => [plain(word), symbol]));
  const symbolsOf = (text) => {
    const exact = spelt.filter(([word]) => word === plain(text));
    const found = exact.length ? exact : spelt.filter(([word]) => word.toLowerCase() === plain(text).toLowerCase());
    return [...new Set(found.map(([, symbol]) => symbol))];
  };
  const unitOf = (column, rest) => {
    const own = (text) => symbolsOf(text).filter((symbol) => column.units.includes(symbol));
    if (rest === "") return "";
    if (own(rest).length === 1) return own(rest)[0];
    if (!column.hasZero) return null;
    if (/^(gauge|abs\.?|absolute)$/i.test(rest)) return "";
    const words = /^(.*\S)\s+\(?(?:gauge|abs\.?|absolute)\)?$/i.exec(rest) || /^(.*\S)[ga]$/i.exec(rest);
    return words && own(words[1]).length === 1 ? own(words[1])[0] : null;
  };
  const splitsOf = (text) => {
    const [number] = NUMBER.exec(text) || [""];
    if (!number) return [];
    const short = [...number.trimEnd().matchAll(/\s+/g)].map(({ index }) => [text.slice(0, index), text.slice(index).trim()]);
    return [[number.trim(), text.slice(number.length).trim()], ...short];
  };
  // A reading and its repeats are parted by a semicolon; of several the first that is wrong is named.
  const numberProblem = (text) => text.split(";").filter((one, place) => one.trim() || !place).map((one) => digitsProblem(one.trim())).find(Boolean) || "";
  const digitsProblem = (text) => {
    const digits = text.replace("\u2212", "-");
    const other = decimal === "." ? "," : ".";
    const example = "24" + decimal + "5";
    if (WRITTEN.test(digits)) {
      if (!digits.includes(other) || !ONE_GROUP.test(digits)) return "";
      return `“${text}” can be read as ${digits.replace(other, decimal)} or as ${digits.replace(other, "")}. Accepted: one of these.`;
    }
    if (GROUPED.test(digits)) return `“${text}” has signs between its thousands. Accepted: digits with one decimal sign, such as ${example}.`;
    return `“${text}” is not a number. Accepted: digits with one decimal sign, such as ${example}.`;
  };
  const unitProblem = (column, text) => {
    const found = splitsOf(text).map(([, rest]) => rest).find((rest) => symbolsOf(rest).length === 1);
    const accepted = `Accepted: ${either(column.units)}.`;
    if (found) return `“${found}” is a unit of ${units[symbolsOf(found)[0]].of}. ${accepted}`;
    return `“${splitsOf(text)[0][1]}” is no unit that is known here. ${accepted}`;
  };
  const boundsProblem = (text, number, symbol) => {
    const unit = units[symbol];
    const values = number.split(";").filter((one) => one.trim()).map((one) => Number(one.replace("\u2212", "-").replace(",", ".")));
    if (!unit || values.every((value) => value >= unit.low && value <= unit.high)) return "";
    return `“${text}” is not plausible in ${symbol}. Accepted: ${unit.accepted}.`;
  };
  const problemOf = (column, text, unitInForce) => {
    if (text.length > LONGEST) return `${text.length} characters are too many for a reading. Accepted: ${LONGEST} at most.`;
    const splits = splitsOf(text);
    if (!splits.length) return numberProblem(text);
    const known = splits.filter(([, rest]) => unitOf(column, rest) !== null).pop();
    if (!known) return /[\p{L}%°]/u.test(splits[0][1]) ? unitProblem(column, text) : numberProblem(text);
    return numberProblem(known[0]) || boundsProblem(text, known[0], unitOf(column, known[1]) || unitInForce);
  };

  // The fields of a table, from the one that has the focus.
  const rowsOf = (table) => [...table.querySelectorAll("tbody > tr[data-row]")];
  const cellsOf = (row) => [...row.querySelectorAll("td[data-place]")];
  const grow = (table, needed) => {
    let before = -1;
    while (rowsOf(table).length < needed && rowsOf(table).length !== before) {
      before = rowsOf(table).length;
      table.dispatchEvent(new CustomEvent("bench:row-wanted", { bubbles: true }));
    }
  };
  const columnsOf = (table) => [...table.querySelectorAll("thead tr:first-child th")].slice(1).map((head) => {
    const settings = document.getElementById(head.id.replace("head-", "settings-"));
    const unit = settings.querySelector("[data-setting=unit], [data-only-unit]");
    const known = unit.options ? [...unit.options].map((option) => option.value) : [unit.value];
    return { label: head.textContent.trim(), units: known, unit, hasZero: Boolean(settings.querySelector("[data-setting=zero]")) };
  });
  const ownSetting = (cell, setting) => cell.querySelector(`[data-own=${setting}]`);

  const problemsOf = (block, table, row, column) => {
    const columns = columnsOf(table);
    const rows = rowsOf(table);
    const problems = [];
    if (row + block.length > MOST_ROWS) {
      problems.push(`${count(block.length, "line is", "lines are")} more than fit from row ${row + 1} on. Accepted: ${count(MOST_ROWS - row, "line", "lines")} at most.`);
    }
    block.forEach((cells, line) => {
      const room = columns.length - column;
      if (cells.length > room) {
        problems.push(`Line ${line + 1} has ${cells.length} cells. Accepted: ${room} at most from this column on.`);
        return;
      }
      cells.forEach((text, index) => {
        const there = columns[column + index];
        const cell = rows[row + line] && cellsOf(rows[row + line])[column + index];
        const own = cell && ownSetting(cell, "unit");
        const problem = text && problemOf(there, text, (own || there.unit).value);
        if (problem) problems.push(`Line ${line + 1}, ${there.label}: ${problem}`);
      });
    });
    return problems;
  };

  let last = null; // the paste that can be undone
  let isFilling = false;
  const write = (input, text) => {
    input.value = text;
    input.valueBefore = undefined; // it is on its way, also if it is what the field held when it took the focus
    isFilling = true;
    input.dispatchEvent(new Event("input", { bubbles: true }));
    input.dispatchEvent(new Event("change", { bubbles: true }));
    isFilling = false;
  };
  const told = (table) => table.querySelector("[data-paste-said]");
  const clear = (table) => told(table).replaceChildren();
  const say = (table, text, { isRefused = false, canUndo = false } = {}) => {
    const words = document.createElement("span");
    words.textContent = text;
    words.className = isRefused ? "errors" : "";
    told(table).replaceChildren(words);
    if (!canUndo) return;
    const button = document.createElement("button");
    Object.assign(button, { type: "button", className: "button", textContent: "Undo paste" });
    button.addEventListener("click", undo);
    told(table).append(button);
  };
  const refuse = (table, problems) => {
    const more = problems.length - MOST_PROBLEMS;
    const rest = more > 0 ? ` And ${count(more, "more line does", "more do")} not fit.` : "";
    say(table, "Nothing was filled. " + problems.slice(0, MOST_PROBLEMS).join(" ") + rest, { isRefused: true });
  };
  // A text with the unit and zero of its reading, so that it is stored as it was.
  const asItWas = (cell, input) => {
    const isStored = cell.querySelector("[data-seen]").value !== "";
    const words = isStored ? ["unit", "zero"].map((setting) => (ownSetting(cell, setting) || { value: "" }).value) : [];
    return input.value.trim() === "" ? "" : [input.value.trim(), ...words].join(" ").trim();
  };
  const fill = (block, table, row, column) => {
    grow(table, row + block.length);
    const cells = [];
    block.forEach((line, number) => line.forEach((text, index) => {
      const cell = cellsOf(rowsOf(table)[row + number])[column + index];
      const input = cell.querySelector(FIELD);
      if (text) cells.push({ input, text, before: asItWas(cell, input) });
    }));
    cells.forEach(({ input, text }) => write(input, text));
    last = { table, cells, isFresh: true };
    const replaced = cells.filter(({ before }) => before).length;
    const blank = block.filter((line) => line.every((text) => text === "")).length;
    const words = [`${count(cells.length, "value", "values")} filled, rows ${row + 1} to ${row + block.length}.`];
    if (replaced) words.push(`${count(replaced, "earlier value was", "earlier values were")} replaced.`);
    if (blank) words.push(`${count(blank, "blank line", "blank lines")} left out: the rows stay as they were.`);
    say(table, words.join(" "), { canUndo: true });
  };
  const undo = () => {
    if (!last) return;
    const { table, cells } = last;
    last = null;
    cells.filter(({ isEdited }) => !isEdited).forEach(({ input, before }) => write(input, before));
    say(table, "Paste undone: the fields are as before.");
    cells[0].input.focus();
  };

  const paste = (event) => {
    const input = event.target.closest && event.target.closest(`[data-place] ${FIELD}`);
    if (!input || !form.contains(input) || !event.clipboardData) return;
    const lines = linesOf(event.clipboardData.getData("text/plain"));
    const table = input.closest("[data-table]");
    const isOneLine = lines.length < 2 && !lines.join("").includes("\t");
    if (isOneValue(lines) || (!table && isOneLine)) return; // a single field takes repeats, too
    event.preventDefault();
    if (!table) {
      document.getElementById("said").textContent = "Nothing was filled: this field takes one value. Paste several into a table.";
      return;
    }
    clear(table); // so that the same sentence is announced again
    const row = rowsOf(table).indexOf(input.closest("tr"));
    const column = cellsOf(input.closest("tr")).indexOf(input.closest("td"));
    const delimiter = delimiterOf(lines, column === columnsOf(table).length - 1);
    if (delimiter === null) {
      const sign = lines.find((line) => line.includes(",")).trim().slice(0, LONGEST);
      return refuse(table, [`“${sign}” can be read as one number or as two cells. Accepted: tab or semicolon between cells, or a decimal point.`]);
    }
    const block = lines.map((line) => withoutEmptyEnd((delimiter ? line.split(delimiter) : [line]).map(unquoted)));
    const problems = problemsOf(block, table, row, column);
    if (problems.length) return refuse(table, problems);
    fill(block, table, row, column);
  };
  form.addEventListener("paste", paste);

  // What is typed after a paste is undone by the browser, and stays when the paste is undone.
  form.addEventListener("input", (event) => {
    if (isFilling || !last) return;
    last.isFresh = false;
    last.cells.filter(({ input }) => input === event.target).forEach((cell) => (cell.isEdited = true));
  });
  document.addEventListener("keydown", (event) => {
    const isUndo = (event.ctrlKey || event.metaKey) && !event.shiftKey && !event.altKey && event.key.toLowerCase() === "z";
    if (!isUndo || !last || !last.isFresh || !last.table.contains(document.activeElement)) return;
    event.preventDefault();
    undo();
  });
})();
