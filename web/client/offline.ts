// Runs beside the pages where the browser allows it (HTTPS, or the bench computer
// itself): keeps the pages of pieces and what they need, so that one opens again
// without the network. What the bench can answer it always answers itself.
type Waits = Event & { request: Request; respondWith(r: Promise<Response>): void };

const drawer = "thrum-pages-1";

addEventListener("fetch", (event) => {
  const e = event as Waits, url = new URL(e.request.url);
  if (e.request.method !== "GET" || url.origin !== location.origin) return;
  const page = e.request.mode === "navigate" && /^\/pieces\/[^/]+$/.test(url.pathname);
  if (!page && !url.pathname.startsWith("/assets/")) return;
  e.respondWith(answer(e.request, page));
});

async function answer(request: Request, page: boolean): Promise<Response> {
  const kept = await caches.open(drawer);
  if (!page) {
    const have = await kept.match(request); // assets never change under their name
    if (have) return have;
  }
  try {
    const fresh = await fetch(request);
    if (fresh.ok && !fresh.redirected) await kept.put(request, fresh.clone());
    return fresh;
  } catch (e) {
    const have = await kept.match(request, { ignoreSearch: true });
    if (have) return have;
    throw e;
  }
}
