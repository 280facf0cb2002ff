// Only adds to forms that work without it: keeps what is said on the telephone at once, sends it when there is
// reception, and never twice, since each thing said has a key of its own.
(function () {
  "use strict";
  var root = document.querySelector("[data-walk]");
  if (!root) return;
  var walk = root.dataset.walk, mine = "walk:" + walk + ":", refusedMine = "refused:" + walk + ":", sentMine = "sent:" + walk + ":";
  // of a page that comes from the telephone: when it was kept
  var kept = +document.documentElement.dataset.kept || 0;
  var queue = document.getElementById("queue"), busy = false, count = 0, said = "";
  // what stands here is older than what the server has: asked for until it comes
  var owed = false;

  function key() {
    var bytes = crypto.getRandomValues(new Uint8Array(16));
    return Array.from(bytes, function (one) { return one.toString(16).padStart(2, "0"); }).join("");
  }
  function stamp(date) { return date.toISOString().slice(0, 19) + "Z"; }
  function clock(text) { return text.slice(11, 13) + text.slice(14, 16) + "Z"; }
  // A time of day is UTC: the last such time, or the next; with a day of the month, the one nearest to now. As the
  // server reads them; null where it is none.
  function moment(text, next) {
    var now = new Date(), found, at;
    text = text.trim();
    if ((found = /^(\d{1,2})[:.](\d\d)\s*Z?$/i.exec(text) || /^(\d\d)(\d\d)\s*Z?$/i.exec(text))) {
      at = new Date(Date.UTC(now.getUTCFullYear(), now.getUTCMonth(), now.getUTCDate(), +found[1], +found[2]));
      if (!next && at > now) at.setUTCDate(at.getUTCDate() - 1);
      if (next && at < now) at.setUTCDate(at.getUTCDate() + 1);
      return +found[1] < 24 && +found[2] < 60 ? stamp(at) : null;
    }
    if ((found = /^(\d\d)\/?(\d\d):?(\d\d)\s*Z?$/i.exec(text))) {
      var days = [-1, 0, 1].map(function (month) {
        return new Date(Date.UTC(now.getUTCFullYear(), now.getUTCMonth() + month, +found[1], +found[2], +found[3]));
      }).filter(function (one) { return one.getUTCDate() === +found[1] && +found[3] < 60; });
      days.sort(function (one, other) { return Math.abs(one - now) - Math.abs(other - now); });
      return days.length ? stamp(days[0]) : null;
    }
    if ((found = /^(\d{4}-\d\d-\d\d)[T ](\d\d):?(\d\d)(?::?(\d\d))?\s*(Z|[+-]\d\d:?\d\d)$/i.exec(text))) {
      at = new Date(found[1] + "T" + found[2] + ":" + found[3] + ":" + (found[4] || "00") + found[5].toUpperCase());
      return isNaN(at) ? null : stamp(at);
    }
    return null;
  }
  function under(prefix) {
    var found = [];
    for (var at = 0; at < localStorage.length; at += 1) {
      var name = localStorage.key(at);
      if (name.indexOf(prefix) === 0) found.push(name);
    }
    // what another tab has sent meanwhile is gone
    return found.sort().map(function (name) { return { name: name, item: JSON.parse(localStorage.getItem(name)) }; })
      .filter(function (one) { return one.item; });
  }
  function put(item) {
    count += 1;
    var name = mine + String(Date.now()).padStart(15, "0") + "-" + String(count).padStart(4, "0") + "-" + item.key.slice(0, 6);
    localStorage.setItem(name, JSON.stringify(item));
  }

  function placeOf(about) { return about.line ? "line " + about.line : "zone " + about.zone; }
  function told(about, more) { return about.found + (about.note ? ", " + about.note : "") + ", " + clock(about.at) + more; }
  function states(about) {
    return Array.from(document.querySelectorAll("[data-state]")).filter(function (here) { return here.dataset.state === placeOf(about); });
  }
  function put_state(about, more, unsent) {
    states(about).forEach(function (state) {
      state.textContent = told(about, more);
      state.classList.toggle("unsent", unsent);
      state.classList.toggle("found", about.found !== "nothing seen");
    });
  }
  function named(item) {
    var about = item.said || {};
    return [item.kind, about.found, about.step, about.line || about.zone, about.text].filter(Boolean).join(" ");
  }

  function show() {
    var waiting = under(mine), refused = under(refusedMine), parts = [];
    document.querySelectorAll(".state.unsent").forEach(function (one) { one.classList.remove("unsent"); });
    // what was sent since this page was kept is not on it
    if (kept) under(sentMine).forEach(function (one) { put_state(one.item.said, "", false); });
    waiting.forEach(function (one) { if (one.item.kind === "found") put_state(one.item.said, ", not sent yet", true); });
    if (waiting.length) parts.push(waiting.length + " not sent yet, kept on this telephone" + (said ? " (" + said + ")" : ""));
    else if (said) parts.push(said);
    if (kept) parts.push("No reception: this page was kept on this telephone at " + clock(stamp(new Date(kept))));
    refused.forEach(function (one) { parts.push("Not taken: " + named(one.item) + ": " + one.item.why); });
    var text = parts.join(". ");
    if (queue.textContent !== text) queue.textContent = text;
    banner(refused);
    var signing = waiting.some(function (one) { return one.item.kind === "sign"; });
    document.querySelectorAll('form[data-kind="found"], form[data-kind="photo"], form[data-kind="sign"]').forEach(function (form) {
      form.inert = signing;
    });
  }
  // what was refused stays in sight, above everything and at its own place, until somebody has read it
  function banner(refused) {
    var here = document.getElementById("refused"), text = refused.map(function (one) { return one.name; }).join(" ");
    if (here.dataset.shown === text) return;
    here.dataset.shown = text;
    document.querySelectorAll(".refused").forEach(function (one) { one.remove(); });
    here.hidden = !refused.length;
    var head = document.createElement("h2"), read = document.createElement("button");
    head.textContent = "Not taken: this is not on the record";
    read.type = "button";
    read.textContent = "I have read it";
    read.addEventListener("click", function () {
      refused.forEach(function (one) { localStorage.removeItem(one.name); });
      show();
    });
    here.replaceChildren(head, ...refused.map(function (one) {
      var row = document.createElement("p");
      row.textContent = named(one.item) + ": " + one.item.why;
      if (one.item.said) states(one.item.said).forEach(function (state) {
        var at = document.createElement("p");
        at.className = "refused";
        at.textContent = "Not taken: " + told(one.item.said, "") + ": " + one.item.why;
        state.after(at);
      });
      return row;
    }), read);
  }

  function post(path, body, headers) {
    var stop = new AbortController(), timer = setTimeout(function () { stop.abort(); }, 30000);
    return fetch("/api/walk/" + walk + path, { method: "POST", body: body, headers: headers, signal: stop.signal })
      .finally(function () { clearTimeout(timer); });
  }
  function settle(name, status, problem) {
    var item = JSON.parse(localStorage.getItem(name));
    if (item === null) return;
    if (status >= 400 && status < 500 && status !== 401 && status !== 408 && status !== 429) {
      item.why = problem && problem.detail ? problem.detail : "refused";
      delete item.photo;
      localStorage.setItem(refusedMine + name.slice(mine.length), JSON.stringify(item));
    } else if (status !== 200 && status !== 201) { return; }
    else if (item.kind === "found") localStorage.setItem(sentMine + placeOf(item.said), JSON.stringify(item));
    localStorage.removeItem(name);
  }
  function bytes(text) {
    var raw = atob(text.slice(text.indexOf(",") + 1)), found = new Uint8Array(raw.length);
    for (var at = 0; at < raw.length; at += 1) found[at] = raw.charCodeAt(at);
    return found;
  }
  async function sendPhoto(one) {
    var about = new URLSearchParams(one.item.said);
    var answer = await post("/photo?" + about, bytes(one.item.photo), { "Content-Type": "image/jpeg", "Idempotency-Key": one.item.key });
    settle(one.name, answer.status, answer.ok ? null : await answer.json().catch(function () { return null; }));
    return answer.status;
  }
  async function sendTexts(some) {
    var body = some.map(function (one) { return { kind: one.item.kind, key: one.item.key, said: one.item.said }; });
    var answer = await post("/queue", JSON.stringify(body), { "Content-Type": "application/json" });
    if (!answer.ok) {
      // the whole was turned away, for what it is or for who sent it: nothing of it is given up
      return answer.status;
    }
    var found = await answer.json();
    found.forEach(function (one, at) { settle(some[at].name, one.status, one.problem); });
    return 200;
  }
  async function flush() {
    if (busy) return;
    var all = under(mine);
    if (!all.length) {
      if (owed) await refresh();
      show();
      return;
    }
    busy = true;
    var sent = false;
    try {
      while (all.length) {
        var first = all[0], status;
        if (first.item.photo) {
          status = await sendPhoto(first);
          all = all.slice(1);
        } else {
          var some = [];
          while (some.length < 100 && some.length < all.length && !all[some.length].item.photo) some.push(all[some.length]);
          status = await sendTexts(some);
          all = all.slice(some.length);
        }
        if (status === 401) { said = "give your token again to send it"; break; }
        if (status === 403) { said = "your role may not send it"; break; }
        if (status >= 500 || status === 429) { said = "the server cannot take it at present"; break; }
        sent = true;
        said = "";
      }
    } catch (error) {
      said = "no reception";
    }
    busy = false;
    if (sent) { if (!under(mine).length) said = "All sent"; await refresh(); }
    show();
    if (sent && under(mine).length && !said) flush();
  }
  // what the server now has, in place of what stood there; the form that somebody is typing in stays
  async function refresh() {
    owed = true;
    try {
      var answer = await fetch("/w/" + walk, { headers: { Accept: "text/html" } });
      if (!answer.ok) return;
      var page = new DOMParser().parseFromString(await answer.text(), "text/html");
      // what comes from the telephone is no news
      if (page.documentElement.dataset.kept) return;
      owed = false;
      if (!under(mine).length && said !== "All sent") said = "";
      if (kept) { kept = 0; document.documentElement.removeAttribute("data-kept"); }
      under(sentMine).forEach(function (one) { localStorage.removeItem(one.name); });
      page.querySelectorAll("[data-state]").forEach(function (one) {
        document.querySelectorAll("[data-state]").forEach(function (here) {
          if (here.dataset.state === one.dataset.state) { here.replaceChildren(...one.childNodes); here.className = one.className; }
        });
      });
      ["thread", "notes", "signature", "offers"].forEach(function (id) {
        var here = document.getElementById(id), there = page.getElementById(id);
        if (here && there && !here.contains(document.activeElement)) here.replaceChildren(...there.childNodes);
      });
      var now = page.querySelector("[data-walk]");
      if (now && now.dataset.signed !== root.dataset.signed && !under(mine).length) location.reload();
    } catch (error) { /* what is shown stays */ }
  }

  function small(file) {
    return createImageBitmap(file, { imageOrientation: "from-image" }).then(function (picture) {
      var part = Math.min(1, 1280 / Math.max(picture.width, picture.height));
      var canvas = document.createElement("canvas");
      canvas.width = Math.round(picture.width * part);
      canvas.height = Math.round(picture.height * part);
      canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
      return canvas.toDataURL("image/jpeg", 0.75);
    });
  }
  // times as they are kept; what is none is said beside its entry, and stays there
  function timed(form, about) {
    var good = true;
    ["at", "cancel_by", "parked_since"].forEach(function (name) {
      var entry = form.querySelector('[name="' + name + '"]');
      if (!entry || !about[name]) return;
      var read = moment(about[name], name === "cancel_by");
      if (name !== "cancel_by" && read && read > stamp(new Date())) read = null;
      entry.setCustomValidity(read ? "" : "Give a UTC time" + (name === "cancel_by" ? "" : " that has passed") + ", such as 0612, 1:35 or 27/0135Z");
      entry.addEventListener("input", function () { entry.setCustomValidity(""); }, { once: true });
      if (!read) { good = false; var fold = entry.closest("details"); if (fold) fold.open = true; entry.reportValidity(); }
      about[name] = read;
    });
    return good;
  }
  document.addEventListener("submit", function (event) {
    var form = event.target.closest("form[data-kind]");
    if (!form) return;
    event.preventDefault();
    var values = new FormData(form, event.submitter), about = {}, kind = form.dataset.kind;
    values.forEach(function (value, name) {
      if (name === "token" || name === "key" || name === "next" || typeof value !== "string" || !value.trim()) return;
      about[name] = value.trim();
    });
    if (about.covered) about.covered = about.covered === "yes";
    if (!timed(form, about)) return;
    if (kind === "photo") {
      var file = values.get("photo");
      small(file).then(function (photo) {
        put({ kind: kind, key: key(), said: about, photo: photo });
        form.reset();
        show();
        flush();
      }).catch(function () { queue.textContent = "This photo could not be kept: it is none, or there is no room on this telephone"; });
      return;
    }
    about.at = about.at || stamp(new Date());
    try {
      put({ kind: kind, key: key(), said: about });
    } catch (error) {
      // no room on the telephone: the plain form, while there is reception
      form.submit();
      return;
    }
    form.querySelectorAll('input:not([type="hidden"]):not([type="radio"])').forEach(function (one) { one.value = ""; });
    form.querySelectorAll("details[open]").forEach(function (one) { one.open = false; });
    show();
    if (kind === "found") onward(form);
    flush();
  });

  // one checkpoint a screen, without asking the server
  var places = Array.from(document.querySelectorAll(".place"));
  function only(number) {
    places.forEach(function (one, at) { one.hidden = number > 0 && at + 1 !== number; });
    var nav = document.querySelector(".modes");
    if (!nav) return;
    var links = number ? [[0, "All in one list"]] : [[1, "One a screen"]];
    if (number > 1) links.push([number - 1, "Before"]);
    if (number && number < places.length) links.push([number + 1, "Next"]);
    nav.replaceChildren(...links.map(function (one) {
      var link = document.createElement("a");
      link.className = "button";
      link.href = "/w/" + walk + (one[0] ? "?at=" + one[0] : "");
      link.dataset.at = one[0];
      link.textContent = one[1];
      return link;
    }));
    history.replaceState(null, "", "/w/" + walk + (number ? "?at=" + number : "") );
  }
  function onward(form) {
    var place = form.closest(".place");
    if (!place || !places.some(function (one) { return one.hidden; })) return;
    var number = +place.dataset.number;
    only(number < places.length ? number + 1 : 0);
    var shown = number < places.length ? places[number] : document.getElementById("sign");
    var head = shown.querySelector("h2");
    head.tabIndex = -1;
    head.focus();
  }
  document.addEventListener("click", function (event) {
    var link = event.target.closest("a[data-at]");
    if (!link) return;
    event.preventDefault();
    only(+link.dataset.at);
  });

  // the line that stays in sight counts on by itself
  var bar = document.querySelector(".bar");
  function minutes(text) { return Math.floor((Date.now() - Date.parse(text)) / 60000); }
  function long(number) { return number < 120 ? number + " min" : Math.floor(number / 60) + " h " + String(number % 60).padStart(2, "0") + " min"; }
  function part(name, text, grave) {
    var here = bar.querySelector('[data-part="' + name + '"]');
    if (here) { here.textContent = text; here.className = grave ? "grave" : ""; }
  }
  function tick() {
    var age = bar.dataset.issued ? minutes(bar.dataset.issued) : 0;
    // a brief made for another time than the clock's keeps its own
    if (Math.abs(age) > 48 * 60) return;
    if (bar.dataset.issued) part("report", "report " + long(age) + " old" + (age > 90 ? ", stale" : ""), age > 90);
    if (bar.dataset.call && minutes(bar.dataset.call) > 0) part("call", "call by " + clock(bar.dataset.call) + ", late", true);
    var off = minutes(bar.dataset.off);
    part("off", off <= 0 ? "off-block in " + long(-off) : "off-block " + long(off) + " ago", off > 0);
    var left = document.querySelector("[data-until]");
    if (left) {
      var rest = -minutes(left.dataset.until) - 1;
      left.querySelector('[data-part="left"]').textContent = rest >= 0 ? "About " + rest + " min of holdover left:" : "Holdover is over:";
      left.classList.toggle("grave", rest < 0);
    }
  }

  var worker = navigator.serviceWorker;
  if (worker) {
    worker.register("/worker.js", { scope: "/w/" }).then(function () { return worker.ready; }).then(function (found) {
      var fixed = Array.from(document.querySelectorAll('link[rel="stylesheet"], script[src], link[rel="icon"]'), function (one) { return one.href || one.src; });
      found.active.postMessage({ keep: ["/w/" + walk].concat(fixed) });
    }).catch(function () {});
  }
  window.addEventListener("online", flush);
  // another tab of the same walk said or sent something
  window.addEventListener("storage", function (event) {
    show();
    if (event.key && event.key.indexOf(mine) === 0 && event.newValue === null) refresh().then(show);
  });
  document.addEventListener("visibilitychange", function () { if (!document.hidden) flush(); });
  setInterval(flush, 15000);
  setInterval(tick, 10000);
  show();
  tick();
  flush();
})();
