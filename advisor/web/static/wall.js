// Counts on by itself, asks for the board anew, and says since when nothing was heard.
(function () {
  "use strict";
  var lost = null;
  function wall() { return document.getElementById("wall"); }
  function two(number) { return String(number).padStart(2, "0"); }
  function clock(date) { return two(date.getUTCHours()) + two(date.getUTCMinutes()) + "Z"; }
  function long(number) { return number < 120 ? number + " min" : Math.floor(number / 60) + " h " + two(number % 60) + " min"; }
  function tick() {
    var now = new Date();
    wall().querySelector('[data-part="clock"]').textContent = clock(now);
    wall().querySelectorAll("tr[data-call]").forEach(function (row) {
      var left = Math.floor((Date.parse(row.dataset.call) - now) / 60000);
      // a plan made for another day keeps the minutes that the server gave
      if (Math.abs(left) > 48 * 60) return;
      row.querySelector('[data-part="left"]').textContent = left < 0 ? "late by " + long(-left) : long(left) + " left";
      row.classList.toggle("late", left < 0);
      row.querySelector(".mark").textContent = left < 0 ? "!" : "–";
    });
    var said = wall().querySelector('[data-part="lost"]');
    said.hidden = lost === null;
    if (lost !== null) said.textContent = "No connection since " + clock(lost);
  }
  // by sound only where somebody asked for it at this board
  var context = null, button = document.createElement("button");
  button.type = "button";
  button.textContent = "Sound when something changes";
  button.setAttribute("aria-pressed", "false");
  button.addEventListener("click", function () {
    context = context ? null : new AudioContext();
    button.setAttribute("aria-pressed", context ? "true" : "false");
    sound();
  });
  document.getElementById("sound").append(button);
  function sound() {
    if (!context) return;
    [0, 0.3, 0.6].forEach(function (at) {
      var tone = context.createOscillator();
      tone.frequency.value = 660;
      tone.connect(context.destination);
      tone.start(context.currentTime + at);
      tone.stop(context.currentTime + at + 0.15);
    });
  }
  function news() { return wall().querySelector('[data-part="news"]').textContent; }
  function ask() {
    fetch(location.href).then(function (answer) {
      if (!answer.ok) throw new Error(answer.status);
      return answer.text();
    }).then(function (body) {
      var there = new DOMParser().parseFromString(body, "text/html").getElementById("wall");
      if (!there) throw new Error("no board");
      var before = news();
      wall().replaceWith(there);
      if (news() !== before && news()) sound();
      lost = null;
      tick();
    }).catch(function () {
      if (lost === null) lost = new Date();
      tick();
    });
  }
  tick();
  setInterval(tick, 5000);
  setInterval(ask, 20000);
})();
