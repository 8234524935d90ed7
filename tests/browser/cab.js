/**
 * Stands in for the receiver and for time, so that a train can drive through a test: the
 * app's own listeners get the fixes, its clocks run ahead, its timers tick on the way.
 */
(() => {
  if (window.cab) return;
  const KEY = "test-cab-ahead";
  const wall = Date.now.bind(Date);
  const steady = performance.now.bind(performance);
  const repeat = window.setInterval.bind(window);
  let ahead = Number(sessionStorage.getItem(KEY) ?? 0);
  Date.now = () => wall() + ahead;
  performance.now = () => steady() + ahead;

  /** @type {{call: Function, every: number, due: number}[]} */
  const timers = [];
  window.setInterval = (call, every = 0, ...more) => {
    timers.push({ call: () => call(...more), every, due: Date.now() + every });
    return repeat(call, every, ...more);
  };

  const listeners = new Set();
  const real = navigator.geolocation;
  const shifted = (onFix) => ({ coords, timestamp }) => onFix({ coords, timestamp: timestamp + ahead });
  // The browser's own receiver stays in use beside this one.
  const receiver = {
    watchPosition: (onFix, onError, options) => {
      listeners.add(onFix);
      return real.watchPosition(shifted(onFix), onError, options);
    },
    getCurrentPosition: (onFix, onError, options) => real.getCurrentPosition(shifted(onFix), onError, options),
    clearWatch: (number) => real.clearWatch(number),
  };
  Object.defineProperty(navigator, "geolocation", { value: receiver, configurable: true });

  function wait(seconds) {
    ahead += seconds * 1000;
    sessionStorage.setItem(KEY, String(ahead));
    for (const timer of timers) {
      if (Date.now() < timer.due) continue;
      timer.due = Date.now() + timer.every;
      timer.call();
    }
  }

  function fix([lat, lon, accuracy, speed, age = 0]) {
    const coords = { latitude: lat, longitude: lon, accuracy, speed, heading: null };
    for (const listener of listeners) listener({ coords, timestamp: Date.now() - age * 1000 });
  }

  /** Seconds ahead, each with its fix or without one. */
  function drive(steps) {
    for (const [seconds, ...one] of steps) {
      wait(seconds);
      if (one.length > 0) fix(one);
    }
    return listeners.size;
  }

  window.cab = { drive, wait, fix, listening: () => listeners.size };
})();
