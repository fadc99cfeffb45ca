// Tables sorted by their heads, and rows found by vessel, bearing, statement and words. Without scripts all is shown.
(() => {
  "use strict";
  const collator = new Intl.Collator("en", { numeric: true, sensitivity: "base" });
  const say = (tag, text, more = {}) => Object.assign(document.createElement(tag), { textContent: text }, more);

  // What is sorted or found as one: a body of several rows, or a row.
  function unitsOf(table) {
    return table.tBodies.length > 1 ? [...table.tBodies] : [...(table.tBodies[0]?.rows ?? [])];
  }

  function cellOf(unit, by) {
    if (/^\d+$/.test(by)) return unit.cells?.[Number(by)];
    return unit.querySelector(`[data-column="${by}"]`);
  }

  // A date given anew by the form of the page goes before the one the page was made with.
  function keyOf(unit, by) {
    const cell = cellOf(unit, by);
    if (!cell) return "C";
    const on = cell.querySelector("[data-fact^=date_]")?.textContent.trim();
    if (on && /^\d{4}-\d\d-\d\d/.test(on)) return on;
    return cell.dataset.sort ?? cell.textContent.trim();
  }

  function numberOf(text) {
    const plain = text.replace(/[\s\u00a0\u202f]/g, "").replace("\u2212", "-");
    const found = /^[+-]?\d+(\.\d+)?/.exec(plain);
    return found && !/^\d{4}-\d\d/.test(plain) ? Number(found[0]) : NaN;
  }

  function compare(one, other) {
    const [a, b] = [numberOf(one), numberOf(other)];
    return Number.isNaN(a) || Number.isNaN(b) ? collator.compare(one, other) : a - b;
  }

  function sort(table, head) {
    const down = head.getAttribute("aria-sort") === "ascending";
    table.querySelectorAll("[aria-sort]").forEach((one) => one.removeAttribute("aria-sort"));
    head.setAttribute("aria-sort", down ? "descending" : "ascending");
    const keyed = unitsOf(table).map((unit) => [keyOf(unit, head.dataset.sortBy), unit]);
    keyed.sort((a, b) => (down ? -1 : 1) * compare(a[0], b[0]));
    for (const [, unit] of keyed) unit.parentNode.append(unit);
  }

  for (const table of document.querySelectorAll("table[data-sortable]")) {
    for (const head of table.querySelectorAll("th[data-sort-by]")) {
      const button = say("button", "", { type: "button" });
      button.append(...head.childNodes);
      head.append(button);
      button.addEventListener("click", () => sort(table, head));
    }
  }

  // One form finds in all tables of the page that can be searched; it stands before the first large one.
  const tables = [...document.querySelectorAll("table[data-findable]")];
  const main = tables.find((table) => table.matches(".forecast"));
  if (!main) return;
  const units = tables.flatMap(unitsOf);
  const vesselOf = (unit) => unit.dataset.vessel;
  const bearingOf = (unit) => unit.closest("[data-bearing]")?.dataset.bearing;
  const statementOf = (unit) => (unit.closest(".forecast") ? unit.querySelector("[data-fact=statement]")?.textContent.trim() : undefined);
  const form = say("form", "", { className: "find" });
  form.setAttribute("role", "search");
  form.setAttribute("aria-label", "Find rows");
  const asked = [];
  const offers = []; // each offers values that rows have come to since

  function choice(label, of) {
    const valuesNow = () => [...new Set(units.map(of).filter((value) => value))].sort(collator.compare);
    const values = valuesNow();
    if (values.length < 2) return;
    const select = document.createElement("select");
    select.append(say("option", "all", { value: "" }), ...values.map((value) => say("option", value, { value })));
    offers.push(() => {
      const offered = new Set([...select.options].map((one) => one.value));
      for (const value of valuesNow()) if (!offered.has(value)) select.append(say("option", value, { value }));
    });
    const named = say("label", label);
    named.append(select);
    form.append(named);
    asked.push((unit) => !select.value || of(unit) === undefined || of(unit) === select.value);
  }

  choice("Vessel", vesselOf);
  choice("Bearing", bearingOf);
  choice("Statement", statementOf);
  const words = say("input", "", { type: "search" });
  const named = say("label", "Words in the row");
  named.append(words);
  const all = say("button", "Show all", { type: "button" });
  const said = document.createElement("output");
  form.append(named, all, said);
  asked.push((unit) => {
    const wanted = words.value.trim().toLowerCase();
    return !wanted || !unit.closest(".forecast") || unit.textContent.toLowerCase().includes(wanted);
  });

  function find() {
    let hidden = false;
    for (const unit of units) {
      const shown = asked.every((ask) => ask(unit));
      unit.classList.toggle("unmatched", !shown);
      hidden ||= !shown;
    }
    for (const rest of document.querySelectorAll("details.rest")) rest.open ||= hidden; // all that match, not the first 20
    said.textContent = hidden ? "Rows that do not match are hidden; print shows all." : "";
  }

  form.addEventListener("input", find);
  document.addEventListener("values-shown", () => {
    offers.forEach((offer) => offer());
    find();
  });
  form.addEventListener("submit", (event) => event.preventDefault());
  all.addEventListener("click", () => {
    form.reset();
    find();
  });
  main.closest(".wide").before(form);
})();
