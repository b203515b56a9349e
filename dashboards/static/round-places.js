// The places where a browser keeps something: its database, its plain storage, and, as long as the page lives, memory.

const NAME = "clutchwarden-rounds";
const KINDS = ["entries", "photos", "walks"];

// A request may be left without an answer for ever. Longer than the slowest phone takes; whoever asks then goes on.
const PATIENCE_MS = 10_000;
const OPEN_PATIENCE_MS = 30_000;

function within(promise, late = () => {}) {
  let timer = 0;
  const tooLong = new Promise((_, reject) => {
    timer = setTimeout(() => {
      reject(new DOMException("The database does not answer.", "TimeoutError"));
      late();
    }, PATIENCE_MS);
  });
  return Promise.race([promise, tooLong]).finally(() => clearTimeout(timer));
}

function asked(request) {
  return within(new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  }));
}

export function opened() {
  return new Promise((resolve, reject) => {
    let isTooLate = false;
    const fail = (error) => {
      isTooLate = true;
      reject(error);
    };
    const request = indexedDB.open(NAME, 1);
    request.onupgradeneeded = () => KINDS.forEach((kind) => request.result.createObjectStore(kind, { keyPath: "id" }));
    // One that nobody waits for any more would stand in the way of others.
    request.onsuccess = () => (isTooLate ? request.result.close() : resolve(request.result));
    request.onerror = () => fail(request.error);
    request.onblocked = () => fail(new Error("another page holds it"));
    setTimeout(() => fail(new Error("no answer")), OPEN_PATIENCE_MS);
  });
}

export class Database {
  constructor(db) {
    this.db = db;
  }

  all(kind) {
    return asked(this.db.transaction(kind).objectStore(kind).getAll());
  }

  get(kind, id) {
    return asked(this.db.transaction(kind).objectStore(kind).get(id));
  }

  put(kind, value) {
    return this.change(kind, (store) => store.put(value));
  }

  remove(kind, id) {
    return this.change(kind, (store) => store.delete(id));
  }

  // Done only when it is on the disk of the phone.
  change(kind, work) {
    const step = this.db.transaction(kind, "readwrite", { durability: "strict" });
    const done = new Promise((resolve, reject) => {
      step.oncomplete = () => resolve();
      step.onabort = () => reject(step.error);
      step.onerror = () => reject(step.error);
      work(step.objectStore(kind));
    });
    return within(done, () => giveUp(step));
  }
}

function giveUp(step) {
  try {
    step.abort();
  } catch {
    // It was done at the last moment.
  }
}

const BINARY = "binary:";

function packed(value) {
  return JSON.stringify(value, (_name, part) => {
    if (!(part instanceof ArrayBuffer)) {
      return part;
    }
    return BINARY + btoa(Array.from(new Uint8Array(part), (byte) => String.fromCharCode(byte)).join(""));
  });
}

function unpacked(text) {
  return JSON.parse(text, (_name, part) => {
    if (typeof part !== "string" || !part.startsWith(BINARY)) {
      return part;
    }
    return Uint8Array.from(atob(part.slice(BINARY.length)), (letter) => letter.charCodeAt(0)).buffer;
  });
}

export class PlainStorage {
  async all(kind) {
    const start = `${NAME}:${kind}:`;
    const keys = Array.from({ length: localStorage.length }, (_, at) => localStorage.key(at));
    return keys.filter((key) => key.startsWith(start)).map((key) => unpacked(localStorage.getItem(key)));
  }

  async get(kind, id) {
    const text = localStorage.getItem(`${NAME}:${kind}:${id}`);
    return text === null ? undefined : unpacked(text);
  }

  async put(kind, value) {
    localStorage.setItem(`${NAME}:${kind}:${value.id}`, packed(value));
  }

  async remove(kind, id) {
    localStorage.removeItem(`${NAME}:${kind}:${id}`);
  }

  async removeUnchanged(kind, value) {
    if (localStorage.getItem(`${NAME}:${kind}:${value.id}`) === packed(value)) {
      localStorage.removeItem(`${NAME}:${kind}:${value.id}`);
    }
  }
}

// As long as the page lives.
export class Memory {
  kinds = new Map(KINDS.map((kind) => [kind, new Map()]));

  async all(kind) {
    return [...this.kinds.get(kind).values()];
  }

  async get(kind, id) {
    return this.kinds.get(kind).get(id);
  }

  async put(kind, value) {
    this.kinds.get(kind).set(value.id, value);
  }

  async remove(kind, id) {
    this.kinds.get(kind).delete(id);
  }

  async removeUnchanged(kind, value) {
    if (this.kinds.get(kind).get(value.id) === value) {
      this.kinds.get(kind).delete(value.id);
    }
  }
}

// A few short texts that have to be kept at once, before the page may be gone.
export const small = {
  works: (() => {
    try {
      localStorage.setItem(`${NAME}:try`, "1");
      localStorage.removeItem(`${NAME}:try`);
      return true;
    } catch {
      return false;
    }
  })(),
  get: (name) => (small.works ? localStorage.getItem(`${NAME}.${name}`) : null),
  set(name, text) {
    if (small.works) {
      try {
        localStorage.setItem(`${NAME}.${name}`, text);
      } catch {
        // There is no room: the text stays in its field.
      }
    }
  },
  remove(name) {
    if (small.works) {
      localStorage.removeItem(`${NAME}.${name}`);
    }
  },
};
