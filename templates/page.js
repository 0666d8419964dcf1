"use strict";
(() => {
  const one = (select, from) => (from || document).querySelector(select);
  const each = (select, from) => Array.from((from || document).querySelectorAll(select));
  const data = JSON.parse(one("#workings").textContent);
  const text = (index) => data.texts[index];
  const make = (name, words) => { const made = document.createElement(name); made.textContent = words; return made; };

  // The working of a cell.
  const dialog = one("#working");
  let opened = null;
  const pairs = (into, list) => {
    into.replaceChildren(...list.map(([name, value]) => {
      const pair = document.createElement("div");
      pair.append(make("dt", text(name)), make("dd", text(value)));
      return pair;
    }));
  };
  const open = (index) => {
    const cell = data.workings[index];
    opened = cell;
    one("#working-title").textContent = text(cell.title);
    pairs(one("#working-answer"), cell.answer);
    pairs(one("#working-steps"), cell.steps);
    const facts = one("#working-facts");
    facts.closest(".scroll").hidden = cell.facts.length === 0;
    one("tbody", facts).replaceChildren(...cell.facts.map((fact) => {
      const row = document.createElement("tr");
      data.facts[fact].forEach((part, nth) => {
        const made = make(nth === 0 ? "th" : "td", text(part));
        if (nth === 0) made.scope = "row";
        row.append(made);
      });
      return row;
    }));
    one("#working-command").textContent = text(cell.command);
    dialog.showModal();
    dialog.scrollTop = 0;
    one("#working-title").focus();
  };
  document.addEventListener("click", (event) => {
    const button = event.target.closest("[data-w]");
    if (button) open(Number(button.dataset.w));
    if (event.target === dialog) dialog.close();
  });
  one("#close").addEventListener("click", () => dialog.close());

  // On paper a working flows over pages, which what lies above the page cannot.
  let lifted = false;
  addEventListener("beforeprint", () => {
    lifted = dialog.matches(":modal");
    if (lifted) { dialog.close(); dialog.show(); }
  });
  addEventListener("afterprint", () => {
    if (lifted) { dialog.close(); dialog.showModal(); }
  });

  // The rows: filtered, sorted, shown a page at a time.
  const table = one("#findings");
  const body = one("tbody", table);
  let rows = Array.from(body.rows);
  const PAGE = 200;
  let limit = PAGE;
  const filters = one(".filters");
  const verdicts = ["suitable", "conditional", "unproven", "unsuitable"];
  const show = () => {
    const wanted = filters ? each("select", filters).filter((s) => s.value).map((s) => [s.dataset.column, s.value]) : [];
    const checked = filters ? each(".f-verdict").filter((c) => c.checked).map((c) => c.value) : verdicts;
    const words = filters ? one("#f-text").value.toLowerCase() : "";
    let fits = 0;
    for (const row of rows) {
      const fit = wanted.every(([column, value]) => row.dataset[column] === value)
        && (!filters || checked.includes(row.dataset.verdict))
        && (!words || row.textContent.toLowerCase().includes(words));
      if (fit) fits += 1;
      row.hidden = !fit || fits > limit;
    }
    table.classList.remove("paged");
    const status = one("#shown");
    if (status) {
      const shown = Math.min(fits, limit);
      const all = fits === rows.length ? "" : ` (of ${rows.length} that were asked)`;
      status.textContent = fits === 0 ? `No finding fits; ${rows.length} were asked.`
        : shown < fits ? `${shown} of ${fits} findings shown${all}.`
        : `${fits} ${fits === 1 ? "finding" : "findings"} shown${all}.`;
      one(".more").hidden = fits <= limit;
    }
  };
  const key = (row, name) => {
    const value = row.dataset[name];
    if (name === "verdict") return verdicts.indexOf(value);
    if (name === "method") return row.cells[row.cells.length - 2].textContent;
    if (["margin", "value", "order", "hazards", "cost"].includes(name)) {
      return value === "" || value === undefined ? NaN : Number(value);
    }
    return value;
  };
  const sort = (head) => {
    const down = head.getAttribute("aria-sort") === "ascending";
    each("th[aria-sort]", table).forEach((other) => other.setAttribute("aria-sort", "none"));
    head.setAttribute("aria-sort", down ? "descending" : "ascending");
    const sign = down ? -1 : 1;
    const keyed = rows.map((row) => [key(row, head.dataset.key), row]);
    keyed.sort(([a, one], [b, other]) => {
      const last = Number(one.dataset.place) - Number(other.dataset.place);
      if (typeof a === "number") {
        if (Number.isNaN(a) || Number.isNaN(b)) return Number.isNaN(a) - Number.isNaN(b) || last;
        return sign * (a - b) || last;
      }
      return sign * a.localeCompare(b, "en", { numeric: true }) || last;
    });
    rows = keyed.map(([, row]) => row);
    // Off the page while its rows move: a long table is laid out once.
    body.remove();
    body.append(...rows);
    show();
    table.append(body);
  };
  each("th[data-key]", table).forEach((head) => {
    // The button sorts; on paper the word stands alone, for a button is not repeated at the head of a page.
    const button = make("button", head.textContent);
    button.type = "button";
    const paper = make("span", head.textContent);
    paper.className = "paper";
    head.replaceChildren(button, paper);
    head.setAttribute("aria-sort", "none");
    button.addEventListener("click", () => sort(head));
  });
  if (filters) {
    const again = () => { limit = PAGE; show(); };
    filters.hidden = false;
    let waiting = 0;
    one("#f-text").addEventListener("input", () => { clearTimeout(waiting); waiting = setTimeout(again, 150); });
    each("select, .f-verdict", filters).forEach((control) => control.addEventListener("change", again));
    const reset = () => {
      one("#f-text").value = "";
      each("select", filters).forEach((select) => { select.value = ""; });
      each(".f-verdict").forEach((box) => { box.checked = true; });
    };
    one("#f-reset").addEventListener("click", () => { reset(); again(); });
    one("#more").addEventListener("click", () => { limit += PAGE; show(); });
    one("#every").addEventListener("click", () => { limit = Infinity; show(); });
    one("#only").addEventListener("click", () => {
      dialog.close();
      reset();
      if (one("#f-enquiry")) one("#f-enquiry").value = text(opened.enquiry);
      one("#f-tape").value = text(opened.tape);
      one("#f-exposure").value = text(opened.exposure);
      again();
      one("#rows").focus();
      one("#rows").scrollIntoView();
    });
    // On paper every row that fits the filter is there.
    let before = PAGE;
    addEventListener("beforeprint", () => { before = limit; limit = Infinity; show(); });
    addEventListener("afterprint", () => { limit = before; show(); });
  }
  show();
})();
