"use strict";
document.documentElement.classList.add("scripted"); // first of all: until then the style sheet hides what would move
(() => {
  const $ = (query, root = document) => root.querySelector(query);
  const $$ = (query, root = document) => [...root.querySelectorAll(query)];
  const plain = (text) => text.normalize("NFKD").replace(/\p{M}/gu, "").toLowerCase().replace(/[-'\s]+/g, " ").trim();
  const made = (element, of = {}, ...inner) => {
    const out = document.createElement(element);
    for (const [name, value] of Object.entries(of)) {
      if (name in out && name !== "list") out[name] = value;
      else out.setAttribute(name, value);
    }
    out.append(...inner);
    return out;
  };
  const given = JSON.parse($("#data").textContent);
  let packed = { names: {}, places: [] }; // other names, jobs and windows: there once they are unpacked

  // --- the year of 365 days -----------------------------------------------------------------------------------------
  const lengths = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];
  const short = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
  const before = (month) => lengths.slice(0, month).reduce((sum, n) => sum + n, 0);
  const startMonth = Number(document.documentElement.dataset.start) - 1;
  const first = before(startMonth);
  const turned = (day) => (day - first + 365) % 365;
  const span = ([a, b]) => ((b - a + 365) % 365) + 1;
  const monthOf = (day) => lengths.findIndex((n, m) => day < before(m) + n);
  const dayText = (day) => `${day - before(monthOf(day)) + 1} ${short[monthOf(day)]}`;
  const spanText = (s) =>
    span(s) === 365 ? "all year" : span(s) === 1 ? dayText(s[0]) : `${dayText(s[0])} to ${dayText(s[1])}`;

  // --- what the reader has chosen: kept in this browser, and told in the address -------------------------------------
  const drawerOf = "sowcal page: " + given.sites.join(" + ");
  const plainState = () => ({
    mine: given.mine, text: "", show: given.mine.length ? "mine" : "fits", month: "", family: "", order: "first",
    reliability: given.at ? given.at[1] : 0, least: given.at ? given.at[0] : 0, water: 0, ticks: {},
  });
  const choices = ["text", "show", "month", "family", "order"];
  const steps = ["reliability", "least", "water"];
  const sound = (found) => {
    const out = plainState();
    if (!found || typeof found !== "object") return out;
    for (const key of choices) if (typeof found[key] === "string") out[key] = found[key].slice(0, 200);
    for (const key of steps) {
      const most = $(`[data-do=${key}]`)?.max ?? 0;
      const n = Number(found[key]);
      if (Number.isInteger(n) && n >= 0 && n <= most) out[key] = n;
    }
    if (Array.isArray(found.mine)) out.mine = found.mine.filter((n) => typeof n === "string");
    if (found.ticks && typeof found.ticks === "object" && !Array.isArray(found.ticks)) {
      for (const [key, day] of Object.entries(found.ticks)) if (/^\d{4}-\d\d-\d\d$/.test(day)) out.ticks[key] = day;
    }
    return out;
  };
  const kept = () => {
    try {
      return sound(JSON.parse(localStorage.getItem(drawerOf)));
    } catch {
      return plainState();
    }
  };
  const fromAddress = () => {
    if (!location.hash.startsWith("#view?")) return null;
    const asked = new URLSearchParams(location.hash.slice(6));
    const found = Object.fromEntries(asked);
    found.mine = asked.getAll("star");
    return { ...sound(found), ticks: kept().ticks };
  };
  let state = fromAddress() ?? kept();
  const now = new Date();
  const isoToday = [now.getFullYear(), now.getMonth() + 1, now.getDate()].map((n) => String(n).padStart(2, "0")).join("-");
  const keyOf = (place, box) => [place, given.issued, given.week, box.dataset.event, box.dataset.crop].join("|");
  const done = (lines) => Object.fromEntries(lines.map(([crop, event]) => [keyOf("p1", { dataset: { crop, event } }), isoToday]));
  // where it is served the settings hold the list and the log what is done, not this browser
  if (given.served) Object.assign(state, { mine: given.mine, ticks: done(given.served) });

  function remember() {
    try {
      localStorage.setItem(drawerOf, JSON.stringify(state));
    } catch { /* a browser that keeps nothing still shows all */ }
    const usual = plainState();
    const asked = new URLSearchParams();
    for (const key of [...choices, ...steps]) if (String(state[key]) !== String(usual[key])) asked.set(key, state[key]);
    for (const crop of given.served ? [] : state.mine) asked.append("star", crop);
    const said = asked.toString();
    try {
      if (said || location.hash.startsWith("#view?")) history.replaceState(null, "", said ? `#view?${said}` : "#");
    } catch { /* too many changes at once: the address follows with the next one */ }
  }

  // --- rows: made when they come into view --------------------------------------------------------------------------
  const lists = $$(".rows").map((list, n) => ({ list, n, slots: [] }));
  const seen = new IntersectionObserver(
    (entries) => entries.forEach((e) => e.isIntersecting && make(e.target)),
    { rootMargin: "1000px 0px" },
  );
  const markup = new Map();
  const inside = new Map(); // what a row shows when it is opened

  function make(slot) {
    const text = markup.get(slot);
    if (text === undefined) return;
    markup.delete(slot);
    seen.unobserve(slot);
    const box = document.createElement("template");
    box.innerHTML = text; // escaped where it was made
    const row = box.content.firstElementChild;
    const opened = $(".opened", row);
    const details = $("details", row);
    opened.dataset.made = "As the page was made, not as the sliders stand:";
    opened.remove();
    inside.set(slot, opened);
    details.addEventListener("toggle", () => details.open && fill(slot));
    const name = slot.dataset.name;
    const star = made("button", { type: "button", className: "star" });
    star.addEventListener("click", () => {
      const on = !state.mine.includes(name);
      state.mine = on ? [...state.mine, name] : state.mine.filter((n) => n !== name);
      changed();
      document.dispatchEvent(new CustomEvent("sowcal:star", { detail: { crop: name, on } }));
    });
    row.append(star);
    slot.append(row);
    slot.classList.remove("waits");
    dress(slot);
    if (moved()) move(slot);
  }
  function fill(slot) {
    const opened = inside.get(slot);
    if (opened) $("details", slot).append(opened);
    inside.delete(slot);
  }
  function dress(slot) {
    const star = $(".star", slot);
    if (!star) return;
    const on = state.mine.includes(slot.dataset.name);
    star.textContent = on ? "★" : "☆";
    star.setAttribute("aria-pressed", String(on));
    star.setAttribute("aria-label", `${slot.dataset.name} in my crops`);
  }
  for (const place of lists) {
    for (const held of $$("noscript", place.list)) {
      const slot = made("div", { className: "slot waits" });
      Object.assign(slot.dataset, held.dataset);
      markup.set(slot, held.textContent);
      slot.classList.add(`lanes${held.dataset.lanes}`);
      place.slots.push(slot);
      held.remove();
    }
    place.list.append(...place.slots);
  }

  // --- windows under the sliders: looked up, not reckoned again -------------------------------------------------------
  const moved = () =>
    given.at && (state.water > 0 || state.reliability !== given.at[1] || state.least !== given.at[0]);
  const jobs = { "sown outdoors": "sow outdoors", "set out": "set out", planted: "plant" };
  const own = new Map(); // words and drawing that the page was made with
  const edges = [...Array(52).keys()].map((k) => 7 * k).concat(365);

  const placeOf = (slot) => packed.places[lists.find((p) => p.slots.includes(slot)).n];
  const waysOf = (slot) => {
    const place = placeOf(slot);
    let n = state.water; // 1 stands for what less scarce water gives
    let found = 1;
    while (found === 1) {
      found = (n ? place?.water[n - 1] : place?.steps)?.[slot.dataset.name];
      n -= 1;
    }
    return found;
  };
  // of crops that are not on the list of the page's maker it is not known what they draw
  const untold = (slot) => state.water > 0 && slot.dataset.name in (placeOf(slot)?.steps ?? {}) && !waysOf(slot);
  function advised(slot) {
    return (waysOf(slot) ?? []).map(([way, heights, possible, windows, best]) => ({
      way, heights: heights[state.least], possible: possible[state.least],
      windows: windows[state.least][state.reliability], best: best[state.least][state.reliability],
    }));
  }
  const wanted = new Set(); // crops whose stored water was asked of the server
  document.addEventListener("sowcal:watered", (event) => {
    const { crop, water } = event.detail;
    if (!water) wanted.delete(crop);
    else {
      water.forEach((ways, k) => { packed.places[0].water[k][crop] = ways[crop] ?? []; });
      show();
    }
  });
  function outline(tall) {
    let out = "";
    let standing = false;
    tall.forEach((h, k) => {
      if (h > 0) {
        if (!standing) out += `M${edges[k]} 12`;
        out += `V${12 - h}H${edges[k + 1]}`;
      } else if (standing) out += "V12z";
      standing = h > 0;
    });
    return standing ? `${out}V12z` : out;
  }
  function bracket(spans) {
    return spans.map(([start, end]) => {
      const [a, b] = [turned(start), turned(end) + 1];
      return a < b ? `M${a} 0V-3H${b}V0` : `M${a} 0V-3H365M0 -3H${b}V0`;
    }).join("");
  }
  const path = (d, look) => {
    const out = document.createElementNS("http://www.w3.org/2000/svg", "path");
    out.setAttribute("d", d);
    out.setAttribute("class", look);
    return out;
  };
  function lane(found) {
    const days = new Set();
    const middles = new Set();
    for (const s of found.windows) {
      for (let k = 0; k < span(s); k += 1) days.add(turned((s[0] + k) % 365));
      middles.add(turned((s[0] + (span(s) >> 1)) % 365));
    }
    const tall = [...found.heights].map((c) => parseInt(c, 16));
    const held = tall.map((_, k) => {
      let n = 0;
      let must = false;
      for (let d = edges[k]; d < edges[k + 1]; d += 1) {
        n += days.has(d);
        must ||= middles.has(d);
      }
      return must || 2 * n >= edges[k + 1] - edges[k];
    });
    const kind = found.way.split(" ")[0];
    return [
      path(outline(tall.map((h, k) => (held[k] ? 0 : h))), `r maybe ${kind}`),
      path(outline(tall.map((h, k) => (held[k] ? h : 0))), `r ${kind}`),
      path(bracket(found.best), "best"),
    ];
  }
  function whenText(found) {
    const said = found.filter((f) => f.windows.length)
      .map((f) => `${jobs[f.way] ?? f.way} ${f.windows.map(spanText).join(", ")}`);
    return said.join("; ") || "No dates at these settings.";
  }
  /** Draw one made row for where the sliders stand, or as the page had it. */
  function move(slot) {
    const lanes = $(".lanes", slot);
    const when = $(".when", slot);
    if (!when || !(slot.dataset.name in (placeOf(slot)?.steps ?? {}))) return;
    if (!own.has(slot)) own.set(slot, { when: when.textContent, lanes: lanes ? [...lanes.childNodes] : null });
    const had = own.get(slot);
    slot.classList.toggle("moved", moved());
    if (!moved()) {
      when.textContent = had.when;
      if (had.lanes) lanes.replaceChildren(...had.lanes);
      else lanes?.remove();
      return;
    }
    const found = advised(slot);
    when.textContent = !untold(slot) ? whenText(found) : given.served ? "Its stored water is being reckoned …" :
      "Its stored water is not reckoned here: only that of crops on the list.";
    if (untold(slot) && given.served && !wanted.has(slot.dataset.name)) {
      wanted.add(slot.dataset.name);
      document.dispatchEvent(new CustomEvent("sowcal:water", { detail: { crop: slot.dataset.name } }));
    }
    const drawn = found.filter((f) => f.possible.length).map((f) => {
      const picture = document.createElementNS("http://www.w3.org/2000/svg", "svg");
      picture.setAttribute("viewBox", "0 -4 365 16");
      picture.setAttribute("preserveAspectRatio", "none");
      const ticks = document.createElementNS("http://www.w3.org/2000/svg", "use");
      ticks.setAttribute("href", `#lines-${startMonth + 1}`);
      picture.append(ticks, ...lane(f));
      const kind = made("span", { className: "kind" }, f.way);
      return made("span", { className: "lane" }, kind, picture);
    });
    const room = lanes ?? made("span", { className: "lanes", "aria-hidden": "true" });
    if (!lanes) when.before(room);
    room.replaceChildren(...drawn);
  }
  const fitsNow = (slot) => {
    const found = moved() && waysOf(slot) ? advised(slot) : null;
    if (!found) return slot.dataset.kind;
    return found.some((f) => f.windows.length) ? "fits" : found.some((f) => f.possible.length) ? "chancy" : "none";
  };

  // --- what is shown --------------------------------------------------------------------------------------------------
  /** Names by which a crop is found: the one that the letters fit, '' for its own, null for none. */
  function named(crop, wanted) {
    if (plain(crop).includes(wanted)) return "";
    const others = (packed.names[crop] ?? "").split("|");
    return others.find((n) => plain(n).split(" ").some((_, k, all) => all.slice(k).join(" ").startsWith(wanted))) || null;
  }
  const rank = { fits: 0, chancy: 1, none: 2 };
  const fits = {
    show: (row, wanted) => (wanted === "mine" ? state.mine.includes(row.dataset.name) : rank[fitsNow(row)] <= rank[wanted]),
    month: (row, wanted) => row.dataset.months.split(" ").includes(wanted),
    family: (row, wanted) => row.dataset.family === wanted,
  };
  // a closing bracket does not count: a name comes before the same name with more in its brackets
  const inOrder = (row) => row.dataset.name.replaceAll(")", "");
  const byName = (a, b) => inOrder(a).localeCompare(inOrder(b), "en");
  const orders = {
    first: (a, b) => a.dataset.first - b.dataset.first || byName(a, b),
    name: byName,
    family: (a, b) => a.dataset.family.localeCompare(b.dataset.family, "en") || byName(a, b),
  };
  let order = "first";

  function sift(place, group) {
    const wanted = plain(state.text);
    const through = new Set();
    let shown = 0;
    for (const slot of place.slots) {
      let fit = Object.keys(fits).every((key) => !state[key] || (key === "show" && wanted) || fits[key](slot, state[key]));
      if (fit && wanted) {
        const by = named(slot.dataset.name, wanted);
        fit = by !== null;
        if (by) through.add(by);
      }
      slot.hidden = !fit;
      shown += fit;
      if (fit && markup.has(slot)) seen.observe(slot);
    }
    const none = state.show === "mine" && !wanted ? "no crop of your list: star some, or show others" : "no crop fits: loosen a filter";
    const by = through.size ? ` (found by ${[...through].slice(0, 3).join(", ")})` : "";
    group.output.textContent = shown ? `${shown} of ${place.slots.length} crops${by}` : none;
  }
  function show() {
    if (state.order !== order && orders[state.order]) {
      order = state.order;
      for (const place of lists) {
        place.slots.sort(orders[order]);
        place.list.append(...place.slots);
      }
    }
    for (const control of $$("[data-do]")) {
      const key = control.dataset.do;
      if (!(key in state) || control.closest(".sought")) continue;
      if (control.value !== String(state[key])) control.value = state[key];
      if (steps.includes(key)) {
        const words = control.dataset.words.split("|")[state[key]];
        control.setAttribute("aria-valuetext", words);
        control.previousElementSibling.textContent = words;
        if (key === "reliability") {
          for (const said of $$(".legend li:first-child")) said.lastChild.textContent = `advised: ${words}`;
        }
      }
    }
    for (const place of lists) {
      sift(place, place.group);
      for (const slot of place.slots) {
        dress(slot);
        if (!markup.has(slot)) move(slot);
      }
    }
  }
  function changed() {
    show();
    todays();
    remember();
  }
  for (const place of lists) {
    const bar = $(`.controls[data-for="${place.list.id}"]`);
    bar.hidden = false;
    place.group = { output: $("output", bar) };
    const button = $("[data-do=open]", bar);
    button.addEventListener("click", () => {
      const open = button.textContent === "Open all";
      for (const slot of place.slots) {
        if (open && slot.hidden) continue;
        if (open) make(slot);
        const details = $("details", slot);
        if (details) details.open = open;
      }
      button.textContent = open ? "Close all" : "Open all";
    });
  }
  document.addEventListener("input", (event) => {
    const key = event.target.dataset?.do;
    if (!(key in state) || event.target.closest(".sought")) return;
    state[key] = steps.includes(key) ? Number(event.target.value) : event.target.value;
    changed();
  });
  for (const button of $$("[data-do=reset]")) {
    button.addEventListener("click", () => {
      [state.least, state.reliability] = given.at;
      state.water = 0;
      changed();
    });
  }

  // --- today: ten jobs, ticked when done ------------------------------------------------------------------------------
  function todays() {
    const at = document.activeElement?.closest(".jobs input")?.dataset;
    $$(".jobs").forEach((list, n) => {
      const all = packed.places[n]?.jobs;
      if (all) {
        const mine = all.filter(([crop]) => !state.mine.length || state.mine.includes(crop)).slice(0, 10);
        list.replaceChildren(...mine.map(([crop, event, words]) => {
          const box = made("input", { type: "checkbox" });
          Object.assign(box.dataset, { crop, event });
          return made("li", {}, made("label", {}, box, made("span", {}, words)));
        }));
      }
      for (const box of $$("input", list)) {
        box.checked = keyOf(list.dataset.place, box) in state.ticks;
        if (at && at.crop === box.dataset.crop && at.event === box.dataset.event) box.focus();
      }
    });
  }
  // what a tick changed, where it is served; what was ticked stays where it stood, to be taken back
  document.addEventListener("sowcal:today", (event) => {
    state.ticks = done(event.detail.done);
    const had = packed.places[0].jobs;
    const jobs = [...event.detail.jobs];
    const same = (a, b) => a[0] === b[0] && a[1] === b[1];
    const ticked = (job) => keyOf("p1", { dataset: { crop: job[0], event: job[1] } }) in state.ticks;
    had.forEach((job, n) => {
      if (ticked(job) && !jobs.some((other) => same(job, other))) jobs.splice(n, 0, job);
    });
    packed.places[0].jobs = jobs;
    todays();
  });
  document.addEventListener("change", (event) => tick(event.target));
  document.addEventListener("sowcal:tick", (event) => tick(event.detail.box));
  function tick(box) {
    const list = box.closest?.(".jobs");
    if (!list) return;
    const key = keyOf(list.dataset.place, box);
    if (box.checked) state.ticks[key] = isoToday;
    else delete state.ticks[key];
    remember();
    if (!$("textarea", $(`.ticked[data-place=${list.dataset.place}]`)).hidden) lines(list.dataset.place);
  }
  const cell = (text) => (/[",\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text);
  function lines(place) {
    const area = $(`.ticked[data-place=${place}] textarea`);
    const of = Object.entries(state.ticks).filter(([key]) => key.startsWith(`${place}|`)).map(([key, day]) => {
      const [, , , event, ...crop] = key.split("|");
      return [day, event, cell(crop.join("|")), "", "", "", "", ""].join(",");
    });
    area.value = ["date,event,crop,sort,bed,plants,amount,note", ...of.sort()].join("\n") + "\n";
    area.hidden = false;
    return area.value;
  }
  function save(text, name, kind) {
    const link = made("a", { download: name, href: URL.createObjectURL(new Blob([text], { type: kind })) });
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 10000);
  }
  for (const box of $$(".ticked")) {
    box.hidden = Boolean(given.served); // there a tick writes the log itself
    $("[data-do=log]", box).addEventListener("click", () => save(lines(box.dataset.place), "log-lines.csv", "text/csv"));
  }

  // --- my list on a file, and paper -------------------------------------------------------------------------------------
  for (const box of $$(".mine")) {
    box.hidden = false;
    $("[data-do=export]", box)?.addEventListener("click", () => {
      save(JSON.stringify(state, null, 1) + "\n", "my-page.json", "application/json");
    });
    $("[data-do=import]", box)?.addEventListener("change", async (event) => {
      const file = event.target.files[0];
      if (!file) return;
      const said = $("output", box);
      try {
        if (file.size > 1e6) throw new Error();
        state = sound(JSON.parse(await file.text()));
        said.textContent = `Taken in: ${state.mine.length} crops starred.`;
        changed();
      } catch {
        said.textContent = "That file holds no saved list of this page; choose one that it saved.";
      }
    });
    for (const button of $$("[data-do=print]", box)) {
      button.addEventListener("click", () => {
        document.documentElement.classList.toggle("whole", "whole" in button.dataset);
        print();
        document.documentElement.classList.remove("whole");
      });
    }
  }
  addEventListener("beforeprint", () => {
    for (const place of lists) for (const slot of place.slots) if (!slot.hidden) make(slot);
  });

  // --- folds: made when they are opened; tables that are searched and sorted ------------------------------------------------
  function inflate(fold) {
    const held = $(":scope > noscript", fold);
    if (!held) return;
    const box = document.createElement("template");
    // text in the page itself, elements where a part came later; escaped where it was made
    box.innerHTML = held.firstElementChild ? held.innerHTML : held.textContent;
    held.replaceWith(box.content);
    for (const group of $$(".controls", fold)) search(group);
  }
  document.addEventListener("toggle", (event) => event.target.matches?.("details.fold") && inflate(event.target), true);
  const tells = {
    text: (row, wanted) => named(row.dataset.name, plain(wanted)) !== null,
    word: (row, wanted) => row.dataset.word === wanted,
  };
  function search(group) {
    const rows = () => [...document.getElementById(group.dataset.for).tBodies[0].rows];
    const narrow = () => {
      const asked = $$("[data-do]", group).filter((c) => tells[c.dataset.do] && c.value.trim());
      let shown = 0;
      for (const row of rows()) {
        row.hidden = !asked.every((control) => tells[control.dataset.do](row, control.value));
        shown += !row.hidden;
      }
      $("output", group).textContent = shown ? `${shown} of ${rows().length} crops` : "no crop fits: loosen a filter";
    };
    group.hidden = false;
    group.classList.add("sought");
    group.addEventListener("input", narrow);
    narrow();
  }
  // the first press ascends, the next descends
  document.addEventListener("click", (event) => {
    const button = event.target.closest?.("[data-do=sort]");
    if (!button) return;
    const head = button.parentElement;
    const body = head.closest("table").tBodies[0];
    const column = [...head.parentElement.children].indexOf(head);
    const down = head.getAttribute("aria-sort") === "ascending";
    const sign = down ? -1 : 1;
    const value = (row) => row.cells[column].dataset.sort ?? row.cells[column].textContent;
    const numbers = "numbers" in button.dataset;
    for (const other of head.parentElement.children) other.removeAttribute("aria-sort");
    head.setAttribute("aria-sort", down ? "descending" : "ascending");
    body.append(...[...body.rows].sort((a, b) =>
      sign * (numbers ? value(a) - value(b) : value(a).localeCompare(value(b), "en")) || byName(a, b)));
  });

  // --- today's line, by the reader's own clock --------------------------------------------------------------------------
  const day = before(now.getMonth()) + Math.min(now.getDate(), lengths[now.getMonth()]) - 0.5;
  document.documentElement.style.setProperty("--today", String(((day - first + 365) % 365) / 365));
  document.documentElement.classList.add("now");

  show();
  todays();
  addEventListener("hashchange", () => {
    const found = fromAddress();
    if (!found) return;
    state = given.served ? { ...found, mine: state.mine, ticks: state.ticks } : found;
    show();
    todays();
  });

  async function unpack() {
    const bytes = Uint8Array.from(atob(given.packed), (c) => c.charCodeAt(0));
    const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("deflate"));
    packed = JSON.parse(await new Response(stream).text());
    for (const control of $$(".sliders input, .sliders button")) control.disabled = false;
    show();
    todays();
    document.documentElement.classList.add("unpacked");
  }
  // an old browser shows all but the sliders and finds crops by their own names only
  if ("DecompressionStream" in window) {
    for (const box of $$(".sliders")) box.hidden = false;
    for (const control of $$(".sliders input, .sliders button")) control.disabled = true;
    unpack();
  }
})();
