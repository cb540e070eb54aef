// What the page does by itself: it follows events of the build, opens a part beside the sheet, and sorts tables.
// Everything that is read works without it.
"use strict";

const base = document.body.dataset.build;
const token = document.body.dataset.token;
const opened = new Set();

document.addEventListener("htmx:config:request", (event) => {
  event.detail.ctx.request.headers["X-Tideover"] = token;
});

function refresh(id) {
  const element = document.getElementById(id);
  if (element) htmx.trigger(element, "refresh");
}

function sections() {
  return [...document.querySelectorAll(".sheet > section")].map((s) => s.id);
}

// A fold that was opened stays open when its section is renewed.
document.addEventListener("toggle", (event) => {
  const fold = event.target;
  if (fold.matches && fold.matches("details[id]") && fold.isConnected) {
    if (fold.open) opened.add(fold.id); else opened.delete(fold.id);
    const inside = fold.querySelector("[hx-get]");
    if (fold.open && inside) htmx.trigger(inside, "unfold");
  }
}, true);
document.addEventListener("htmx:after:swap", () => {
  for (const id of opened) {
    const fold = document.getElementById(id);
    if (fold && !fold.open) fold.open = true;
  }
});

// The sheet of a part beside the page, where there is room for both.
const drawer = document.getElementById("drawer");
async function show(address) {
  const answer = await fetch(address, { headers: { "X-Drawer": "1" } });
  const inside = document.getElementById("drawer-inside");
  inside.innerHTML = await answer.text();
  const close = document.createElement("button");
  close.type = "button";
  close.textContent = "Close";
  close.addEventListener("click", () => drawer.close());
  inside.prepend(close);
  htmx.process(inside);
  if (!drawer.open) drawer.showModal();
  const first = inside.querySelector("input:not([type=hidden]), select");
  if (first) first.focus();
}
if (drawer) {
  document.addEventListener("click", (event) => {
    const link = event.target.closest("a[href*='/part/']");
    if (!link || event.ctrlKey || event.metaKey || event.shiftKey) return;
    event.preventDefault();
    show(link.getAttribute("href"));
  });
  drawer.addEventListener("click", (event) => { if (event.target === drawer) drawer.close(); });
  // A field with suggestions keeps the key for its list; it closes the sheet all the same.
  drawer.addEventListener("keydown", (event) => { if (event.key === "Escape") drawer.close(); });
}

// Tables: a click on a heading sorts by that column.
function sortable(table) {
  table.querySelectorAll("thead th").forEach((head, column) => {
    if (head.querySelector("button")) return;
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = head.textContent;
    head.replaceChildren(button);
    button.addEventListener("click", () => {
      const down = head.getAttribute("aria-sort") === "ascending";
      table.querySelectorAll("thead th").forEach((h) => h.removeAttribute("aria-sort"));
      head.setAttribute("aria-sort", down ? "descending" : "ascending");
      const body = table.tBodies[0];
      const of = (row) => row.cells[column].dataset.sort ?? row.cells[column].textContent;
      const rows = [...body.rows].sort((a, b) => {
        const [x, y] = [of(a), of(b)];
        const order = isNaN(x) || isNaN(y) || x === "" || y === "" ? x.localeCompare(y) : Number(x) - Number(y);
        return down ? -order : order;
      });
      body.append(...rows);
    });
  });
}
function sortables(root) {
  root.querySelectorAll("table.sortable").forEach(sortable);
}
document.addEventListener("htmx:after:swap", () => sortables(document));
sortables(document);

// Events of the build, from whichever device they come.
if (base) {
  const source = new EventSource(base + "events?seen=" + document.body.dataset.stand);
  const bar = () => refresh("bar");
  const LATER = 400; // [ms]
  let later = 0;
  source.addEventListener("missed", () => location.reload());
  // What happened while the line was down was not heard: ask for all of it.
  let heard = false;
  source.addEventListener("open", () => {
    if (heard) { bar(); refresh("head"); refresh("path"); sections().forEach(refresh); }
    heard = true;
  });
  window.addEventListener("pageshow", (event) => { if (event.persisted) location.reload(); });
  source.addEventListener("version", (event) => {
    bar();
    refresh("head");
    refresh("path");
    // What the first look answers comes at once; the others wait for their own answer and say so meanwhile.
    const quick = (document.body.dataset.quick || "").split(" ");
    for (const id of sections()) {
      if (quick.includes(id.slice(2))) refresh(id); else document.getElementById(id).classList.add("stale");
    }
    clearTimeout(later);
    later = setTimeout(() => document.querySelectorAll(".sheet > section.stale").forEach((s) => refresh(s.id)), LATER);
    document.body.dataset.version = event.data;
    document.dispatchEvent(new CustomEvent("tideover:version"));
  });
  source.addEventListener("answer", (event) => {
    refresh("q-" + event.data);
    refresh("head");
  });
  source.addEventListener("progress", (event) => {
    const place = document.getElementById("work");
    if (place) place.textContent = event.data;
  });
  source.addEventListener("saved", bar);
  source.addEventListener("outside", bar);
  source.addEventListener("reading", () => refresh("readings"));
  window.addEventListener("pagehide", () => source.close());
}

// The inventory: rows with a word, and a table dropped onto its form.
const filter = document.querySelector("[data-filter]");
if (filter) {
  filter.addEventListener("input", () => {
    const word = filter.value.trim().toLowerCase();
    for (const row of document.getElementById(filter.dataset.filter).tBodies[0].rows) {
      const fields = [...row.querySelectorAll("input[name=value], select")].map((f) => f.value).join(" ");
      row.hidden = !(row.cells[0].textContent + " " + fields + " " + row.lastElementChild.textContent).toLowerCase().includes(word);
    }
  });
}
const drop = document.querySelector("form.drop");
if (drop) {
  const over = (on) => drop.classList.toggle("over", on);
  drop.addEventListener("dragover", (event) => { event.preventDefault(); over(true); });
  drop.addEventListener("dragleave", () => over(false));
  drop.addEventListener("drop", (event) => {
    event.preventDefault();
    over(false);
    const field = drop.querySelector("input[type=file]");
    field.files = event.dataTransfer.files;
    field.dispatchEvent(new Event("change"));
  });
}
