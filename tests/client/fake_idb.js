// As much of IndexedDB as the client uses, in memory: transactions of one database one after the other, each whole or not at
// all, ending by themselves when nothing of them is under way. Values are copied, as a disk would.

const inside = (range, key) => {
  if (range === undefined || !(range instanceof KeyRange)) {
    return range === undefined || range === key;
  }
  const { lower, upper, lowerOpen, upperOpen } = range;
  return (lower === undefined || (lowerOpen ? key > lower : key >= lower)) &&
    (upper === undefined || (upperOpen ? key < upper : key <= upper));
};

class KeyRange {
  constructor(lower, upper, lowerOpen = false, upperOpen = false) {
    Object.assign(this, { lower, upper, lowerOpen, upperOpen });
  }
  static bound = (lower, upper, lowerOpen, upperOpen) => new KeyRange(lower, upper, lowerOpen, upperOpen);
  static lowerBound = (lower, open) => new KeyRange(lower, undefined, open);
  static upperBound = (upper, open) => new KeyRange(undefined, upper, false, open);
}

/** A store within a transaction. `rows` is the transaction's own copy. */
class Store {
  constructor(tx, name, { keyPath, rows }) {
    Object.assign(this, { tx, name, keyPath, rows: new Map(rows) });
  }
  #keys = (range) => [...this.rows.keys()].filter((key) => inside(range, key)).sort((a, b) => (a < b ? -1 : 1));
  get = (key) => this.tx.ask(() => structuredClone(this.rows.get(key)));
  getAll = (range) => this.tx.ask(() => this.#keys(range).map((key) => structuredClone(this.rows.get(key))));
  getAllKeys = (range) => this.tx.ask(() => this.#keys(range));
  put(value, key = value[this.keyPath]) {
    this.tx.refuses?.(this.name, key);
    const copy = structuredClone(value);
    return this.tx.ask(() => void this.rows.set(key, copy));
  }
  delete = (range) => this.tx.ask(() => this.#keys(range).forEach((key) => this.rows.delete(key)));
  clear = () => this.tx.ask(() => this.rows.clear());
}

class Transaction {
  #requests = [];
  #over = false;
  error = null;
  constructor(data, names, done) {
    this.refuses = fakes.refuses;
    this.data = data;
    this.done = done;
    this.stores = new Map(names.map((name) => [name, null]));
  }
  objectStore(name) {
    const store = this.stores.get(name) ?? new Store(this, name, this.data.get(name));
    this.stores.set(name, store);
    return store;
  }
  ask(work) {
    if (this.#over) {
      throw new DOMException("over", "TransactionInactiveError");
    }
    const request = { work };
    this.#requests.push(request);
    return request;
  }
  /** One request a turn, so that what waits for its result can ask for more. */
  begin() {
    // What was not asked of it before it begins is read as it is now.
    this.stores.forEach((store, name) => store && (store.rows = new Map(this.data.get(name).rows)));
    const turn = () => {
      const next = this.#over ? undefined : this.#requests.shift();
      if (next) {
        next.result = next.work();
        next.onsuccess?.();
        return setImmediate(turn);
      }
      if (!this.#over) {
        this.#over = true;
        this.stores.forEach((store, name) => store && (this.data.get(name).rows = store.rows));
        this.oncomplete?.();
      }
      this.done();
    };
    setImmediate(turn);
  }
  abort() {
    if (this.#over) {
      throw new DOMException("over", "InvalidStateError");
    }
    this.#over = true;
    queueMicrotask(() => this.onabort?.());
  }
}

class Database {
  #waiting = [];
  #busy = false;
  constructor() {
    this.data = new Map();
  }
  createObjectStore = (name, { keyPath } = {}) => void this.data.set(name, { keyPath, rows: new Map() });
  transaction(names) {
    if (this.closed) {
      throw new DOMException("closed", "InvalidStateError");
    }
    const tx = new Transaction(this.data, names, () => {
      this.#busy = false;
      this.#next();
    });
    this.#waiting.push(tx);
    this.#next();
    return tx;
  }
  #next() {
    const tx = this.#busy ? undefined : this.#waiting.shift();
    if (tx) {
      this.#busy = true;
      tx.begin();
    }
  }
  close() {}
}

const databases = new Map();

/** The browser closes a database under whoever has it open; it goes on as another. */
const lose = (name) => {
  const [before, after] = [databases.get(name), new Database()];
  before.closed = true;
  after.data = before.data;
  databases.set(name, after);
};

/**
 * What a test may set: `refuses(store, key)` throws for what is not to be put; `opens(name)` gives an error where nothing is
 * to be opened. And what a browser does by itself.
 */
export const fakes = {
  refuses: undefined,
  opens: undefined,
  lose,
  has: (name) => databases.has(name),
  evict: (name) => {
    databases.get(name).closed = true;
    databases.delete(name);
  },
  forget: () => databases.clear(),
};

globalThis.IDBKeyRange = KeyRange;
globalThis.indexedDB = {
  open(name) {
    const request = {};
    queueMicrotask(() => {
      request.error = fakes.opens?.(name);
      request.result = databases.get(name) ?? new Database();
      request.transaction = { abort: () => (request.error = new DOMException("aborted", "AbortError")) };
      if (!request.error && !databases.has(name)) {
        request.onupgradeneeded?.();
      }
      if (request.error) {
        return request.onerror();
      }
      databases.set(name, request.result);
      request.onsuccess?.();
    });
    return request;
  },
  deleteDatabase: (name) => void databases.delete(name),
};
