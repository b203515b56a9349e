// Lets the pages of a round be opened again without a connection. What the service answers always comes first; what is
// kept is shown only where nothing answers. It looks after the pages of rounds and what they are drawn with. Of the ways
// to a round (the first page, the list of rounds, the summary) it keeps nothing: where a request for one of them fails,
// a small page says so and leads back to the walk. It looks after nothing else.

const PREFIX = "clutchwarden-rounds-";
const CACHE = `${PREFIX}${VERSION}`;
const PATIENCE_MS = 6_000;
// Bad Gateway, Service Unavailable, Gateway Timeout (RFC 9110): something in between says that nothing answers.
const NOBODY_THERE = [502, 503, 504];
const WALK = new RegExp(`^${ROUNDS}/[0-9,]+`);
const SUMMARY = new RegExp(`^${ROUNDS}/[0-9,]+/summary$`);
const DRAWN_WITH = [...new Set(KEPT.map((each) => each.split("?")[0]))];
const NETWORK_ALONE = "";
// What each page is drawn with comes from one version: the cache that the page came from, by the page's id; or the network
// alone for a page of another version. Of one that is not here the marks tell, as far as it asks for one that differs.
const drawnFrom = new Map();

self.addEventListener("install", (event) => {
  event.waitUntil(letOthersPass(event));
  event.waitUntil(caches.open(CACHE).then((cache) => cache.addAll(KEPT)).then(() => self.skipWaiting()));
});

self.addEventListener("activate", (event) => {
  event.waitUntil(movedOn().catch(() => {}).then(() => self.clients.claim()));
});

// Whatever is asked for elsewhere need not wait until this script has been started, in browsers that can be told so.
async function letOthersPass(event) {
  const ours = ["/", ROUNDS, `${ROUNDS}/*`, ...DRAWN_WITH].map((pathname) => ({ urlPattern: { pathname, search: "*" } }));
  try {
    await event.addRoutes?.([
      { condition: { or: ours }, source: "fetch-event" },
      { condition: { urlPattern: { pathname: "/*", search: "*" } }, source: "network" },
    ]);
  } catch {
    // All comes through here then, and what is not looked after passes all the same.
  }
}

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
  const isWayToOne = ["/", ROUNDS].includes(address.pathname) || SUMMARY.test(address.pathname);
  if (request.mode === "navigate" && isWayToOne) {
    event.respondWith(orNoConnection(fetch(request), event));
  } else if (request.mode === "navigate" && walk) {
    event.respondWith(page(event, walk[0]));
  } else if (DRAWN_WITH.includes(address.pathname) && mayBeKept(event.clientId, address)) {
    event.respondWith(drawnWith(request, drawnFrom.get(event.clientId)));
  }
});

function mayBeKept(client, address) {
  if (!drawnFrom.has(client) && !KEPT.includes(address.pathname + address.search)) {
    drawnFrom.set(client, NETWORK_ALONE);
  }
  return drawnFrom.get(client) !== NETWORK_ALONE;
}

// Only where no answer can come: one that is late, or says that something is wrong, is an answer.
async function orNoConnection(asked, event) {
  try {
    return await asked;
  } catch {
    drawnFrom.set(event.resultingClientId, CACHE);
    const headers = { ...HEADERS, "Content-Type": "text/html; charset=utf-8", "Cache-Control": "no-store" };
    return new Response(NO_CONNECTION, { status: 503, headers });
  }
}

async function page(event, path) {
  const asked = fetch(event.request);
  const answer = await inTime(asked);
  const kept = isNobody(answer) ? await found(path) : undefined;
  if (kept) {
    drawnFrom.set(event.resultingClientId, CACHE);
    return kept;
  }
  if (answer?.type === "opaqueredirect") {
    await forgetPages();
  }
  return answer ?? orNoConnection(asked, event);
}

// Nobody is signed in any more: what was kept for whoever was goes away. Entries are kept elsewhere.
async function forgetPages() {
  try {
    const cache = await caches.open(CACHE);
    for (const each of await cache.keys()) {
      if (WALK.test(new URL(each.url).pathname)) {
        await cache.delete(each);
      }
    }
  } catch {
    // What cannot be reached is shown to nobody.
  }
}

async function drawnWith(request, from) {
  const kept = from && (await found(request));
  if (kept) {
    return kept;
  }
  const asked = fetch(request);
  const answer = await inTime(asked);
  // Where nothing is kept, one that is late is waited for.
  return (isNobody(answer) && (await found(request))) || (answer ?? asked);
}

// A browser whose storage fails keeps nothing; what it asks the service for comes all the same.
async function found(asked) {
  try {
    return await caches.match(asked, { cacheName: CACHE });
  } catch {
    return undefined;
  }
}

function isNobody(answer) {
  return !answer || NOBODY_THERE.includes(answer.status);
}

// Gives nothing where no answer has come in time, or at all.
function inTime(asked) {
  return Promise.race([asked.catch(() => undefined), new Promise((go) => { setTimeout(go, PATIENCE_MS); })]);
}
