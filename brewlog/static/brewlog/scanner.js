/* Takes a scan where nothing is being typed to the box that finds things.

A scanner plugged in as a keyboard types a code faster than any hand and ends with Enter. While a
field has the focus it types there. Elsewhere its signs would be lost, or its Enter would follow a
link: from here they go where a code is looked for. Keys pressed by hand do nothing, and neither
does a scan that came in pieces: the rest of a code may be the code of another lot. */
"use strict";
(() => {
  const FASTEST_HAND = 50; // milliseconds between two keys (common practice for such scanners)
  const PAUSE = 500; // milliseconds, after which a key begins anew
  const SHORTEST = 4; // signs
  let signs = "";
  let isBroken = false;
  let last = -PAUSE;

  document.addEventListener("keydown", (event) => {
    const box = document.getElementById("find-words");
    if (!box || event.target.closest("input, textarea, select, [contenteditable]")) return;
    if (event.ctrlKey || event.altKey || event.metaKey || event.key === "Shift") return;
    const since = event.timeStamp - last;
    last = event.timeStamp;
    if (since >= PAUSE) {
      signs = "";
      isBroken = false;
    } else if (since >= FASTEST_HAND) {
      isBroken = true;
    }
    if (event.key === "Enter" && !isBroken && signs.length >= SHORTEST) {
      event.preventDefault();
      box.value = signs;
      signs = "";
      box.form.requestSubmit();
    } else if (event.key.length === 1) {
      signs += event.key;
    } else {
      isBroken = true;
    }
  });
})();
