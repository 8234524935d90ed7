/* Runs inside the app's page: mounts the real Next stop screen on states of our choosing. */
async (build) => {
  const at = (name) => import(`/app/${build}/${name}`);
  const [{ mount }, { tripView }, { openPack }, { startFollowing }, { recall }, { words }, { countWords, textOf, cardLines },
    { lookUp, seasonOf }] = await Promise.all(["screens/next-stop.js", "core/trip.js", "data/packs.js", "core/follow.js",
    "data/keep.js", "words/chosen.js", "core/card.js", "core/table.js"].map(at));
  const packs = {};
  for (const route of Object.keys(await recall("packs"))) packs[route] = await openPack(route, null);
  const root = document.querySelector("#page");
  document.body.dataset.screen = "next";
  const WARNED = { certain: true, name: "Leaf film", when: "06:40", rank: 4 };
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

  function show(made, index, { word = "sure", motion = "moving", stood = false, unsure = false } = {}) {
    leave();
    const lost = unsure || word === "unknown" || word === "off";
    const face = { index: lost ? null : index, word };
    const follow = { ...startFollowing(), index, stood, motion, face, unsure: lost, at: 0, fixAt: Date.now() };
    const state = { view: made, follow, position: "on", touched: motion !== "moving", clockOffset: 0, rows: [],
      warnings: [], prep: null, pack: made?.pack ?? null };
    const store = { get: () => state, set() {}, subscribe: () => () => {}, act: {} };
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
    let [cards, most] = [0, 0];
    for (const route of routes) {
      const { base } = packs[route];
      for (let train = 0; train < base.trains.length; train++) for (let state = 0; state < base.states.length; state++)
        for (const day of ["2026-11-20", "2026-06-20"]) for (const warned of [null, WARNED]) {
          const made = view(route, { train, state, day, warned });
          made.calls.forEach((row, index) => {
            const lines = cardLines(made.base, row, made.train, words.card);
            cards += 1;
            most = Math.max(most, countWords(lines));
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
    return { cards, shown: fresh.length, most };
  }

  /** Show each of them on the screen as it now is: which do not fit, how deep the deepest is. */
  function fits() {
    const bad = [];
    let deepest = 0;
    for (const { made, index, text } of window.look.fresh) {
      show(made, index);
      deepest = Math.max(deepest, document.documentElement.scrollHeight);
      const wide = document.documentElement.scrollWidth > innerWidth;
      if (wide || document.querySelector(".card").classList.contains("over")) bad.push(text);
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
      return apart && lines.length === 3 ? [] : [`${bar.why} ${bar.reason}: ${lines.length} boxes`];
    }));
  }

  window.look = { packs, WARNED, view, show, collect, fits, barred, boxes, words };
}
