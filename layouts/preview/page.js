// Keeps a page of the preview as the menu is: asks for the number of what is known, and where it is
// another one puts the new parts of the page in the place of the old ones.
"use strict";
const ASK_MS = 200, LOST_MS = 2000;
const said = document.getElementById("said");
let shown = said.dataset.number, newest = 0;

// The new parts of a page, their pictures ready, for those that differ; focus and what was opened stay.
async function put(address) {
  const turn = ++newest;
  const answer = await fetch(address);
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  await Promise.all([...page.querySelectorAll("img.print")].map((one) => ready(one.getAttribute("src"))));
  if (turn !== newest) return;
  if (!page.getElementById("said")) {
    said.textContent = page.body.textContent;
    said.className = "stopped";
    return;
  }
  for (const old of document.querySelectorAll("[data-live]")) {
    const fresh = page.getElementById(old.id);
    if (!fresh || fresh.innerHTML === old.dataset.served) continue;
    const focused = old.contains(document.activeElement) ? document.activeElement : null;
    const open = [...old.querySelectorAll("details[id]")].map((one) => [one.id, one.open]);
    old.dataset.served = fresh.innerHTML;
    old.replaceChildren(...fresh.childNodes);
    for (const [id, was] of open) {
      const same = document.getElementById(id);
      if (same) same.open = was;
    }
    if (focused) refocus(old, focused);
  }
  document.title = page.title;
  const now = page.getElementById("said");
  if (said.textContent !== now.textContent) said.textContent = now.textContent;
  said.className = now.className;
  shown = said.dataset.number = now.dataset.number;
}

async function ready(address) {
  const picture = new Image();
  picture.src = address;
  await picture.decode().catch(() => {});
}

// Focus goes to what has the same id or the same address, else to the part of the page.
function refocus(part, focused) {
  const href = focused.getAttribute("href");
  const same = focused.id ? document.getElementById(focused.id)
    : href && [...part.querySelectorAll("a")].find((one) => one.getAttribute("href") === href);
  (same || part).focus({ preventScroll: true });
}

async function ask() {
  let wait = ASK_MS;
  try {
    if (!document.hidden) {
      const number = await (await fetch(`/state?seen=${shown}`)).text();
      if (number !== shown) {
        shown = number;
        await put(location.href);
      }
    }
  } catch {
    said.textContent = document.body.dataset.ended;
    said.className = "stopped";
    shown = "0";
    wait = LOST_MS;
  }
  setTimeout(ask, wait);
}

// An order is shown as it is chosen; the page's address says it too.
document.addEventListener("change", (event) => {
  const form = event.target.closest("form#order");
  if (!form) return;
  const address = `${form.getAttribute("action")}?${new URLSearchParams(new FormData(form))}`;
  history.replaceState(null, "", address);
  put(address);
});

for (const one of document.querySelectorAll("[data-live]")) one.dataset.served = one.innerHTML;
if (matchMedia("(max-width: 60rem)").matches) document.getElementById("all-cards").open = false;
ask();
