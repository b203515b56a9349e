// Lets the pages of a round be opened again without a connection. What the service answers always comes first; what is
// kept is shown only where nothing answers. It looks after the pages of rounds and what they are drawn with, and after
// nothing else.

const PREFIX = "clutchwarden-rounds-";
const CACHE = `${PREFIX}${VERSION}`;
const PATIENCE_MS = 6_000;
// Bad Gateway, Service Unavailable, Gateway Timeout (RFC 9110): something in between says that nothing answers.
const NOBODY_THERE = [502, 503, 504];
const WALK = new RegExp(`^${ROUNDS}/[0-9,]+`);

self.addEventListener("install", (event) => {
  event.waitUntil(caches.open(CACHE).then((cache) => cache.addAll(KEPT)).then(() => self.skipWaiting()));
});

self.addEventListener("activate", (event) => {
  event.waitUntil(movedOn().then(() => self.clients.claim()));
});

// Pages that an older version kept are as good as before; what they are drawn with is not.
async function movedOn() {
  const now = await caches.open(CACHE);
  for (const name of await caches.keys()) {
    if (!name.startsWith(PREFIX) || name === CACHE) {
      continue;
    }
    await caches.delete(name);
  }
  for (const client of await self.clients.matchAll({ includeUncontrolled: true })) {
    const walk = WALK.exec(new URL(client.url).pathname);
    if (walk) {
      await keep(now, walk[0]);
    }
  }
}

self.addEventListener("message", (event) => {
  const walk = WALK.exec(event.data?.keep ?? "");
  if (walk) {
    event.waitUntil(caches.open(CACHE).then((cache) => keep(cache, walk[0])));
  }
});

async function keep(cache, path) {
  try {
    // Not without an end: a worker that has just come answers nobody until this is done.
    const answer = await fetch(path, { redirect: "manual", cache: "no-store", signal: AbortSignal.timeout(PATIENCE_MS) });
    if (answer.ok) {
      await cache.put(path, answer);
    }
  } catch {
    // It stays as it was.
  }
}

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const address = new URL(request.url);
  if (request.method !== "GET" || address.origin !== location.origin) {
    return;
  }
  const walk = WALK.exec(address.pathname);
  if (request.mode === "navigate" && walk) {
    event.respondWith(page(request, walk[0]));
  } else if (KEPT.includes(address.pathname + address.search)) {
    event.respondWith(drawnWith(request));
  }
});

async function page(request, path) {
  const cache = await caches.open(CACHE);
  try {
    const answer = await answered(request);
    const kept = NOBODY_THERE.includes(answer.status) ? await cache.match(path) : undefined;
    if (kept) {
      return kept;
    }
    if (answer.type === "opaqueredirect") {
      // Nobody is signed in any more: what was kept for whoever was goes away. Entries are kept elsewhere.
      for (const each of await cache.keys()) {
        if (WALK.test(new URL(each.url).pathname)) {
          await cache.delete(each);
        }
      }
    }
    return answer;
  } catch (error) {
    const kept = await cache.match(path);
    if (kept) {
      return kept;
    }
    throw error;
  }
}

async function drawnWith(request) {
  try {
    const answer = await answered(request);
    return (NOBODY_THERE.includes(answer.status) && (await (await caches.open(CACHE)).match(request))) || answer;
  } catch (error) {
    const kept = await (await caches.open(CACHE)).match(request);
    if (kept) {
      return kept;
    }
    throw error;
  }
}

function answered(request) {
  return Promise.race([fetch(request), tooLong()]);
}

function tooLong() {
  return new Promise((_, reject) => {
    setTimeout(() => reject(new Error("no answer")), PATIENCE_MS);
  });
}
