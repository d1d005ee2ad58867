/* Sends a form that must not be lost, and keeps it on the screen until there is an answer.

A browser that sends a form itself shows its own error page where no answer comes, and what was
typed is gone. From here the form stays, says that it is not saved, and can be sent again: the
token in it lets it be recorded once (brewlog/views/submissions.py). Without scripts the browser
sends it as ever. */
"use strict";
(() => {
  const PATIENCE = 30_000; // milliseconds until no answer is taken for none
  const PATIENCE_WITH_FILES = 300_000;
  const BEFORE_A_WORD = 400; // most answers come sooner
  const waiting = new WeakSet();

  function unsay() {
    document.querySelectorAll(".sending").forEach((said) => said.remove());
  }

  /** Show the words of that template beside what was pressed. */
  function say(id, form, pressed) {
    unsay();
    const place = pressed?.closest(".actions, .round-enter") ?? form.querySelector(".actions");
    place.after(document.getElementById(id).content.cloneNode(true));
    place.nextElementSibling.scrollIntoView({ block: "nearest" });
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
    const answer = await fetch(location.href, {
      method: "POST",
      body: hasFiles ? typed : new URLSearchParams(typed),
      headers: { "X-Sent-From": "page" },
      redirect: "manual",
      signal: AbortSignal.timeout?.(hasFiles ? PATIENCE_WITH_FILES : PATIENCE),
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

  document.addEventListener("submit", (event) => {
    const form = event.target;
    // A button that leads elsewhere, as to another person, is the browser's own.
    if (!form.matches("form[data-kept]") || event.submitter?.hasAttribute("formaction")) return;
    event.preventDefault();
    if (!waiting.has(form)) send(form, event.submitter);
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
