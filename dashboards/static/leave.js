// At the page of sign-in nobody is signed in: pages of rounds that were kept here for whoever was go away, so that the
// next one who holds this phone cannot open them, and with them what leads to them without a connection. Entries and
// photos that still wait for the service stay.

const WORKER = "/rounds/worker.js";
const NAME = "clutchwarden-rounds";
const WALK = /^\/rounds\/[0-9,]+/;

async function dropPages() {
  for (const name of await caches.keys()) {
    if (!name.startsWith(`${NAME}-`)) {
      continue;
    }
    const cache = await caches.open(name);
    for (const request of await cache.keys()) {
      if (WALK.test(new URL(request.url).pathname)) {
        await cache.delete(request);
      }
    }
  }
}

function dropWalks() {
  const request = indexedDB.open(NAME);
  // Where there is none yet, none is made: it would be one without its parts.
  request.onupgradeneeded = () => request.transaction.abort();
  request.onsuccess = () => {
    const db = request.result;
    db.onversionchange = () => db.close();
    if (db.objectStoreNames.contains("walks")) {
      db.transaction("walks", "readwrite").objectStore("walks").clear();
    }
    db.close();
  };
}

function dropPlain() {
  for (const key of Object.keys(localStorage)) {
    if (key.startsWith(`${NAME}:walks:`)) {
      localStorage.removeItem(key);
    }
  }
}

// It comes back with the first page of rounds that is opened here.
async function dropWorker() {
  for (const each of await navigator.serviceWorker.getRegistrations()) {
    if ((each.active ?? each.waiting ?? each.installing)?.scriptURL.endsWith(WORKER)) {
      await each.unregister();
    }
  }
}

// Each by itself: a browser may have some of them and not others.
for (const drop of [dropWorker, dropPages, dropWalks, dropPlain]) {
  try {
    Promise.resolve(drop()).catch(() => {});
  } catch {
    // There is nothing to be had here, so nothing was kept.
  }
}
