// Keeps what is entered in this browser until the service has it: in its database, or where that is not to be had in
// its plain storage. What was kept is there again after a reload, a closed tab and a flat battery.

import { Database, Memory, PlainStorage, opened, small } from "./round-places.js";

const ALIVE_MS = 4_000;
const AGAIN_MS = 2_000;
const UNSENT = ["entries", "photos"];

// What is kept, wherever it is: a database that gives no answer today has what it kept when it gives one tomorrow, and
// what was kept beside it meanwhile is moved into it then. `moved` is called when that has happened.
class Store {
  constructor(moved) {
    this.moved = moved;
    this.plain = small.works ? new PlainStorage() : null;
    this.memory = new Memory();
    // What this page entered and the service does not have: a browser may throw its database away under an open page.
    this.seen = new Memory();
    this.database = null;
    this.opening = null;
    this.askedAt = -Infinity;
  }

  // Something of what was entered lives no longer than this page.
  get keepsNothing() {
    return this.plain === null && this.database === null || UNSENT.some((kind) => this.memory.kinds.get(kind).size > 0);
  }

  // There was a database on this phone, and what it keeps cannot be read just now.
  get isHalf() {
    return this.database === null && small.get("database") !== null;
  }

  // Gives the database; null where it is not to be had just now. Some browsers do not answer for long after a start.
  async reach() {
    if (this.database === null && this.opening === null && performance.now() - this.askedAt >= AGAIN_MS) {
      this.askedAt = performance.now();
      this.opening = this.open();
    }
    if (this.database === null && this.opening !== null && performance.now() - this.askedAt < ALIVE_MS) {
      await Promise.race([this.opening, later(ALIVE_MS)]);
    }
    return this.database;
  }

  async open() {
    try {
      const db = await opened();
      db.onversionchange = () => this.lose(db);
      db.onclose = () => this.lose(db);
      await this.moveInto(new Database(db));
      this.moved();
    } catch {
      // The next one who asks tries again.
    } finally {
      this.opening = null;
    }
  }

  lose(db) {
    db.close();
    if (this.database?.db === db) {
      this.database = null;
      this.askedAt = -Infinity;
      this.rescue().then(() => this.moved());
    }
  }

  // What went with the database is kept beside it until there is one again.
  async rescue() {
    for (const kind of UNSENT) {
      const beside = this.plain === null ? [] : (await this.plain.all(kind)).map((each) => each.id);
      for (const each of await this.seen.all(kind)) {
        if (!beside.includes(each.id)) {
          await this.putBeside(kind, each);
        }
      }
    }
  }

  // What is kept beside it goes only once it is all in the database and read from there, so that at no moment it is
  // nowhere; and not where it has changed since, for what is beside counts more.
  async moveInto(database) {
    const copied = [];
    try {
      for (const kind of UNSENT) {
        const there = new Set((await database.all(kind)).map((each) => each.id));
        for (const each of await this.seen.all(kind)) {
          if (!there.has(each.id)) {
            await database.put(kind, each);
          }
        }
        for (const place of this.beside()) {
          for (const each of await place.all(kind)) {
            // What has no id says nothing, and no database takes it.
            if (each.id !== undefined) {
              await database.put(kind, each);
            }
            copied.push([place, kind, each]);
          }
        }
      }
    } catch (error) {
      database.db.close();
      throw error;
    }
    this.database = database;
    small.set("database", "yes");
    for (const [place, kind, each] of copied) {
      await place.removeUnchanged(kind, each);
    }
  }

  beside() {
    return [this.plain, this.memory].filter(Boolean);
  }

  async all(kind) {
    const found = await this.inDatabase((database) => database.all(kind), []);
    for (const place of [...(this.database === null ? [this.seen] : []), ...this.beside()]) {
      found.push(...(await place.all(kind)));
    }
    return [...new Map(found.map((each) => [each.id, each])).values()];
  }

  async get(kind, id) {
    for (const place of this.beside().reverse()) {
      const found = await place.get(kind, id);
      if (found !== undefined) {
        return found;
      }
    }
    return this.inDatabase((database) => database.get(kind, id), undefined);
  }

  // Never fails for what somebody entered: where no place of the browser takes it, it lives as long as the page.
  async put(kind, value) {
    const isEntered = UNSENT.includes(kind);
    if (isEntered) {
      await (value.status === "stored" ? this.seen.remove(kind, value.id) : this.seen.put(kind, value));
    }
    // Before a database is waited for: whoever has tapped may be gone before it answers. Photos are too large for that
    // where there is one.
    const isEarly = kind === "entries" || (isEntered && this.database === null);
    const isBeside = isEarly && (await this.putBeside(kind, value));
    if (isBeside && this.database === null) {
      return this.memory.remove(kind, value.id);
    }
    if (isEntered && !isBeside && this.database === null) {
      await this.memory.put(kind, value);
    }
    // What is put beside it meanwhile, here or in another tab, is newer.
    const stale = isBeside ? value : await this.plain?.get(kind, value.id);
    if (await this.inDatabase((database) => database.put(kind, value).then(() => true), false)) {
      await this.memory.remove(kind, value.id);
      if (stale !== undefined) {
        await this.plain.removeUnchanged(kind, stale);
      }
    } else if (isBeside || (await this.putBeside(kind, value))) {
      await this.memory.remove(kind, value.id);
    } else if (isEntered) {
      await this.memory.put(kind, value);
    }
  }

  async putBeside(kind, value) {
    // The first try may find no room; walks can be loaded again.
    for (const isLast of [false, true]) {
      try {
        await this.plain.put(kind, value);
        return true;
      } catch {
        if (!isLast && this.plain && kind !== "walks") {
          await this.clearWalks(this.plain);
        }
      }
    }
    return false;
  }

  async clearWalks(place) {
    for (const each of await place.all("walks")) {
      await place.remove("walks", each.id);
    }
  }

  async remove(kind, id) {
    await this.clear(kind, id, [...this.beside(), this.seen]);
    await this.inDatabase((database) => database.remove(kind, id), undefined);
  }

  async clear(kind, id, places) {
    for (const place of places) {
      await place.remove(kind, id);
    }
  }

  // A database that was closed under the page is opened once more; one that has kept us waiting is not waited for again.
  async inDatabase(work, otherwise) {
    for (const _ of [1, 2]) {
      const database = await this.reach();
      if (database === null) {
        return otherwise;
      }
      try {
        return await work(database);
      } catch (error) {
        if (error?.name === "QuotaExceededError") {
          return otherwise;
        }
        this.lose(database.db);
        if (error?.name === "TimeoutError") {
          return otherwise;
        }
      }
    }
    return otherwise;
  }
}

function later(ms) {
  return new Promise((resolve) => {
    setTimeout(resolve, ms);
  });
}

// At once, also while the database is still to answer: whoever keeps something waits for it as long as is useful.
export function openStore(moved = () => {}) {
  const store = new Store(moved);
  store.reach();
  return store;
}
