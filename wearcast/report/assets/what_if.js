// What if: other hours per year, windows, accepted risk and lead times, worked out in the page from what it carries.
//
// The page carries, for every shell, the chance that its limit is reached within so many hours (Φ⁻¹ of it at some
// hours). That does not hang on use, windows, risk or lead time; level, rate, their covariance and the uneven wear
// are in it already. Each function names the one of the program that it mirrors.
const whatIf = (() => {
  "use strict";

  const DAYS_PER_YEAR = 365.25;
  const LONGEST_KH = 200;
  const MOST_HOURS = 8784;
  const DAY_MS = 86400000;
  const Z_UNIT = 1e-5;
  const COARSE_Z_UNIT = 1e-4;
  const SLOPE_UNIT = 1e-3;
  const ROUNDING = 1e-9;
  const YEARS_APART = 1e-4; // an hour

  // ---- the normal distribution -------------------------------------------------------------------------------

  // Φ to some 15 digits: rational function of Hart (1968), Computer Approximations, no. 5666 (from memory, tested).
  function ndtr(x) {
    const a = Math.abs(x);
    if (a > 37) return x > 0 ? 1 : 0;
    const e = Math.exp(-0.5 * a * a);
    let tail;
    if (a < 7.07106781186547) {
      let up = 3.52624965998911e-2 * a + 0.700383064443688;
      up = up * a + 6.37396220353165;
      up = up * a + 33.912866078383;
      up = up * a + 112.079291497871;
      up = up * a + 221.213596169931;
      up = up * a + 220.206867912376;
      let low = 8.83883476483184e-2 * a + 1.75566716318264;
      low = low * a + 16.064177579207;
      low = low * a + 86.7807322029461;
      low = low * a + 296.564248779674;
      low = low * a + 637.333633378831;
      low = low * a + 793.826512519948;
      low = low * a + 440.413735824752;
      tail = (e * up) / low;
    } else {
      tail = e / (a + 1 / (a + 2 / (a + 3 / (a + 4 / (a + 0.65))))) / 2.506628274631;
    }
    return x > 0 ? 1 - tail : tail;
  }

  // ---- chances over the hours: wearcast.wear.curves.interpolate_curve ----------------------------------------

  // A carried curve made ready: hours [kh], their logarithms, Φ⁻¹(chance), and its slopes to and from every node.
  function curveOf(carried, gridH) {
    const [first, shared, own] = carried;
    const unit = own ? Z_UNIT : COARSE_Z_UNIT;
    const nodes = shared.map((z, k) => ({ h: gridH[first + k] / 1000, z: z * unit, slopes: null }));
    for (const [h, z, ...slopes] of own || []) {
      const pair = [slopes[0], slopes[slopes.length - 1]].map((slope) => slope * SLOPE_UNIT);
      nodes.push({ h: h / 1000, z: z * Z_UNIT, slopes: pair });
    }
    nodes.sort((a, b) => a.h - b.h);
    const n = nodes.length;
    const h = Float64Array.from(nodes, (node) => node.h);
    const z = Float64Array.from(nodes, (node) => node.z);
    const least = h[0] > 0 ? h[0] : 0.1 * h[1];
    const x = h.map((hours) => Math.log(Math.max(hours, least)));
    const secant = (k) => (k < 0 || k > n - 2 ? 0 : (z[k + 1] - z[k]) / (x[k + 1] - x[k]));
    const slopes = nodes.map((node, k) => {
      if (node.slopes) return node.slopes;
      const before = secant(k - 1);
      const after = secant(k);
      const slope = before * after > 0 ? (2 * before * after) / (before + after) : 0; // Fritsch & Butland (1984)
      return [slope, slope];
    });
    const coming = Float64Array.from(slopes, (pair) => pair[0]);
    const going = Float64Array.from(slopes, (pair) => pair[1]);
    return { h, x, z, coming, going };
  }

  // Chance that the limit is reached within given hours [kh].
  function chanceAt(curve, kh) {
    const { h, x, z, coming, going } = curve;
    const at = Math.min(Math.max(kh, 0), LONGEST_KH);
    const last = h.length - 1;
    if (at <= h[0]) return ndtr(z[0]);
    if (at >= h[last]) return ndtr(z[last]);
    let low = 0;
    let high = last;
    while (high - low > 1) {
      const middle = (low + high) >> 1;
      if (h[middle] <= at) low = middle;
      else high = middle;
    }
    const from = z[low];
    const to = z[high];
    if (h[low] === 0) return ndtr(from + (at / h[high]) * (to - from)); // straight in the hours
    const width = x[high] - x[low];
    const u = (Math.log(at) - x[low]) / width;
    const v = 1 - u;
    const found =
      from * (1 + 2 * u) * v * v +
      to * u * u * (3 - 2 * u) +
      width * u * v * (going[low] * v - coming[high] * u);
    return ndtr(Math.min(Math.max(found, from), to));
  }

  // ---- from hours to dates: wearcast.wear.dates --------------------------------------------------------------

  const NODES = [
    -6.363947888829839, -5.190093591304781, -4.1962077112690155, -3.2890824243987664, -2.432436827009758,
    -1.6067100690287297, -0.799129068324548, 0, 0.799129068324548, 1.6067100690287297, 2.432436827009758,
    3.2890824243987664, 4.1962077112690155, 5.190093591304781, 6.363947888829839,
  ];
  const WEIGHTS = [
    8.589649899633252e-10, 5.975419597920599e-7, 5.642146405189029e-5, 1.567357503549956e-3,
    1.7365774492137616e-2, 8.941779539984437e-2, 0.23246229360973225, 0.31825951825951815, 0.23246229360973225,
    8.941779539984437e-2, 1.7365774492137616e-2, 1.567357503549956e-3, 5.642146405189029e-5,
    5.975419597920599e-7, 8.589649899633252e-10,
  ];

  // Chance that the limit is reached within t years: probability_within. `use` has the yearly use and its spread
  // [kh] and the years of history behind it.
  function probabilityWithin(curve, years, use) {
    const t = Math.max(years, 0);
    const mean = use.mean * t;
    const sd = use.sd * Math.sqrt(t + (t * t) / use.history);
    let sum = 0;
    for (let k = 0; k < NODES.length; k += 1) {
      sum += WEIGHTS[k] * chanceAt(curve, Math.max(mean + sd * NODES[k], 0));
    }
    return sum;
  }

  // Years within which the limit is reached with given chances, ascending: years_to_limit. null where not within 200
  // kh of mean use. The chance never falls with the years: at every node the hours run grow as soon as they are
  // above 0, for m t > |z| s √(t + t²/n) makes the slope of the one larger than that of the other. So halving finds
  // the date.
  function yearsToLimit(curve, use, levels) {
    if (!(use.mean > 0)) return levels.map(() => null);
    const longest = LONGEST_KH / use.mean;
    const atOnce = probabilityWithin(curve, 0, use);
    const atMost = probabilityWithin(curve, longest, use);
    let from = 0;
    return levels.map((level) => {
      if (atOnce >= level) return 0;
      if (atMost < level) return null;
      let low = from;
      let high = longest;
      while (high - low > YEARS_APART) {
        const middle = 0.5 * (low + high);
        if (probabilityWithin(curve, middle, use) < level) low = middle;
        else high = middle;
      }
      from = low;
      return high;
    });
  }

  // Chance that an engine runs given hours [kh] within t years: wearcast.decide.stand.chance_run_within.
  function chanceRun(hoursKh, years, use) {
    const sd = use.sd * Math.sqrt(years + years ** 2 / use.history);
    const short = use.mean * years - hoursKh;
    return sd > 0 ? ndtr(short / sd) : Number(short >= 0);
  }

  // ---- the calendar ------------------------------------------------------------------------------------------

  // Days since 1970-01-01 of an ISO date; null of what is none.
  function dayOf(text) {
    if (!/^\d{4}-\d{2}-\d{2}$/.test(text)) return null;
    const ms = Date.parse(`${text}T00:00:00Z`);
    if (Number.isNaN(ms)) return null;
    return new Date(ms).toISOString().slice(0, 10) === text ? Math.round(ms / DAY_MS) : null;
  }

  function isoOf(day) {
    return new Date(day * DAY_MS).toISOString().slice(0, 10);
  }

  const LAST_DAY = dayOf("9999-12-31");

  // The day so many years later: wearcast.forecasting.stands_on.Shell.date_after.
  function dayAfter(from, years) {
    if (years === null) return null;
    const day = from + Math.floor(years * DAYS_PER_YEAR);
    return day > LAST_DAY ? null : day;
  }

  // ---- statements: wearcast.forecasting.statements -----------------------------------------------------------

  const SAID = {
    damage: "damage noted",
    past: "past limit",
    mayBePast: "limit may be passed",
    beforeNext: "limit falls before next window",
    beforeFollowing: "limit falls before following window",
    withinAYear: "limit falls within a year",
    noLimit: "no limit given",
    later: "limit falls later",
  };
  const RESTS_ON = {
    disagree: "readings disagree",
    changedRate: "changed rate",
    sistersAlone: "sisters alone",
    fewReadings: "few own readings",
    ownReadings: "own readings",
  };
  const WORDS = [...Object.values(SAID), ...Object.values(RESTS_ON)];
  const NEEDED_OPENINGS = 2;

  // What the limit does, how well it is known, and what else holds.
  function statements(facts) {
    const before = (window) => window !== null && facts.dateP10 !== null && facts.dateP10 < window;
    const holding = (tests) => tests.filter(([, holds]) => holds).map(([name]) => name);
    const said = holding([
      [SAID.damage, facts.damage],
      [SAID.past, facts.past],
      [SAID.mayBePast, facts.mayBePast],
      [SAID.beforeNext, before(facts.nextWindow)],
      [SAID.beforeFollowing, before(facts.followingWindow)],
      [SAID.withinAYear, facts.withinAYear && (facts.nextWindow === null || !facts.dated)],
      [SAID.noLimit, !facts.governed],
      [SAID.later, true],
    ]);
    const under = holding([
      [RESTS_ON.disagree, facts.disagree],
      [RESTS_ON.changedRate, facts.changedRate],
      [RESTS_ON.sistersAlone, !facts.openings],
      [RESTS_ON.fewReadings, facts.openings > 0 && facts.openings < NEEDED_OPENINGS],
      [RESTS_ON.ownReadings, true],
    ]);
    const others = under.slice(1).filter((name) => name !== RESTS_ON.ownReadings);
    if (facts.damage && said[1] !== SAID.later) others.unshift(said[1]);
    return { statement: said[0], restsOn: under[0], others };
  }

  // ---- one row of the forecast table: wearcast.forecasting.make_rows, stands_on -------------------------------

  const YEAR_KH = 8.766;

  // Curves start at the last counter reading: the day that dates and chances are reckoned from.
  function counterDay(at) {
    return at.day - at.carriedDays;
  }

  // `row` as carried, with its curves made ready; `at` has the engine's day, days since its counter, use, windows.
  function outlook(row, at) {
    const dated = at.use !== null;
    const hasDates = dated && row.curve !== undefined;
    const years = hasDates ? yearsToLimit(row.curve, at.use, [0.1, 0.5, 0.9]) : [null, null, null];
    const dates = years.map((one) => dayAfter(counterDay(at), one));
    const windows = at.windows.filter((window) => window.day > at.day);
    const within = (curve, day) => probabilityWithin(curve, (day - counterDay(at)) / DAYS_PER_YEAR, at.use);
    const chanceBefore = (window) => (window && hasDates ? within(row.curve, window.day) : null);
    const governed = row.level_um !== undefined;
    const base = {
      damage: Boolean(row.damage),
      dated,
      nextWindow: windows.length ? windows[0].day : null,
      followingWindow: windows.length > 1 ? windows[1].day : null,
      governed,
      disagree: Boolean(row.disagree),
      changedRate: Boolean(row.changed_rate),
      openings: row.openings,
    };
    // What follows from a curve: the early date, the chance by now, and whether a year may see the limit.
    const following = (curve, past, early) => {
      const known = curve !== undefined;
      const byNow = known ? (dated ? within(curve, at.day) : chanceAt(curve, 0)) : null;
      const soon = dated ? early !== null && early - at.day < DAYS_PER_YEAR : known && chanceAt(curve, YEAR_KH) > 0.1;
      return {
        ...base, past: Boolean(past), dateP10: early, withinAYear: soon, mayBePast: governed && !(known && byNow < at.risk),
      };
    };
    const half = (one, curve) =>
      following(curve, one.past, curve && dated ? dayAfter(counterDay(at), yearsToLimit(curve, at.use, [0.1])[0]) : null);
    const facts = following(row.curve, row.past, dates[0]);
    if (row.with_doubted && !facts.disagree) {
      const without = row.without_doubted ? half(row.without_doubted, row.withoutCurve) : facts;
      facts.disagree = statements(half(row.with_doubted, row.doubtedCurve)).statement !== statements(without).statement;
    }
    return {
      ...statements(facts),
      dates,
      open: row.curve ? [0.1, 0.5, 0.9].map((q) => chanceAt(row.curve, LONGEST_KH) < q) : [true, true, true],
      nextWindow: windows[0] || null,
      followingWindow: windows[1] || null,
      pNext: chanceBefore(windows[0]),
      pFollowing: chanceBefore(windows[1]),
      openAt: openAt(windows, dates[0], hasDates),
      lastWindow: windows.length ? windows[windows.length - 1] : null,
    };
  }

  // The last window on or before the early date; the last of all where that date is far off: make_rows._open_at.
  function openAt(windows, early, farOff) {
    if (early !== null) return windows.filter((window) => window.day <= early).pop() || null;
    return windows.length && farOff ? windows[windows.length - 1] : null;
  }

  // ---- windows past the last one listed: wearcast.forecasting.windows.GoingOn ---------------------------------

  const USUAL_DAYS = 2.5 * DAYS_PER_YEAR;
  const LEAST_DAYS = 90;

  // The last day listed, passed or ahead (null where there is none), and the usual days between windows.
  function goingOn(at) {
    const listed = [...at.passed, ...at.windows.map((window) => window.day)].sort((a, b) => a - b);
    const apart = listed.slice(1).map((day, k) => day - listed[k]).filter((days) => days >= LEAST_DAYS).sort((a, b) => a - b);
    const half = apart.length >> 1;
    const median = apart.length % 2 ? apart[half] : (apart[half - 1] + apart[half]) / 2;
    return { last: listed.length ? listed[listed.length - 1] : null, every: apart.length ? median : USUAL_DAYS };
  }

  // Windows after the day the engine stands at and before another: those listed, and those they go on with.
  function windowsTo(at, endDay) {
    const { last, every } = goingOn(at);
    const found = at.windows.filter((window) => window.day > at.day);
    for (let k = 1; last !== null; k += 1) {
      const day = last + Math.floor(k * every + 0.5);
      if (day >= endDay) break;
      if (day > at.day) found.push({ day, name: "not listed", row: -k, most: null });
    }
    return found.filter((window) => window.day < endDay);
  }

  // ---- the plan: wearcast.decide.steps, fewest ---------------------------------------------------------------

  // Chances of one shell from node to node (now, windows, end of the horizon): steps._of_class.
  function stepsOf(row, at, endDays) {
    const n = endDays.length;
    const years = endDays.map((day) => (day - counterDay(at)) / DAYS_PER_YEAR);
    const wear = matrix(n, n + 1);
    const chance = matrix(n, n + 1);
    const left = row.fixed_left_h === undefined ? null : row.fixed_left_h / 1000;
    const whole = row.fixed_h === undefined ? null : row.fixed_h / 1000;
    for (let k = 0; k < n; k += 1) {
      if (row.curve) wear[0][k + 1] = probabilityWithin(row.curve, years[k], at.use);
      const fixed = left === null ? 0 : chanceRun(left, years[k], at.use);
      chance[0][k + 1] = row.at_once ? 1 : Math.max(wear[0][k + 1], fixed);
      for (let i = 0; i < k; i += 1) {
        const between = years[k] - years[i];
        if (row.newCurve) wear[i + 1][k + 1] = probabilityWithin(row.newCurve, between, at.use);
        const run = whole === null ? 0 : chanceRun(whole, between, at.use);
        chance[i + 1][k + 1] = Math.max(wear[i + 1][k + 1], run);
      }
    }
    return { wear, chance };
  }

  function matrix(rows, columns) {
    return Array.from({ length: rows }, () => new Float64Array(columns));
  }

  // The larger of several matrices, cell by cell: steps.EngineSteps.of_places.
  function largest(matrices) {
    return matrices[0].map((cells, i) => cells.map((_, j) => Math.max(...matrices.map((one) => one[i][j]))));
  }

  const MOST_WINDOWS = 10;
  const MOST_STATES = 20000;

  function lexicographic(a, b) {
    for (let k = 0; k < a.length; k += 1) if (a[k] !== b[k]) return a[k] - b[k];
    return 0;
  }

  // Ways to open one place: for each the windows, what it takes of those that are limited, and its cost: the excess
  // over the accepted risk, soonest interval first, then the openings, of equally few the later ones. Whole numbers,
  // so that sums compare exactly. The last figure prefers, of equals, what the recorded plan opens.
  function waysOf(chance, risk, limited, recorded) {
    const windows = chance.length - 1;
    const over = chance.map((cells) => cells.map((p) => Math.round(Math.max(p - risk - ROUNDING, 0) * 1e7)));
    const found = [];
    for (let mask = 0; mask < 1 << windows; mask += 1) {
      const cost = [];
      let last = 0;
      let openings = 0;
      let unlike = 0;
      for (let m = 1; m <= windows + 1; m += 1) {
        cost.push(over[last][m]);
        const opened = m <= windows && (mask >> (m - 1)) & 1;
        if (opened) openings += Math.round(1e6 * (1 - (1e-3 * (m - 1)) / windows));
        if (m <= windows && Boolean(opened) !== Boolean(recorded[m - 1])) unlike += 1;
        if (opened) last = m;
      }
      cost.push(openings, unlike);
      found.push({ mask, taken: mask & limited, cost });
    }
    found.sort((a, b) => lexicographic(a.cost, b.cost));
    const kept = [];
    for (const way of found) {
      if (!kept.some((better) => (better.taken & ~way.taken) === 0)) kept.push(way);
    }
    return kept;
  }

  // The fewest openings that keep every place under the accepted risk: fewest.fewest_openings. What scipy finds by an
  // integer program is found here by going through the places, keeping the cheapest way to every count of openings.
  // null where there are too many windows to do so while somebody waits.
  function fewestOpenings(chances, risk, most, recorded = chances.map(() => [])) {
    const places = chances.length;
    const windows = most.length;
    if (!places || !windows) return { opened: chances.map(() => []), over: chances.map((one) => one[0][1] > risk) };
    if (windows > MOST_WINDOWS) return null;
    let limited = 0;
    most.forEach((count, j) => {
      if (count !== null && count < places) limited |= 1 << j;
    });
    let states = new Map([["", { counts: new Array(windows).fill(0), cost: new Array(windows + 3).fill(0), way: null }]]);
    for (let place = 0; place < places; place += 1) {
      const ways = waysOf(chances[place], risk, limited, recorded[place]);
      const next = new Map();
      for (const state of states.values()) {
        for (const way of ways) {
          const counts = state.counts.map((count, j) => count + ((way.taken >> j) & 1));
          if (counts.some((count, j) => (limited >> j) & 1 && count > most[j])) continue;
          const cost = state.cost.map((sum, k) => sum + way.cost[k]);
          const key = counts.join();
          const before = next.get(key);
          if (!before || lexicographic(cost, before.cost) < 0) next.set(key, { counts, cost, way: [way.mask, state.way] });
        }
      }
      states = next;
      if (states.size > MOST_STATES) return null;
    }
    const best = [...states.values()].reduce((a, b) => (lexicographic(b.cost, a.cost) < 0 ? b : a));
    const masks = [];
    for (let way = best.way; way; way = way[1]) masks.unshift(way[0]);
    const opened = masks.map((mask) => most.map((_, j) => Boolean((mask >> j) & 1)));
    const over = opened.map((mine, place) => worstStep(chances[place], mine) > risk + ROUNDING);
    return { opened, over, cost: best.cost };
  }

  // The largest chance of the steps from opening to opening.
  function worstStep(chance, opened) {
    let worst = 0;
    let last = 0;
    [...opened, true].forEach((here, j) => {
      if (!here) return;
      worst = Math.max(worst, chance[last][j + 1]);
      last = j + 1;
    });
    return worst;
  }

  // The plan of one engine: which places at which window, and where the accepted risk is not kept.
  function planEngine(rows, at, horizonDay, risk, recordedAt) {
    const windows = windowsTo(at, horizonDay);
    const ends = [...windows.map((window) => window.day), horizonDay];
    const places = new Map();
    for (const row of rows) {
      if (!places.has(row.place)) places.set(row.place, []);
      places.get(row.place).push(stepsOf(row, at, ends));
    }
    const names = [...places.keys()];
    const chances = names.map((name) => largest(places.get(name).map((one) => one.chance)));
    const wears = names.map((name) => largest(places.get(name).map((one) => one.wear)));
    const before = names.map((name) => windows.map((window) => recordedAt(name, window)));
    const made = fewestOpenings(chances, risk, windows.map((window) => window.most), before);
    if (!made) return { windows, ends, openings: null };
    const openings = [];
    windows.forEach((window, j) => {
      names.forEach((place, k) => {
        const since = made.opened[k].slice(0, j).lastIndexOf(true) + 1;
        const must = chances[k][since][j + 2] > risk + ROUNDING;
        const planned = made.opened[k][j];
        if (planned || (must && !made.opened[k].slice(0, j).some(Boolean))) {
          openings.push({ place, window, planned, chance: wears[k][since][j + 2], until: ends[j + 1] });
        }
      });
    });
    return { windows, ends, openings, cost: made.cost };
  }

  // ---- the last date to order --------------------------------------------------------------------------------

  // Chance that one shell is needed within t years: at the last window on or before its limit, else at the limit
  // (wearcast.decide.need_dates.at_windows, as a chance instead of draws).
  function neededWithin(row, at, years) {
    if (row.at_once) return 1;
    if (at.use === null) return row.curve ? chanceAt(row.curve, 0) : 0;
    if (!row.curve) return 0;
    const day = at.day + years * DAYS_PER_YEAR;
    const { last, every } = goingOn(at);
    // Needed by then is what reaches its limit before the window after; where none is listed, that may be any day of
    // the spacing to come.
    const before = (untilDay) => {
      const until = (untilDay - counterDay(at)) / DAYS_PER_YEAR;
      const wear = probabilityWithin(row.curve, until, at.use);
      return row.fixed_left_h === undefined ? wear : Math.max(wear, chanceRun(row.fixed_left_h / 1000, until, at.use));
    };
    if (last === null) return PHASES.reduce((sum, share) => sum + before(day + share * every), 0) / PHASES.length;
    const ahead = windowsTo(at, day + every + 1).map((window) => window.day);
    const after = ahead.find((one) => one > day);
    return before(ahead.length && ahead[0] <= day && after !== undefined ? after : day);
  }

  const PHASES = [1, 3, 5, 7, 9, 11, 13, 15].map((part) => part / 16);

  // Chance that more shells than `stock` are needed, each by itself.
  function moreThan(stock, chances) {
    const exactly = new Float64Array(stock + 1);
    exactly[0] = 1;
    for (const p of chances) {
      for (let k = stock; k >= 0; k -= 1) exactly[k] = exactly[k] * (1 - p) + (k ? exactly[k - 1] * p : 0);
    }
    return Math.max(1 - exactly.reduce((sum, p) => sum + p, 0), 0);
  }

  const FARTHEST_DAYS = 36525;

  // Days until what is in store no longer covers. The recorded day comes from joint draws, in which needs move
  // together; here each need stands by itself. So the same reckoning is made at the recorded settings, the chance it
  // gives at the recorded day is taken for the threshold, and only what differs from there moves the day. Needs fall on
  // windows, so near the threshold a chance a little off moves the day by a whole spacing.
  function coverEnds(endsDays, recorded, now, service) {
    const short = 1 - service;
    if (endsDays === null) return recorded(FARTHEST_DAYS) >= short ? undefined : firstDay(now, short);
    const below = endsDays > 0 ? recorded(endsDays - 1) : 0;
    const above = recorded(endsDays);
    return firstDay(now, Math.min(Math.max(short, below * (1 + 1e-9) + 1e-12), above));
  }

  function firstDay(chance, threshold) {
    if (chance(0) >= threshold) return 0;
    if (chance(FARTHEST_DAYS) < threshold) return null;
    let low = 0;
    let high = FARTHEST_DAYS;
    while (high - low > 1) {
      const middle = (low + high) >> 1;
      if (chance(middle) >= threshold) high = middle;
      else low = middle;
    }
    return high;
  }

  return {
    DAYS_PER_YEAR, MOST_HOURS, WORDS, ndtr, curveOf, chanceAt, probabilityWithin, yearsToLimit, chanceRun, dayOf, isoOf,
    dayAfter, statements, outlook, openAt, windowsTo, stepsOf, fewestOpenings, planEngine, neededWithin, moreThan, coverEnds,
  };
})();
