// Keeps all files of one build for work without the network (W3C, Service Workers: Cache, fetch events). offline.py writes BUILD, the hash of
// the build, FILES, all that it has, and KERNELS, the worker that the page's kernels ask for their files, which goes on as it is.
"use strict";
(() => { // its names are its own: the kernels' worker stands beside it
  const BUILD = "{{BUILD}}";
  const FILES = {{FILES}};
  const KERNELS = "{{KERNELS}}";
  const CACHE = "workbook-" + BUILD;
  const ROOT = new URL("./", location.href);
  const ASIDE = ["api/drive", "api/stdin/", "api/service-worker-heartbeat"]; // what kernels ask of each other
  const NEVER_KEPT = "build.json"; // says which build lies on the server now
  const AT_ONCE = 4;
  let filling = null;

  const known = new Set(FILES);

  // The file that an address means, "" for none of ours: without what follows a "?", and a folder is its index.html.
  function fileOf(address) {
    const url = new URL(address);
    if (url.origin !== ROOT.origin || !url.pathname.startsWith(ROOT.pathname)) return "";
    const name = decodeURI(url.pathname.slice(ROOT.pathname.length));
    return name === "" || name.endsWith("/") ? name + "index.html" : name;
  }

  async function kept(name) {
    return (await caches.open(CACHE)).match(new URL(encodeURI(name), ROOT).href, { ignoreVary: true });
  }

  // Under an address that no other build has: what a browser or a server in between remembers of the one before is never mixed in.
  async function fetchAndKeep(name) {
    const answer = await fetch(new URL(encodeURI(name) + "?build=" + BUILD, ROOT).href);
    if (answer.ok && answer.type === "basic" && !answer.redirected) {
      const cache = await caches.open(CACHE);
      await cache.put(new URL(encodeURI(name), ROOT).href, answer.clone());
    }
    return answer;
  }

  async function answered(name) {
    return (await kept(name)) ?? fetchAndKeep(name);
  }

  // Fetch all that is not kept yet, a few at a time; what cannot be had now is tried when somebody asks again.
  async function fill() {
    const cache = await caches.open(CACHE);
    const have = new Set((await cache.keys()).map((request) => fileOf(request.url)));
    const left = FILES.filter((name) => !have.has(name));
    const one = async () => {
      for (let name = left.pop(); name !== undefined; name = left.pop()) {
        try {
          await fetchAndKeep(name);
        } catch {
          return; // the network is gone
        }
      }
    };
    await Promise.all(Array.from({ length: AT_ONCE }, one));
  }

  async function status() {
    const keys = await (await caches.open(CACHE)).keys();
    return { build: BUILD, kept: keys.filter((request) => known.has(fileOf(request.url))).length, of: FILES.length };
  }

  self.addEventListener("install", (event) => {
    event.stopImmediatePropagation(); // a new build waits until the pages of the one before are closed, or somebody takes it: none is mixed
  });

  self.addEventListener("activate", (event) => {
    event.stopImmediatePropagation();
    const olds = async () => {
      const names = await caches.keys();
      await Promise.all(names.filter((name) => name.startsWith("workbook-") && name !== CACHE).map((name) => caches.delete(name)));
      await self.clients.claim();
    };
    event.waitUntil(olds());
  });

  self.addEventListener("message", (event) => {
    if (event.data === "take") self.skipWaiting();
    if (event.data === "status" || event.data === "fill") {
      if (event.data === "fill") filling ??= fill().finally(() => (filling = null));
      event.waitUntil(Promise.all([filling, status().then((said) => event.ports[0]?.postMessage(said))]));
    }
  });

  self.addEventListener("fetch", (event) => {
    const name = fileOf(event.request.url);
    if (event.request.method !== "GET" || !known.has(name) || name === NEVER_KEPT || ASIDE.some((path) => name.includes(path))) return;
    event.stopImmediatePropagation();
    event.respondWith(answered(name));
  });

  if (KERNELS) importScripts(KERNELS + "?build=" + BUILD);
})();
