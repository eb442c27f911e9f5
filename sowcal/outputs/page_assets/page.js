"use strict";
(() => {
  const plain = (text) => text.normalize("NFKD").replace(/\p{M}/gu, "").toLowerCase().trim();

  // Filters: each control narrows the rows of the list or table that its group names.
  const fits = {
    text: (row, wanted) => plain(row.dataset.name).includes(plain(wanted)),
    month: (row, wanted) => row.dataset.months.split(" ").includes(wanted),
    family: (row, wanted) => row.dataset.family === wanted,
    word: (row, wanted) => row.dataset.word === wanted,
  };

  const rowsOf = (target) => [...(target.tBodies ? target.tBodies[0].rows : target.children)];

  function sift(group, target) {
    const asked = [...group.querySelectorAll("[data-do]")].filter((c) => fits[c.dataset.do] && c.value.trim());
    const rows = rowsOf(target);
    let shown = 0;
    for (const row of rows) {
      row.hidden = !asked.every((control) => fits[control.dataset.do](row, control.value));
      shown += !row.hidden;
    }
    const none = shown ? "" : "no crop fits: loosen a filter";
    group.querySelector("output").textContent = none || `${shown} of ${rows.length} crops`;
  }

  const byName = (a, b) => a.dataset.name.localeCompare(b.dataset.name, "en");
  const orders = {
    first: (a, b) => a.dataset.first - b.dataset.first || byName(a, b),
    name: byName,
    family: (a, b) => a.dataset.family.localeCompare(b.dataset.family, "en") || byName(a, b),
  };

  for (const group of document.querySelectorAll(".controls")) {
    const target = document.getElementById(group.dataset.for);
    group.hidden = false;
    group.addEventListener("input", (event) => {
      if (event.target.dataset.do === "order") {
        target.append(...rowsOf(target).sort(orders[event.target.value]));
      }
      sift(group, target);
    });
    const button = group.querySelector("[data-do=open]");
    button?.addEventListener("click", () => {
      const open = button.textContent === "Open all";
      for (const row of rowsOf(target)) row.open = open && !row.hidden;
      button.textContent = open ? "Close all" : "Open all";
    });
    sift(group, target);
  }

  // Columns that sort: the first press ascends, the next descends.
  for (const button of document.querySelectorAll("[data-do=sort]")) {
    button.addEventListener("click", () => {
      const head = button.parentElement;
      const table = head.closest("table");
      const column = [...head.parentElement.children].indexOf(head);
      const down = head.getAttribute("aria-sort") === "ascending";
      const sign = down ? -1 : 1;
      const value = (row) => row.cells[column].dataset.sort ?? row.cells[column].textContent;
      const numbers = "numbers" in button.dataset;
      const order = (a, b) =>
        sign * (numbers ? value(a) - value(b) : value(a).localeCompare(value(b), "en")) || byName(a, b);
      for (const other of head.parentElement.children) other.removeAttribute("aria-sort");
      head.setAttribute("aria-sort", down ? "descending" : "ascending");
      table.tBodies[0].append(...rowsOf(table).sort(order));
    });
  }

  // Today's line, by the reader's own clock, on a year of 365 days.
  const lengths = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];
  const before = (month) => lengths.slice(0, month).reduce((sum, n) => sum + n, 0);
  const today = new Date();
  const day = before(today.getMonth()) + Math.min(today.getDate(), lengths[today.getMonth()]) - 0.5;
  const first = before(Number(document.documentElement.dataset.start) - 1);
  document.documentElement.style.setProperty("--today", String(((day - first + 365) % 365) / 365));
  document.documentElement.classList.add("now");
})();
