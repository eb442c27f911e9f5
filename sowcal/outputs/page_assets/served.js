// @ts-check
"use strict";
// What the served page does beside the page of one file: it sends forms, ticks, stars and moved sowings to its server,
// and shows what comes back. Markup from there is escaped where it is made.
(() => {
  const { board, lay, dayText } = /** @type {any} */ (window).sowcalBoard ?? {};
  const find = (/** @type {string} */ query, /** @type {ParentNode} */ root = document) =>
    /** @type {HTMLElement | null} */ (root.querySelector(query));
  const isoDay = (/** @type {number} */ day) => {
    const date = new Date(Date.UTC(2026, 0, 1 + day)); // a year of 365 days
    return date.toISOString().slice(5, 10);
  };

  /** Send words to the server; what came back, or the sentence of a refusal as an error.
   * @param {string} path @param {Record<string, string>} words */
  async function send(path, words) {
    return read(await fetch(`/${path}`, { method: "POST", body: JSON.stringify(words) }));
  }
  /** @param {Response} answer */
  async function read(answer) {
    const found = answer.headers.get("content-type")?.includes("json") ? await answer.json() : { said: await answer.text() };
    if (!answer.ok) throw new Error(found.said);
    return found;
  }
  /** @param {unknown} problem */
  function sentence(problem) {
    if (problem instanceof TypeError) return "sowcal is not running any more; start it again. What was saved is kept.";
    const said = /** @type {Error} */ (problem).message;
    return said.slice(0, 1).toUpperCase() + said.slice(1) + (/[.!?]$/.test(said) ? "" : ".");
  }

  /** @param {string} text @param {HTMLElement | null} [where] @param {boolean} [refused] */
  function say(text, where, refused = false) {
    const out = where ?? find("#bench-said");
    if (!out) return;
    out.textContent = text;
    out.classList.toggle("refused", refused);
  }

  /** Put parts of the page in the place of those that stand there. @param {any} found */
  function show(found) {
    for (const [id, markup] of Object.entries(found.html ?? {})) {
      const old = document.getElementById(id);
      const box = document.createElement("template");
      box.innerHTML = /** @type {string} */ (markup);
      const made = box.content.firstElementChild;
      if (old && made) old.replaceWith(made);
      if (old instanceof HTMLDetailsElement && made) /** @type {HTMLDetailsElement} */ (made).open = old.open;
      if (made && found.said) say(found.said, find(".came", made));
    }
    if (found.reload) location.assign("/");
    if (found.log) today();
  }

  /** Today by what the log and the list are now; asked for once at a time, and again where more has changed since. */
  let asking = false;
  let again = false;
  let ticks = 0; // what was asked for before the last of them is out of date
  async function today() {
    again = true;
    if (asking) return;
    asking = true;
    try {
      while (again) {
        again = false;
        const before = ticks;
        const found = await read(await fetch("/today"));
        if (ticks !== before) continue;
        show(found);
        if (found.jobs) {
          keep(found.done);
          document.dispatchEvent(new CustomEvent("sowcal:today", { detail: found }));
        }
      }
    } catch (problem) {
      say(sentence(problem), null, true);
    } finally {
      asking = false;
    }
  }

  // the stored water of crops that are on no list, one after another as their rows are seen
  let queue = Promise.resolve();
  document.addEventListener("sowcal:water", (event) => {
    const { crop } = /** @type {CustomEvent} */ (event).detail;
    queue = queue.then(async () => {
      let water;
      try {
        ({ water } = await read(await fetch(`/water?${new URLSearchParams({ crop })}`)));
      } catch (problem) {
        say(sentence(problem), null, true);
      }
      document.dispatchEvent(new CustomEvent("sowcal:watered", { detail: { crop, water } }));
    });
  });

  // --- forms ------------------------------------------------------------------------------------------------------------
  document.addEventListener("submit", async (event) => {
    const form = /** @type {HTMLFormElement} */ (event.target);
    if (!form.dataset.send) return;
    event.preventDefault();
    const out = find(".came", form);
    const button = /** @type {HTMLButtonElement} */ (find("button[type=submit]", form));
    button.disabled = true;
    say("Working it out …", out);
    try {
      /** @type {Record<string, string>} */
      const words = {};
      for (const [name, value] of new FormData(form)) {
        if (typeof value === "string") words[name] = value;
        else if (value.size) {
          const kept = await read(await fetch(`/record?name=${encodeURIComponent(value.name)}`, { method: "PUT", body: value }));
          words[name] = kept.name;
        }
      }
      const found = await send(form.dataset.send, words);
      say(found.said ?? "", out);
      show(found);
    } catch (problem) {
      say(sentence(problem), out, true);
    } finally {
      button.disabled = false;
    }
  });

  // a record that is dropped anywhere on the page comes to the form that describes its place
  document.addEventListener("dragover", (event) => {
    if (event.dataTransfer?.types.includes("Files")) event.preventDefault();
  });
  document.addEventListener("drop", (event) => {
    const files = event.dataTransfer?.files;
    const taken = /** @type {HTMLInputElement | null} */ (find("input[name=record]"));
    if (!files?.length || !taken) return;
    event.preventDefault();
    taken.files = files;
    const fold = /** @type {HTMLDetailsElement | null} */ (taken.closest("details"));
    if (fold) fold.open = true;
    taken.scrollIntoView({ block: "center" });
    say(`${files[0].name} is taken in: say where it was measured, and write the place down.`, find(".came", taken.closest("form") ?? document));
  });

  // --- stars and ticks --------------------------------------------------------------------------------------------------
  document.addEventListener("sowcal:star", async (event) => {
    const { crop, on } = /** @type {CustomEvent} */ (event).detail;
    try {
      await send("mine", { crop, on: on ? "yes" : "no" });
      say(`${crop} is ${on ? "on" : "off"} your list.`);
      today();
    } catch (problem) {
      say(sentence(problem), null, true);
    }
  });
  /** @type {Map<string, string>} the line of the log of each job that is done */
  const written = new Map();
  /** @param {string[][]} done */
  function keep(done) {
    written.clear();
    for (const [crop, event, line] of done) written.set(`${event}|${crop}`, line);
  }
  keep(JSON.parse(find("#data")?.textContent ?? "{}").served ?? []);
  document.addEventListener("change", async (event) => {
    const box = /** @type {HTMLInputElement} */ (event.target);
    if (!box.closest?.(".jobs")) return;
    ticks += 1;
    const { crop = "", event: done = "" } = box.dataset;
    const key = `${done}|${crop}`;
    try {
      if (box.checked) {
        const found = await send("log", { event: done, crop });
        written.set(key, found.line);
        show(found);
        say(found.said);
      } else {
        const line = written.get(key);
        const found = await send("log/undo", line === undefined ? {} : { line });
        written.delete(key);
        show(found);
        say(found.said);
      }
    } catch (problem) {
      say(sentence(problem), null, true);
      box.checked = !box.checked;
      document.dispatchEvent(new CustomEvent("sowcal:tick", { detail: { box } }));
      today(); // the list may have been made anew meanwhile
    }
  });

  // --- buttons ----------------------------------------------------------------------------------------------------------
  document.addEventListener("click", async (event) => {
    const button = /** @type {HTMLButtonElement | null} */ (/** @type {Element} */ (event.target).closest?.("button"));
    if (!button) return;
    try {
      if ("end" in button.dataset) {
        const found = await send("end", {});
        clearInterval(beat);
        say(found.said);
        for (const one of document.querySelectorAll("button, input, select")) /** @type {HTMLInputElement} */ (one).disabled = true;
      } else if ("undo" in button.dataset) show(await send("log/undo", {}));
      else if ("alone" in button.dataset) show(await send("place/beside", { place: "" }));
      else if (button.dataset.free) garden(await send("garden/free", { crop: button.dataset.free }));
      else if (button.dataset.change) await tried(button);
    } catch (problem) {
      say(sentence(problem), button.dataset.change ? find("#tried") : find(".came", button.closest("section") ?? document) ?? undefined, true);
    }
  });

  /** @param {HTMLButtonElement} button */
  async function tried(button) {
    const on = button.getAttribute("aria-pressed") !== "true";
    button.setAttribute("aria-pressed", String(on));
    const pressed = /** @type {HTMLElement[]} */ ([...document.querySelectorAll("[data-change][aria-pressed=true]")]);
    const room = /** @type {HTMLElement} */ (find("#tried"));
    room.classList.remove("refused");
    room.textContent = pressed.length ? "Living through every season again …" : "";
    const asked = new URLSearchParams(pressed.map((one) => ["change", one.dataset.change ?? ""]));
    const answer = await fetch(`/tried?${asked}`);
    if (!answer.ok) await read(answer);
    room.innerHTML = await answer.text();
  }

  // --- the garden: a sowing taken to another week -------------------------------------------------------------------------
  /** @param {any} found @param {string} [key] */
  function garden(found, key) {
    const section = /** @type {HTMLElement} */ (find("#garden"));
    const old = /** @type {HTMLElement} */ (find(".board", section));
    const month = Number(/** @type {HTMLInputElement} */ (find(".month input", old)).value);
    const open = [...old.querySelectorAll(".bed details")].map((one) => /** @type {HTMLDetailsElement} */ (one).open);
    const box = document.createElement("template");
    box.innerHTML = found.board;
    const made = /** @type {HTMLElement} */ (box.content.firstElementChild);
    old.replaceWith(made);
    find(".moved-crops", section)?.remove();
    made.insertAdjacentHTML("afterend", found.tools);
    const told = find(".told-garden", section);
    if (told) told.innerHTML = found.told;
    board(made, month);
    const beds = [...made.querySelectorAll(".bed")];
    beds.forEach((bed, n) => {
      const fold = bed.querySelector("details");
      if (fold) fold.open = open[n] ?? false;
    });
    if (!key) return;
    const row = /** @type {HTMLElement[]} */ ([...made.querySelectorAll(".stay")]).find((one) => keyOf(one) === key);
    const fold = row?.closest("details");
    if (fold) fold.open = true;
    if (row) find(".handle", row)?.focus({ preventScroll: true });
  }
  const keyOf = (/** @type {HTMLElement} */ row) => [row.dataset.crop, row.dataset.way, row.dataset.start].join("|");

  let planning = false;
  /** @param {HTMLElement} row @param {number} day */
  async function move(row, day) {
    const { crop = "", way = "", start = "0" } = row.dataset;
    if (planning || day === Number(start)) return;
    planning = true;
    const out = /** @type {HTMLElement} */ (find(".board .answer"));
    out.classList.remove("refused");
    out.textContent = `Planning anew with ${crop} ${way} on ${dayText(day)} …`;
    try {
      garden(await send("garden/move", { crop, way, from: isoDay(Number(start)), to: isoDay(day) }), [crop, way, day].join("|"));
    } catch (problem) {
      say(sentence(problem), out, true);
      lay(row, Number(start));
    } finally {
      planning = false;
    }
  }
  const at = (/** @type {HTMLElement} */ handle) => Number(handle.getAttribute("aria-valuenow"));
  const wrapped = (/** @type {number} */ day) => ((day % 365) + 365) % 365;
  document.addEventListener("keydown", (event) => {
    const handle = /** @type {HTMLElement} */ (event.target);
    if (!handle.classList?.contains("handle")) return;
    const row = /** @type {HTMLElement} */ (handle.closest(".stay"));
    const step = { ArrowRight: 7, ArrowUp: 7, ArrowLeft: -7, ArrowDown: -7 }[event.key];
    if (step) lay(row, wrapped(at(handle) + step));
    else if (event.key === "Enter" || event.key === " ") move(row, at(handle));
    else if (event.key === "Escape") lay(row, Number(row.dataset.start));
    else return;
    event.preventDefault();
  });
  document.addEventListener("pointerdown", (event) => {
    const handle = /** @type {HTMLElement} */ (event.target);
    if (!handle.classList?.contains("handle")) return;
    const row = /** @type {HTMLElement} */ (handle.closest(".stay"));
    const wide = /** @type {HTMLElement} */ (handle.parentElement).getBoundingClientRect().width;
    const [from, begun] = [event.clientX, Number(row.dataset.start)];
    handle.setPointerCapture(event.pointerId);
    const moved = (/** @type {PointerEvent} */ e) =>
      lay(row, wrapped(begun + 7 * Math.round(((e.clientX - from) / wide) * 365 / 7)));
    const stop = () => {
      handle.removeEventListener("pointermove", moved);
      handle.removeEventListener("pointerup", up);
      handle.removeEventListener("pointercancel", lost);
    };
    const up = () => {
      stop();
      move(row, at(handle));
    };
    const lost = () => {
      stop();
      lay(row, begun);
    };
    handle.addEventListener("pointermove", moved);
    handle.addEventListener("pointerup", up);
    handle.addEventListener("pointercancel", lost);
  });

  // somebody is here: the server ends by itself when no window says so any more
  const beat = setInterval(() => send("beat", {}).catch(() => {}), 60_000);
})();
