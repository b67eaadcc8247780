// As much of a document as the screens use, in memory, and the client with a store of given rows around them: what a
// screen says is its text, and what is touched does what it does. No layout, and selectors of one attribute
// or class at most.

class FakeNode {
  parent = null;
  remove() {
    this.parent?.childNodes.splice(this.parent.childNodes.indexOf(this), 1);
    this.parent = null;
  }
}

class Text extends FakeNode {
  constructor(text) {
    super();
    this.textContent = text;
  }
}

class Element extends FakeNode {
  childNodes = [];
  attributes = new Map();
  listeners = new Map();
  dataset = {};
  classList = { toggle: () => undefined };
  scrollIntoView = () => undefined;
  click = () => undefined;
  focus = () => undefined;
  constructor(tag) {
    super();
    this.tag = tag;
  }
  append(...nodes) {
    for (const one of nodes) {
      const node = one instanceof FakeNode ? one : new Text(one);
      node.remove();
      node.parent = this;
      this.childNodes.push(node);
    }
  }
  replaceChildren(...nodes) {
    [...this.childNodes].forEach((one) => one.remove());
    this.append(...nodes);
  }
  setAttribute = (name, value) => void this.attributes.set(name, value);
  addEventListener = (name, heard) => void this.listeners.set(name, heard);
  get textContent() {
    return this.childNodes.map((one) => one.textContent).join("");
  }
  set textContent(text) {
    this.replaceChildren(text);
  }
  get all() {
    return this.childNodes.flatMap((one) => (one instanceof Element ? [one, ...one.all] : []));
  }
  get isConnected() {
    return this === document.body || Boolean(this.parent?.isConnected);
  }
  hasChildNodes = () => this.childNodes.length > 0;
  contains = (other) => this === other || this.all.includes(other);
  isEqualNode = () => false;
  getContext = () => null;
  querySelector = (selector) => this.all.find((one) => (selector.startsWith(".")
    ? one.attributes.get("class") === selector.slice(1)
    : one.attributes.has(selector.slice(1, -1)))) ?? null;
}

globalThis.Node = FakeNode;
globalThis.requestAnimationFrame = queueMicrotask;
globalThis.BroadcastChannel = class {
  postMessage = () => undefined;
  addEventListener = () => undefined;
};
globalThis.document = {
  body: new Element("body"),
  activeElement: null,
  createElement: (tag) => new Element(tag),
  getElementById: (id) => document.body.all.find((one) => one.attributes.get("id") === id) ?? null,
};

export const { app } = await import("../../api/client/lib/app.js");

/** What is under way comes to where it waits. */
export const settled = async () => {
  for (let turn = 0; turn < 20; turn += 1) {
    await new Promise((resolve) => setImmediate(resolve));
  }
};

/**
 * Shows a screen to Ada, a teacher, over rows by kind. What she does is in `acts`, and becomes of it what `more.act` says;
 * `draw` is what happens when something changed.
 */
export const shown = async (screen, params, rows, more = {}) => {
  const drawers = new Set();
  const acts = [];
  const drafts = more.drafts ?? new Map();
  const fits = (row, where) => Object.entries(where).every(([field, value]) => row[field] === value);
  const list = (kind, where = {}) => (rows[kind] ?? []).filter((row) => fits(row, where));
  let made = 0;
  Object.assign(app, {
    me: { staff_id: "ada", name: "Ada", school_id: "s", school_name: "S", roles: ["teacher"] },
    store: { get: (kind, id) => list(kind).find((row) => row.id === id), list },
    state: { online: true, trouble: null, unsent: 0, oldest: null, refused: [], signed_in: true, update: false },
    holds: () => true,
    today: () => "2026-11-25",
    uuid: () => `new-${(made += 1)}`,
    go: () => undefined,
    from: () => null,
    watch: (draw) => drawers.add(draw) && (() => drawers.delete(draw)),
    latest: async (row) => row,
    // As in a store, what is kept is a copy.
    draft: async (name, value) => (value === undefined
      ? structuredClone(drafts.get(name)) : void (value === null ? drafts.delete(name) : drafts.set(name, structuredClone(value)))),
    ask: async () => ({ items: [] }),
    waiting: () => [],
    ...more,
    act: async (type, set, as_of) => {
      acts.push([type, set]);
      await more.act?.(type, set, as_of);
    },
  });
  const root = document.createElement("main");
  document.body.replaceChildren(root);
  await screen.show(root, params);
  await settled();
  const text = () => root.textContent.replaceAll(/\s+/g, " ");
  const press = async (words) => {
    const buttons = root.all.filter((one) => one.tag === "button" && one.textContent.startsWith(words));
    if (!buttons.length) {
      throw new Error(`No button “${words}” in: ${text()}`);
    }
    buttons[0].listeners.get("click")();
    await settled();
  };
  const draw = async () => {
    drawers.forEach((one) => one());
    await settled();
  };
  /** The thing of an id, and what happens once the form it may stand in is sent. */
  const one = (id) => root.all.find((node) => node.attributes.get("id") === id);
  const submit = async () => {
    root.all.find((node) => node.tag === "form").listeners.get("submit")({ preventDefault: () => undefined });
    await settled();
  };
  /** Where links that begin with these words lead. */
  const links = (words) => root.all.filter((node) => node.tag === "a" && node.textContent.startsWith(words))
    .map((node) => node.attributes.get("href"));
  /** What is heard at a thing, and then at all that it stands in, as it stood when it began. */
  const happens = async (node, type, target) => {
    for (const at of around(node)) {
      at.listeners.get(type)?.({ target });
      at["on" + type]?.({ target });
    }
    await settled();
  };
  const around = (node) => (node ? [node, ...around(node.parent)] : []);
  /** Chooses of a list. */
  const choose = (id, value) => happens(one(id), "change", { value });
  const type = (id, value) => happens(one(id), "input", { value });
  /** Ticks, or not, the first thing whose label begins with these words. */
  const tick = (words, checked) => {
    const label = root.all.find((node) => node.tag === "label" && node.textContent.startsWith(words));
    return happens(label.all.find((node) => node.tag === "input"), "change", { checked });
  };
  /** Chooses one of several that are named alike. */
  const pick = (name, value) => happens(root.all.find((node) =>
    node.attributes.get("name") === name && node.value === value), "change", { value });
  return { text, press, acts, draw, one, submit, links, choose, type, tick, pick };
};
