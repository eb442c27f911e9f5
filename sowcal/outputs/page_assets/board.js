// @ts-check
"use strict";
// The garden's beds to scale, by the month that is chosen; laid out from what the markup says, reckons nothing.
(() => {
  const names = ["January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
    "November", "December"];
  const lengths = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];
  const starts = lengths.map((_, m) => lengths.slice(0, m).reduce((sum, n) => sum + n, 0));
  const number = (/** @type {string | undefined} */ text) => Number(text ?? 0);
  const per = (/** @type {number} */ share) => `${(100 * share).toFixed(3)}%`;
  const inside = (/** @type {number} */ day, /** @type {number} */ from, /** @type {number} */ to) =>
    (day - from + 365) % 365 <= (to - from + 365) % 365;
  /** @param {number} day */
  const dayText = (day) => {
    const month = starts.findLastIndex((first) => first <= day);
    return `${day - starts[month] + 1} ${names[month].slice(0, 3)}`;
  };

  /** Draw the bar of one sowing from a start day, which may be another than it has. @param {HTMLElement} row @param {number} start */
  function lay(row, start) {
    const track = /** @type {HTMLElement} */ (row.querySelector(".track"));
    const had = number(row.dataset.start);
    const days = row.dataset.all === undefined ? (number(row.dataset.last) - had + 365) % 365 + 1 : 365;
    const first = (number(row.dataset.first) - had + 365) % 365;
    for (const bar of track.querySelectorAll(".bar")) bar.remove();
    const from = row.dataset.all === undefined ? start : 0;
    // over New Year in two pieces; what is picked is hatched
    for (const [a, b, look] of [[0, Math.min(first, days), "grows"], [Math.min(first, days), days, "picks"]]) {
      for (const shift of [0, -365]) {
        const left = Math.max(0, from + Number(a) + shift);
        const right = Math.min(365, from + Number(b) + shift);
        if (right <= left) continue;
        const bar = document.createElement("span");
        bar.className = `bar ${look}`;
        bar.style.left = per(left / 365);
        bar.style.width = per((right - left) / 365);
        track.prepend(bar);
      }
    }
    const handle = /** @type {HTMLElement | null} */ (track.querySelector(".handle"));
    if (handle) {
      handle.style.left = per(start / 365);
      handle.setAttribute("aria-valuenow", String(start));
      handle.setAttribute("aria-valuetext", dayText(start));
    }
  }

  /** @param {HTMLElement} board @param {number} month */
  function show(board, month) {
    const day = starts[month] + (lengths[month] >> 1);
    const label = /** @type {HTMLElement} */ (board.querySelector(".month b"));
    label.textContent = names[month];
    const slider = /** @type {HTMLInputElement} */ (board.querySelector(".month input"));
    slider.value = String(month);
    slider.setAttribute("aria-valuetext", names[month]);
    for (const bed of /** @type {NodeListOf<HTMLElement>} */ (board.querySelectorAll(".bed"))) {
      let any = false;
      for (const plot of /** @type {NodeListOf<HTMLElement>} */ (bed.querySelectorAll(".plot"))) {
        plot.hidden = !inside(day, number(plot.dataset.from), number(plot.dataset.to));
        any ||= !plot.hidden;
      }
      const empty = /** @type {HTMLElement} */ (bed.querySelector(".empty"));
      empty.hidden = any;
    }
    const tank = /** @type {HTMLElement | null} */ (board.querySelector(".tank"));
    if (!tank) return;
    const at = (/** @type {string | undefined} */ all) => number(all?.split(" ")[month]);
    const litres = (/** @type {number} */ n) => n.toLocaleString("en-GB");
    const said = /** @type {HTMLElement} */ (tank.querySelector("b"));
    said.textContent = `${litres(at(tank.dataset.usual))} of ${litres(number(tank.dataset.holds))} litres; ` +
      `${litres(at(tank.dataset.dry))} in a dry year`;
    const meter = /** @type {HTMLMeterElement} */ (tank.querySelector("meter"));
    meter.value = at(tank.dataset.usual);
  }

  /** Lay out a board; done again for one that the server made anew. @param {HTMLElement} board @param {number} month */
  function board(board, month) {
    const beds = /** @type {HTMLElement[]} */ ([...board.querySelectorAll(".bed")]);
    const longest = Math.max(...beds.map((bed) => number(bed.dataset.length)));
    for (const bed of beds) {
      const ground = /** @type {HTMLElement} */ (bed.querySelector(".ground"));
      const long = number(bed.dataset.length);
      ground.style.width = per(long / longest);
      ground.style.aspectRatio = `${long} / ${number(bed.dataset.width)}`;
      for (const plot of /** @type {NodeListOf<HTMLElement>} */ (bed.querySelectorAll(".plot"))) {
        plot.style.left = per(number(plot.dataset.begin) / long);
        plot.style.width = per((number(plot.dataset.end) - number(plot.dataset.begin)) / long);
        plot.title = plot.textContent ?? "";
        plot.classList.toggle("narrow", number(plot.dataset.end) - number(plot.dataset.begin) < 0.12 * long);
      }
    }
    for (const row of /** @type {NodeListOf<HTMLElement>} */ (board.querySelectorAll(".stay"))) lay(row, number(row.dataset.start));
    board.querySelector(".month input")?.addEventListener("input", (event) => {
      show(board, Number(/** @type {HTMLInputElement} */ (event.target).value));
    });
    board.hidden = false;
    show(board, month);
  }
  for (const one of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll(".board"))) {
    board(one, new Date().getMonth());
  }
  Object.assign(window, { sowcalBoard: { board, lay, dayText } });
})();
