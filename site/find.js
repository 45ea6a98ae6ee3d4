// Search by number, name or lot, with mistakes in it. Without it, the lists lead to the same pages.
(function () {
  "use strict";
  var ISO = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ";
  var root = new URL(".", document.currentScript.src);
  var form = document.getElementById("finder");
  if (!form) return;
  var box = form.querySelector("input");
  var out = document.getElementById("answers");
  var known = null, shards = [], fetched = {};
  form.hidden = false;

  // ISO/IEC 7064:2003 MOD 37,36: the sum of a whole number with its check character is 1.
  function sound(tag) {
    var letters = tag.replace(/-/g, ""), p = 36;
    for (var i = 0; i < letters.length - 1; i++) p = ((((p + ISO.indexOf(letters[i])) % 36) || 36) * 2) % 37;
    return (p + ISO.indexOf(letters[letters.length - 1])) % 36 === 1;
  }

  // Edit distance with swaps, cut off above `most`.
  function distance(a, b, most) {
    if (Math.abs(a.length - b.length) > most) return most + 1;
    var before = [], row = [], i, j;
    for (j = 0; j <= b.length; j++) row[j] = j;
    for (i = 1; i <= a.length; i++) {
      var older = before;
      before = row;
      row = [i];
      for (j = 1; j <= b.length; j++) {
        row[j] = Math.min(before[j] + 1, row[j - 1] + 1, before[j - 1] + (a[i - 1] === b[j - 1] ? 0 : 1));
        if (i > 1 && j > 1 && a[i - 1] === b[j - 2] && a[i - 2] === b[j - 1]) row[j] = Math.min(row[j], older[j - 2] + 1);
      }
    }
    return row[b.length];
  }

  function folded(text) {
    return text.normalize("NFD").replace(/[\u0300-\u036f]/g, "").toUpperCase();
  }

  function nearest(asked) {
    var bare = asked.replace(/[^0-9A-Z]/g, "");
    return known.map(function (entry) {
      var id = entry.id.replace(/-/g, "");
      var score = id === bare ? 0 : distance(id, bare, 2);
      if (score > 2 && asked.length > 2 && folded(entry.id + " " + entry.name).indexOf(asked) >= 0) score = 1.5;
      return { entry: entry, score: score };
    }).filter(function (one) { return one.score <= 2; })
      .sort(function (a, b) { return a.score - b.score || (a.entry.id < b.entry.id ? -1 : 1); })
      .slice(0, 12);
  }

  function add(kind, text, href) {
    var made = document.createElement(kind);
    made.textContent = text;
    if (href) made.href = href;
    out.appendChild(made);
  }

  function show(asked) {
    var found = nearest(asked);
    out.textContent = "";
    if (found.length && found[0].score === 0) { location.href = new URL(found[0].entry.path, root).href; return; }
    var tagLike = /^[0-9A-Z]{1,4}-[0-9A-Z]{6}$/.test(asked);
    add("p", found.length ? (tagLike && !sound(asked) ? out.dataset.slip : out.dataset.near) : out.dataset.none);
    found.forEach(function (one) { add("a", one.entry.id + " · " + one.entry.name, new URL(one.entry.path, root).href); });
  }

  // Lines of "id, name, path" with tabs between.
  function read(text) {
    return text.split("\n").filter(Boolean).map(function (line) {
      var cells = line.split("\t");
      return { id: cells[0], name: cells[1], path: cells[2] };
    });
  }

  function load(path) {
    return fetch(new URL(path, root)).then(function (answer) {
      if (!answer.ok) throw new Error(answer.status);
      return answer.text();
    }).then(read);
  }

  // A large workshop keeps its numbers in many short lists, each named by how they begin: only the nearest are fetched.
  function more(asked) {
    var start = asked.replace(/[^0-9A-Z]/g, "").slice(0, -3);
    var near = shards.map(function (shard) {
      return { shard: shard, score: distance(shard.id.replace(/-/g, ""), start, 2) };
    }).filter(function (one) { return one.score <= 2 && !fetched[one.shard.path]; })
      .sort(function (a, b) { return a.score - b.score; }).slice(0, 6);
    return Promise.all(near.map(function (one) {
      return load(one.shard.path).then(function (entries) { fetched[one.shard.path] = true; known = known.concat(entries); });
    }));
  }

  function ask(words) {
    var asked = folded(words).trim();
    if (!asked) return;
    var ready = known ? Promise.resolve() : load("find." + document.documentElement.lang + ".txt").then(function (entries) {
      known = entries.filter(function (entry) { return entry.name; });
      shards = entries.filter(function (entry) { return !entry.name; });
    });
    ready.then(function () { return more(asked); }).then(function () { show(asked); })
      .catch(function () { out.textContent = out.dataset.none; });
  }

  form.addEventListener("submit", function (event) { event.preventDefault(); ask(box.value); });

  // A page that is not there: its address is most likely a number typed by hand.
  if (document.body.classList.contains("missing")) {
    var last = decodeURIComponent(location.pathname).replace(/\/(index\.html)?$/, "").split("/").pop();
    if (last && !/\.html$/.test(last)) { box.value = last.toUpperCase(); ask(last); }
  }
})();
