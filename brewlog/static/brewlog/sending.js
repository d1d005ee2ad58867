/* Sends a form that must not be lost, and keeps it on the screen until there is an answer.

A browser that sends a form itself shows its own error page where no answer comes, and what was
typed is gone. From here the form stays, says that it is not saved, and can be sent again: the
token in it lets it be recorded once (brewlog/views/submissions.py). Without scripts the browser
sends it as ever. */
"use strict";
(() => {
  const PATIENCE = 30_000; // milliseconds until no answer is taken for none
  const PATIENCE_WITH_FILES = 300_000; // also where many rows are recorded: data-kept="long"
  const BEFORE_A_WORD = 400; // most answers come sooner
  const waiting = new WeakSet();
  const reached = new WeakSet();

  function unsay() {
    document.querySelectorAll(".sending").forEach((said) => said.remove());
  }

  /** Show the words of that template beside what was pressed. */
  function say(id, form, pressed) {
    unsay();
    const actions = pressed?.closest(".actions, .round-enter") ?? form.querySelector(".actions");
    const place = actions ?? form.lastElementChild;
    place.after(document.getElementById(id).content.cloneNode(true));
    const said = place.nextElementSibling;
    if (id !== "still-sending" && !forgetPasswords(form)) {
      said.querySelectorAll(".about-passwords").forEach((words) => words.remove());
    }
    said.scrollIntoView({ block: "nearest" });
  }

  /** Empty the boxes of passwords and PINs, which nothing here keeps; whether there are any. */
  function forgetPasswords(form) {
    const boxes = form.querySelectorAll("input[type=password]");
    boxes.forEach((box) => { box.value = ""; });
    return boxes.length > 0;
  }

  /** Whether the answer is to log in first, because the session ended meanwhile. */
  function isLogIn(address) {
    const { logIn } = document.getElementById("logged-out").dataset;
    return address !== null && new URL(address, location.href).pathname === logIn;
  }

  async function post(form, pressed) {
    const typed = new FormData(form);
    // Who logged in anew in another tab has another token by now; the one on the page is old.
    const token = /(?:^|; )csrftoken=([^;]+)/.exec(document.cookie);
    if (token && typed.has("csrfmiddlewaretoken")) typed.set("csrfmiddlewaretoken", token[1]);
    if (pressed?.name) typed.append(pressed.name, pressed.value);
    const hasFiles = form.enctype === "multipart/form-data";
    const takesLong = hasFiles || form.dataset.kept === "long";
    const answer = await fetch(form.getAttribute("action") ?? location.href, {
      method: "POST",
      body: hasFiles ? typed : new URLSearchParams(typed),
      headers: { "X-Sent-From": "page" },
      redirect: "manual",
      signal: AbortSignal.timeout?.(takesLong ? PATIENCE_WITH_FILES : PATIENCE),
    });
    return [answer, await answer.text()];
  }

  function go(address) {
    const next = new URL(address, location.href);
    const here = location.href.split("#")[0];
    location.assign(next);
    if (next.hash && next.href.split("#")[0] === here) location.reload();
  }

  /** Put the page that was answered in place of this one; false where it is none of ours. */
  function show(text) {
    const page = new DOMParser().parseFromString(text, "text/html");
    if (!page.getElementById("main")) return false;
    document.title = page.title;
    document.body.replaceWith(page.body);
    window.htmx?.process(document.body);
    window.scrollTo(0, 0);
    const first = document.querySelector("[autofocus]") ?? document.getElementById("errors");
    (first ?? document.getElementById("main")).focus();
    return true;
  }

  async function send(form, pressed) {
    waiting.add(form);
    const slow = setTimeout(() => say("still-sending", form, pressed), BEFORE_A_WORD);
    let isAnswered = false;
    let words = "not-saved";
    try {
      const [answer, text] = await post(form, pressed);
      const leadsTo = answer.headers.get("Location");
      if (isLogIn(leadsTo)) words = "logged-out";
      else isAnswered = leadsTo !== null || (answer.status < 500 && show(text));
      if (isAnswered && leadsTo !== null) return go(leadsTo); // and nothing is pressed again meanwhile
    } catch (error) {
      // No connection, or no answer in time: said below. Any other fault is one of ours.
      if (!(error instanceof TypeError || error instanceof DOMException)) throw error;
    } finally {
      clearTimeout(slow);
    }
    waiting.delete(form);
    if (!isAnswered) say(words, form, pressed);
  }

  /** Let the browser take the form elsewhere, as to another person, once the server answers. */
  async function lead(form, pressed) {
    const { logIn } = document.getElementById("logged-out").dataset;
    try {
      const signal = AbortSignal.timeout?.(PATIENCE);
      await fetch(logIn, { method: "HEAD", redirect: "manual", signal });
    } catch (error) {
      if (!(error instanceof TypeError || error instanceof DOMException)) throw error;
      return say("not-saved", form, pressed);
    }
    reached.add(form);
    form.requestSubmit(pressed);
  }

  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (!form.matches("form[data-kept]") || reached.delete(form)) return;
    event.preventDefault();
    if (event.submitter?.hasAttribute("formaction")) lead(form, event.submitter);
    else if (!waiting.has(form)) send(form, event.submitter);
  });

  // Parts of a form that are sent by themselves: a row of a round, a form being put aside.
  for (const failed of ["htmx:sendError", "htmx:timeout", "htmx:responseError"]) {
    document.addEventListener(failed, (event) => {
      const form = event.target.closest("form[data-kept]");
      if (form && event.detail.requestConfig.verb === "post") say("not-saved", form, event.target);
    });
  }
  document.addEventListener("htmx:afterRequest", (event) => {
    if (event.detail.successful && event.detail.requestConfig.verb === "post") unsay();
  });
  window.addEventListener("pageshow", unsay); // come back to by the back button
})();
