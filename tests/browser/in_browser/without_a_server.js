// The line at the foot of the page: what it cannot do without a server, how much of it this browser keeps, and whether a newer build lies on
// the server. BUILD is the hash of the build that this page is of.
"use strict";
const BUILD = "{{BUILD}}";
const CANNOT = {{CANNOT}};
const ROOT = new URL("./", document.currentScript.src);
const EVERY_MS = 3000;
const LOADED_MS = 20_000; // what a page needs now comes first; a page that asks is kept as it comes

const box = document.createElement("details");
box.id = "without-a-server";
box.style.cssText =
  "position:fixed;right:8px;bottom:30px;z-index:900;max-width:460px;max-height:60vh;overflow:auto;padding:4px 10px;border:1px solid #1b2733;" +
  "border-radius:4px;background:#fff;color:#1b2733;font:14px/1.4 sans-serif";
const line = document.createElement("summary");
const list = document.createElement("ul");
list.style.cssText = "margin:6px 0;padding-left:18px";
for (const words of CANNOT) list.append(Object.assign(document.createElement("li"), { textContent: words }));
const take = Object.assign(document.createElement("button"), { textContent: "Take the newer build", hidden: true });
box.append(line, take, "Without a server of its own this page cannot:", list);
const show = () => document.body.append(box);
document.body ? show() : addEventListener("DOMContentLoaded", show);

const loadedMs = new URLSearchParams(location.search).has("path") ? LOADED_MS : 0;

function ask(worker, words) {
  return new Promise((told) => {
    const channel = new MessageChannel();
    channel.port1.onmessage = (event) => told(event.data);
    worker.postMessage(words, [channel.port2]);
    setTimeout(() => told(null), EVERY_MS);
  });
}

// Which build lies on the server: its hash, null where nobody answers.
async function onServer() {
  try {
    const answer = await fetch(new URL("build.json", ROOT), { cache: "no-store" });
    return answer.ok ? (await answer.json()).build : null;
  } catch {
    return null;
  }
}

function words(said, there) {
  const network = there === null ? "Without the network. " : "";
  if (there !== null && there !== BUILD) return "A newer build of this page lies on the server.";
  if (!said) return network || "Not kept for work without the network.";
  if (said.kept < said.of) return `${network}Kept for work without the network: ${said.kept} of ${said.of} files.`;
  return network ? "Without the network: as this browser keeps it." : "All of it is kept: it opens without the network.";
}

async function look() {
  const there = await onServer();
  const registration = await navigator.serviceWorker?.getRegistration(ROOT);
  const worker = registration?.active;
  const said = worker ? await ask(worker, there === null || performance.now() < loadedMs ? "status" : "fill") : null;
  line.textContent = words(said, there);
  const newer = there !== null && there !== BUILD;
  take.hidden = !newer;
  if (newer && registration && !registration.waiting && !registration.installing) registration.update().catch(() => {});
  box.dataset.build = BUILD;
  box.dataset.kept = said ? `${said.kept}/${said.of}` : "";
  setTimeout(look, EVERY_MS);
}

take.onclick = async () => {
  const registration = await navigator.serviceWorker?.getRegistration(ROOT);
  await registration?.update().catch(() => {});
  const coming = registration?.waiting ?? registration?.installing;
  if (!coming) return location.reload();
  navigator.serviceWorker.addEventListener("controllerchange", () => location.reload());
  const go = () => coming.state === "installed" && coming.postMessage("take");
  coming.addEventListener("statechange", go);
  go();
};

look();
