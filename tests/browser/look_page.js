/* Runs inside the app's page: mounts the real Next stop screen on states of our choosing. */
async (build) => {
  const at = (name) => import(`/app/${build}/${name}`);
  const [{ mount }, { tripView }, { openPack }, { startFollowing }, { recall }, { words }, { countWords, textOf, cardLines },
    { lookUp, seasonOf }, { scopeOf, shownOf }] = await Promise.all(["screens/next-stop.js", "core/trip.js", "data/packs.js", "core/follow.js",
    "data/keep.js", "words/chosen.js", "core/card.js", "core/table.js", "core/changed.js"].map(at));
  const packs = {};
  for (const route of Object.keys(await recall("packs"))) packs[route] = await openPack(route, null);
  const root = document.querySelector("#page");
  document.body.dataset.screen = "next";
  const WARNED = { certain: true, name: "Leaf film", when: "06:40", rank: 4, warning: { id: "w" } };
  let leave = () => {};
  // The app still runs, and would say by its own state whether the train moves.
  let moves = false;
  const steady = () => document.body.classList.contains("moving") !== moves && document.body.classList.toggle("moving", moves);
  new MutationObserver(steady).observe(document.body, { attributeFilter: ["class"] });

  /** One trip that calls at every target, so that each has a card. */
  function view(route, { train, state, day = "2026-11-20", hours = 0, warned = null }) {
    const pack = packs[route];
    const base = pack.base;
    const one = base.trains[train];
    const all = base.targets.filter((target) => target.kind !== "reduction")
      .map((target) => ({ target: target.key, arrive: null, depart: null, note: null }));
    const trip = { ...base.trips[0], key: "all", train_type: one.type, formation: one.formation, calls: all };
    const now = Date.now();
    const prep = { route, pack: pack.sha, trip: "all", formation: one.formation, isolated: one.isolated_cars,
      state: base.states[0].key, stateAt: now - hours * 3_600_000, trainChanged: false };
    const own = { ...pack, base: { ...base, trips: [trip] } };
    const made = tripView(own, prep, now, day);
    // The state is put in here: the last of the chain is no driver's to choose, but a warning's.
    const calls = made.calls.map((row) => {
      const season = seasonOf(base, row.target, day);
      const advice = lookUp(base, pack.table, { target: row.targetIndex, train, state, season, speed: null });
      return { ...row, state, season, advice, warned };
    });
    return { ...made, calls, state, stateName: base.states[state].name };
  }

  /** It was another card when it was shown at a stand: what is said of that is the longest there is. */
  function shownBefore(made, index, before) {
    if (!before) return {};
    const [prep, row] = [{ route: "any" }, made.calls[index]];
    const seen = { ...shownOf(made, row), ...before };
    const card = { seen, at: new Date(2026, 10, 27, 6, 10).getTime(), stand: 1, was: null, wasAt: 0 };
    return { prep, shownCards: { scope: scopeOf(prep), stand: 1, cards: { [row.target.key]: card } } };
  }

  function show(made, index, { word = "sure", motion = "moving", stood = false, unsure = false, before = null } = {}) {
    leave();
    const lost = unsure || word === "unknown" || word === "off";
    const face = { index: lost ? null : index, word };
    const follow = { ...startFollowing(), index, stood, motion, face, unsure: lost, at: 0, fixAt: Date.now() };
    const state = { view: made, follow, position: "on", touched: motion !== "moving", clockOffset: 0, rows: [],
      warnings: [], prep: null, pack: made?.pack ?? null, ...shownBefore(made, index, before) };
    const store = { get: () => state, set() {}, subscribe: () => () => {}, act: { cardShown() {} } };
    moves = motion === "moving";
    steady();
    // Hidden, as while the train moves: the app would draw them again.
    for (const other of ["#nav", "#foot"]) {
        document.querySelector(other).replaceChildren();
        document.querySelector(other).style.setProperty("display", "none", "important");
    }
    leave = mount(root, store);
  }

  const boxes = () => [...document.querySelectorAll(".w1, .place, .line, .planned")].map((one) => {
    const box = one.getBoundingClientRect();
    return [one.className.split(" ").slice(0, 2).join(" "), box.left, box.top, one.classList.contains("line") ? 0 : box.height];
  });

  /** Every card there is: how many, the most words on one, and those with a box not seen before. */
  function collect(routes) {
    const [seen, fresh] = [new Set(), []];
    let [cards, most, longest] = [0, 0, ""];
    for (const route of routes) {
      const { base } = packs[route];
      for (let train = 0; train < base.trains.length; train++) for (let state = 0; state < base.states.length; state++)
        for (const day of ["2026-11-20", "2026-06-20"]) for (const warned of [null, WARNED]) {
          const made = view(route, { train, state, day, warned });
          made.calls.forEach((row, index) => {
            const lines = cardLines(made.base, row, made.train, words.card);
            cards += 1;
            const count = countWords(lines);
            if (count > most) longest = lines.map(textOf).join(" / ");
            most = Math.max(most, count);
            // The boxes do not depend on each other: a card with no new box shows nothing new.
            const boxes = [...Map.groupBy(lines, (one) => one.kind)];
            const texts = boxes.map(([kind, all]) => `${kind} ${all.map(textOf).join(" / ")}`);
            if (texts.every((text) => seen.has(text))) return;
            texts.forEach((text) => seen.add(text));
            fresh.push({ made, index, text: lines.map(textOf).join(" / ") });
          });
        }
    }
    window.look.fresh = fresh;
    return { cards, shown: fresh.length, most, longest };
  }

  const pen = document.createElement("canvas").getContext("2d");
  const fonts = new Map();
  /** Where the ink of a text is: its lines, from the top of its tallest letter to the lowest. */
  function ink(node) {
    const style = getComputedStyle(node.parentElement);
    const font = `${style.fontWeight} ${style.fontSize} ${style.fontFamily}`;
    const key = `${font} ${node.data}`;
    if (!fonts.has(key)) {
      pen.font = font;
      fonts.set(key, pen.measureText(node.data));
    }
    const { fontBoundingBoxAscent, actualBoundingBoxAscent, actualBoundingBoxDescent } = fonts.get(key);
    const range = document.createRange();
    range.selectNodeContents(node);
    const size = Number.parseFloat(style.fontSize);
    return [...range.getClientRects()].map(({ left, right, top }) => ({ left, right, size,
      top: top + fontBoundingBoxAscent - actualBoundingBoxAscent, bottom: top + fontBoundingBoxAscent + actualBoundingBoxDescent }));
  }

  /** Texts of the page that touch each other, or leave the box that they stand in. */
  function touching() {
    const walker = document.createTreeWalker(document.querySelector(".drive"), NodeFilter.SHOW_TEXT);
    const texts = [];
    const bad = [];
    while (walker.nextNode()) {
      const node = walker.currentNode;
      const box = node.parentElement.closest(".whys, .line, .w1, .place, .changed, .planned, button, .note, .w8");
      if (!node.data.trim() || !box || !box.checkVisibility({ visibilityProperty: true }) || box.closest(".mark-only")) continue;
      const rects = ink(node);
      const room = box.getBoundingClientRect();
      // Letters reach above and hang below a line that is set close: that is no line more.
      const out = ({ left, right, top, bottom, size }) => left < room.left - 1 || right > room.right + 1 ||
        top < room.top - 0.2 * size || bottom > room.bottom + 0.2 * size;
      if (rects.some(out)) bad.push(`${node.data} leaves ${box.className || box.tagName}`);
      texts.push({ text: node.data, rects });
    }
    // What hangs from one line may stand beside what rises from the next, by less than a stroke.
    const deep = (a, b) => Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 0.1 * Math.min(a.size, b.size);
    const meet = (a, b) => a.left < b.right - 1 && b.left < a.right - 1 && deep(a, b);
    texts.forEach((one, i) => texts.slice(i + 1).forEach((other) => {
      if (one.rects.some((a) => other.rects.some((b) => meet(a, b)))) bad.push(`${one.text} touches ${other.text}`);
    }));
    return bad;
  }

  /** Show each of them on the screen as it now is: which do not fit, how deep the deepest is. */
  function fits(motion = "moving") {
    const bad = [];
    let deepest = 0;
    // At a stand the boxes are the same but on a phone, and another train has the same words.
    const all = window.look.fresh.filter(({ made }) => motion === "moving" || made.trainIndex === 0);
    for (const { made, index, text } of all) {
      show(made, index, { motion });
      deepest = Math.max(deepest, document.documentElement.scrollHeight);
      const wide = document.documentElement.scrollWidth > innerWidth;
      if (wide || (motion === "moving" && document.querySelector(".card").classList.contains("over"))) bad.push(text);
      bad.push(...touching().map((what) => `${what}: ${text}`));
    }
    return { deepest, bad: bad.slice(0, 12), count: bad.length };
  }

  /** The card of a stop without advice, for each reason there is: those whose boxes overlap. */
  function barred(motion) {
    const made = view("kettle-bay", { train: 0, state: 4 });
    const { barWords, offWords } = words.card;
    const bars = [...Object.keys(offWords).map((reason) => ({ why: "off", reason })),
      ...Object.keys(barWords).map((why) => ({ why }))];
    return bars.flatMap((bar) => made.calls.flatMap((row, index) => {
      const calls = made.calls.with(index, { ...row, bar, advice: { ...row.advice, status: -1 } });
      show({ ...made, calls }, index, { motion });
      const lines = [...document.querySelectorAll(".line")].map((one) => one.getBoundingClientRect());
      const apart = lines.slice(1).every((one, i) => one.top >= lines[i].bottom - 1);
      const found = apart && lines.length === 3 ? [] : [`${lines.length} boxes`];
      return [...found, ...touching()].map((what) => `${bar.why} ${bar.reason}: ${what}`);
    }));
  }

  /** Cards that no line of any pack makes alone: those of which texts touch or leave their box. */
  function special() {
    const made = view("kettle-bay", { train: 0, state: 4, warned: WARNED });
    const old = { ...made, w9: "3", changed: false };
    const last = made.calls.length - 1;
    const none = { ...made, calls: made.calls.map((row) => ({ ...row, advice: { ...row.advice, status: 1 } })) };
    const before = { mark: 10 ** 7, step: 9, worse: null, speeds: [], warned: "" };
    const cards = [[null, 0], [made, last + 1], [made, 4, { word: "off" }], [made, 4, { word: "unknown" }], [made, 4, { word: "estimated" }],
      [old, 4], [old, last], [made, 4, { before }], [made, last, { before }], [none, 4], [none, 7, { before }]];
    return cards.flatMap(([one, index, how], i) => ["moving", "standing"].flatMap((motion) => {
      show(one, index, { ...how, motion });
      if (how?.before && !document.querySelector(".changed").textContent) return [`${i}: no change is said`];
      return touching().map((what) => `${i} ${motion}: ${what}`);
    }));
  }

  window.look = { packs, WARNED, view, show, collect, fits, touching, special, barred, boxes, words };
}
