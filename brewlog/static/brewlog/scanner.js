/* Takes a scan where nothing is being typed to the box that finds things.

A scanner plugged in as a keyboard types a code faster than any hand and ends with Enter. While a
field has the focus it types there. Elsewhere its signs would be lost, or its Enter would follow a
link: from here they go where a code is looked for. Keys pressed by hand do nothing. */
"use strict";
(() => {
  const FASTEST_HAND = 50; // milliseconds between two keys (common practice for such scanners)
  const SHORTEST = 4; // signs
  let signs = "";
  let last = 0;

  document.addEventListener("keydown", (event) => {
    const box = document.getElementById("find-words");
    if (!box || event.target.closest("input, textarea, select, [contenteditable]")) return;
    if (event.ctrlKey || event.altKey || event.metaKey) return;
    const isNext = event.timeStamp - last < FASTEST_HAND;
    last = event.timeStamp;
    if (event.key === "Enter" && isNext && signs.length >= SHORTEST) {
      event.preventDefault();
      box.value = signs;
      signs = "";
      box.form.requestSubmit();
    } else if (event.key.length === 1) {
      signs = isNext ? signs + event.key : event.key;
    } else if (event.key !== "Shift") {
      signs = "";
    }
  });
})();
