// The form of what if: reads it, refuses what cannot be, moves the figures of the page, keeps the values in the
// address, and puts everything back. The arithmetic is in what_if.js.
(() => {
  "use strict";
  const form = document.getElementById("what-if-form");
  if (!form) return;
  const page = JSON.parse(document.getElementById("what-if-data").textContent);
  const said = document.getElementById("what-if-said");
  const refused = document.getElementById("what-if-refused");
  const outcome = document.getElementById("what-if-outcome");
  const back = document.getElementById("what-if-return");
  const line = document.getElementById("what-if-line");
  const runDay = whatIf.dayOf(page.run_on);
  const inputs = [...form.querySelectorAll("input")];
  const rowNumbers = new Map(page.rows.map((row) => [row.row, row]));
  const { isoOf, dayOf } = whatIf;

  // ---- words, as wearcast.words has them -------------------------------------------------------------

  function whole(value) {
    return String(Math.round(value)).replace(/\B(?=(\d{3})+$)/g, "\u202f");
  }

  // words.chance
  function chanceWords(share) {
    if (share < 0.001) return "under 0.1\u00a0%";
    if (share > 0.999) return "over 99.9\u00a0%";
    return `${(100 * share).toFixed(share < 0.0995 || share > 0.99 ? 1 : 0)}\u00a0%`;
  }

  // words.reached_by
  function dateWords(day) {
    return `${day < runDay ? "already by " : ""}${isoOf(day)}`;
  }

  function windowWords(window) {
    return window.row < 0 ? `about ${isoOf(window.day)} (not listed)` : `${isoOf(window.day)} ${window.name}`.trim();
  }

  function engineWords(k) {
    return `${page.engines[k].vessel} ${page.engines[k].engine}`;
  }

  // ---- controls: what each may hold ---------------------------------------------------------------------------

  function number(text) {
    const plain = text.replace(/[\s\u00a0\u202f]/g, "");
    if (/^\d+[.,]\d{3}$/.test(plain) && !/^0/.test(plain)) return { fault: "can be read two ways; leave the sign between thousands out" };
    if (!/^\d*[.,]?\d+$/.test(plain)) return { fault: "is not a number" };
    return { value: Number(plain.replace(",", ".")) };
  }

  function readUse(text) {
    const { value, fault } = number(text);
    if (fault) return { fault };
    if (!(value > 0)) return { fault: "must be above 0" };
    if (value > whatIf.MOST_HOURS) return { fault: `is more than a year has (${whole(whatIf.MOST_HOURS)} hours)` };
    return { value };
  }

  // As a share or per cent: `0.05`, `5 %`.
  function readRisk(text) {
    const perCent = /%\s*$/.test(text);
    const { value, fault } = number(text.replace(/%\s*$/, ""));
    if (fault) return { fault };
    const share = perCent ? value / 100 : value;
    return share > 0 && share < 1 ? { value: share } : { fault: "must lie between 0 and 1, or 0 and 100\u00a0% (0.1 is one chance in ten)" };
  }

  function readLead(text) {
    const { value, fault } = number(text);
    if (fault) return { fault };
    return value <= 36525 ? { value } : { fault: "is longer than a hundred years" };
  }

  function readWindow(text, window) {
    const day = dayOf(text);
    if (day === null) return { fault: "is not a date (year-month-day, such as 2028-05-17)" };
    const asOf = Math.max(
      ...window.engines.map((k) => dayOf(page.engines[k].as_of)), page.plan ? dayOf(page.plan.as_of) : -Infinity,
    );
    if (day <= asOf) return { fault: `must lie after ${isoOf(asOf)}, the day decisions are made from` };
    return { value: day };
  }

  // What an input is for, by its name: `use-2`, `window-0`, `risk`, `lead-1` (places in the lists of the page).
  function purpose(input) {
    const [kind, place] = input.name.split("-");
    const k = Number(place);
    const label = input.labels[0].textContent.trim();
    if (kind === "use") return { kind, k, label, key: ["use", page.engines[k].vessel, page.engines[k].engine], read: readUse };
    if (kind === "risk") return { kind, k: 0, label, key: ["risk"], read: readRisk };
    if (kind === "lead") return { kind, k, label, key: ["lead", page.order.lines[k].key], read: readLead };
    const window = page.windows[k];
    const one = window.engines.length === 1 ? page.engines[window.engines[0]].engine : "";
    const key = ["window", page.engines[window.engines[0]].vessel, one, window.on];
    return { kind, k, label, key, read: (text) => readWindow(text, window) };
  }

  const controls = inputs.map((input) => ({ input, recorded: input.defaultValue, ...purpose(input) }));

  // What the form holds that differs from the records; and what it must refuse.
  function readForm() {
    const values = { use: new Map(), window: new Map(), lead: new Map(), risk: null, said: [], faults: [] };
    for (const one of controls) {
      const text = one.input.value.trim();
      const unchanged = text === one.recorded;
      const { value, fault } = unchanged ? {} : one.read(text);
      one.input.toggleAttribute("aria-invalid", false);
      if (fault) {
        one.input.setAttribute("aria-invalid", "true");
        values.faults.push(`${one.label}: “${text}” ${fault}.`);
      } else if (!unchanged) {
        if (one.kind === "risk") values.risk = value;
        else values[one.kind].set(one.k, value);
        values.said.push(`${one.label} ${text} (recorded ${one.recorded || "none"})`);
      }
    }
    return values;
  }

  // ---- the address --------------------------------------------------------------------------------------------

  const MARK = "what-if";
  const AT = "at"; // a place to show with them
  const FLEET = "fleet"; // they come from the page of the fleet
  const joined = (key) => key.map(encodeURIComponent).join(":");

  function fragmentOf() {
    const parts = controls
      .filter((one) => one.input.value.trim() !== one.recorded)
      .map((one) => `${joined(one.key)}=${encodeURIComponent(one.input.value.trim())}`);
    return parts.length ? `#${[MARK, ...parts].join("&")}` : "";
  }

  // Values of the address put into the form; what this sheet does not have is said.
  function fromFragment() {
    const [mark, ...parts] = window.location.hash.slice(1).split("&");
    if (mark !== MARK) return false;
    const given = new Map(parts.map((part) => [part.slice(0, part.indexOf("=")), part.slice(part.indexOf("=") + 1)]));
    for (const one of controls) {
      const value = given.get(joined(one.key));
      given.delete(joined(one.key));
      one.input.value = value === undefined ? one.recorded : plain(value);
    }
    const at = given.get(AT);
    given.delete(AT);
    // What the page of the fleet sends along may concern other engines.
    strange = given.delete(FLEET) ? [] : [...given].map(([key, value]) => plain(`${key} = ${value}`));
    if (at) document.dispatchEvent(new CustomEvent("place-asked", { detail: plain(at) }));
    return true;
  }

  function plain(text) {
    try {
      return decodeURIComponent(text);
    } catch {
      return text;
    }
  }

  let strange = [];

  // ---- from values to figures ---------------------------------------------------------------------------------

  // Use of an engine [kh], at what is typed in or as recorded: wearcast.lives.hours.hours_per_year.
  function useOf(k, typed) {
    const engine = page.engines[k];
    const hours = typed === undefined ? engine.hours_per_year : typed;
    if (hours === null) return null;
    const sd = engine.sd_h === null ? engine.sd_share * hours : engine.sd_h;
    return { mean: hours / 1000, sd: sd / 1000, history: typed === undefined ? engine.history_years : 1 };
  }

  // An engine with its windows, where its forecast stands or (`deciding`) where decisions are made.
  function engineAt(k, values, deciding) {
    const engine = page.engines[k];
    const windows = page.windows
      .map((window, place) => ({ ...window, day: values.window.get(place) ?? dayOf(window.on), place }))
      .filter((window) => window.engines.includes(k))
      .sort((a, b) => a.day - b.day);
    return {
      day: dayOf(deciding ? (page.plan || page.order).as_of : engine.as_of),
      use: useOf(k, values.use.get(k)),
      risk: values.risk ?? page.risk,
      passed: engine.passed_windows.map(dayOf),
      carriedDays: dayOf(deciding ? (page.plan || page.order).as_of : engine.as_of) - dayOf(engine.counter_on),
      windows: windows.filter((window, j) => !j || window.day !== windows[j - 1].day),
    };
  }

  const RECORDED = { use: new Map(), window: new Map(), lead: new Map(), risk: null };

  let ready = false;

  function makeReady() {
    if (ready) return;
    ready = true;
    for (const row of page.rows) {
      if (row.hours) row.curve = whatIf.curveOf(row.hours, page.grid_h);
      if (row.with_doubted && row.with_doubted.hours) row.doubtedCurve = whatIf.curveOf(row.with_doubted.hours, page.grid_h);
      if (row.without_doubted) row.withoutCurve = whatIf.curveOf(row.without_doubted.hours, page.grid_h);
      if (row.new) row.newCurve = whatIf.curveOf(row.new, page.grid_h);
    }
  }

  function touched(values) {
    const windows = [...values.window.keys()].flatMap((place) => page.windows[place].engines);
    const every = values.risk === null ? [] : page.engines.keys();
    return new Set([...values.use.keys(), ...windows, ...every]);
  }

  // Works a thing out anew only where what it hangs on has changed since the last time.
  const worked = new Map();

  function remembered(name, key, work) {
    const before = worked.get(name);
    if (before && before.key === key) return before.made;
    const made = work();
    worked.set(name, { key, made });
    return made;
  }

  function settingsOf(at) {
    return JSON.stringify([at.day, at.use, at.risk, at.windows.map((window) => window.day)]);
  }

  // Everything that follows from the values: outlooks by row, plans by engine, last dates to order by line.
  function workOut(values) {
    makeReady();
    const engines = touched(values);
    const outlooks = new Map();
    for (const k of engines) {
      const at = engineAt(k, values, false);
      const made = remembered(`outlooks ${k}`, settingsOf(at), () => rowsOf(k).map((row) => [row.row, whatIf.outlook(row, at)]));
      for (const [number, one] of made) outlooks.set(number, one);
    }
    return { engines, outlooks, plans: workOutPlans(values, engines), orders: workOutOrders(values, engines) };
  }

  function rowsOf(k) {
    return page.rows.filter((row) => row.engine === k);
  }

  function workOutPlans(values, engines) {
    const plans = new Map();
    if (!page.plan) return plans;
    const horizon = dayOf(page.plan.horizon_end);
    const risk = values.risk ?? page.plan.risk;
    const recorded = new Set(page.plan.openings.filter((one) => one[3]).map(([k, place, window]) => `${k}|${place}|${window}`));
    page.engines.forEach((_, k) => {
      const at = engineAt(k, values, true);
      if (at.use === null || !(engines.has(k) || values.risk !== null)) return;
      const before = (place, window) => recorded.has(`${k}|${place}|${window.row}`);
      const work = () => whatIf.planEngine(rowsOf(k), at, horizon, risk, before);
      plans.set(k, remembered(`plan ${k}`, `${settingsOf(at)} ${risk}`, work));
    });
    return plans;
  }

  function workOutOrders(values, engines) {
    const orders = new Map();
    if (!page.order) return orders;
    const asOf = dayOf(page.order.as_of);
    const now = page.engines.map((_, k) => engineAt(k, values, true));
    const recorded = page.engines.map((_, k) => engineAt(k, RECORDED, true));
    page.order.lines.forEach((one, k) => {
      const counted = [...new Set((one.needs || []).flat().map((row) => rowNumbers.get(row).engine))];
      let ends = one.ends_days;
      if (counted.some((of) => engines.has(of))) {
        const key = counted.map((of) => settingsOf(now[of])).join();
        const work = () => whatIf.coverEnds(ends, needOf(one, recorded), needOf(one, now), page.order.service);
        ends = remembered(`order ${k}`, key, work);
      }
      const lead = values.lead.get(k) ?? one.lead_days;
      orders.set(k, ends === undefined ? undefined : orderBy(one, ends, lead, asOf));
    });
    return orders;
  }

  // Chance that more of a part are needed within so many days than there are in store.
  function needOf(one, engines) {
    return (days) => {
      const years = days / whatIf.DAYS_PER_YEAR;
      const chances = one.needs.map((lives) => Math.max(0, ...lives.map((number) => {
        const row = rowNumbers.get(number);
        return whatIf.neededWithin(row, engines[row.engine], years);
      })));
      return one.stock < 0 ? 1 : whatIf.moreThan(one.stock, chances);
    };
  }

  // order_lines.OrderLine.by.
  function orderBy(one, endsDays, leadDays, asOfDay) {
    if (leadDays === null) return one.quantity ? "order now" : "lead time unknown";
    const horizon = dayOf(page.order.horizon_end);
    const day = endsDays === null ? Infinity : asOfDay + endsDays - Math.ceil(leadDays + one.further_days);
    if (day > horizon) return `not before ${isoOf(horizon)}`;
    return day <= asOfDay ? "order now" : isoOf(day);
  }

  // ---- the page -----------------------------------------------------------------------------------------------

  // Where the page shows what: elements by their row, looked up once.
  const holders = new Map();
  for (const kind of ["row", "plan", "order"]) {
    for (const holder of document.querySelectorAll(`[data-${kind}]`)) {
      const key = `${kind}:${holder.dataset[kind]}`;
      if (!holders.has(key)) holders.set(key, []);
      holders.get(key).push(holder);
    }
  }

  function holdersOf(kind, key) {
    return holders.get(`${kind}:${key}`) || [];
  }

  // How to take back every change made, last first.
  const undo = [];

  function putBack() {
    while (undo.length) undo.pop()();
  }

  // A space is a space, whether or not a line may be broken there.
  const bare = (text) => text.replace(/[\s\u00a0\u202f]+/g, " ").trim();

  function tellCell(cell, text) {
    if (bare(cell.textContent) === bare(text)) return;
    const before = [...cell.childNodes];
    cell.replaceChildren(text);
    cell.setAttribute("data-moved", "");
    undo.push(() => {
      cell.replaceChildren(...before);
      cell.removeAttribute("data-moved");
    });
  }

  // What moved, by the thing it was told of: fact, then and now.
  const moved = new Map();

  function tell(holder, fact, text, of) {
    for (const cell of holder.querySelectorAll(`[data-fact="${fact}"]`)) {
      const then = bare(cell.textContent);
      if (of !== undefined && then !== bare(text)) {
        if (!moved.has(of)) moved.set(of, new Map());
        if (!moved.get(of).has(fact)) moved.get(of).set(fact, [then, bare(text)]);
      }
      tellCell(cell, text);
    }
  }

  function add(holder, made) {
    holder.append(made);
    undo.push(() => made.remove());
  }

  function takeAway(one) {
    one.hidden = true;
    undo.push(() => { one.hidden = false; });
  }

  function dateText(made, j) {
    if (made.dates[j] !== null) return dateWords(made.dates[j]);
    return made.open[j] ? "" : "too far to date";
  }

  // forecast_lines._open_at
  function openAtText(made) {
    if (made.openAt && made.openAt === made.lastWindow) {
      return `Windows are listed to ${isoOf(made.openAt.day)} only; the 10\u00a0% date falls after that.`;
    }
    if (made.openAt) return `Last window before the 10\u00a0% date: ${windowWords(made.openAt)}.`;
    return made.dates[0] !== null && made.lastWindow ? "The 10\u00a0% date falls before any window listed." : "";
  }

  function showOutlook(made, holder, row) {
    ["p10", "p50", "p90"].forEach((name, j) => {
      tell(holder, `date_${name}`, dateText(made, j), row);
      if (made.dates[j] !== null) sortBy(holder.querySelector(`[data-column="${name}"][data-sort]`), isoOf(made.dates[j]));
    });
    for (const [which, window, chance] of [
      ["next", made.nextWindow, made.pNext], ["following", made.followingWindow, made.pFollowing],
    ]) {
      if (window) tell(holder, `${which}_window`, `${isoOf(window.day)}${window.day < runDay ? " (passed)" : ""}`);
      if (chance !== null) tell(holder, `p_${which}`, chanceWords(chance));
    }
    tell(holder, "statement", made.statement, row);
    tell(holder, "rests_on", made.restsOn);
    showOthers(made, holder);
    showOpenAt(made, holder);
  }

  // Tables are sorted by what is shown.
  function sortBy(cell, value) {
    if (!cell || cell.dataset.sort === value) return;
    const before = cell.dataset.sort;
    cell.dataset.sort = value;
    undo.push(() => { cell.dataset.sort = before; });
  }

  // What else holds beside the statement: `also: …` lines.
  function showOthers(made, holder) {
    for (const one of holder.querySelectorAll(".said .under, .narrow.under")) {
      if (one.textContent.startsWith("also: ") && whatIf.WORDS.includes(one.textContent.slice(6))) takeAway(one);
    }
    for (const cell of holder.querySelectorAll(".said")) {
      for (const other of made.others) add(cell, element("span", { class: "under" }, `also: ${other}`));
    }
  }

  const BEFORE_ANY = /The 10\s% date falls before any window listed\./;

  function showOpenAt(made, holder) {
    const text = openAtText(made);
    for (const notes of holder.querySelectorAll(".why span")) {
      for (const node of notes.childNodes) {
        if (node.nodeType !== Node.TEXT_NODE || !BEFORE_ANY.test(node.data)) continue;
        const before = node.data;
        node.data = before.replace(BEFORE_ANY, "");
        undo.push(() => { node.data = before; });
      }
    }
    if (holder.querySelector('[data-fact="open_at"]')) tell(holder, "open_at", text);
    else if (text && holder.querySelector(".said")) {
      add(holder.querySelector(".said"), element("span", { class: "under", "data-moved": "" }, text));
    }
  }

  function element(name, attributes, text) {
    const made = document.createElement(name);
    for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
    if (text !== undefined) made.textContent = text;
    return made;
  }

  function table(caption, heads, rows) {
    const made = element("table", {});
    made.append(element("caption", {}, caption));
    const top = made.createTHead().insertRow();
    for (const head of heads) top.append(element("th", { scope: "col" }, head));
    const body = made.createTBody();
    for (const [first, ...cells] of rows) {
      const row = body.insertRow();
      row.append(element("th", { scope: "row" }, first));
      for (const cell of cells) row.append(element("td", {}, cell));
    }
    const wide = element("div", { class: "wide", role: "region", tabindex: "0", "aria-label": caption });
    wide.append(made);
    return wide;
  }

  // Recorded rows of the plan: what becomes of each.
  function showPlanRows(plans) {
    for (const [k, plan] of plans) {
      if (!plan.openings) continue;
      for (const [of, place, windowRow, , on] of page.plan.openings) {
        if (of !== k) continue;
        const window = plan.windows.find((one) => one.row === windowRow);
        const key = [page.engines[k].vessel, page.engines[k].engine, place, on].join("|");
        for (const holder of holdersOf("plan", key)) showPlanRow(holder, plan, place, window);
      }
    }
  }

  function showPlanRow(holder, plan, place, window) {
    const mine = plan.openings.filter((one) => one.place === place);
    const here = window && mine.find((one) => one.window === window);
    const elsewhere = mine.filter((one) => one.planned).map((one) => isoOf(one.window.day));
    if (here) {
      tell(holder, "standing", here.planned ? "open" : "open if allowed");
      if (here.chance !== null) tell(holder, "chance", chanceWords(here.chance));
      tell(holder, "window", windowWords(window));
      return;
    }
    const standing = holder.querySelector('[data-fact="standing"]');
    if (!standing || standing.textContent.trim() === "worth a look") return;
    tell(holder, "standing", `not with these values${elsewhere.length ? `: ${elsewhere.join(", ")} instead` : ""}`);
    tell(holder, "chance", "");
  }

  function showOrderRows(orders) {
    for (const [k, by] of orders) {
      for (const holder of holdersOf("order", page.order.lines[k].key)) {
        if (by !== undefined) tell(holder, "by", by, page.order.lines[k]);
        const quantity = holder.querySelector('[data-fact="quantity"]');
        if (quantity) add(quantity, element("span", { class: "under" }, "as recorded"));
      }
    }
  }

  function planTable(plans) {
    const rows = [];
    for (const [k, plan] of plans) {
      if (!plan.openings) {
        rows.push([engineWords(k), "", "too many windows to work the plan out in the page: it stays as recorded", ""]);
        continue;
      }
      for (const window of plan.windows) {
        const here = plan.openings.filter((one) => one.window === window);
        const list = (planned) => here
          .filter((one) => one.planned === planned)
          .map((one) => `${one.place} (${chanceWords(one.chance)})`).join(", ");
        rows.push([engineWords(k), windowWords(window), list(true) || "nothing", list(false)]);
      }
    }
    const caption =
      "What to open at which window with these values; beside each the chance that the limit is reached before the window after";
    return table(caption, ["Engine", "Window", "Open", "Called for, but more than is allowed"], rows);
  }

  function orderTable(orders) {
    const asOf = dayOf(page.order.as_of);
    const rows = [...orders].map(([k, by]) => {
      const one = page.order.lines[k];
      const recorded = orderBy(one, one.ends_days, one.lead_days, asOf);
      return [one.part, recorded, by === undefined ? `${recorded} (not worked out)` : by, `${one.quantity} (as recorded)`];
    });
    return table("Last dates to order with these values", ["Part", "Recorded", "With these values", "Order"], rows);
  }

  // ---- what moved, then and now ---------------------------------------------------------------------------------

  const SHOWN = 12; // lines before the others are folded
  const FACTS = { date_p10: "10\u00a0%", date_p50: "50\u00a0%", date_p90: "90\u00a0%", statement: "", by: "order by" };

  // Lines of what moved: planned openings, order dates, then places, the soonest first.
  function movedLines(plans) {
    const lines = [];
    for (const [k, plan] of plans) {
      if (!plan.openings) continue;
      for (const window of plan.windows) {
        const now = plan.openings.filter((one) => one.planned && one.window === window).map((one) => one.place);
        const then = page.plan.openings.filter(([of, , row, planned]) => of === k && row === window.row && planned).map(([, place]) => place);
        if (now.join() !== then.join()) lines.push([`${engineWords(k)}, open at ${windowWords(window)}`, then.join(", ") || "nothing", now.join(", ") || "nothing"]);
      }
    }
    const soonest = (row) => moved.get(row).get("date_p10")?.[1] ?? "9";
    const rows = page.rows.filter((row) => moved.has(row)).sort((a, b) => (soonest(a) < soonest(b) ? -1 : 1));
    for (const of of [...(page.order ? page.order.lines : []), ...rows]) {
      const facts = moved.get(of);
      if (!facts) continue;
      const name = of.part ?? `${engineWords(of.engine)} ${of.place}, ${of.what}`;
      for (const fact of of.part ? ["by"] : ["statement", "date_p10"]) {
        const meant = fact !== "date_p10" || !of.damage; // of a damaged shell no date is shown
        if (meant && facts.has(fact)) lines.push([[name, FACTS[fact]].filter(Boolean).join(", "), ...facts.get(fact)]);
      }
    }
    return lines;
  }

  function movedList(lines) {
    if (!lines.length) return element("p", {}, "Nothing moves with these values.");
    const list = (some) => {
      const made = element("ul", { class: "then-now" });
      for (const [name, then, now] of some) {
        const line = element("li", {}, `${name}: `);
        line.append(element("span", { class: "quiet" }, then || "none"), " \u2192 ", element("strong", {}, now || "none"));
        made.append(line);
      }
      return made;
    };
    const whole = element("div", { id: "what-if-moved" });
    whole.append(element("h3", {}, `What moves, then \u2192 now`), list(lines.slice(0, SHOWN)));
    if (lines.length > SHOWN) {
      const rest = element("details", { class: "more" });
      rest.append(element("summary", {}, `${lines.length - SHOWN} more`), list(lines.slice(SHOWN)));
      whole.append(rest);
    }
    return whole;
  }

  // Windows of a vessel that stand in another order than recorded.
  function overtaken(values) {
    const said = [];
    page.windows.forEach((window, k) => page.windows.forEach((other, j) => {
      const shared = window.engines.some((of) => other.engines.includes(of));
      if (!shared || !(window.on < other.on)) return;
      const [day, after] = [values.window.get(k) ?? dayOf(window.on), values.window.get(j) ?? dayOf(other.on)];
      if (day >= after) said.push(`${windowWords({ ...window, day })} now lies ${day > after ? "after" : "on the day of"} ${windowWords({ ...other, day: after })}, which came after it`);
    }));
    return said;
  }

  function show(values) {
    const made = workOut(values);
    putBack();
    moved.clear();
    for (const [number, one] of made.outlooks) {
      for (const holder of holdersOf("row", number)) showOutlook(one, holder, rowNumbers.get(number));
    }
    showPlanRows(made.plans);
    const ordered = values.lead.size || (made.engines.size && page.order && page.order.lines.some((one) => one.needs));
    if (ordered) showOrderRows(made.orders);
    const whole = element("details", { class: "more" });
    whole.append(element("summary", {}, "The plan and the last dates to order, whole"));
    if (made.plans.size) whole.append(planTable(made.plans));
    if (ordered && made.orders.size) whole.append(orderTable(made.orders));
    outcome.replaceChildren(movedList(movedLines(made.plans)), ...(whole.childElementCount > 1 ? [whole] : []));
    outcome.hidden = !outcome.childElementCount;
  }

  // ---- from the form to the page ------------------------------------------------------------------------------

  const MOVED = `What they move is underlined twice. ${page.order ? "Order quantities stay as recorded." : ""}`.trim();

  function update() {
    const values = readForm();
    const faults = [...values.faults, ...strange.map((text) => `The address asks for ${text}, which this sheet cannot take.`)];
    const differs = values.said.length > 0;
    back.hidden = !differs && !faults.length;
    document.documentElement.toggleAttribute("data-line", !back.hidden);
    line.hidden = back.hidden; // shown before its words change, so that they are read out
    refused.textContent = faults.length ? `${faults.join(" ")} ${values.faults.length ? "Nothing is moved by it." : ""}`.trim() : "";
    document.documentElement.toggleAttribute("data-what-if", differs);
    const past = differs ? overtaken(values).map((one) => ` ${one}.`).join("") : "";
    const words = differs ? `These values differ from the recorded settings: ${values.said.join("; ")}.${past} ${MOVED}` : "";
    if (said.textContent !== words) said.textContent = words;
    if (differs) show(values);
    else {
      putBack();
      outcome.replaceChildren();
      outcome.hidden = true;
    }
    document.dispatchEvent(new Event("values-shown")); // a search that is on looks at what stands there now
  }

  // Links to pages of engines take the values along, and the place they lead to.
  function carryAlong(fragment) {
    for (const link of document.querySelectorAll('a[href*=".html"]')) {
      link.dataset.plain ??= link.getAttribute("href");
      const [file, place] = link.dataset.plain.split("#");
      const more = [`${FLEET}=1`, ...(place ? [`${AT}=${place}`] : [])].join("&");
      link.setAttribute("href", fragment ? `${file}${fragment}&${more}` : link.dataset.plain);
    }
  }

  function keepInAddress() {
    const fragment = fragmentOf();
    carryAlong(fragment);
    const place = window.location.pathname + window.location.search;
    if (fragment || window.location.hash.startsWith(`#${MARK}`)) window.history.replaceState(null, "", place + fragment);
  }

  form.addEventListener("input", () => {
    strange = [];
    update();
    keepInAddress();
  });
  form.addEventListener("submit", (event) => event.preventDefault());
  back.addEventListener("click", () => {
    strange = [];
    for (const one of controls) one.input.value = one.recorded;
    update();
    keepInAddress();
    controls[0].input.focus();
  });
  window.addEventListener("hashchange", () => {
    if (!fromFragment()) return; // the anchor of a place: what is tried stays
    document.getElementById("what-if-try").open = true;
    update();
  });

  // ---- what the page works from, for who wants to see it ------------------------------------------------------

  const numbers = document.getElementById("what-if-numbers");
  numbers.addEventListener("toggle", () => {
    if (!numbers.open || numbers.querySelector("table")) return;
    const figures = (value) => String(Number(value.toPrecision(4)));
    const rows = page.rows.filter((row) => row.level_um !== undefined).map((row) => {
      const [level, both, rate] = row.covariance;
      return [
        `${engineWords(row.engine)} ${row.place}, ${row.what}`, figures(row.level_um), figures(row.rate_um_per_kh),
        figures(level), figures(both), figures(rate), figures(row.uneven_um2_per_kh), figures(row.limit_um),
      ];
    });
    const heads = [
      "Position", "Wear now, µm", "Rate, µm per 1000 h", "Variance of the wear, µm²", "Covariance of wear and rate",
      "Variance of the rate", "Uneven wear, µm² per 1000 h", "Wear at the limit, µm",
    ];
    numbers.append(table("Posterior of level and rate at the governing point", heads, rows));
  });

  form.hidden = false;
  if (fromFragment()) document.getElementById("what-if-try").open = true;
  update();
  carryAlong(fragmentOf());
})();
