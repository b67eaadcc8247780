// Locks after a while without a touch, whatever tab was touched last, and at once when a tablet wakes up too late.

const LIMIT = 10 * 60_000;
const SAID_EVERY = 15_000;

/**
 * @param {() => void} lock
 * @param {() => void} touched  tell other tabs; at most every quarter of a minute
 * @returns {{touch: () => void, stop: () => void}} `touch`: another tab was touched
 */
export const lockWhenIdle = (lock, touched) => {
  let last = Date.now();
  let said = 0;
  const check = () => {
    if (Date.now() - last > LIMIT) {
      lock();
    }
  };
  const touch = () => {
    check();
    last = Date.now();
    if (last - said > SAID_EVERY) {
      said = last;
      touched();
    }
  };
  const events = ["pointerdown", "keydown", "wheel"];
  events.forEach((name) => addEventListener(name, touch, { capture: true, passive: true }));
  document.addEventListener("visibilitychange", check);
  const timer = setInterval(check, 10_000);
  return {
    touch: () => {
      last = Date.now();
    },
    stop: () => {
      clearInterval(timer);
      document.removeEventListener("visibilitychange", check);
      events.forEach((name) => removeEventListener(name, touch, { capture: true }));
    },
  };
};
