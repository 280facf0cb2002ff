// Only adds to pages that work without it: keeps what is typed, counts ages and deadlines on, looks for what is newer,
// and says when a page comes from the telephone because there is no reception.
(function () {
  "use strict";
  function every(selector, act) { document.querySelectorAll(selector).forEach(act); }
  function long(minutes) { return minutes < 120 ? minutes + " min" : Math.floor(minutes / 60) + " h " + String(minutes % 60).padStart(2, "0") + " min"; }
  function clock(stamp) { return stamp.slice(11, 13) + stamp.slice(14, 16) + "Z"; }
  function banner(name) {
    var said = document.createElement("p");
    said.className = "stale";
    said.setAttribute("role", "status");
    said.dataset.part = name;
    said.hidden = true;
    if (name === "newer") document.getElementById("main").prepend(said);
    else document.querySelector(".first header").after(said);
    return said;
  }

  // What was typed is kept for this tab: until a form was taken, and over a change of colours.
  var typed = "typed:" + location.pathname, taken = "taken";
  function fields() {
    return Array.from(document.querySelectorAll("form[method=post]:not(.themes) input:not([type=hidden]):not([type=file]), form[method=post] textarea, form[method=post] select"));
  }
  function put(name) {
    var found = fields().map(function (one) { return one.type === "radio" || one.type === "checkbox" ? one.checked : one.value; });
    try { sessionStorage.setItem(name, JSON.stringify(found)); } catch (error) { /* no room: nothing is kept */ }
  }
  function back(name) {
    var found = JSON.parse(sessionStorage.getItem(name) || "null"), here = fields();
    sessionStorage.removeItem(name);
    if (!found || found.length !== here.length) return false;
    here.forEach(function (one, at) {
      if (one.type === "radio" || one.type === "checkbox") one.checked = found[at];
      else one.value = found[at];
      var fold = one.closest("details");
      if (fold && one.value && one.type !== "radio") fold.open = true;
    });
    return true;
  }
  var ask = document.getElementById("ask");
  if (document.querySelector(".first, .wall, [data-walk]")) sessionStorage.removeItem(taken);
  if (ask && ask.getAttribute("action") === "/brief") {
    // a form that never came to a page of ours, as after an answer of somebody else's: here it is again
    if (!document.querySelector(".problem") && back(taken)) {
      var note = document.createElement("p");
      note.className = "note";
      note.textContent = "What you typed before is back.";
      ask.before(note);
    }
    ask.addEventListener("submit", function () { put(taken); });
  }
  back(typed);
  every("form.themes", function (form) { form.addEventListener("submit", function () { if (!ask) put(typed); }); });

  var first = document.querySelector(".first");
  if (!first) return;

  // The server's time, counted on by the steps of the telephone's clock: how that clock is set plays no part.
  var kept = +document.documentElement.dataset.kept || 0, begun = kept || Date.now();
  function now() { return Date.parse(first.dataset.now) + Date.now() - begun; }
  function past(stamp) { return Math.floor((now() - Date.parse(stamp)) / 60000); }
  var aged = null, away = null;
  function tick() {
    if (!first.dataset.now) return;
    var off = Math.floor((Date.parse(first.dataset.off) - now()) / 60000);
    var over = now() > Date.parse(first.dataset.off);
    first.querySelector('[data-part="ahead"]').textContent = over ? long(past(first.dataset.off)) + " ago" : "in " + long(off);
    every(".first [data-age]", function (one) {
      var age = past(one.dataset.age);
      one.textContent = age >= 0 ? long(age) + " old" : long(-age) + " after now";
    });
    every(".due[data-by]", function (one) {
      if (now() <= Date.parse(one.dataset.by)) return;
      one.textContent = "Now:";
      one.classList.add("late");
    });
    every(".answer[data-by], .answer li[data-by]", function (one) {
      if (now() <= Date.parse(one.dataset.by)) return;
      one.classList.add("grave");
      if (one.tagName === "LI") one.querySelector(".lead").textContent = "Late, now";
      else one.querySelector(".verdict").textContent = one.dataset.late;
    });
    var age = first.dataset.issued ? past(first.dataset.issued) : 0;
    var text = over ? first.dataset.over : age > 90 ? "The report is " + long(age) + " old: get a newer one" : "";
    if (text && !first.classList.contains("gone")) say(text);
    if (kept) {
      away = away || banner("kept");
      away.hidden = false;
      away.textContent = "No reception: kept on this telephone at " + clock(first.dataset.now) + ", " + long(past(first.dataset.now)) + " ago. It may be stale";
    }
  }
  function say(text) {
    aged = aged || document.querySelector('[data-part="aged"]') || banner("aged");
    if (aged.textContent.indexOf(text) >= 0) return;
    var link = document.createElement("a");
    link.href = first.dataset.again;
    link.textContent = text;
    aged.replaceChildren(link);
    aged.hidden = false;
  }
  tick();
  setInterval(tick, 10000);
  document.addEventListener("visibilitychange", tick);
  // back in reception: the page itself, not what was kept of it
  function again() {
    fetch("/healthz").then(function (answer) { if (answer.ok) location.reload(); }).catch(function () {});
  }
  if (kept) { window.addEventListener("online", again); setInterval(again, 5000); }

  // Opens again without reception: this page and its files, nothing else.
  var keep = document.querySelector("[data-brief]"), worker = navigator.serviceWorker;
  if (worker && !kept) {
    worker.register("/worker.js", { scope: "/b/" }).then(function (found) {
      return found.active ? found : new Promise(function (resolve) {
        var coming = found.installing || found.waiting;
        coming.addEventListener("statechange", function () { if (coming.state === "activated") resolve(found); });
      });
    }).then(function (found) {
      var fixed = Array.from(document.querySelectorAll('link[rel="stylesheet"], script[src], link[rel="icon"]'), function (one) { return one.href || one.src; });
      found.active.postMessage({ keep: ["/b/" + keep.dataset.brief].concat(fixed) });
    }).catch(function () {});
  }

  if (!keep.dataset.watch) return;
  var said = banner("newer");
  // by sound only where the person asked for it on this page
  var context = null;
  var button = document.createElement("button");
  button.type = "button";
  button.textContent = "Sound when something changes";
  button.setAttribute("aria-pressed", "false");
  button.addEventListener("click", function () {
    context = context ? null : new AudioContext();
    button.setAttribute("aria-pressed", context ? "true" : "false");
    sound();
  });
  keep.append(button);
  function sound() {
    if (!context) return;
    [0, 0.3].forEach(function (at) {
      var tone = context.createOscillator();
      tone.frequency.value = 660;
      tone.connect(context.destination);
      tone.start(context.currentTime + at);
      tone.stop(context.currentTime + at + 0.15);
    });
  }
  function look() {
    if (document.hidden) return;
    fetch(keep.dataset.watch, { headers: { Accept: "application/json" } })
      .then(function (answer) { return answer.ok ? answer.json() : {}; })
      .then(function (found) {
        if (!found.newer) return;
        var changed = (found.said || []).slice(0, 3).join(". ");
        var text = "Stale: a newer report has come. " + (changed ? changed + ". " : "") + "Show what changed";
        first.classList.add("gone");
        if (aged) aged.hidden = true;
        if (said.textContent === text) return;
        var link = document.createElement("a");
        link.href = location.pathname;
        link.textContent = text;
        said.replaceChildren(link);
        said.hidden = false;
        said.classList.add("stuck");
        if (changed) sound();
      })
      .catch(function () {});
  }
  setInterval(look, 60000);
  document.addEventListener("visibilitychange", look);
})();
