/* The whole site in this browser: a version is kept whole or not at all, and read whole. */
const SITE = /*site*/{ version: "", files: {} };
const CACHE = `mechlogic ${registration.scope} ${SITE.version}`;

/** Every file, checked against its hash: a version that changes meanwhile is not kept. */
async function install() {
  const cache = await caches.open(CACHE);
  const names = Object.entries(SITE.files);
  await Promise.all([0, 1, 2, 3].map(async (first) => {
    for (let k = first; k < names.length; k += 4) {
      const [name, integrity] = names[k];
      const address = new URL(name, registration.scope);
      const answer = await fetch(address, { integrity }).catch(() => fetch(address, { integrity, cache: "reload" }));
      if (!answer.ok) throw new Error(`${name}: ${answer.status}`);
      await cache.put(address, answer);
    }
  }));
}

async function forget() {
  const old = (await caches.keys()).filter((name) => name.startsWith(`mechlogic ${registration.scope} `) && name !== CACHE);
  await Promise.all(old.map((name) => caches.delete(name)));
}

async function answer(request) {
  const address = new URL(request.url);
  if (address.pathname.endsWith("/")) address.pathname += "index.html";
  const cache = await caches.open(CACHE);
  return (await cache.match(address, { ignoreSearch: true })) ?? fetch(request);
}

self.oninstall = (event) => event.waitUntil(install());
self.onactivate = (event) => event.waitUntil(forget());
self.onfetch = (event) => {
  if (event.request.method === "GET" && event.request.url.startsWith(registration.scope)) event.respondWith(answer(event.request));
};
